/** What a piece may run into on a cloth, as the table's collision wants it: neighbours, the edge, holes, flaws. */

import type { ClothView, CutPieceView, LayView } from '../../client/types.gen';
import { LayHazards, type Carried } from '../../core/geometry/collide';
import type { Placement } from '../../core/geometry/rigid';
import type { Point } from '../../core/geometry-types';
import type { Copy } from './copies';

export interface Ground {
  /** What the piece runs into at a place: ids of copies, `edge`, `hole`, `flaw`; empty: it can lie there. */
  hits(at: Point): string[];
  free(at: Point): boolean;
  /** Go from a free place towards another, along what is in the way. */
  slide(from: Point, to: Point): Point;
  /** A free place near another; null: there is none within so many mm. */
  near(to: Point, within_mm: number): Point | null;
  /** From a free place to one where it touches what is nearest, within so many mm. */
  touch(at: Point, within_mm: number): Point;
}

/** Everything on a cloth that forbids a place, but the piece in the hand: prepared once a gesture. */
export function hazardsOn(cloth: ClothView, others: readonly Copy[], lay: LayView): LayHazards {
  const here = others.flatMap(({ id, laid }) => (laid?.cloth === cloth.id ? [{ id, outline: laid.outline }] : []));
  return new LayHazards(cloth, { piecesMm: lay.gap_pieces_mm, edgeMm: lay.gap_edge_mm, holeMm: lay.gap_hole_mm }, here);
}

/** A piece in the hand at one turn. */
export function groundOf(hazards: LayHazards, piece: CutPieceView, lies: Placement): Ground {
  const carried = hazards.carry({ id: '', outline: piece.outline, leastQuality: piece.least_quality }, lies);
  return {
    hits: (at) => named(carried, at),
    free: (at) => carried.isFree(at),
    slide: (from, to) => carried.slide(from, to).at,
    near: (to, within_mm) => carried.near(to, within_mm),
    touch: (at, within_mm) => carried.touch(at, within_mm),
  };
}

function named(carried: Carried, at: Point): string[] {
  return [...new Set(carried.inTheWay(at).map(({ kind, id }) => (kind === 'piece' ? id : kind)))];
}
