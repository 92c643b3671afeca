/** The grain as an arrow: where it begins and ends, and what it falls in with: seen threads, long straight edges. */

import type { Point } from '../../core/geometry-types';
import { boxOf } from '../../core/geometry-types';
import { simpler, type Ring } from './contours';

export interface Toward {
  deg: number;
  to: 'threads' | 'edge';
}
/** How near the arrow must come to fall in, degrees. */
export const FALL_DEG = 4;
/** An edge at least this share of the cloth's longer side is worth falling in with. */
const LONG_SHARE = 0.22;

export function directions(outline: Ring, threads_deg: number | null): Toward[] {
  const found: Toward[] = [];
  const add = (deg: number, to: Toward['to']) => {
    const turn = whole(deg);
    if (!found.some((one) => apart(one.deg, turn) < 1)) found.push({ deg: turn, to });
  };
  if (threads_deg !== null) for (let i = 0; i < 4; i += 1) add(threads_deg + 90 * i, 'threads');
  const box = boxOf(outline);
  const size = box ? Math.max(box.width, box.height) : 0;
  const line = simpler(outline as Point[], size * 0.006, true);
  line.forEach((p, i) => {
    const q = line[(i + 1) % line.length] ?? p;
    if (Math.hypot(q[0] - p[0], q[1] - p[1]) < size * LONG_SHARE) return;
    const deg = (Math.atan2(q[1] - p[1], q[0] - p[0]) * 180) / Math.PI;
    for (let k = 0; k < 4; k += 1) add(deg + 90 * k, 'edge');
  });
  return found;
}

/** The direction that is meant, and what it fell in with. */
export function fallen(deg: number, toward: readonly Toward[]): { deg: number; to: Toward['to'] | null } {
  let best: Toward | null = null;
  for (const one of toward) {
    const near = apart(one.deg, deg) - (one.to === 'threads' ? 0.5 : 0);
    if (near <= FALL_DEG && (best === null || near < apart(best.deg, deg) - (best.to === 'threads' ? 0.5 : 0))) best = one;
  }
  return best ? { deg: round(best.deg), to: best.to } : { deg: round(whole(deg)), to: null };
}

export function pointed(from: Point, at: Point): number {
  return whole((Math.atan2(at[1] - from[1], at[0] - from[0]) * 180) / Math.PI);
}

/** The sides to which the top of a cloth can lie, in the order in which they are offered. */
export const SIDES = [90, 270, 180, 0] as const;
export type Side = (typeof SIDES)[number];

/** The grain when the top lies to a side: along the threads that are known, so that they are kept. */
export function facing(grain_deg: number | null, side: Side): number {
  if (grain_deg === null) return side;
  const turns = [0, 90, 180, 270].map((turn) => round(grain_deg + turn));
  return turns.reduce((best, one) => (apart(one, side) < apart(best, side) ? one : best));
}

/** The two ends of the arrow on a cloth. */
export function arrow(centre: Point, deg: number, length_mm: number): [Point, Point] {
  const x = Math.cos((deg * Math.PI) / 180), y = Math.sin((deg * Math.PI) / 180);
  return [[centre[0] - (x * length_mm) / 2, centre[1] - (y * length_mm) / 2], [centre[0] + (x * length_mm) / 2, centre[1] + (y * length_mm) / 2]];
}

export function apart(a: number, b: number): number {
  const d = Math.abs(whole(a) - whole(b));
  return Math.min(d, 360 - d);
}
function whole(deg: number): number {
  return ((deg % 360) + 360) % 360;
}
function round(deg: number): number {
  return Math.round(whole(deg) * 10) / 10;
}
