/** How far a seam moves along its way: knots with a smooth line between them, as the server draws it. */

import type { Point } from '../../core/geometry-types';
import type { Path } from '../../core/geometry/path';

/** mm from the seam's start along side one, and mm taken in there in all (negative: let out). */
export type Knot = readonly [number, number];

/**
 * The amount at any place: monotone cubic between the knots (Fritsch & Carlson 1980; slopes at knots as weighted
 * harmonic means, Fritsch & Butland 1984), constant beyond the first and the last.
 */
export function profileOf(knots: readonly Knot[]): (mm: number) => number {
  const sorted = [...knots].sort((p, q) => p[0] - q[0]);
  const x = sorted.map((knot) => knot[0]), y = sorted.map((knot) => knot[1]);
  const n = x.length;
  if (n === 0) return () => 0;
  if (n === 1) return () => y[0] ?? 0;
  const h = x.slice(1).map((v, i) => v - (x[i] ?? 0));
  const d = y.slice(1).map((v, i) => (v - (y[i] ?? 0)) / (h[i] || 1));
  const m = slopes(h, d);
  return (mm) => {
    if (mm <= (x[0] ?? 0)) return y[0] ?? 0;
    if (mm >= (x[n - 1] ?? 0)) return y[n - 1] ?? 0;
    let i = 0;
    while (i < n - 2 && mm > (x[i + 1] ?? 0)) i += 1;
    const wide = h[i] ?? 1, t = (mm - (x[i] ?? 0)) / wide;
    const t2 = t * t, t3 = t2 * t;
    return (2 * t3 - 3 * t2 + 1) * (y[i] ?? 0) + (t3 - 2 * t2 + t) * wide * (m[i] ?? 0)
      + (-2 * t3 + 3 * t2) * (y[i + 1] ?? 0) + (t3 - t2) * wide * (m[i + 1] ?? 0);
  };
}

function slopes(h: readonly number[], d: readonly number[]): number[] {
  const n = h.length + 1;
  if (n === 2) return [d[0] ?? 0, d[0] ?? 0];
  const m: number[] = [endSlope(h[0] ?? 1, h[1] ?? 1, d[0] ?? 0, d[1] ?? 0)];
  for (let i = 1; i < n - 1; i++) {
    const [h0, h1, d0, d1] = [h[i - 1] ?? 1, h[i] ?? 1, d[i - 1] ?? 0, d[i] ?? 0];
    const [w0, w1] = [2 * h1 + h0, h1 + 2 * h0];
    m.push(d0 * d1 <= 0 ? 0 : (w0 + w1) / (w0 / d0 + w1 / d1));
  }
  m.push(endSlope(h[n - 2] ?? 1, h[n - 3] ?? 1, d[n - 2] ?? 0, d[n - 3] ?? 0));
  return m;
}

/** Slope at an end from the two nearest stretches, kept from overshooting. */
function endSlope(h0: number, h1: number, d0: number, d1: number): number {
  const slope = ((2 * h0 + h1) * d0 - h0 * d1) / (h0 + h1);
  if (Math.sign(slope) !== Math.sign(d0)) return 0;
  return Math.sign(d0) !== Math.sign(d1) && Math.abs(slope) > 3 * Math.abs(d0) ? 3 * d0 : slope;
}

/** Points of an edge moved inwards (to the left of its counter-clockwise way) by an amount for each place. */
export function movedInwards(path: Path, inwards: (mm: number) => number, steps = 60): Point[] {
  return Array.from({ length: steps + 1 }, (_, i): Point => {
    const mm = (path.lengthMm * i) / steps;
    const [x, y] = path.pointAt(mm), [nx, ny] = path.normalAt(mm), by = inwards(mm);
    return [x + nx * by, y + ny * by];
  });
}
