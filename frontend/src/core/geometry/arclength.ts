/**
 * Arc length of chains of segments: the table behind `Path`.
 *
 * Each curve is cut into stretches on which a 16-point Gauss–Legendre rule agrees with its own two halves; a
 * length is then looked up by bisection of the table and Newton inside a stretch. Nodes and weights: Abramowitz &
 * Stegun, Handbook of Mathematical Functions, table 25.4.
 */

import { controlOf, derivativeOf, isLine, type Segment } from './segments';
import { distanceMm, type Mm } from './units';

const HALF_NODES = [
  0.09501250983763744, 0.2816035507792589, 0.45801677765722737, 0.6178762444026438, 0.755404408355003,
  0.8656312023878318, 0.9445750230732326, 0.9894009349916499,
] as const;
const HALF_WEIGHTS = [
  0.1894506104550685, 0.18260341504492358, 0.16915651939500254, 0.14959598881657674, 0.12462897125553387,
  0.09515851168249279, 0.062253523938647894, 0.027152459411754095,
] as const;

/** Two quadratures of a stretch must agree so well, relative to its length … */
const AGREE_REL = 1e-10;
/** … or to this share of their whole segment: what is left of a cusp after halving. */
const AGREE_OF_WHOLE = 1e-12;
/** Halvings before a stretch is taken as it is, so that the work ends whatever comes in. */
const MOST_HALVINGS = 40;
/** A curve that runs slower somewhere than this share of its fastest is cut there: it may have a cusp. */
const SLOW = 0.3;
/** Where the speed is looked at for such places. */
const LOOKS = 32;
/** A parameter belongs to a length when it hits it so closely. */
const HIT_MM: Mm = 1e-10;

/** Stretches of a chain: segment number, parameters from and to, and mm at their ends (one more). */
export interface ArcTable {
  readonly segment: readonly number[];
  readonly from: readonly number[];
  readonly to: readonly number[];
  readonly cum: readonly Mm[];
  /** Arc length at the start of each segment and at the end of the last. */
  readonly starts: readonly Mm[];
}

function speed(segment: Segment, t: number): number {
  const [dx, dy] = derivativeOf(segment, t);
  return Math.hypot(dx, dy);
}

/** The arc length of a stretch of a curve by one rule. */
function rule(segment: Segment, t0: number, t1: number): Mm {
  const half = (t1 - t0) / 2;
  const middle = (t0 + t1) / 2;
  let sum = 0;
  HALF_NODES.forEach((node, i) => {
    const weight = HALF_WEIGHTS[i] ?? 0;
    sum += weight * (speed(segment, middle - half * node) + speed(segment, middle + half * node));
  });
  return half * sum;
}

/** Where a curve is cut to begin with: at its slowest places, when it all but stops there. */
function firstCuts(segment: Segment): number[] {
  const speeds = Array.from({ length: LOOKS + 1 }, (_, i) => speed(segment, i / LOOKS));
  const fastest = Math.max(...speeds);
  const cuts = [0, 1];
  speeds.forEach((here, i) => {
    const before = speeds[i - 1] ?? Infinity;
    const after = speeds[i + 1] ?? Infinity;
    if (here > SLOW * fastest || here > before || here > after) return;
    let a = Math.max((i - 1) / LOOKS, 0);
    let b = Math.min((i + 1) / LOOKS, 1);
    for (let k = 0; k < 60; k++) {
      const c = a + (b - a) / 3;
      const d = b - (b - a) / 3;
      if (speed(segment, c) <= speed(segment, d)) b = d;
      else a = c;
    }
    const at = (a + b) / 2;
    cuts.push(at);
    // graded towards it: two rules that are both blind to a dip beyond their outermost nodes would agree wrongly
    for (let step = 0.25; step > 1e-7; step /= 4) cuts.push(at - step, at + step);
  });
  return [...new Set(cuts.filter((t) => t >= 0 && t <= 1))].sort((a, b) => a - b);
}

/** The table of a chain of segments. */
export function arcTable(segments: readonly Segment[]): ArcTable {
  const segment: number[] = [];
  const from: number[] = [];
  const to: number[] = [];
  const cum: number[] = [0];
  const starts: number[] = [0];
  let total = 0;
  const put = (s: number, t0: number, t1: number, mm: Mm): void => {
    segment.push(s);
    from.push(t0);
    to.push(t1);
    total += mm;
    cum.push(total);
  };
  segments.forEach((one, s) => {
    if (isLine(one)) {
      put(s, 0, 1, distanceMm(one[0], one[1]));
    } else {
      const cuts = firstCuts(one);
      const parts = cuts.slice(1).map((t1, i) => [cuts[i] ?? 0, t1, rule(one, cuts[i] ?? 0, t1)] as const);
      const floor = AGREE_OF_WHOLE * parts.reduce((sum, part) => sum + part[2], 0);
      const halve = (t0: number, t1: number, whole: Mm, depth: number): void => {
        const mid = (t0 + t1) / 2;
        const left = rule(one, t0, mid);
        const right = rule(one, mid, t1);
        const off = Math.abs(left + right - whole);
        if (off <= Math.max(AGREE_REL * (left + right), floor) || depth >= MOST_HALVINGS) {
          put(s, t0, mid, left);
          put(s, mid, t1, right);
        } else {
          halve(t0, mid, left, depth + 1);
          halve(mid, t1, right, depth + 1);
        }
      };
      for (const [t0, t1, whole] of parts) halve(t0, t1, whole, 0);
    }
    starts.push(total);
  });
  return { segment, from, to, cum, starts };
}

/** Index of the last entry of a rising list that is not above `value`, between the two bounds. */
function lastNotAbove(list: readonly number[], value: number, low: number, high: number): number {
  let a = low;
  let b = high;
  while (a < b) {
    const middle = (a + b + 1) >> 1;
    if ((list[middle] ?? Infinity) <= value) a = middle;
    else b = middle - 1;
  }
  return a;
}

/** Segment number and parameter of an arc length that lies within the chain. */
export function parameterAt(table: ArcTable, segments: readonly Segment[], mm: Mm): readonly [number, number] {
  const k = lastNotAbove(table.cum, mm, 0, table.segment.length - 1);
  const s = table.segment[k] ?? 0;
  const t0 = table.from[k] ?? 0;
  const t1 = table.to[k] ?? 1;
  const part = (table.cum[k + 1] ?? 0) - (table.cum[k] ?? 0);
  const target = mm - (table.cum[k] ?? 0);
  const share = part > 0 ? Math.min(Math.max(target / part, 0), 1) : 0;
  let t = t0 + share * (t1 - t0);
  const one = segments[s];
  if (one === undefined || isLine(one)) return [s, t];
  let low = t0;
  let high = t1;
  for (let i = 0; i < 60; i++) {
    const off = rule(one, t0, t) - target;
    if (Math.abs(off) <= HIT_MM || high - low <= 1e-16) break;
    if (off > 0) high = t;
    else low = t;
    const fast = speed(one, t);
    const next = fast > 0 ? t - off / fast : Number.NaN;
    t = next >= low && next <= high ? next : (low + high) / 2;
  }
  return [s, t];
}

/** The arc length from the start of the chain to parameter `t` of segment `s`. */
export function lengthAt(table: ArcTable, segments: readonly Segment[], s: number, t: number): Mm {
  const first = table.segment.indexOf(s);
  const last = table.segment.lastIndexOf(s);
  const one = segments[s];
  if (one === undefined || first < 0) return 0;
  if (isLine(one)) return (table.cum[first] ?? 0) + t * ((table.cum[first + 1] ?? 0) - (table.cum[first] ?? 0));
  const k = lastNotAbove(table.from, t, first, last);
  return (table.cum[k] ?? 0) + rule(one, table.from[k] ?? 0, t);
}

/** Control points of all segments as cubics: for bounds and lower limits of distances. */
export function longestLeg(segment: Segment): Mm {
  const [p0, p1, p2, p3] = controlOf(segment);
  return Math.max(distanceMm(p0, p1), distanceMm(p1, p2), distanceMm(p2, p3));
}
