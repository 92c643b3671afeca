/** Words for what a photograph tells: the thing that gave the scale, how sure the lengths are, how it stands. */

import type { PhotographView } from '../../client/types.gen';
import { maybe, t } from '../../core/language';
import { difference, type Unit } from '../../core/units';
import { offMm, verdictOf } from './scale';

export function referenceWord(kind: string): string {
  return maybe(`photograph.kind.${kind}`) ?? kind;
}

/** The name of a photograph as words: files are called in ways that neither read nor break well. */
export function plainName(name: string): string {
  return name.replace(/\.[a-z0-9]{2,5}$/i, '').replaceAll('_', ' ').trim() || name;
}

/** "a sheet of A4 and two marks on a ruler" */
export function referenceWords(reference: string): string {
  const words = reference.split('+').filter(Boolean).map(referenceWord);
  if (words.length < 2) return words[0] ?? t('photograph.kind.auto');
  return t('photograph.and', { first: words.slice(0, -1).join(', '), last: words.at(-1) ?? '' });
}

/** How far a length of half a metre may be off, in words: makers think of lengths, not of per cents. */
export function certaintyWords(percent: number, unit: Unit): string {
  return t(verdictOf(percent) === 'fine' ? 'photograph.sure.fine' : 'photograph.sure.off', { off: difference(offMm(percent), unit) });
}

export function stateWord(photo: PhotographView): string {
  if (bestTakenAgain(photo)) return t('photograph.state.again');
  return t(photo.state === 'refused' ? `photograph.refused.${photo.missing ?? 'unknown'}` : `photograph.state.${photo.state}`);
}

export function stateMark(photo: PhotographView): 'attention' | 'note' | 'good' | null {
  if (photo.state === 'refused') return 'attention';
  if (photo.state === 'changed' || bestTakenAgain(photo)) return 'note';
  return photo.state === 'found' ? ((photo.found?.warnings.length ?? 0) > 0 ? 'note' : 'good') : null;
}

/** A quick look told so, and nobody has traced it yet. */
function bestTakenAgain(photo: PhotographView): boolean {
  return photo.state === 'new' && photo.glance?.good === false;
}
