/** Where things of a garment are: by id, once for each garment as the server sent it. */

import type { EdgeView, GarmentView, MarkView, NotchView, PieceView, RunPartView, SeamView } from '../../client/types.gen';
import type { Point } from '../../core/geometry-types';
import { t } from '../../core/language';
import { pathOf } from './shape';

export interface FoundEdge {
  piece: PieceView;
  edge: EdgeView;
  /** Place in the outline. */
  index: number;
}

export interface Lookup {
  pieces: ReadonlyMap<string, PieceView>;
  edges: ReadonlyMap<string, FoundEdge>;
  notches: ReadonlyMap<string, { piece: PieceView; notch: NotchView }>;
  marks: ReadonlyMap<string, { piece: PieceView; mark: MarkView }>;
  seams: ReadonlyMap<string, SeamView>;
}

const KNOWN = new WeakMap<GarmentView, Lookup>();

export function lookup(garment: GarmentView): Lookup {
  let found = KNOWN.get(garment);
  if (found === undefined) {
    found = made(garment);
    KNOWN.set(garment, found);
  }
  return found;
}

function made(garment: GarmentView): Lookup {
  const all = [...garment.pieces, ...garment.derived];
  return {
    pieces: new Map(all.map((piece) => [piece.id, piece])),
    edges: new Map(all.flatMap((piece) => piece.edges.map((edge, index) => [edge.id, { piece, edge, index }]))),
    notches: new Map(all.flatMap((piece) => piece.notches.map((notch) => [notch.id, { piece, notch }]))),
    marks: new Map(all.flatMap((piece) => piece.marks.map((mark) => [mark.id, { piece, mark }]))),
    seams: new Map(garment.seams.map((seam) => [seam.id, seam])),
  };
}

/** The edge after another round its piece (`by` −1: before). */
export function neighbour(piece: PieceView, index: number, by: number): EdgeView | null {
  const n = piece.edges.length;
  return piece.edges[(((index + by) % n) + n) % n] ?? null;
}

export function edgeWords(found: FoundEdge): string {
  return t('pattern.edge.of', { edge: found.edge.called, piece: found.piece.name });
}

export function seamWords(seam: SeamView): string {
  return seam.name || t('pattern.seam.between', { a: seam.words_a, b: seam.words_b });
}

/** The angle inside the piece at an end of an edge. */
export function angleAt(found: FoundEdge, end: 'start' | 'end'): number | null {
  if (found.piece.edges.length < 2) return null;
  const edge = end === 'start' ? found.edge : neighbour(found.piece, found.index, 1);
  return edge?.start_angle_deg ?? null;
}

/** A corner is named by the edge that starts at it. */
export function cornerPoint(found: FoundEdge): Point {
  return pathOf(found.edge).start;
}

/** The seams of an edge, and the parts of the other side of each. */
export function matesOf(garment: GarmentView, edge: string): { seam: SeamView; side: 'a' | 'b'; mates: RunPartView[] }[] {
  return garment.seams.flatMap((seam) => {
    const here: { seam: SeamView; side: 'a' | 'b'; mates: RunPartView[] }[] = [];
    if (seam.a.some((part) => part.edge === edge)) here.push({ seam, side: 'a', mates: seam.b });
    if (seam.b.some((part) => part.edge === edge)) here.push({ seam, side: 'b', mates: seam.a });
    return here;
  });
}

/** Whether a piece follows a recipe. */
export function isDerived(piece: PieceView): boolean {
  return piece.recipe !== null && piece.recipe !== undefined;
}

/** Whether an edge is folded away when the piece is sewn: the leg of a dart, or in the mouth of a tuck or pleat. */
export function foldsAway(piece: PieceView, edge: string): boolean {
  return piece.darts.some((dart) => dart.first_leg === edge || dart.second_leg === edge) || piece.pleats.some((pleat) => pleat.mouths.flat().includes(edge));
}

/** The tuck or pleat in whose mouth an edge lies. */
export function pleatOf(found: FoundEdge) {
  return found.piece.pleats.find((pleat) => pleat.mouths.flat().includes(found.edge.id)) ?? null;
}

/** The dart that an edge is a leg of. */
export function dartOf(found: FoundEdge) {
  return found.piece.darts.find((dart) => dart.first_leg === found.edge.id || dart.second_leg === found.edge.id) ?? null;
}
