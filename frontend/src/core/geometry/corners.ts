/**
 * A corner or a knot under the hand: how both edges follow, as the server will make them follow when it is let go
 * (`eke.pattern.corners.with_corner`; goldens in `tests/shared/corners.json`).
 */

import { edgeOf, neighbourOf, pathOf, type EdgeShape, type End, type PieceShape } from './garment-shapes';
import { Path } from './path';
import { selfCrossing, signedAreaMm2 } from './polygon';
import { angleBetweenDeg, fullTurnDeg } from './rigid';
import { endOf, isLine, startOf, withEnds, type Segment } from './segments';
import { FLATTEN_MM, JOIN_MM, distanceMm, type Deg, type Mm, type PointMm } from './units';

/** An edge that followed. */
export interface Followed {
  readonly id: string;
  readonly path: Path;
  readonly lengthMm: Mm;
}

/** Why a corner may not be put there. */
export type Trouble =
  | { readonly why: 'crosses itself'; readonly at: PointMm }
  | { readonly why: 'inside out' }
  | { readonly why: 'no length'; readonly edge: string }
  | { readonly why: 'no corner' };

export interface CornerMoved {
  /** Where the corner comes to lie: on a fold it slides along the fold. */
  readonly to: PointMm;
  /** The edge that was named, and its neighbour; none where it may not be put there. */
  readonly edges: readonly Followed[];
  /** The angle inside the piece. */
  readonly angleDeg: Deg | null;
  readonly trouble: Trouble | null;
}

/** Whether an edge stays straight when one of its ends is moved. */
export function staysStraight(edge: EdgeShape): boolean {
  const { segments } = pathOf(edge);
  const [first] = segments;
  return edge.shape === 'straight' || edge.kind === 'fold' || (segments.length === 1 && first !== undefined && isLine(first));
}

/**
 * A path with one end put elsewhere and the other kept: all of the shift at the moved end, none at the other, and
 * the direction at both ends kept.
 */
export function withEndMoved(path: Path, end: End, to: PointMm): Path {
  const from = end === 'start' ? path.start : path.end;
  const shift: PointMm = [to[0] - from[0], to[1] - from[1]];
  const { segments, jointsMm, lengthMm } = path;
  const put = (p: PointMm, joint: number): PointMm => {
    const share = (jointsMm[joint] ?? 0) / lengthMm;
    const w = end === 'end' ? share : 1 - share;
    const eased = w * w * (3 - 2 * w);
    return [p[0] + eased * shift[0], p[1] + eased * shift[1]];
  };
  let here = path.start;
  return new Path(
    segments.map((segment, i): Segment => {
      const start = i === 0 ? (end === 'start' ? to : here) : put(startOf(segment), i);
      const there = i === segments.length - 1 && end === 'end' ? to : put(endOf(segment), i + 1);
      here = there;
      return withEnds(segment, start, there);
    }),
  );
}

/** An edge with one end put elsewhere; null where it would have no length left. */
export function edgeFollows(edge: EdgeShape, end: End, to: PointMm): Path | null {
  const path = pathOf(edge);
  const moved = end === 'start' ? path.start : path.end;
  if (moved[0] === to[0] && moved[1] === to[1]) return path;
  if (!staysStraight(edge)) return withEndMoved(path, end, to);
  const other = end === 'start' ? path.end : path.start;
  if (distanceMm(other, to) <= JOIN_MM) return null;
  return end === 'start' ? Path.line(to, other) : Path.line(other, to);
}

/** The angle inside a piece between two edges of it, the second after the first counter-clockwise. */
export function insideAngleDeg(before: Path, after: Path): Deg {
  const [x, y] = before.tangentAt(before.lengthMm, 'before');
  return fullTurnDeg(angleBetweenDeg(after.tangentAt(0), [-x, -y]));
}

/** A corner put at `to` (frame of the piece), with both edges following. */
export function cornerMoved(piece: PieceShape, edgeId: string, end: End, to: PointMm): CornerMoved {
  const edge = edgeOf(piece, edgeId);
  const other = neighbourOf(piece, edgeId, end);
  if (other === edge) return { to, edges: [], angleDeg: null, trouble: { why: 'no corner' } };
  const fold = [edge, other].find((one) => one.kind === 'fold');
  const at = fold === undefined ? to : alongLine(pathOf(fold), to);
  const otherEnd = end === 'end' ? 'start' : 'end';
  const path = edgeFollows(edge, end, at);
  const otherPath = edgeFollows(other, otherEnd, at);
  if (path === null || otherPath === null) {
    return { to: at, edges: [], angleDeg: null, trouble: { why: 'no length', edge: path === null ? edge.id : other.id } };
  }
  const made = new Map([[edge.id, path], [other.id, otherPath]]);
  const trouble = troubleOf(piece, made);
  const [before, after] = end === 'end' ? [path, otherPath] : [otherPath, path];
  return {
    to: at,
    edges: [...made].map(([id, p]) => ({ id, path: p, lengthMm: p.lengthMm })),
    angleDeg: insideAngleDeg(before, after),
    trouble,
  };
}

/** An edge with a joint between two of its segments put elsewhere; both parts follow as edges would. */
export function knotMoved(path: Path, joint: number, to: PointMm): Path {
  const [head, tail] = [path.segments.slice(0, joint), path.segments.slice(joint)];
  if (head.length === 0 || tail.length === 0) throw new RangeError('There is no knot at an end of an edge.');
  const follows = (part: Path, end: End): Path => {
    const [only] = part.segments;
    if (part.segments.length > 1 || only === undefined || !isLine(only)) return withEndMoved(part, end, to);
    return end === 'start' ? Path.line(to, part.end) : Path.line(part.start, to);
  };
  return follows(new Path(head), 'end').joined(follows(new Path(tail), 'start'));
}

/** The knot of a path nearest to a point, within a distance: which joint, and where. */
export function knotNear(path: Path, pt: PointMm, withinMm: Mm): { readonly joint: number; readonly at: PointMm } | null {
  let best: { joint: number; at: PointMm } | null = null;
  let least = withinMm;
  path.segments.forEach((segment, joint) => {
    const away = distanceMm(startOf(segment), pt);
    if (joint > 0 && away <= least) [best, least] = [{ joint, at: startOf(segment) }, away];
  });
  return best;
}

/** What would be wrong with a piece of which some edges were exchanged. */
export function troubleOf(piece: PieceShape, made: ReadonlyMap<string, Path>): Trouble | null {
  const ring = piece.edges.flatMap((edge) => (made.get(edge.id) ?? pathOf(edge)).flatten(FLATTEN_MM).slice(0, -1));
  const at = selfCrossing(ring);
  if (at !== null) return { why: 'crosses itself', at };
  return signedAreaMm2(ring) <= 0 ? { why: 'inside out' } : null;
}

function alongLine(path: Path, to: PointMm): PointMm {
  const [x, y] = path.start;
  const [ux, uy] = path.tangentAt(0);
  const along = (to[0] - x) * ux + (to[1] - y) * uy;
  return [x + along * ux, y + along * uy];
}

