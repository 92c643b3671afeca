/** Words of the room "ledger". Keys begin with the room's name. */

export const words = {
  'ledger.empty.title': 'Nothing spent yet',
  'ledger.empty.sentence': 'Write down what was bought, and what each garment used up is worked out.',
} as const;
