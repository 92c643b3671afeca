/** The map of a plane seen through a lens without bend: from the photograph to the paper as it lies flat. */

import type { FoundView } from '../../client/types.gen';
import type { Point } from '../../core/geometry-types';

/** The map from a photograph (px) to its paper laid flat (mm), from what was found on both. */
export function flatMap(found: FoundView): Map9 | null {
  const pairs: { from: Point; to: Point }[] = [];
  const pair = (px: readonly number[] | undefined, mm: readonly number[] | undefined) => {
    if (px && mm) pairs.push({ from: [px[0] ?? 0, px[1] ?? 0], to: [mm[0] ?? 0, mm[1] ?? 0] });
  };
  for (const piece of found.pieces) {
    piece.corners.forEach((corner, i) => pair(piece.corners_px[i], corner));
    for (const mark of piece.marks) mark.points.forEach((point, i) => pair(mark.points_px[i], point));
  }
  return mapThrough(pairs);
}

/** Where the whole photograph lies on the flat paper; null: not known, or it reaches the horizon. */
export function photographFlat(found: FoundView, picture: { width_px: number; height_px: number }): Point[] | null {
  const map = flatMap(found);
  if (!map) return null;
  const { width_px: w, height_px: h } = picture;
  const ring = ([[0, 0], [w, 0], [w, h], [0, h]] as Point[]).map((corner) => carried(map, corner));
  return ring.every((point) => point !== null) ? (ring as Point[]) : null;
}

/** Row by row: 3 × 3, the last entry 1. */
export type Map9 = readonly [number, number, number, number, number, number, number, number, number];
type Pairs = readonly { from: Point; to: Point }[];

/**
 * The map that fits pairs of points best, in the least squares of its linear form (Hartley's normalization);
 * null: too few points, or all on a line.
 *
 * References: Hartley, In defense of the eight-point algorithm, IEEE PAMI 19 (1997).
 */
export function mapThrough(pairs: Pairs): Map9 | null {
  if (pairs.length < 4) return null;
  const a = normalized(pairs.map((pair) => pair.from)), b = normalized(pairs.map((pair) => pair.to));
  if (!a || !b) return null;
  // normal equations of the 8 unknowns
  const m: number[][] = Array.from({ length: 8 }, () => new Array<number>(9).fill(0));
  pairs.forEach((pair) => {
    const [x, y] = a.put(pair.from), [u, v] = b.put(pair.to);
    for (const [row, right] of [[[x, y, 1, 0, 0, 0, -u * x, -u * y], u], [[0, 0, 0, x, y, 1, -v * x, -v * y], v]] as [number[], number][]) {
      for (let i = 0; i < 8; i += 1) {
        const mi = m[i] ?? [];
        for (let j = 0; j < 8; j += 1) mi[j] = (mi[j] ?? 0) + (row[i] ?? 0) * (row[j] ?? 0);
        mi[8] = (mi[8] ?? 0) + (row[i] ?? 0) * right;
      }
    }
  });
  const h = solved(m);
  if (!h) return null;
  const [h0, h1, h2, h3, h4, h5, h6, h7] = h as [number, number, number, number, number, number, number, number];
  const whole = times(b.back, times([h0, h1, h2, h3, h4, h5, h6, h7, 1], a.there));
  return Math.abs(whole[8]) < 1e-15 ? null : (whole.map((value) => value / whole[8]) as unknown as Map9);
}

/** Where a point goes; null: behind the eye. */
export function carried(map: Map9, [x, y]: Point): Point | null {
  const w = map[6] * x + map[7] * y + map[8];
  return w <= 1e-9 ? null : [(map[0] * x + map[1] * y + map[2]) / w, (map[3] * x + map[4] * y + map[5]) / w];
}

/** For CSS `transform`, with the origin at the top left. */
export function css3d(map: Map9): string {
  const [a, b, c, d, e, f, g, h, i] = map;
  return `matrix3d(${[a, d, 0, g, b, e, 0, h, 0, 0, 1, 0, c, f, 0, i].map((n) => n.toFixed(12)).join(',')})`;
}

function normalized(points: readonly Point[]): { put: (p: Point) => Point; there: Map9; back: Map9 } | null {
  const n = points.length;
  const x = points.reduce((s, p) => s + p[0], 0) / n, y = points.reduce((s, p) => s + p[1], 0) / n;
  const mean = points.reduce((s, p) => s + Math.hypot(p[0] - x, p[1] - y), 0) / n;
  if (mean === 0) return null;
  const k = Math.SQRT2 / mean;
  return {
    put: (p) => [(p[0] - x) * k, (p[1] - y) * k],
    there: [k, 0, -k * x, 0, k, -k * y, 0, 0, 1],
    back: [1 / k, 0, x, 0, 1 / k, y, 0, 0, 1],
  };
}

function times(a: Map9, b: Map9): Map9 {
  const out: number[] = [];
  for (let r = 0; r < 3; r += 1) for (let c = 0; c < 3; c += 1) out.push(a[3 * r]! * b[c]! + a[3 * r + 1]! * b[3 + c]! + a[3 * r + 2]! * b[6 + c]!);
  return out as unknown as Map9;
}

/** Gaussian elimination with the greatest pivot; null: no single solution. */
function solved(rows: number[][]): number[] | null {
  const n = rows.length;
  for (let c = 0; c < n; c += 1) {
    let best = c;
    for (let r = c + 1; r < n; r += 1) if (Math.abs(rows[r]![c]!) > Math.abs(rows[best]![c]!)) best = r;
    if (Math.abs(rows[best]![c]!) < 1e-9) return null;
    [rows[c], rows[best]] = [rows[best]!, rows[c]!];
    for (let r = 0; r < n; r += 1) {
      if (r === c) continue;
      const k = rows[r]![c]! / rows[c]![c]!;
      for (let j = c; j <= n; j += 1) rows[r]![j]! -= k * rows[c]![j]!;
    }
  }
  return rows.map((row, i) => row[n]! / row[i]!);
}
