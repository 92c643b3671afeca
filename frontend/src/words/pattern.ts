/** Words of the room "pattern". Keys begin with the room's name. */

export const words = {
  'pattern.empty.title': 'No pieces yet',
  'pattern.empty.sentence': 'Name the pieces on the tracing first; they are laid out here the way they are sewn together.',
} as const;
