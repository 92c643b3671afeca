/** Words of the room "paper". Keys begin with the room's name. */

export const words = {
  'paper.empty.title': 'No pages yet',
  'paper.empty.sentence': 'Once there is a piece, its pages in true scale are shown here as they will print.',
} as const;
