/** Words of the room "tracing". Keys begin with the room's name. */

export const words = {
  'tracing.empty.title': 'Photograph a tracing',
  'tracing.empty.sentence': 'Lay the paper flat beside the reference sheet, stand straight above it, and take one picture of each piece.',
} as const;
