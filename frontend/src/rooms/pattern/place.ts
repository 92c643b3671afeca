/** Where the thing that is chosen lies on the table, for the card beside it and for going there. */

import type { GarmentView } from '../../client/types.gen';
import { boxOf, type Box, type Point } from '../../core/geometry-types';
import type { Selection } from '../../core/store';
import { spotOf, pathOf, shapeOf } from '../pieces/shape';
import { onTable, type Layout } from '../pieces/layout';
import { lookup } from '../pieces/lookup';

/** The points of all that is chosen, on the table. */
export function pointsOf(garment: GarmentView, layout: Layout, selection: Selection): Point[] {
  const things = lookup(garment);
  const points: Point[] = [];
  const put = (piece: string, some: readonly Point[]) => points.push(...some.map((p) => onTable(layout, piece, p)));
  for (const id of selection['piece'] ?? []) {
    const piece = things.pieces.get(id);
    if (piece) put(id, shapeOf(piece).ring);
  }
  const edges = [...(selection['edge'] ?? [])];
  for (const id of selection['seam'] ?? []) {
    const seam = things.seams.get(id);
    edges.push(...[...(seam?.a ?? []), ...(seam?.b ?? [])].map((part) => part.edge));
  }
  for (const id of edges) {
    const found = things.edges.get(id);
    if (found) put(found.piece.id, pathOf(found.edge).flatten(1));
  }
  for (const id of selection['corner'] ?? []) {
    const found = things.edges.get(id);
    if (found) put(found.piece.id, [pathOf(found.edge).start]);
  }
  for (const id of selection['notch'] ?? []) {
    const found = things.notches.get(id);
    if (found) put(found.piece.id, [found.notch.at]);
  }
  for (const id of selection['mark'] ?? []) {
    const found = things.marks.get(id);
    if (found) put(found.piece.id, found.mark.points);
  }
  return points;
}

/** Where the card stands: beside the first thing chosen. */
export function anchorOf(garment: GarmentView, layout: Layout, selection: Selection): Point | null {
  const things = lookup(garment);
  const edge = things.edges.get(selection['edge']?.[0] ?? '');
  if (edge) return onTable(layout, edge.piece.id, spotOf(edge.edge).at);
  const box = boxOf(pointsOf(garment, layout, selection));
  if (!box) return null;
  const right = selection['piece'] || selection['seam'];
  return [box.left + (right ? box.width : box.width / 2), box.bottom + box.height / 2];
}

/** What to show when going there: the thing with some of what lies round it. */
export function boxToShow(garment: GarmentView, layout: Layout, selection: Selection): Box | null {
  const box = boxOf(pointsOf(garment, layout, selection));
  if (!box) return null;
  const LEAST_MM = 260;
  const wide = Math.max(box.width, LEAST_MM), high = Math.max(box.height, LEAST_MM);
  return { left: box.left + box.width / 2 - wide / 2, bottom: box.bottom + box.height / 2 - high / 2, width: wide, height: high };
}
