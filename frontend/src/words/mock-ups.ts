/** Words of the room "mock-ups". Keys begin with the room's name. */

export const words = {
  'mock-ups.empty.title': 'Sew a mock-up, then write down what pulls',
  'mock-ups.empty.sentence': 'Every change to the fit is kept as a step of its own, so it can be looked at, altered or switched off later.',
} as const;
