/** The two kinds of segment that a path is made of: straight lines (two points) and cubic Béziers (four). */

import { apply, type Move } from './rigid';
import { JOIN_MM, distanceMm, lerp, type Mm, type PointMm } from './units';

export type LineSegment = readonly [PointMm, PointMm];
export type CubicSegment = readonly [PointMm, PointMm, PointMm, PointMm];
export type Segment = LineSegment | CubicSegment;

/** Chords of one curve at most, whatever the tolerance: as in Python. */
const MOST_CHORDS = 20_000;

export function isLine(segment: Segment): segment is LineSegment {
  return segment.length === 2;
}

/** The segment of two or four points, as they come from the server. */
export function segmentOf(points: readonly PointMm[]): Segment {
  const [p0, p1, p2, p3] = points;
  if (p0 !== undefined && p1 !== undefined && points.length === 2) return [p0, p1];
  if (p0 !== undefined && p1 !== undefined && p2 !== undefined && p3 !== undefined && points.length === 4) {
    return [p0, p1, p2, p3];
  }
  throw new RangeError(`A segment has two or four points, not ${points.length}.`);
}

export function startOf(segment: Segment): PointMm {
  return segment[0];
}

export function endOf(segment: Segment): PointMm {
  return isLine(segment) ? segment[1] : segment[3];
}

/** The four control points; a line gets them evenly spaced, so that its parameter is its share of length. */
export function controlOf(segment: Segment): CubicSegment {
  if (!isLine(segment)) return segment;
  const [p, q] = segment;
  return [p, lerp(p, q, 1 / 3), lerp(p, q, 2 / 3), q];
}

/** The point at parameter `t`, 0 to 1. */
export function pointOf(segment: Segment, t: number): PointMm {
  if (t === 0) return startOf(segment);
  if (t === 1) return endOf(segment);
  if (isLine(segment)) return lerp(segment[0], segment[1], t);
  const [p0, p1, p2, p3] = segment;
  const u = 1 - t;
  const a = u * u * u;
  const b = 3 * u * u * t;
  const c = 3 * u * t * t;
  const d = t * t * t;
  return [a * p0[0] + b * p1[0] + c * p2[0] + d * p3[0], a * p0[1] + b * p1[1] + c * p2[1] + d * p3[1]];
}

/** The first derivative by the parameter. */
export function derivativeOf(segment: Segment, t: number): PointMm {
  if (isLine(segment)) return [segment[1][0] - segment[0][0], segment[1][1] - segment[0][1]];
  const [p0, p1, p2, p3] = segment;
  const u = 1 - t;
  const a = 3 * u * u;
  const b = 6 * u * t;
  const c = 3 * t * t;
  return [
    a * (p1[0] - p0[0]) + b * (p2[0] - p1[0]) + c * (p3[0] - p2[0]),
    a * (p1[1] - p0[1]) + b * (p2[1] - p1[1]) + c * (p3[1] - p2[1]),
  ];
}

/** The unit direction at `t`; where the curve stops for a moment, the direction in which it goes on. */
export function directionOf(segment: Segment, t: number): PointMm {
  const [x, y] = derivativeOf(segment, t);
  const norm = Math.hypot(x, y);
  if (norm > JOIN_MM) return [x / norm, y / norm];
  const [p0, p1, p2, p3] = controlOf(segment);
  const [origin, order, sign] = t < 0.5 ? ([p0, [p1, p2, p3], 1] as const) : ([p3, [p2, p1, p0], -1] as const);
  for (const p of order) {
    const dx = sign * (p[0] - origin[0]);
    const dy = sign * (p[1] - origin[1]);
    const long = Math.hypot(dx, dy);
    if (long > JOIN_MM) return [dx / long, dy / long];
  }
  return [1, 0];
}

/** The two parts before and after parameter `t` (de Casteljau). */
export function splitSegment(segment: Segment, t: number): readonly [Segment, Segment] {
  if (isLine(segment)) {
    const middle = lerp(segment[0], segment[1], t);
    return [
      [segment[0], middle],
      [middle, segment[1]],
    ];
  }
  const [p0, p1, p2, p3] = segment;
  const a = lerp(p0, p1, t);
  const b = lerp(p1, p2, t);
  const c = lerp(p2, p3, t);
  const d = lerp(a, b, t);
  const e = lerp(b, c, t);
  const middle = lerp(d, e, t);
  return [
    [p0, a, d, middle],
    [middle, e, c, p3],
  ];
}

export function reversedSegment(segment: Segment): Segment {
  return isLine(segment) ? [segment[1], segment[0]] : [segment[3], segment[2], segment[1], segment[0]];
}

export function movedSegment(segment: Segment, move: Move): Segment {
  return segmentOf(segment.map((p) => apply(move, p)));
}

/** The segment with its ends put elsewhere, control points carried along by the same shifts. */
export function withEnds(segment: Segment, start: PointMm, end: PointMm): Segment {
  if (isLine(segment)) return [start, end];
  const [p0, p1, p2, p3] = segment;
  return [
    start,
    [p1[0] + start[0] - p0[0], p1[1] + start[1] - p0[1]],
    [p2[0] + end[0] - p3[0], p2[1] + end[1] - p3[1]],
    end,
  ];
}

/**
 * How many chords, evenly spaced by parameter, stay within the tolerance of a curve.
 *
 * The chord of a step `h` leaves the curve by at most `h²/8 · max|p''|`, and `|p''|` is at most six times the
 * greatest second difference of the control points.
 */
export function chordCount(segment: CubicSegment, toleranceMm: Mm): number {
  const [p0, p1, p2, p3] = segment;
  const bend = Math.max(
    Math.hypot(p0[0] - 2 * p1[0] + p2[0], p0[1] - 2 * p1[1] + p2[1]),
    Math.hypot(p1[0] - 2 * p2[0] + p3[0], p1[1] - 2 * p2[1] + p3[1]),
  );
  return Math.min(Math.max(1, Math.ceil(Math.sqrt((0.75 * bend) / toleranceMm))), MOST_CHORDS);
}

/** The parameter between `low` and `high` at which the segment is nearest to a point. */
export function footOn(segment: Segment, pt: PointMm, low = 0, high = 1): number {
  if (isLine(segment)) {
    const [p, q] = segment;
    const dx = q[0] - p[0];
    const dy = q[1] - p[1];
    const square = dx * dx + dy * dy;
    if (square === 0) return 0;
    return Math.min(Math.max(((pt[0] - p[0]) * dx + (pt[1] - p[1]) * dy) / square, 0), 1);
  }
  const away = (t: number): number => distanceMm(pointOf(segment, t), pt);
  // golden section to a thousandth of the bracket, then Newton on the angle between the foot and the curve
  const ratio = (Math.sqrt(5) - 1) / 2;
  let a = low;
  let b = high;
  let c = b - ratio * (b - a);
  let d = a + ratio * (b - a);
  let fc = away(c);
  let fd = away(d);
  for (let i = 0; i < 16; i++) {
    if (fc <= fd) {
      [b, d, fd] = [d, c, fc];
      c = b - ratio * (b - a);
      fc = away(c);
    } else {
      [a, c, fc] = [c, d, fd];
      d = a + ratio * (b - a);
      fd = away(d);
    }
  }
  const middle = (a + b) / 2;
  const best = [low, high, middle].reduce((x, y) => (away(y) < away(x) ? y : x));
  const [p0, p1, p2, p3] = segment;
  let t = best;
  for (let i = 0; i < 8; i++) {
    const [x, y] = pointOf(segment, t);
    const [dx, dy] = derivativeOf(segment, t);
    const ddx = 6 * ((1 - t) * (p2[0] - 2 * p1[0] + p0[0]) + t * (p3[0] - 2 * p2[0] + p1[0]));
    const ddy = 6 * ((1 - t) * (p2[1] - 2 * p1[1] + p0[1]) + t * (p3[1] - 2 * p2[1] + p1[1]));
    const slope = (x - pt[0]) * dx + (y - pt[1]) * dy;
    const bend = dx * dx + dy * dy + (x - pt[0]) * ddx + (y - pt[1]) * ddy;
    if (bend <= 0) break;
    const next = Math.min(Math.max(t - slope / bend, low), high);
    if (Math.abs(next - t) < 1e-15) break;
    t = next;
  }
  return away(t) <= away(best) ? t : best;
}
