/** Words of the room "lay". Keys begin with the room's name. */

export const words = {
  'lay.empty.title': 'Nothing to lay yet',
  'lay.empty.sentence': 'With pieces on the pattern and a cloth kept for this project, they can be laid here.',
} as const;
