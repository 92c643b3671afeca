/** Touches and outlines: a touch asks for more and takes nothing away, and one that found nothing is told. */

import type { PhotographView, Touch } from '../../client/types.gen';
import { contains, distanceToRingMm } from '../../core/geometry/polygon';
import type { Point } from '../../core/geometry-types';

type Ring = readonly (readonly number[])[];
const points = (ring: Ring): Point[] => ring.map((p): Point => [p[0] ?? 0, p[1] ?? 0]);
const holds = (ring: Ring, touch: Touch): boolean => contains(points(ring), [touch.x_px, touch.y_px]);

/** Shares of a ring's height at which a place inside is looked for: no round ones, where drawn corners lie. */
const LEVELS = [0.4837, 0.3719, 0.6229, 0.2713, 0.7391, 0.1307, 0.8713] as const;

/** A place well inside of a ring: of the middles of its stretches at some levels, the one farthest from the line. */
export function deepInside(ring: readonly Point[]): Point {
  const ys = ring.map((p) => p[1]);
  const top = Math.min(...ys), height = Math.max(...ys) - top;
  let best: Point = ring[0] ?? [0, 0], away = -1;
  for (const level of LEVELS) {
    const y = top + level * height;
    const crossings: number[] = [];
    ring.forEach((p, i) => {
      const q = ring[(i + 1) % ring.length] ?? p;
      if (p[1] > y !== q[1] > y) crossings.push(p[0] + ((y - p[1]) / (q[1] - p[1])) * (q[0] - p[0]));
    });
    crossings.sort((a, b) => a - b);
    for (let i = 0; i + 1 < crossings.length; i += 2) {
      const at: Point = [((crossings[i] ?? 0) + (crossings[i + 1] ?? 0)) / 2, y];
      const off = distanceToRingMm(ring, at);
      if (off > away) [best, away] = [at, off];
    }
  }
  return best;
}

/**
 * What is said when one more place is touched. Where something is touched as wanted, only what is touched is
 * traced: so whatever was found already and says nothing of itself yet is touched too, after the new touch.
 */
export function withTouch(photo: PhotographView, touch: Touch): Touch[] {
  const touches = [...photo.touches, touch];
  if (touch.side === '-' || photo.cloth) return touches;
  for (const { outline_px } of photo.found?.pieces ?? []) {
    if (outline_px.length < 3 || touches.some((one) => holds(outline_px, one))) continue;
    const [x, y] = deepInside(points(outline_px));
    touches.push({ x_px: x, y_px: y, side: '+' });
  }
  return touches;
}

/** Numbers (from 1) of the touches that ask for a piece where the tracing has found none. */
export function missedTouches(photo: PhotographView): number[] {
  if (photo.state !== 'found' || photo.cloth || !photo.found) return [];
  const rings = photo.found.pieces.map((piece) => piece.outline_px);
  return photo.touches.flatMap((touch, i) => (touch.side !== '-' && !rings.some((ring) => holds(ring, touch)) ? [i + 1] : []));
}
