/**
 * Paths: chains of straight lines and cubic Béziers, measured by arc length in mm.
 *
 * The twin of `eke.geometry.path` for what must follow the hand without asking the server; both run the same
 * goldens (`tests/shared/paths.json`). A path is a value and never changes; "left" is to the left of the
 * direction of walking, which is inside for a counter-clockwise outline.
 */

import { arcTable, lengthAt, longestLeg, parameterAt, type ArcTable } from './arclength';
import type { Move } from './rigid';
import {
  chordCount, controlOf, directionOf, endOf, footOn, isLine, movedSegment, pointOf, reversedSegment, segmentOf,
  splitSegment, startOf, withEnds, type Segment,
} from './segments';
import { FLATTEN_MM, JOIN_MM, distanceMm, type BoxMm, type Mm, type PointMm, type RingMm } from './units';

export type Side = 'before' | 'after';

/** The nearest point of a path: how far along it lies, where it is, and how far away. */
export interface Nearest {
  readonly atMm: Mm;
  readonly point: PointMm;
  readonly distanceMm: Mm;
}

/** Spans of a cubic in which the nearest point is looked for, each by itself. */
const SPANS = 24;

export class Path {
  readonly segments: readonly Segment[];
  #table: ArcTable | null = null;

  /** A chain without gaps. Throws `RangeError` where it has one, or no segment. */
  constructor(segments: readonly Segment[]) {
    const first = segments[0];
    if (first === undefined) throw new RangeError('A line needs at least two points.');
    let here = startOf(first);
    for (const segment of segments) {
      if (!segment.every(([x, y]) => Number.isFinite(x) && Number.isFinite(y))) {
        throw new RangeError('A point of the line has no place: one of its coordinates is no number.');
      }
      if (distanceMm(here, startOf(segment)) > JOIN_MM) throw new RangeError('The line has a gap.');
      here = endOf(segment);
    }
    this.segments = segments;
  }

  /** The path of segments as they come from the server. */
  static of(segments: readonly { readonly points: readonly PointMm[] }[]): Path {
    return new Path(segments.map((segment) => segmentOf(segment.points)));
  }

  static line(p: PointMm, q: PointMm): Path {
    return new Path([[p, q]]);
  }

  /** Straight lines through points; repeated ones are dropped; `closed` returns to the first. */
  static polyline(points: readonly PointMm[], closed = false): Path {
    const clean: PointMm[] = [];
    for (const p of points) {
      const last = clean[clean.length - 1];
      if (last === undefined || last[0] !== p[0] || last[1] !== p[1]) clean.push(p);
    }
    const first = clean[0];
    const last = clean[clean.length - 1];
    if (closed && first !== undefined && last !== undefined && (first[0] !== last[0] || first[1] !== last[1])) {
      clean.push(first);
    }
    const lines: Segment[] = [];
    clean.forEach((p, i) => {
      const next = clean[i + 1];
      if (next !== undefined) lines.push([p, next]);
    });
    return new Path(lines);
  }

  get start(): PointMm {
    return startOf(this.#first);
  }

  get end(): PointMm {
    return endOf(this.#last);
  }

  get #first(): Segment {
    return this.segments[0] as Segment;
  }

  get #last(): Segment {
    return this.segments[this.segments.length - 1] as Segment;
  }

  get #arcs(): ArcTable {
    this.#table ??= arcTable(this.segments);
    return this.#table;
  }

  /** The arc length. */
  get lengthMm(): Mm {
    const { cum } = this.#arcs;
    return cum[cum.length - 1] ?? 0;
  }

  /** Arc lengths of the joints between segments, with 0 and the whole length. */
  get jointsMm(): readonly Mm[] {
    return this.#arcs.starts;
  }

  /** Whether the path ends where it starts and has a length. */
  get isClosed(): boolean {
    return distanceMm(this.start, this.end) <= JOIN_MM && this.lengthMm > JOIN_MM;
  }

  /** The upright box that just holds the path. */
  get bounds(): BoxMm {
    let [left, bottom, right, top] = [Infinity, Infinity, -Infinity, -Infinity];
    for (const segment of this.segments) {
      for (const t of isLine(segment) ? [0, 1] : [0, 1, ...turnsOf(segment, 0), ...turnsOf(segment, 1)]) {
        const [x, y] = pointOf(segment, t);
        left = Math.min(left, x);
        right = Math.max(right, x);
        bottom = Math.min(bottom, y);
        top = Math.max(top, y);
      }
    }
    return [left, bottom, right, top];
  }

  /** Segment and parameter at an arc length, kept within the ends. */
  #locate(mm: Mm, side: Side = 'after'): readonly [Segment, number] {
    const at = Math.min(Math.max(mm, 0), this.lengthMm);
    if (at === 0) return [this.#first, 0];
    if (at === this.lengthMm) return [this.#last, 1];
    const [s, t] = parameterAt(this.#arcs, this.segments, at);
    const joints = this.jointsMm;
    if (side === 'before' && s > 0 && at - (joints[s] ?? 0) <= JOIN_MM) {
      return [this.segments[s - 1] ?? this.#first, 1];
    }
    if (side === 'after' && s + 1 < this.segments.length && (joints[s + 1] ?? 0) - at <= JOIN_MM) {
      return [this.segments[s + 1] ?? this.#last, 0];
    }
    return [this.segments[s] ?? this.#last, t];
  }

  /** The point `mm` along the path; beyond its ends: the end. */
  pointAt(mm: Mm): PointMm {
    const [segment, t] = this.#locate(mm);
    return pointOf(segment, t);
  }

  /** The unit direction of walking at `mm`; at a corner that of the side asked for. */
  tangentAt(mm: Mm, side: Side = 'after'): PointMm {
    const [segment, t] = this.#locate(mm, side);
    return directionOf(segment, t);
  }

  /** The unit vector to the left of the path at `mm`. */
  normalAt(mm: Mm, side: Side = 'after'): PointMm {
    const [x, y] = this.tangentAt(mm, side);
    return [-y, x];
  }

  /** The point of the path that is nearest to `pt`; the first one where several are. */
  nearest(pt: PointMm): Nearest {
    let best: readonly [Mm, number, number] = [Infinity, 0, 0];
    const spans: (readonly [Mm, number, number, number])[] = [];
    this.segments.forEach((segment, s) => {
      if (isLine(segment)) {
        const t = footOn(segment, pt);
        const away = distanceMm(pointOf(segment, t), pt);
        if (away < best[0]) best = [away, s, t];
        return;
      }
      // no cubic runs faster than three times its longest control leg
      const step = (3 * longestLeg(segment)) / SPANS;
      let before = distanceMm(pointOf(segment, 0), pt);
      for (let i = 0; i < SPANS; i++) {
        const after = distanceMm(pointOf(segment, (i + 1) / SPANS), pt);
        spans.push([Math.max((before + after - step) / 2, 0), s, i / SPANS, (i + 1) / SPANS]);
        before = after;
      }
    });
    spans.sort((a, b) => a[0] - b[0]);
    for (const [least, s, t0, t1] of spans) {
      if (least >= best[0]) break;
      const segment = this.segments[s] as Segment;
      const t = footOn(segment, pt, t0, t1);
      const away = distanceMm(pointOf(segment, t), pt);
      if (away < best[0] || (away === best[0] && (s < best[1] || (s === best[1] && t < best[2])))) best = [away, s, t];
    }
    const [away, s, t] = best;
    return {
      atMm: Math.min(lengthAt(this.#arcs, this.segments, s, t), this.lengthMm),
      point: pointOf(this.segments[s] as Segment, t),
      distanceMm: away,
    };
  }

  /** The parts before and after `mm`. Throws `RangeError` at an end or beyond it. */
  split(mm: Mm): readonly [Path, Path] {
    if (!(mm > JOIN_MM && mm < this.lengthMm - JOIN_MM)) {
      throw new RangeError(`A line of ${this.lengthMm.toFixed(1)} mm cannot be cut in two at ${mm.toFixed(1)} mm.`);
    }
    const joint = this.jointsMm.findIndex((at, i) => i > 0 && i < this.segments.length && Math.abs(at - mm) <= JOIN_MM);
    if (joint > 0) return [new Path(this.segments.slice(0, joint)), new Path(this.segments.slice(joint))];
    const [s, t] = parameterAt(this.#arcs, this.segments, mm);
    const [head, tail] = splitSegment(this.segments[s] as Segment, t);
    return [new Path([...this.segments.slice(0, s), head]), new Path([tail, ...this.segments.slice(s + 1)])];
  }

  /** The stretch from `aMm` to `bMm`; on a closed path it may run on over the start. */
  slice(aMm: Mm, bMm: Mm): Path {
    const a = Math.min(Math.max(aMm, 0), this.lengthMm);
    const b = Math.min(Math.max(bMm, 0), this.lengthMm);
    if (this.isClosed && b <= a && a - b > JOIN_MM) {
      const tail = this.#tail(a);
      const head = this.#head(b);
      if (tail !== null && head !== null) return tail.joined(head);
      const only = tail ?? head;
      if (only !== null) return only;
    }
    const head = b - a > JOIN_MM ? this.#head(b) : null;
    const stretch = head === null ? null : head.#tail(a);
    if (stretch === null) throw new RangeError('That stretch of the line has no length.');
    return stretch;
  }

  #head(mm: Mm): Path | null {
    if (mm <= JOIN_MM) return null;
    return mm >= this.lengthMm - JOIN_MM ? this : this.split(mm)[0];
  }

  #tail(mm: Mm): Path | null {
    if (mm >= this.lengthMm - JOIN_MM) return null;
    return mm <= JOIN_MM ? this : this.split(mm)[1];
  }

  /** The same path, walked the other way. */
  reversed(): Path {
    return new Path(this.segments.map(reversedSegment).reverse());
  }

  /** This path and `other` after it. */
  joined(other: Path): Path {
    return new Path([...this.segments, ...other.segments]);
  }

  moved(move: Move): Path {
    return new Path(this.segments.map((segment) => movedSegment(segment, move)));
  }

  /** The path with its first point put exactly elsewhere, its first segment carried along. */
  startingAt(start: PointMm): Path {
    return new Path([withEnds(this.#first, start, endOf(this.#first)), ...this.segments.slice(1)]);
  }

  /** Points whose chords stay within the tolerance; both ends are among them. */
  flatten(toleranceMm: Mm = FLATTEN_MM): PointMm[] {
    const points: PointMm[] = [this.start];
    for (const segment of this.segments) {
      if (!isLine(segment)) {
        const chords = chordCount(segment, toleranceMm);
        for (let i = 1; i < chords; i++) points.push(pointOf(segment, i / chords));
      }
      points.push(endOf(segment));
    }
    return points;
  }

  /** The flattened outline of a closed path: the first point is not repeated. */
  ring(toleranceMm: Mm = FLATTEN_MM): PointMm[] {
    const points = this.flatten(toleranceMm);
    if (this.isClosed) points.pop();
    return points;
  }

  /** The path as the `d` of an SVG path, in its own frame (mm, y up). */
  svg(places = 3): string {
    const say = (p: PointMm): string => `${+p[0].toFixed(places)} ${+p[1].toFixed(places)}`;
    const drawn = this.segments.map((segment) =>
      isLine(segment) ? `L${say(segment[1])}` : `C${segment.slice(1).map(say).join(' ')}`,
    );
    return `M${say(this.start)}${drawn.join('')}`;
  }
}

/** Parameters at which a cubic turns back along one axis. */
function turnsOf(segment: Segment, axis: 0 | 1): number[] {
  const [p0, p1, p2, p3] = controlOf(segment).map((p) => p[axis]) as [number, number, number, number];
  const a = 3 * (p3 - 3 * p2 + 3 * p1 - p0);
  const b = 6 * (p2 - 2 * p1 + p0);
  const c = 3 * (p1 - p0);
  let roots: number[];
  if (Math.abs(a) <= 1e-14 * (Math.abs(b) + Math.abs(c))) {
    roots = b === 0 ? [] : [-c / b];
  } else {
    const disc = b * b - 4 * a * c;
    if (disc < 0) return [];
    const q = -0.5 * (b + (b < 0 ? -1 : 1) * Math.sqrt(disc));
    roots = q === 0 ? [q / a] : [q / a, c / q];
  }
  return roots.filter((t) => t > 0 && t < 1);
}

/** Closed outlines of edges, one after the other, flattened to one ring. */
export function ringOfEdges(edges: readonly Path[], toleranceMm: Mm = FLATTEN_MM): RingMm {
  return edges.flatMap((edge) => edge.flatten(toleranceMm).slice(0, -1));
}
