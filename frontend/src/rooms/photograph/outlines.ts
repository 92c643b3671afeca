/** Lengths and places along a closed outline of straight sides. */

import type { Point } from '../../core/geometry-types';

type Ring = readonly (readonly number[])[];

const p = (ring: Ring, i: number): Point => {
  const at = ring[((i % ring.length) + ring.length) % ring.length];
  return [at?.[0] ?? 0, at?.[1] ?? 0];
};
const apart = (a: Point, b: Point): number => Math.hypot(a[0] - b[0], a[1] - b[1]);

export function lengthOf(ring: Ring): number {
  let sum = 0;
  for (let i = 0; i < ring.length; i += 1) sum += apart(p(ring, i), p(ring, i + 1));
  return sum;
}

/** The place on the outline nearest to a point: how far along it, where, and how far away. */
export function nearestOn(ring: Ring, to: Point): { along: number; at: Point; away: number } {
  let best = { along: 0, at: p(ring, 0), away: Infinity };
  let run = 0;
  for (let i = 0; i < ring.length; i += 1) {
    const a = p(ring, i), b = p(ring, i + 1);
    const side = apart(a, b);
    const share = side === 0 ? 0 : Math.min(1, Math.max(0, ((to[0] - a[0]) * (b[0] - a[0]) + (to[1] - a[1]) * (b[1] - a[1])) / (side * side)));
    const at: Point = [a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])];
    const away = apart(at, to);
    if (away < best.away) best = { along: run + share * side, at, away };
    run += side;
  }
  return best;
}

/** The point so far along the outline; beyond its end it goes round again. */
export function pointAlong(ring: Ring, along: number): Point {
  const all = lengthOf(ring);
  let left = all === 0 ? 0 : ((along % all) + all) % all;
  for (let i = 0; i < ring.length; i += 1) {
    const a = p(ring, i), b = p(ring, i + 1);
    const side = apart(a, b);
    if (left <= side) {
      const share = side === 0 ? 0 : left / side;
      return [a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])];
    }
    left -= side;
  }
  return p(ring, 0);
}

/** How far one comes from one place forward to another, going round. */
export function wayBetween(ring: Ring, from: number, to: number): number {
  const all = lengthOf(ring);
  return all === 0 ? 0 : (((to - from) % all) + all) % all;
}

/** The part of the outline from one place forward to another, as an open line. */
export function partBetween(ring: Ring, from: number, to: number): Point[] {
  const way = wayBetween(ring, from, to) || lengthOf(ring);
  const part: Point[] = [pointAlong(ring, from)];
  let run = 0;
  const inside: { past: number; at: Point }[] = [];
  for (let i = 0; i < ring.length; i += 1) {
    const past = wayBetween(ring, from, run);
    if (past > 1e-9 && past < way - 1e-9) inside.push({ past, at: p(ring, i) });
    run += apart(p(ring, i), p(ring, i + 1));
  }
  inside.sort((a, b) => a.past - b.past);
  part.push(...inside.map((one) => one.at), pointAlong(ring, from + way));
  return part;
}

/** Corners in the order of the outline, beginning with the first one, each put onto the outline. */
export function cornersInOrder(ring: Ring, corners: Ring): { at: Point; along: number }[] {
  const placed = corners.map((corner) => nearestOn(ring, [corner[0] ?? 0, corner[1] ?? 0]));
  const first = placed[0]?.along ?? 0;
  return placed
    .map(({ at, along }) => ({ at, along }))
    .sort((a, b) => wayBetween(ring, first, a.along) - wayBetween(ring, first, b.along));
}

/** The edges between the corners; without corners, the whole outline as one. */
export function edgesBetween(ring: Ring, corners: Ring): Point[][] {
  const placed = cornersInOrder(ring, corners);
  if (placed.length < 2) {
    const from = placed[0]?.along ?? 0;
    return [partBetween(ring, from, from)];
  }
  return placed.map((one, i) => partBetween(ring, one.along, placed[(i + 1) % placed.length]?.along ?? 0));
}

/** A point well inside of a line's length, where a word about it may stand. */
export function middleOf(line: readonly Point[]): Point {
  let all = 0;
  for (let i = 1; i < line.length; i += 1) all += apart(line[i - 1] ?? [0, 0], line[i] ?? [0, 0]);
  let left = all / 2;
  for (let i = 1; i < line.length; i += 1) {
    const a = line[i - 1] ?? [0, 0], b = line[i] ?? [0, 0];
    const side = apart(a, b);
    if (left <= side && side > 0) return [a[0] + (left / side) * (b[0] - a[0]), a[1] + (left / side) * (b[1] - a[1])];
    left -= side;
  }
  return line[0] ?? [0, 0];
}
