/**
 * Outlines of what is painted: where a field is above 0, by marching squares on a grid. Strokes, and what an
 * eraser leaves of a place, come out as proper rings, counter-clockwise, that do not cross themselves.
 *
 * References: Lorensen and Cline, Marching cubes, SIGGRAPH 1987 (its form in two dimensions).
 */

import type { Point } from '../../core/geometry-types';
import { boxOf } from '../../core/geometry-types';
import { contains, sidesCross, signedAreaMm2 } from '../../core/geometry/polygon';

export type Ring = readonly (readonly [number, number])[];

/** More cells than this are never needed for a flaw; the grid becomes coarser instead. */
const MOST_CELLS = 40_000;

/** Edges of a cell that the outline enters and leaves by, inside on its left: bits are bottom left, bottom right, top right, top left. */
type Side = 0 | 1 | 2 | 3; // bottom, right, top, left
const WAYS: Record<number, readonly (readonly [Side, Side])[]> = {
  1: [[0, 3]], 2: [[1, 0]], 3: [[1, 3]], 4: [[2, 1]], 5: [[0, 3], [2, 1]], 6: [[2, 0]], 7: [[2, 3]],
  8: [[3, 2]], 9: [[0, 2]], 10: [[1, 0], [3, 2]], 11: [[1, 2]], 12: [[3, 1]], 13: [[0, 1]], 14: [[3, 0]],
};

export function contours(field: (x: number, y: number) => number, box: { left: number; bottom: number; width: number; height: number }, step_mm: number): Point[][] {
  const step = Math.max(step_mm, Math.sqrt((box.width * box.height) / MOST_CELLS));
  const x0 = box.left - step, y0 = box.bottom - step;
  const nx = Math.ceil(box.width / step) + 2, ny = Math.ceil(box.height / step) + 2;
  const values = new Float64Array((nx + 1) * (ny + 1));
  for (let j = 0; j <= ny; j += 1) {
    for (let i = 0; i <= nx; i += 1) {
      const rim = i === 0 || j === 0 || i === nx || j === ny;
      const value = rim ? -step : field(x0 + i * step, y0 + j * step);
      values[j * (nx + 1) + i] = value === 0 ? -1e-9 : value;
    }
  }
  const at = (i: number, j: number) => values[j * (nx + 1) + i] ?? -1;
  const next = new Map<number, { to: number; at: Point }>();
  const across = (i: number, j: number) => 2 * (j * (nx + 1) + i);
  const up = (i: number, j: number) => across(i, j) + 1;
  const between = (a: number, b: number) => a / (a - b);
  for (let j = 0; j < ny; j += 1) {
    for (let i = 0; i < nx; i += 1) {
      const a = at(i, j), b = at(i + 1, j), c = at(i + 1, j + 1), d = at(i, j + 1);
      const kind = (a > 0 ? 1 : 0) + (b > 0 ? 2 : 0) + (c > 0 ? 4 : 0) + (d > 0 ? 8 : 0);
      for (const [from, to] of WAYS[kind] ?? []) {
        const keys = [across(i, j), up(i + 1, j), across(i, j + 1), up(i, j)];
        const points: Point[] = [
          [x0 + (i + between(a, b)) * step, y0 + j * step],
          [x0 + (i + 1) * step, y0 + (j + between(b, c)) * step],
          [x0 + (i + between(d, c)) * step, y0 + (j + 1) * step],
          [x0 + i * step, y0 + (j + between(a, d)) * step],
        ];
        next.set(keys[from] ?? 0, { to: keys[to] ?? 0, at: points[from] ?? [0, 0] });
      }
    }
  }
  const rings: Point[][] = [];
  while (next.size > 0) {
    const first = next.keys().next().value as number;
    const ring: Point[] = [];
    for (let key = first; ; ) {
      const one = next.get(key);
      if (!one) break;
      next.delete(key);
      ring.push(one.at);
      key = one.to;
    }
    if (ring.length >= 3) rings.push(ring);
  }
  return rings;
}

/** Distance of a place from a broken line. */
export function distanceFrom(line: readonly Point[], x: number, y: number, closed = false): number {
  let best = Infinity;
  const n = line.length;
  if (n === 1) return Math.hypot((line[0]?.[0] ?? 0) - x, (line[0]?.[1] ?? 0) - y);
  for (let i = closed ? 0 : 1; i < n; i += 1) {
    const p = line[(i + n - 1) % n] ?? [0, 0], q = line[i] ?? [0, 0];
    const dx = q[0] - p[0], dy = q[1] - p[1];
    const square = dx * dx + dy * dy;
    const t = square === 0 ? 0 : Math.min(1, Math.max(0, ((x - p[0]) * dx + (y - p[1]) * dy) / square));
    best = Math.min(best, Math.hypot(p[0] + t * dx - x, p[1] + t * dy - y));
  }
  return best;
}

/** A line made simpler so that it strays at most so far (Douglas and Peucker 1973); for a ring, closed. */
export function simpler(points: readonly Point[], stray_mm: number, closed: boolean): Point[] {
  return simplerIndices(points, stray_mm, closed).map((i) => points[i] ?? [0, 0]);
}

export function simplerIndices(points: readonly Point[], stray_mm: number, closed: boolean): number[] {
  const n = points.length;
  if (n < 3) return points.map((_, i) => i);
  const keep = new Set<number>();
  const split = (from: number, to: number) => {
    const stack: [number, number][] = [[from, to]];
    while (stack.length > 0) {
      const [a, b] = stack.pop() as [number, number];
      const p = points[a % n] ?? [0, 0], q = points[b % n] ?? [0, 0];
      let far = -1, most = stray_mm;
      for (let i = a + 1; i < b; i += 1) {
        const r = points[i % n] ?? [0, 0];
        const away = distanceFrom([p, q], r[0], r[1]);
        if (away > most) [far, most] = [i, away];
      }
      if (far >= 0) {
        keep.add(far % n);
        stack.push([a, far], [far, b]);
      }
    }
  };
  keep.add(0);
  if (closed) {
    let far = 1, most = -1;
    for (let i = 1; i < n; i += 1) {
      const away = Math.hypot((points[i]?.[0] ?? 0) - (points[0]?.[0] ?? 0), (points[i]?.[1] ?? 0) - (points[0]?.[1] ?? 0));
      if (away > most) [far, most] = [i, away];
    }
    keep.add(far);
    split(0, far);
    split(far, n);
  } else {
    keep.add(n - 1);
    split(0, n - 1);
  }
  return [...keep].sort((a, b) => a - b);
}

/** What a brush of a width covered along a stroke. Drawn all round a place, it covers what is inside too. */
export function painted(stroke: readonly Point[], width_mm: number): Point[] | null {
  const radius = width_mm / 2;
  const line = simpler(stroke, radius / 10, false);
  const box = boxOf(line);
  if (!box) return null;
  const wide = { left: box.left - radius, bottom: box.bottom - radius, width: box.width + width_mm, height: box.height + width_mm };
  // as much wider as making it simpler may take away
  const stray = radius / 40;
  const rings = contours((x, y) => radius + stray - distanceFrom(line, x, y), wide, radius / 4);
  rings.sort((a, b) => signedAreaMm2(b) - signedAreaMm2(a));
  const outer = rings[0];
  return outer && signedAreaMm2(outer) > 0 ? tidy(outer, stray) : null;
}

/** What an eraser leaves of a place: nothing, one part or more. Null: it did not touch it. */
export function erased(ring: Ring, stroke: readonly Point[], width_mm: number): Point[][] | null {
  const radius = width_mm / 2;
  const line = simpler(stroke, radius / 10, false);
  const touches = crosses(ring, line) || line.some(([x, y]) => contains(ring, [x, y])) || line.some(([x, y]) => distanceFrom(ring, x, y, true) < radius) || ring.some(([x, y]) => distanceFrom(line, x, y) < radius);
  if (!touches) return null;
  const box = boxOf(ring);
  if (!box) return null;
  const step = Math.min(radius / 3, Math.max(box.width, box.height) / 24);
  const field = (x: number, y: number) => {
    const edge = distanceFrom(ring, x, y, true);
    return Math.min(contains(ring, [x, y]) ? edge : -edge, distanceFrom(line, x, y) - radius);
  };
  // crumbs smaller than a quarter of the eraser's dot are gone too
  const least = (Math.PI * radius * radius) / 4;
  return contours(field, box, step).filter((part) => signedAreaMm2(part) > least).map((part) => tidy(part, step / 4));
}

/** Whether a broken line crosses a ring anywhere. */
function crosses(ring: Ring, line: readonly Point[]): boolean {
  return line.some((p, i) => {
    const before = line[i - 1];
    return before !== undefined && ring.some((q, k) => sidesCross(before, p, ring[(k + ring.length - 1) % ring.length] ?? q, q));
  });
}

/** Simpler, unless that would make it cross itself. */
function tidy(ring: Point[], stray_mm: number): Point[] {
  const short = simpler(ring, stray_mm, true).map(([x, y]): Point => [Math.round(x * 100) / 100, Math.round(y * 100) / 100]);
  return short.length >= 3 && !crossesItself(short) ? short : ring;
}

export function crossesItself(ring: readonly Point[]): boolean {
  const n = ring.length;
  const turn = (o: Point, p: Point, q: Point) => Math.sign((p[0] - o[0]) * (q[1] - o[1]) - (p[1] - o[1]) * (q[0] - o[0]));
  for (let i = 0; i < n; i += 1) {
    const a = ring[i] as Point, b = ring[(i + 1) % n] as Point;
    for (let j = i + 2; j < n; j += 1) {
      if (i === 0 && j === n - 1) continue;
      const c = ring[j] as Point, d = ring[(j + 1) % n] as Point;
      if (turn(a, b, c) * turn(a, b, d) < 0 && turn(c, d, a) * turn(c, d, b) < 0) return true;
    }
  }
  return false;
}
