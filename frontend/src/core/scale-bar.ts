/** The scale bar of a table: a round length that is drawn as long as it is at the present camera. */

import { measure, type Unit } from './units';

/** Round lengths, mm. The one that is wanted first, then the others from small to large. */
const WANTED_MM = { cm: 100, mm: 100, in: 4 * 25.4 } as const;
const ROUND_MM: Record<Unit, readonly number[]> = {
  cm: [1, 5, 10, 50, 100, 500, 1000, 5000],
  mm: [1, 5, 10, 50, 100, 500, 1000, 5000],
  in: [1 / 8, 1 / 2, 1, 4, 12, 36, 180].map((inches) => inches * 25.4),
};

export interface ScaleBar {
  mm: number;
  px: number;
  words: string;
}

/** The bar for a camera of `scale` px/mm: 10 cm or 4 in wherever they are of a good length, else another round one. */
export function scaleBar(scale: number, unit: Unit, least_px = 36, most_px = 240): ScaleBar {
  const fits = (mm: number) => mm * scale >= least_px && mm * scale <= most_px;
  const all = ROUND_MM[unit];
  const mm = [WANTED_MM[unit], ...all].find(fits) ?? (all.findLast((one) => one * scale <= most_px) ?? all[0] ?? 1);
  return { mm, px: mm * scale, words: mm >= 1000 && unit !== 'in' ? `${mm / 1000} m` : measure(mm, unit) };
}
