/** Words of the room "making". Keys begin with the room's name. */

export const words = {
  'making.empty.title': 'The order of work comes last',
  'making.empty.sentence': 'The cutting list and the steps of sewing are written as soon as there are pieces and seams.',
} as const;
