/** Closed outlines as rings of points: area, inside, hull, distances, and a coarser outline that only grows. */

import { JOIN_MM, distanceMm, type BoxMm, type Mm, type Mm2, type PointMm, type RingMm } from './units';

/** Calls `each` with the two ends of every side. */
export function eachSide(ring: RingMm, each: (p: PointMm, q: PointMm, index: number) => void): void {
  let p = ring[ring.length - 1];
  if (p === undefined) return;
  ring.forEach((q, i) => {
    each(p as PointMm, q, i);
    p = q;
  });
}

/** The area: positive where the ring runs counter-clockwise. */
export function signedAreaMm2(ring: RingMm): Mm2 {
  const [x0, y0] = ring[0] ?? [0, 0];
  let sum = 0;
  eachSide(ring, (p, q) => {
    sum += (p[0] - x0) * (q[1] - y0) - (q[0] - x0) * (p[1] - y0);
  });
  return sum / 2;
}

/** The ring, turned round where it ran clockwise; the first point stays the first. */
export function counterClockwise(ring: RingMm): RingMm {
  const [first, ...rest] = ring;
  return first === undefined || signedAreaMm2(ring) > 0 ? ring : [first, ...rest.reverse()];
}

/** The centre of area; of a ring without area the middle of its points. */
export function centroid(ring: RingMm): PointMm {
  const [x0, y0] = ring[0] ?? [0, 0];
  let [sx, sy, total] = [0, 0, 0];
  eachSide(ring, (p, q) => {
    const cross = (p[0] - x0) * (q[1] - y0) - (q[0] - x0) * (p[1] - y0);
    sx += (p[0] + q[0] - 2 * x0) * cross;
    sy += (p[1] + q[1] - 2 * y0) * cross;
    total += cross;
  });
  if (total !== 0) return [x0 + sx / (3 * total), y0 + sy / (3 * total)];
  const n = Math.max(ring.length, 1);
  return [ring.reduce((s, p) => s + p[0], 0) / n, ring.reduce((s, p) => s + p[1], 0) / n];
}

/** Whether a point lies inside, by the even-odd rule; on the boundary either answer may come. */
export function contains(ring: RingMm, pt: PointMm): boolean {
  const [x, y] = pt;
  let inside = false;
  let p = ring[ring.length - 1] as PointMm;
  for (const q of ring) {
    if (q[1] > y !== p[1] > y && x < ((p[0] - q[0]) * (y - q[1])) / (p[1] - q[1]) + q[0]) inside = !inside;
    p = q;
  }
  return inside;
}

/** The upright box that just holds all points. */
export function boundsOf(points: Iterable<PointMm>): BoxMm {
  let [left, bottom, right, top] = [Infinity, Infinity, -Infinity, -Infinity];
  for (const [x, y] of points) {
    if (x < left) left = x;
    if (x > right) right = x;
    if (y < bottom) bottom = y;
    if (y > top) top = y;
  }
  return [left, bottom, right, top];
}

/** Whether two boxes come within a distance of each other. */
export function boxesMeet(a: BoxMm, b: BoxMm, withinMm: Mm = 0): boolean {
  return (
    a[0] - withinMm <= b[2] && b[0] - withinMm <= a[2] && a[1] - withinMm <= b[3] && b[1] - withinMm <= a[3]
  );
}

function cross(o: PointMm, p: PointMm, q: PointMm): number {
  return (p[0] - o[0]) * (q[1] - o[1]) - (p[1] - o[1]) * (q[0] - o[0]);
}

/** The convex hull, counter-clockwise, without points on its sides (Andrew, Inf. Proc. Letters 9, 1979). */
export function convexHull(points: readonly PointMm[]): PointMm[] {
  const sorted = [...points].sort((p, q) => p[0] - q[0] || p[1] - q[1]);
  const half = (order: readonly PointMm[]): PointMm[] => {
    const chain: PointMm[] = [];
    for (const p of order) {
      for (;;) {
        const [o, last] = chain.slice(-2);
        if (o === undefined || last === undefined || cross(o, last, p) > 0) break;
        chain.pop();
      }
      chain.push(p);
    }
    chain.pop();
    return chain;
  };
  const hull = [...half(sorted), ...half(sorted.reverse())];
  return hull.length > 0 ? hull : sorted.slice(0, 1);
}

/** The squared distance of a point from a straight line between two points. */
function toSide2(x: Mm, y: Mm, p: PointMm, q: PointMm): number {
  const dx = q[0] - p[0];
  const dy = q[1] - p[1];
  const square = dx * dx + dy * dy;
  const t = square > 0 ? Math.min(Math.max(((x - p[0]) * dx + (y - p[1]) * dy) / square, 0), 1) : 0;
  const ox = p[0] + t * dx - x;
  const oy = p[1] + t * dy - y;
  return ox * ox + oy * oy;
}

/** The distance of a point from a straight line between two points. */
export function distanceToSideMm(pt: PointMm, p: PointMm, q: PointMm): Mm {
  return Math.sqrt(toSide2(pt[0], pt[1], p, q));
}

/** Whether two straight lines have a point in common. */
export function sidesCross(a: PointMm, b: PointMm, c: PointMm, d: PointMm): boolean {
  const s1 = Math.sign(cross(a, b, c));
  const s2 = Math.sign(cross(a, b, d));
  const s3 = Math.sign(cross(c, d, a));
  const s4 = Math.sign(cross(c, d, b));
  return s1 * s2 < 0 && s3 * s4 < 0;
}

/** The distance of two straight lines: 0 where they cross. */
export function distanceOfSidesMm(a: PointMm, b: PointMm, c: PointMm, d: PointMm): Mm {
  if (sidesCross(a, b, c, d)) return 0;
  return Math.min(
    distanceToSideMm(a, c, d),
    distanceToSideMm(b, c, d),
    distanceToSideMm(c, a, b),
    distanceToSideMm(d, a, b),
  );
}

/** The distance of a point from the boundary of a ring. */
export function distanceToRingMm(ring: RingMm, pt: PointMm): Mm {
  let least = Infinity;
  let p = ring[ring.length - 1] as PointMm;
  for (const q of ring) {
    least = Math.min(least, toSide2(pt[0], pt[1], p, q));
    p = q;
  }
  return Math.sqrt(least);
}

/** The distance of two shapes with their insides: 0 where they overlap or touch. */
export function distanceOfRingsMm(a: RingMm, b: RingMm): Mm {
  const [pa, pb] = [a[0], b[0]];
  if (pa === undefined || pb === undefined) return Infinity;
  if (contains(b, pa) || contains(a, pb)) return 0;
  const sides: (readonly [PointMm, PointMm, BoxMm])[] = [];
  eachSide(b, (p, q) => sides.push([p, q, boundsOf([p, q])]));
  let least = Infinity;
  eachSide(a, (p, q) => {
    const box = boundsOf([p, q]);
    for (const [c, d, other] of sides) {
      if (boxesMeet(box, other, least)) least = Math.min(least, distanceOfSidesMm(p, q, c, d));
    }
  });
  return least;
}

/** The first place at which a ring crosses itself, or null. Sides that only touch do not count. */
export function selfCrossing(ring: RingMm): PointMm | null {
  const sides: (readonly [PointMm, PointMm, BoxMm])[] = [];
  eachSide(ring, (p, q) => sides.push([p, q, boundsOf([p, q])]));
  for (let i = 0; i < sides.length; i++) {
    const [a, b, box] = sides[i] as (typeof sides)[number];
    for (let j = i + 1; j < sides.length; j++) {
      const [c, d, other] = sides[j] as (typeof sides)[number];
      if (boxesMeet(box, other) && sidesCross(a, b, c, d)) {
        const one = cross(c, d, a);
        const t = one / (one - cross(c, d, b));
        return [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t];
      }
    }
  }
  return null;
}

/**
 * A ring of fewer points that contains the given one and reaches beyond it by no more than `toleranceMm`.
 *
 * Dents are bridged (a point that lies inside the line between its neighbours is dropped), bulges are cut off
 * outside (a side is dropped and its neighbours run on until they meet), cheapest first, as long as the outline
 * stays simple. Any collision test with the result errs to the safe side.
 */
export function simplifiedOutwards(ring: RingMm, toleranceMm: Mm): PointMm[] {
  const points: PointMm[] = [...counterClockwise(ring)];
  /** How far the side from each point on may reach beyond the given ring already. */
  const reach: Mm[] = points.map(() => 0);
  for (;;) {
    const n = points.length;
    if (n <= 4) return points;
    const at = (i: number): PointMm => points[((i % n) + n) % n] as PointMm;
    const used = (i: number): Mm => reach[((i % n) + n) % n] ?? 0;
    let best: { cost: Mm; at: number; drop: number; put: PointMm[]; before: Mm; after: Mm } | null = null;
    for (let i = 0; i < n; i++) {
      const [a, b, c, d] = [at(i - 1), at(i), at(i + 1), at(i + 2)];
      if (cross(a, b, c) <= 0) {
        const cost = distanceToSideMm(b, a, c) + Math.max(used(i - 1), used(i));
        if (cost <= toleranceMm && (best === null || cost < best.cost) && clear(points, i, [b], [a, c])) {
          best = { cost, at: i, drop: 1, put: [], before: cost, after: cost };
        }
        continue;
      }
      const tip = meeting(a, b, d, c);
      if (tip === null) continue;
      const cost = distanceToSideMm(tip, b, c) + used(i);
      if (cost <= toleranceMm && (best === null || cost < best.cost) && clear(points, i, [b, c], [a, tip, d])) {
        const [before, after] = [Math.max(cost, used(i - 1)), Math.max(cost, used(i + 1))];
        best = { cost, at: i, drop: 2, put: [tip], before, after };
      }
    }
    if (best === null) return points;
    // turned so that what is dropped lies first: it may run over the start of the list
    for (let k = 0; k < best.at; k++) {
      points.push(points.shift() as PointMm);
      reach.push(reach.shift() as Mm);
    }
    points.splice(0, best.drop, ...best.put);
    reach.splice(0, best.drop, ...best.put.map(() => (best as { after: Mm }).after));
    reach[reach.length - 1] = best.before;
  }
}

/** Where the sides a→b and d→c, run on beyond b and c, meet; null where they do not. */
function meeting(a: PointMm, b: PointMm, d: PointMm, c: PointMm): PointMm | null {
  const u: PointMm = [b[0] - a[0], b[1] - a[1]];
  const v: PointMm = [c[0] - d[0], c[1] - d[1]];
  const det = u[0] * v[1] - u[1] * v[0];
  if (Math.abs(det) <= JOIN_MM) return null;
  const [wx, wy] = [d[0] - a[0], d[1] - a[1]];
  const s = (wx * v[1] - wy * v[0]) / det;
  const t = (wx * u[1] - wy * u[0]) / det;
  return s >= 1 && t >= 1 ? [a[0] + s * u[0], a[1] + s * u[1]] : null;
}

/** Whether a new stretch of the outline keeps clear of all sides but those that it replaces and joins. */
function clear(points: readonly PointMm[], at: number, gone: readonly PointMm[], line: readonly PointMm[]): boolean {
  const n = points.length;
  const skip = new Set<PointMm>([...gone, points[(at - 1 + n) % n] as PointMm]);
  for (let i = 0; i < n; i++) {
    const p = points[i] as PointMm;
    const q = points[(i + 1) % n] as PointMm;
    if (skip.has(p)) continue;
    for (let k = 0; k + 1 < line.length; k++) {
      const a = line[k] as PointMm;
      const b = line[k + 1] as PointMm;
      const joined = p === a || p === b || q === a || q === b;
      if (joined ? sidesCross(a, b, p, q) : distanceOfSidesMm(a, b, p, q) <= JOIN_MM) return false;
    }
  }
  return true;
}

/** The length of the closed outline. */
export function perimeterMm(ring: RingMm): Mm {
  let sum = 0;
  eachSide(ring, (p, q) => {
    sum += distanceMm(p, q);
  });
  return sum;
}
