/** A walked seam as it is drawn: two straight lines above one another, from a common start. */

import type { WalkView } from '../../client/types.gen';

export interface WalkDrawing {
  /** px for a mm along the seam. */
  scale: number;
  /** `d` of the chalk between the lines: the difference along the way, `times` as large. */
  chalk: string;
  times: number;
  /** The largest difference along the way. */
  most_mm: number;
  /** The end that stands over, in px, and which side it is on; null: both end together. */
  over: { from: number; to: number; side: 'a' | 'b' } | null;
}

/** Heights in px. */
export const BAND = 30;
export const LINE_A = 40;
export const LINE_B = 112;
export const MIDDLE = (LINE_A + LINE_B) / 2;
const MOST_CHALK = 24;
/** Enlargements of the difference that can be said easily. */
const TIMES = [50, 20, 10, 5, 2, 1];
/** Below this there is nothing to see. */
const LEAST_MM = 0.05;

export function drawWalk(walk: WalkView, width_px: number): WalkDrawing {
  const longest = Math.max(walk.a.length_mm, walk.b.length_mm, 1);
  const scale = width_px / longest;
  const most = Math.max(...walk.running.map(([, mm]) => Math.abs(mm)), 0);
  const times = TIMES.find((n) => most * scale * n <= MOST_CHALK) ?? 1;
  const up = (mm: number) => Math.max(-MOST_CHALK, Math.min(MOST_CHALK, mm * scale * times));
  const points = walk.running.map(([at, mm]) => `${(at * scale).toFixed(1)} ${(MIDDLE - up(mm)).toFixed(1)}`);
  const last = walk.running.at(-1)?.[0] ?? 0;
  const chalk = most < LEAST_MM || points.length === 0 ? '' : `M0 ${MIDDLE}L${points.join('L')}L${(last * scale).toFixed(1)} ${MIDDLE}Z`;
  const [a, b] = [walk.a.length_mm * scale, walk.b.length_mm * scale];
  const over = Math.abs(walk.a.length_mm - walk.b.length_mm) < LEAST_MM ? null : { from: Math.min(a, b), to: Math.max(a, b), side: a > b ? ('a' as const) : ('b' as const) };
  return { scale, chalk, times, most_mm: most, over };
}

/** How the two sides stand to one another, beyond the ease that is meant. */
export function standing(walk: WalkView): 'same' | 'a-longer' | 'b-longer' {
  if (Math.abs(walk.difference_mm) < 0.1) return 'same';
  return walk.difference_mm > 0 ? 'a-longer' : 'b-longer';
}
