/** Words of the room "journal". Keys begin with the room's name. */

export const words = {
  'journal.empty.title': 'The story begins with the first picture',
  'journal.empty.sentence': 'What was traced, changed, cut and spent is gathered here, ready to print.',
  'journal.empty.do': 'To the tracing',
  'journal.changes': 'What was changed',
  'journal.cloths': 'What it was made from',
  'journal.costs': 'What it cost',
  'journal.left': 'What came of it',
  'journal.print': 'Print this page',
  'journal.more': { one: 'and {n} more change', other: 'and {n} more changes' },
} as const;
