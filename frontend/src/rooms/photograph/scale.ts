/** How far a length may be off, whether that matters for seams, and what would cure it in this picture. */

import type { PhotographView } from '../../client/types.gen';

/** The length that makers are told about: half a metre, about a side seam. */
const TOLD_MM = 500;
/** A few tenths: finer than a pencil line. From memory, common practice. */
const FINE_MM = 0.5;
/** More than this is not eased in where two edges meet. From memory, common practice. */
const SMALL_MM = 2;

/** How far half a metre may be off, mm; never said finer than a tenth. */
export function offMm(percent: number): number {
  return Math.max((percent / 100) * TOLD_MM, 0.1);
}

export type Verdict = 'fine' | 'small' | 'large';

export function verdictOf(percent: number): Verdict {
  const off = offMm(percent);
  return off <= FINE_MM ? 'fine' : off <= SMALL_MM ? 'small' : 'large';
}

/**
 * What would make the lengths of this picture surer: measure the print of the sheet, say that the paper is cut
 * square, use the printed sheet with its marks, or photograph it better.
 */
export type Cure = 'check' | 'square' | 'sheet' | 'again';

/** The first cure that this picture has; null where it needs none, or has none, as a scan. */
export function cureOf(photo: PhotographView): Cure | null {
  if (!photo.found || verdictOf(photo.found.uncertainty_percent) !== 'large') return null;
  if (photo.found.reference === 'scan') return null;
  const sheet = photo.found.reference.split('+').includes('sheet');
  if (sheet && !photo.references.some((one) => one.check_line_mm != null)) return 'check';
  if (!photo.square_paper && !photo.cloth) return 'square';
  return sheet ? 'again' : 'sheet';
}
