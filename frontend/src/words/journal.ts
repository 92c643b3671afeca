/** Words of the room "journal". Keys begin with the room's name. */

export const words = {
  'journal.empty.title': 'The story begins with the first picture',
  'journal.empty.sentence': 'What was traced, changed, cut and spent is gathered here, ready to print.',
} as const;
