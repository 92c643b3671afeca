/** Which photographs can be joined, and how a joined one names its parts. */

import type { PhotographView } from '../../client/types.gen';
import { t } from '../../core/language';
import { plainName } from '../photograph/words';

/** Photographs as a camera took them, of one kind with the first: those that may show parts of one paper. */
export function toJoin(photos: readonly PhotographView[]): PhotographView[] {
  const single = photos.filter((one) => one.parts.length === 0);
  return single.filter((one) => one.cloth === single[0]?.cloth);
}

/** "left, middle and right"; a part that was taken off the table is not named. */
export function namesOf(photos: readonly PhotographView[], parts: readonly string[]): string {
  const names = parts.map((id) => photos.find((one) => one.id === id)).filter((one) => one !== undefined).map((one) => plainName(one.name));
  if (names.length < 2) return names[0] ?? '';
  return t('photograph.and', { first: names.slice(0, -1).join(', '), last: names.at(-1) ?? '' });
}
