/** How deep two shapes cover each other, and where: for saying it, not for every step of the hand. */

import type { Hazard, SideGrid } from './hazards';
import { boundsOf, boxesMeet, contains, distanceToRingMm, distanceToSideMm } from './polygon';
import type { BoxMm, Mm, PointMm, RingMm } from './units';

/** Where no gap is kept, outlines may cover each other by so much: along 2.5 m it is the area that passes there. */
export const TOUCH_MM: Mm = 2e-5;

interface Place {
  readonly depthMm: Mm;
  readonly at: PointMm;
}

/** Sides that lie on each other: by index in the outline of the piece, and in the grid. */
export interface Touches {
  readonly mine: Set<number>;
  readonly theirs: Set<number>;
}

type Side = readonly [PointMm, PointMm];

/** Whether outlines that touch cover each other: looked at between the places where they touch. */
export function touchesDeeply(outline: RingMm, ring: RingMm, around: boolean, touch: Touches, grid: SideGrid): boolean {
  const n = outline.length;
  const mine = [...touch.mine].map((i): Side => [outline[(i + n - 1) % n] as PointMm, outline[i] as PointMm]);
  const theirs = [...touch.theirs].map((s): Side => [[grid.x0[s]!, grid.y0[s]!], [grid.x1[s]!, grid.y1[s]!]]);
  const deep = (shape: RingMm, inside: boolean) => (pt: PointMm) =>
    contains(shape, pt) === inside && distanceToRingMm(shape, pt) > TOUCH_MM;
  return (
    mine.some((side) => between(side, theirs).some(deep(ring, !around))) ||
    theirs.some((side) => between(side, mine).some(deep(outline, true)))
  );
}

/** Points of a side in the middle between the places where others touch or cross it. */
function between(side: Side, others: readonly Side[]): PointMm[] {
  const [p, q] = side;
  const [ex, ey] = [q[0] - p[0], q[1] - p[1]];
  const square = ex * ex + ey * ey;
  if (square === 0) return [];
  const height = (pt: PointMm): number => ((pt[0] - p[0]) * ey - (pt[1] - p[1]) * ex) / Math.sqrt(square);
  const along = (pt: PointMm): number => ((pt[0] - p[0]) * ex + (pt[1] - p[1]) * ey) / square;
  const cuts = [0, 1];
  for (const [c, d] of others) {
    const [hc, hd] = [height(c), height(d)];
    if (Math.abs(hc) <= 2 * TOUCH_MM) cuts.push(along(c));
    if (Math.abs(hd) <= 2 * TOUCH_MM) cuts.push(along(d));
    if (hc * hd < 0) cuts.push(along(c) + ((along(d) - along(c)) * hc) / (hc - hd));
  }
  const sorted = cuts.filter((t) => t >= 0 && t <= 1).sort((a, b) => a - b);
  return sorted.slice(1).flatMap((t, i): PointMm[] => {
    const before = sorted[i] as number;
    const middle = (t + before) / 2;
    return (t - before) ** 2 * square > 4 * TOUCH_MM * TOUCH_MM ? [[p[0] + middle * ex, p[1] + middle * ey]] : [];
  });
}

/**
 * How deep a piece covers a hazard, or reaches beyond the edge, and where it is deepest: at a corner of the one that
 * lies in the other, or where there is none, between two places where their sides cross.
 */
export function overlap(outline: RingMm, one: Hazard): Place {
  const around = one.kind === 'edge';
  const box = boundsOf(outline);
  let depthMm = 0;
  let at = outline[0] as PointMm;
  const look = (pt: PointMm, shape: RingMm, within: BoxMm, inside: boolean): void => {
    const [x, y] = pt;
    if (inside && (x < within[0] || y < within[1] || x > within[2] || y > within[3])) return;
    if (contains(shape, pt) !== inside) return;
    const deep = distanceToRingMm(shape, pt);
    if (deep > depthMm) [depthMm, at] = [deep, pt];
  };
  for (const pt of outline) look(pt, one.ring, one.box, !around);
  for (const pt of one.ring) look(pt, outline, box, true);
  if (depthMm === 0) {
    const sidesOf = (ring: RingMm, near: BoxMm): Side[] =>
      ring
        .map((p, i): Side => [p, ring[(i + 1) % ring.length] as PointMm])
        .filter((side) => boxesMeet(boundsOf(side), near));
    const [mine, theirs] = [sidesOf(outline, one.box), sidesOf(one.ring, box)];
    for (const side of mine) for (const pt of between(side, theirs)) look(pt, one.ring, one.box, !around);
    for (const side of theirs) for (const pt of between(side, mine)) look(pt, outline, box, true);
  }
  return { depthMm, at };
}

/** The place where two sides are nearest: an end of one of them. */
export function nearestEnd([a, b]: Side, [c, d]: Side): PointMm {
  const ends: readonly (readonly [PointMm, Mm])[] = [
    [a, distanceToSideMm(a, c, d)], [b, distanceToSideMm(b, c, d)],
    [c, distanceToSideMm(c, a, b)], [d, distanceToSideMm(d, a, b)],
  ];
  return ends.reduce((x, y) => (y[1] < x[1] ? y : x))[0];
}
