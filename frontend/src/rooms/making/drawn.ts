/** A small drawing of the pieces of a step, side by side, with the edges of its seams. */

import type { GarmentView, PieceView } from '../../client/types.gen';
import { boxOf, type Box } from '../../core/geometry-types';
import { segmentsPath } from '../../core/paths';

export interface DrawnPiece {
  id: string;
  name: string;
  outline: string;
  /** Edges that are sewn in this step. */
  sewn: string[];
  dx: number;
  dy: number;
}

export interface StepDrawing {
  width: number;
  height: number;
  pieces: DrawnPiece[];
}

/** More than these are not told apart at this size. */
export const MOST = 4;
const GAP_SHARE = 0.12;

export function drawStep(garment: GarmentView, pieceIds: readonly string[], seamIds: readonly string[]): StepDrawing | null {
  const all = new Map([...garment.pieces, ...garment.derived].map((piece) => [piece.id, piece]));
  const pieces = [...new Set(pieceIds)].flatMap((id) => all.get(id) ?? []);
  if (pieces.length === 0 || pieces.length > MOST) return null;
  const sewn = new Set(
    garment.seams.filter((seam) => seamIds.includes(seam.id)).flatMap((seam) => [...seam.a, ...seam.b].map((part) => part.edge)),
  );
  const boxes = pieces.map(boxOfPiece);
  const height = Math.max(...boxes.map((box) => box.height));
  const gap = GAP_SHARE * Math.max(height, ...boxes.map((box) => box.width));
  let x = 0;
  const drawn = pieces.map((piece, i): DrawnPiece => {
    const box = boxes[i] as Box;
    const at = { dx: x - box.left, dy: (height - box.height) / 2 - box.bottom };
    x += box.width + gap;
    return {
      id: piece.id,
      name: piece.name,
      outline: segmentsPath(piece.edges.flatMap((edge) => edge.segments), true),
      sewn: piece.edges.filter((edge) => sewn.has(edge.id)).map((edge) => segmentsPath(edge.segments)),
      ...at,
    };
  });
  return { width: x - gap, height, pieces: drawn };
}

function boxOfPiece(piece: PieceView): Box {
  const points = piece.edges.flatMap((edge) => edge.segments.flatMap((segment) => segment.points));
  return boxOf(points) ?? { left: 0, bottom: 0, width: 1, height: 1 };
}
