/** Where a piece lies while one side of a seam is rolled along the other. */

import type { GarmentView, PieceView, RunPartView, SeamView } from '../../client/types.gen';
import { applyVector, apply, composed, flips, mirror, shift, turn, angleBetweenDeg, type Move } from '../../core/geometry/rigid';
import type { Point } from '../../core/geometry-types';
import { pathOf } from '../pieces/shape';
import { lookup } from './lookup';
import { placeOnRun, runLength } from './run';

export interface Rolled {
  piece: PieceView;
  move: Move;
}

/** The place and walking direction of a run at a distance, in the frame of the piece there. */
function standing(garment: GarmentView, run: readonly RunPartView[], along_mm: number): { piece: PieceView; at: Point; way: Point } | null {
  const place = placeOnRun(garment, run, along_mm);
  const found = place && lookup(garment).edges.get(place.edge);
  if (!place || !found) return null;
  const path = pathOf(found.edge);
  const [x, y] = path.tangentAt(place.mm);
  const part = run.find((one) => one.edge === place.edge);
  return { piece: found.piece, at: path.pointAt(place.mm), way: part?.reverse ? [-x, -y] : [x, y] };
}

/**
 * Where the piece of side two lies when the seam has been rolled for a share of side one's length.
 *
 * Equal lengths have been rolled off on both sides; the edges touch there and run the same way. Where both outlines
 * would lie on the same side (one of them is a mirrored copy), the rolling piece is turned over.
 */
export function rolledAt(garment: GarmentView, seam: SeamView, share: number, moveOf: (piece: string) => Move): Rolled | null {
  const along = Math.min(Math.max(share, 0), 1) * Math.min(runLength(garment, seam.a), runLength(garment, seam.b));
  const a = standing(garment, seam.a, along), b = standing(garment, seam.b, along);
  if (!a || !b) return null;
  const still = moveOf(a.piece.id);
  const at = apply(still, a.at), way = applyVector(still, a.way);
  // cloth lies to the left of an outline that is walked forwards, to the right of one walked backwards
  const leftA = sideOf(garment, seam.a, along) !== flips(still);
  const leftB = sideOf(garment, seam.b, along);
  const over: Move = leftA === leftB ? mirror([0, 0], [0, 1]) : shift(0, 0);
  const bAt = apply(over, b.at), bWay = applyVector(over, b.way);
  const move = composed(over, turn(angleBetweenDeg(bWay, way), bAt), shift(at[0] - bAt[0], at[1] - bAt[1]));
  return { piece: b.piece, move };
}

function sideOf(garment: GarmentView, run: readonly RunPartView[], along: number): boolean {
  const place = placeOnRun(garment, run, along);
  return !(run.find((part) => part.edge === place?.edge)?.reverse ?? false);
}
