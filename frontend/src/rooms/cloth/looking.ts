/** What is looked at in the cloth room: the shelf, one cloth, a photograph, or a shape being typed. */

import type { ClothView, PhotographView } from '../../client/types.gen';
import type { State } from '../../core/store';
import { boxOf, type Point } from '../../core/geometry-types';
import { centroid, contains } from '../../core/geometry/polygon';
import { shownPhotograph } from '../photograph/tools';

export type Sight = 'shelf' | 'cloth' | 'photograph' | 'typed';
export const FLAW_KINDS = ['hole', 'stain', 'worn', 'faded'] as const;
export type FlawKind = (typeof FLAW_KINDS)[number];

export interface Brush {
  width_mm: number;
  kind: FlawKind;
  /** 0: nothing may lie there; 1: only what is hidden. */
  quality: 0 | 1;
}
const BRUSH: Brush = { width_mm: 40, kind: 'stain', quality: 1 };

const own = (state: State): Readonly<Record<string, unknown>> => state.view.own['cloth'] ?? {};

export function brushOf(state: State): Brush {
  return { ...BRUSH, ...(own(state)['brush'] as Partial<Brush> | undefined) };
}

/** Points of the open cloth's edge that the maker asked for. */
export function moreGrips(state: State): readonly number[] {
  return (own(state)['more'] as number[] | undefined) ?? [];
}

export function openCloth(state: State): ClothView | null {
  return state.doc.shelf?.cloths.find((cloth) => cloth.id === own(state)['open']) ?? null;
}

export function sightOf(state: State): Sight {
  if (own(state)['typed'] === true) return 'typed';
  if (openCloth(state)) return 'cloth';
  return shownPhotograph(state, 'cloth') ? 'photograph' : 'shelf';
}

/** The photograph of the shelf on which a cloth was found, and what was seen of it there. */
export function seenOn(photos: readonly PhotographView[] | null, cloth: string): { photo: PhotographView; threads_deg: number | null } | null {
  for (const photo of photos ?? []) {
    const row = photo.found?.cloths.find((one) => one.cloth === cloth);
    if (row) return { photo, threads_deg: row.grain_deg };
  }
  return null;
}

/** Whether the straightened photograph still shows the cloth as it is: not after a wash that shrank it. */
export function pictureHolds(cloth: ClothView): boolean {
  return !(cloth.washed && (cloth.shrink_warp_percent !== 0 || cloth.shrink_weft_percent !== 0));
}

/** A place well on the cloth for its arrow: its centre, or, where that is off the cloth, the nearest of a grid that is on it. */
export function middleOn(outline: readonly (readonly [number, number])[]): Point {
  const centre = centroid(outline);
  if (contains(outline, centre)) return [centre[0], centre[1]];
  const box = boxOf(outline);
  if (!box) return [0, 0];
  let best: Point = [centre[0], centre[1]], near = Infinity;
  for (let i = 1; i < 16; i += 1) {
    for (let j = 1; j < 16; j += 1) {
      const at: Point = [box.left + (box.width * i) / 16, box.bottom + (box.height * j) / 16];
      const away = Math.hypot(at[0] - centre[0], at[1] - centre[1]);
      if (away < near && contains(outline, at)) [best, near] = [at, away];
    }
  }
  return best;
}

/** Length of the grain arrow drawn on a cloth, mm. */
export function arrowLength(cloth: ClothView): number {
  return Math.max(60, Math.min(cloth.width_mm, cloth.height_mm) * 0.5);
}
