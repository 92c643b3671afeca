/** Whether a seam can be what a change is a change of: a shoulder, a sleeve's cap, one along which two pieces join. */

import type { EdgeView, GarmentView, PieceView, RunPartView, SeamView } from '../../client/types.gen';
import { lookup, neighbour } from '../pieces/lookup';
import { runLength } from '../pieces/run';
import { pathOf } from '../pieces/shape';
import type { Here } from './fields';
import { lowerEnd } from './guess';

export const SHOULDER = /shoulder/i, ROUND = /neck|arm ?hole|armscye/i, SIDE = /side/i, ARMHOLE = /arm ?hole|armscye/i;
const SLEEVE = /sleeve/i, CAP = /\bcap\b|crown|sleeve ?head/i;
/** Names of edges that are something else than a shoulder. */
const OTHERWISE = /side|seam|neck|collar|arm|scye|\bcap\b|waist|wrist|cuff|crotch|raglan|gusset|elbow|centre|center|middle|princess|panel|leg|hem/i;

/** A seam of one edge on each side, of two pieces. */
export function oneToOne(seam: SeamView | null): seam is SeamView {
  return seam !== null && seam.a.length === 1 && seam.b.length === 1 && seam.a[0]?.piece !== seam.b[0]?.piece;
}

/** An edge that is sewn to its own mirror image, as at a centre back. */
export function withItself(seam: SeamView | null): boolean {
  return seam !== null && seam.b_mirrored;
}

// ---- two pieces that become one

/** Sides of more different lengths than this are gathered or eased on one another. */
const ALIKE = 0.1;

/** Two pieces that can become one: not both on a fold, not turned over beside one another, their sides about as long. */
export function joinable({ garment, seam }: Here): boolean {
  if (!oneToOne(seam)) return false;
  const [a, b] = [seam.a[0] as RunPartView, seam.b[0] as RunPartView];
  const folds = [a, b].map((part) => lookup(garment).pieces.get(part.piece)?.fold ?? null);
  const [one, other] = [runLength(garment, seam.a), runLength(garment, seam.b)];
  return folds.includes(null) && (a.reverse ?? false) !== (b.reverse ?? false) && Math.abs(one - other) <= ALIKE * Math.max(one, other);
}

// ---- shoulders

/** The edges from the neck to the side: what lies before the shoulder, the armhole, and the edge beyond it. */
function besideShoulder(piece: PieceView, index: number): { tip: 'start' | 'end'; arm: EdgeView; side: EdgeView } | null {
  const edge = piece.edges[index];
  if (!edge || piece.edges.length < 4) return null;
  const tip = lowerEnd(edge), step = tip === 'end' ? 1 : -1;
  const arm = neighbour(piece, index, step), side = neighbour(piece, index, 2 * step);
  return arm && side ? { tip, arm, side } : null;
}

/** The cosines of what the server holds a shoulder to: see `fit.shoulder_slope`. */
const FLATTEST = 0.5, FALLING = 0.5, STEEP = 0.3;

function isShoulder(garment: GarmentView, part: RunPartView): boolean {
  const found = lookup(garment).edges.get(part.edge);
  const beside = found && besideShoulder(found.piece, found.index);
  if (!found || !beside) return false;
  const forward = beside.tip === 'end';
  // the underarm slides along the side, which therefore has to run down
  const side = pathOf(beside.side), [, steep] = forward ? side.tangentAt(0) : side.tangentAt(side.lengthMm);
  if (Math.abs(steep) < STEEP) return false;
  if (SHOULDER.test(found.edge.name)) return true;
  const arm = pathOf(beside.arm), [tip, under] = forward ? [arm.start, arm.end] : [arm.end, arm.start];
  const falls = tip[1] - under[1] >= FALLING * Math.hypot(tip[0] - under[0], tip[1] - under[1]);
  const onTop = pathOf(found.edge).normalAt(found.edge.length_mm / 2)[1] <= -FLATTEST;
  return falls && onTop && !OTHERWISE.test(found.edge.name);
}

/** Whether both sides of a seam can be a shoulder, by their names or else by their shape. */
export function shoulderLike({ garment, seam }: Here): boolean {
  return oneToOne(seam) && [...seam.a, ...seam.b].every((part) => isShoulder(garment, part));
}

// ---- sleeve caps

/** A cap rises above the straight line between its ends by at least this share of it; a shirt's is among the flattest. */
const RISES = 0.06;
/** An edge beside a cap goes down by at least this much of its length, as an underarm seam does. */
const DOWN = 0.5;
/** No cap is narrower: an infant's is about twice as wide. */
const WIDE_MM = 80;

/** A run without a name that rises in its middle, between edges that go down. */
function arches(garment: GarmentView, run: readonly RunPartView[]): boolean {
  const found = run.map((part) => lookup(garment).edges.get(part.edge));
  const points = found.flatMap((one) => (one ? pathOf(one.edge).flatten(0.5) : []));
  if (points.length < 2 || new Set(found.map((one) => one?.piece.id)).size !== 1) return false;
  const ordered = found.filter((one) => one !== undefined).sort((p, q) => p.index - q.index);
  const [first, last] = [ordered[0], ordered.at(-1)];
  if (!first || !last) return false;
  const from = pathOf(first.edge).start, to = pathOf(last.edge).end;
  const [u, v] = [to[0] - from[0], to[1] - from[1]], wide = Math.hypot(u, v);
  // outlines run counter-clockwise: what bulges outwards lies to the right of the line between the ends
  const rise = Math.max(...points.map(([x, y]) => (v * (x - from[0]) - u * (y - from[1])) / wide));
  const down = [neighbour(first.piece, first.index, -1), neighbour(last.piece, last.index, 1)].every((edge, k) => {
    const path = edge && pathOf(edge);
    return path && (k === 0 ? path.end[1] - path.start[1] : path.start[1] - path.end[1]) >= DOWN * edge.length_mm;
  });
  return down && wide >= WIDE_MM && rise >= RISES * wide;
}

/** The sides of a seam that could be a sleeve's cap: called so and sewn to an armhole, or in the shape of one. */
export function capSides(garment: GarmentView, seam: SeamView | null): ('a' | 'b')[] {
  if (seam === null) return [];
  const pieces = (side: 'a' | 'b') => new Set(seam[side].map((part) => part.piece));
  if ([...pieces('a')].some((piece) => pieces('b').has(piece))) return [];
  const edgesOf = (side: 'a' | 'b') => seam[side].flatMap((part) => lookup(garment).edges.get(part.edge) ?? []);
  return (['a', 'b'] as const).filter((side) => {
    const own = edgesOf(side), other = edgesOf(side === 'a' ? 'b' : 'a');
    const onSleeves = own.every((one) => SLEEVE.test(one.piece.name));
    const byName = onSleeves && (own.every((one) => CAP.test(one.edge.name)) || other.every((one) => ARMHOLE.test(one.edge.name)));
    return byName || (!other.some((one) => SLEEVE.test(one.piece.name)) && arches(garment, seam[side]));
  });
}

/** A cap that is so much longer than its armhole is gathered, not eased. */
const GATHERED = 0.12;

/**
 * The ease that a cap has by its seam. Of one that is gathered to fit, or so full that it must be, what it is longer now;
 * gathers of which the fullness was said are compared drawn up, and no part of the ease.
 */
export function capEase(garment: GarmentView, found: SeamView): number {
  const side = capSides(garment, found)[0] ?? 'a', way = side === 'b' ? -1 : 1;
  const said = found[side].flatMap((part) => lookup(garment).edges.get(part.edge)?.piece.gathers.filter((one) => one.edge === part.edge) ?? []);
  const [a, b] = [runLength(garment, found.a), runLength(garment, found.b)], longer = way * (a - b);
  const full = said.some((one) => one.ratio === null) ? longer > 0 : said.length === 0 && longer > GATHERED * (way > 0 ? b : a);
  return full ? Math.round(longer) : way * found.ease_mm;
}
