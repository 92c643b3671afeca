/**
 * A seam walked without asking the server: both runs laid along each other from their common start, notches
 * paired, differences told. The twin of `eke.pattern.walking` (goldens in `tests/shared/walks.json`), and the
 * drawing of a run as it is laid straight.
 */

import { edgeOf, pathOf, type EdgeShape, type End, type PieceShape, type RunPart, type SeamShape } from './garment-shapes';
import type { Path } from './path';
import { angleBetweenDeg } from './rigid';
import { distanceMm, radians, type Deg, type Mm, type PointMm } from './units';

/** A notch farther from its place than this is no mate but another notch: as in Python. */
export const NOTCH_MATE_MM: Mm = 30;

/** One edge of a run as it is walked. */
export interface Stretch {
  readonly piece: PieceShape;
  readonly edge: EdgeShape;
  readonly reverse: boolean;
  /** The edge in the direction of the run. */
  readonly path: Path;
  readonly fromMm: Mm;
  readonly toMm: Mm;
}

export interface NotchOnRun {
  readonly id: string;
  readonly piece: string;
  readonly atMm: Mm;
  readonly count: number;
}

export interface Run {
  readonly stretches: readonly Stretch[];
  readonly lengthMm: Mm;
  /** In the order along the run. */
  readonly notches: readonly NotchOnRun[];
}

export interface NotchPair {
  readonly a: NotchOnRun;
  readonly b: NotchOnRun;
  /** How far B's lies from where it should, along B. */
  readonly apartMm: Mm;
}

export interface Walk {
  readonly seam: SeamShape;
  readonly a: Run;
  readonly b: Run;
  readonly pairs: readonly NotchPair[];
  readonly alone: readonly NotchOnRun[];
  /** How much longer A is than it should be beside B: 0 where the seam fits, ease counted. */
  readonly differenceMm: Mm;
}

/** A run as it is walked. Throws `RangeError` where an edge is gone. */
export function runOf(pieces: ReadonlyMap<string, PieceShape>, parts: readonly RunPart[]): Run {
  let at = 0;
  const stretches = parts.map((part): Stretch => {
    const piece = pieces.get(part.piece);
    if (piece === undefined) throw new RangeError(`There is no piece “${part.piece}”.`);
    const edge = edgeOf(piece, part.edge);
    const path = part.reverse ? pathOf(edge).reversed() : pathOf(edge);
    const fromMm = at;
    at += path.lengthMm;
    return { piece, edge, reverse: part.reverse, path, fromMm, toMm: at };
  });
  const notches = stretches.flatMap((s) =>
    s.piece.notches
      .filter((notch) => notch.edge === s.edge.id)
      .map((notch): NotchOnRun => {
        const along = s.reverse ? s.path.lengthMm - notch.mm : notch.mm;
        return { id: notch.id, piece: s.piece.id, atMm: s.fromMm + along, count: notch.count };
      }),
  );
  notches.sort((p, q) => p.atMm - q.atMm || (p.id < q.id ? -1 : 1));
  return { stretches, lengthMm: at, notches };
}

/** The stretch at a place of a run, and how far along it: kept within the ends. */
export function stretchAt(run: Run, mm: Mm): { readonly stretch: Stretch; readonly mm: Mm } {
  const last = run.stretches[run.stretches.length - 1];
  const stretch = run.stretches.find((s) => mm <= s.toMm) ?? last;
  if (stretch === undefined) throw new RangeError('A side of a seam needs at least one edge.');
  return { stretch, mm: Math.min(Math.max(mm - stretch.fromMm, 0), stretch.path.lengthMm) };
}

/** The edge's own end at which a run enters or leaves it. */
export function ownEnd(stretch: Stretch, at: End): End {
  return (at === 'start') === stretch.reverse ? 'end' : 'start';
}

/** Walk a seam. */
export function walkSeam(pieces: ReadonlyMap<string, PieceShape>, seam: SeamShape): Walk {
  const a = runOf(pieces, seam.a);
  const b = runOf(pieces, seam.b);
  const bare: Walk = { seam, a, b, pairs: [], alone: [], differenceMm: a.lengthMm - b.lengthMm - seam.ease_mm };
  // the ease may lie between notches of B: with the pairs known its place on A is known
  return matched(matched(bare));
}

/** Where on B a place of A should lie, with the ease used up by then taken off. */
export function expectedOnB(walk: Walk, aMm: Mm): Mm {
  const [from, to] = easeSpan(walk);
  const share = to > from ? Math.min(Math.max((aMm - from) / (to - from), 0), 1) : 1;
  return aMm - walk.seam.ease_mm * share;
}

function easeSpan(walk: Walk): readonly [Mm, Mm] {
  const whole = [0, walk.a.lengthMm] as const;
  const between = walk.seam.ease_between;
  if (between === undefined || between === null) return whole;
  const found = between.flatMap((id): Mm[] => {
    const own = walk.a.notches.find((n) => n.id === id);
    if (own !== undefined) return [own.atMm];
    const mate = walk.pairs.find((pair) => pair.b.id === id);
    if (mate !== undefined) return [mate.a.atMm];
    const onB = walk.b.notches.find((n) => n.id === id);
    return onB === undefined ? [] : [(onB.atMm / Math.max(walk.b.lengthMm, 1e-9)) * walk.a.lengthMm];
  });
  return found.length === 2 ? [Math.min(...found), Math.max(...found)] : whole;
}

/** (mm along A, running difference there): 0 at the start, stepwise from notch pair to pair. */
export function runningDifference(walk: Walk, steps = 40): (readonly [Mm, Mm])[] {
  const knots: (readonly [Mm, Mm])[] = [
    [0, 0],
    ...walk.pairs.map((p): readonly [Mm, Mm] => [p.a.atMm, p.b.atMm]),
    [walk.a.lengthMm, walk.b.lengthMm],
  ];
  return Array.from({ length: steps + 1 }, (_, i): readonly [Mm, Mm] => {
    const mm = (walk.a.lengthMm * i) / steps;
    let k = 0;
    knots.forEach((knot, j) => {
      if (knot[0] <= mm + 1e-9) k = j;
    });
    const [a0, b0] = knots[k] as readonly [Mm, Mm];
    const next = knots[k + 1];
    const onB = next === undefined ? b0 : b0 + (next[1] - b0) * (next[0] > a0 ? (mm - a0) / (next[0] - a0) : 1);
    return [mm, mm - onB - (mm - expectedOnB(walk, mm))];
  });
}

/**
 * Pairs of notches of the same count, in order, so that the least distance is left (alignment by dynamic
 * programming: Needleman & Wunsch, J. Mol. Biol. 48, 1970, with distances as costs).
 */
function matched(walk: Walk): Walk {
  const a = walk.a.notches;
  const b = walk.b.notches;
  const edgesOf = (parts: readonly RunPart[]): string => [...new Set(parts.map((p) => p.edge))].sort().join(' ');
  if (edgesOf(walk.seam.a) === edgesOf(walk.seam.b)) {
    // a seam of an edge with its own mirror image: each notch is its own mate
    return { ...walk, pairs: a.map((n) => ({ a: n, b: n, apartMm: 0 })), alone: [] };
  }
  const skip = NOTCH_MATE_MM / 2;
  const cost = (p: NotchOnRun, q: NotchOnRun): number => {
    const gap = Math.abs(q.atMm - expectedOnB(walk, p.atMm));
    return p.count === q.count && gap <= NOTCH_MATE_MM ? gap : Infinity;
  };
  const best = Array.from({ length: a.length + 1 }, (_, i) =>
    Array.from({ length: b.length + 1 }, (_, j) => skip * (i + j)),
  );
  const at = (i: number, j: number): number => best[i]?.[j] ?? Infinity;
  const pairCost = (i: number, j: number): number =>
    at(i - 1, j - 1) + cost(a[i - 1] as NotchOnRun, b[j - 1] as NotchOnRun);
  for (let i = 1; i <= a.length; i++) {
    for (let j = 1; j <= b.length; j++) {
      (best[i] as number[])[j] = Math.min(at(i - 1, j) + skip, at(i, j - 1) + skip, pairCost(i, j));
    }
  }
  const pairs: NotchPair[] = [];
  const alone: NotchOnRun[] = [];
  let i = a.length;
  let j = b.length;
  while (i > 0 || j > 0) {
    const [p, q] = [a[i - 1], b[j - 1]];
    if (p !== undefined && q !== undefined && at(i, j) === pairCost(i, j)) {
      [i, j] = [i - 1, j - 1];
      pairs.push({ a: p, b: q, apartMm: q.atMm - expectedOnB(walk, p.atMm) });
    } else if (p !== undefined && at(i, j) === at(i - 1, j) + skip) {
      i -= 1;
      alone.push(p);
    } else {
      j -= 1;
      if (q !== undefined) alone.push(q);
    }
  }
  return { ...walk, pairs: pairs.reverse(), alone: alone.reverse() };
}

// ---------------------------------------------------------------- laid straight, as a picture

/**
 * A path on its way to being laid straight: at share 0 as it is drawn, at 1 a straight line of the same length.
 *
 * All its bends open evenly, as when a cord is pulled straight, so its length stays the same all the way.
 *
 * @param from where its start is put
 * @param headingDeg the direction that it is straightened to
 */
export function unbent(path: Path, share: number, from: PointMm, headingDeg: Deg = 0, steps = 48): PointMm[] {
  const { lengthMm } = path;
  const points = Array.from({ length: steps + 1 }, (_, i) => path.pointAt((lengthMm * i) / steps));
  const chords = points.slice(1).map((q, i): PointMm => {
    const p = points[i] as PointMm;
    return [q[0] - p[0], q[1] - p[1]];
  });
  const sum = chords.reduce((total, [x, y]) => total + Math.hypot(x, y), 0);
  const wide = sum > 0 ? lengthMm / sum : 0;
  let here = from;
  const laid: PointMm[] = [here];
  let before: PointMm = [1, 0];
  let drawnDeg = 0;
  chords.forEach((chord) => {
    const long = Math.hypot(chord[0], chord[1]);
    if (long > 0) {
      drawnDeg += angleBetweenDeg(before, chord);
      before = chord;
    }
    const rad = radians(drawnDeg * (1 - share) + headingDeg * share);
    // at share 0 the chords are as drawn; by the end they have the length of their arcs
    const size = long * (1 + (wide - 1) * share);
    here = [here[0] + size * Math.cos(rad), here[1] + size * Math.sin(rad)];
    laid.push(here);
  });
  return laid;
}

/** A run on its way to being laid straight: its stretches one after the other, each beginning where the last ends. */
export function runUnbent(run: Run, share: number, from: PointMm, headingDeg: Deg = 0): PointMm[][] {
  let here = from;
  return run.stretches.map((stretch) => {
    const first = stretch.path.start;
    // as drawn each stretch keeps its place on its piece; laid straight it follows the one before
    const start: PointMm = [
      first[0] + (here[0] - first[0]) * share,
      first[1] + (here[1] - first[1]) * share,
    ];
    const points = unbent(stretch.path, share, start, headingDeg);
    here = points[points.length - 1] as PointMm;
    return points;
  });
}

/** The length of a chain of points. */
export function chainLengthMm(points: readonly PointMm[]): Mm {
  return points.slice(1).reduce((sum, p, i) => sum + distanceMm(points[i] as PointMm, p), 0);
}
