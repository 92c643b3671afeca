/**
 * The edge of a cloth under the hand. A traced edge has hundreds of points, so only those that matter at the
 * present distance can be taken; what lies between two of them follows along.
 */

import type { Point } from '../../core/geometry-types';
import { crossesItself, simplerIndices, type Ring } from './contours';

/** Points nearer to the line than this, in px of the screen, need no handle. */
export const STRAY_PX = 7;

/** Numbers of the points that can be taken; `more` are some that the maker asked for. */
export function grips(ring: Ring, mm_per_px: number, more: readonly number[] = []): number[] {
  const found = simplerIndices(ring as Point[], STRAY_PX * mm_per_px, true);
  const all = more.filter((i) => i < ring.length && !found.includes(i));
  return all.length === 0 ? found : [...found, ...all].sort((a, b) => a - b);
}

/** The ring with one grip elsewhere: points up to its two neighbours follow, the less the further. */
export function gripMoved(ring: Ring, held: readonly number[], grip: number, to: Point): Point[] {
  const at = ring[grip];
  if (!at) return [...ring] as Point[];
  const shift: Point = [to[0] - at[0], to[1] - at[1]];
  const n = ring.length;
  const place = held.indexOf(grip);
  const before = held.length < 2 || place < 0 ? grip : (held[(place + held.length - 1) % held.length] ?? grip);
  const after = held.length < 2 || place < 0 ? grip : (held[(place + 1) % held.length] ?? grip);
  const moved = ring.map((p): Point => [p[0], p[1]]);
  const carry = (from: number, way: 1 | -1) => {
    const run: number[] = [];
    let length = 0;
    for (let i = grip; i !== from; i = (i + way + n) % n) {
      run.push(i);
      const p = ring[i] as Point, q = ring[(i + way + n) % n] as Point;
      length += Math.hypot(q[0] - p[0], q[1] - p[1]);
    }
    let gone = 0;
    run.forEach((i, k) => {
      if (k > 0) {
        const p = ring[run[k - 1] as number] as Point, q = ring[i] as Point;
        gone += Math.hypot(q[0] - p[0], q[1] - p[1]);
      }
      const share = length === 0 ? 1 : 1 - gone / length;
      const p = ring[i] as Point;
      moved[i] = [p[0] + share * shift[0], p[1] + share * shift[1]];
    });
  };
  if (before !== grip) carry(before, -1);
  if (after !== grip) carry(after, 1);
  moved[grip] = [to[0], to[1]];
  return moved;
}

/** The ring without a grip: a straight line from the grip before to the one after. */
export function gripDropped(ring: Ring, held: readonly number[], grip: number): Point[] {
  const place = held.indexOf(grip);
  if (place < 0 || held.length <= 3) return [...ring] as Point[];
  const before = held[(place + held.length - 1) % held.length] ?? grip, after = held[(place + 1) % held.length] ?? grip;
  const n = ring.length;
  const gone = new Set<number>();
  for (let i = (before + 1) % n; i !== after; i = (i + 1) % n) gone.add(i);
  return (ring as Point[]).filter((_, i) => !gone.has(i));
}

/** The ring with a point more, half-way along the straight line after a point; and that point's number. */
export function pointAfter(ring: Ring, held: readonly number[], grip: number): { ring: Point[]; grip: number } {
  const place = held.indexOf(grip);
  const next = held[(place + 1) % held.length] ?? grip;
  const n = ring.length;
  const between: number[] = [];
  for (let i = (grip + 1) % n; i !== next; i = (i + 1) % n) between.push(i);
  const middle = between[Math.floor(between.length / 2)];
  if (middle !== undefined) return { ring: [...ring] as Point[], grip: middle };
  const p = ring[grip] as Point, q = ring[next] as Point;
  const made = [...ring] as Point[];
  made.splice(grip + 1, 0, [(p[0] + q[0]) / 2, (p[1] + q[1]) / 2]);
  return { ring: made, grip: grip + 1 };
}

export function sound(ring: readonly Point[]): boolean {
  return ring.length >= 3 && (ring.length > 4000 || !crossesItself(ring));
}
