/** What is drawn of a plan over the pieces, besides what the server shows: its places, and lines between them. */

import type { GarmentView } from '../../client/types.gen';
import type { Point } from '../../core/geometry-types';
import { lookup } from '../pieces/lookup';
import { pathOf } from '../pieces/shape';
import { findDart, pointIn, spotIn, type SpotField } from './fields';
import { fieldsOfChange } from './named';
import { spotFields, type Plan } from './plan';

export interface PlaceDrawn {
  /** The name of its field. */
  name: string;
  piece: string;
  at: Point;
  /** It can be dragged along its edge. */
  moves: boolean;
  /** The edge, where all of it is meant. */
  edge: string | null;
}

export interface Drawn {
  places: PlaceDrawn[];
  /** Lines, as points of a piece's frame. */
  strokes: { piece: string; points: Point[] }[];
  /** A point inside a piece that is dragged. */
  point: { name: string; piece: string; at: Point } | null;
}

export function drawnOf(garment: GarmentView, plan: Plan): Drawn {
  const places = spotFields(plan).flatMap((field) => placeDrawn(garment, plan, field));
  const piece = places[0]?.piece;
  const inner = fieldsOfChange(plan.change, plan.params).find((field) => field.as === 'point');
  const at = inner && pointIn(plan.params, inner.name);
  const point = inner && at && piece !== undefined && (inner.shown?.(plan.params) ?? true) ? { name: inner.name, piece, at } : null;
  const named = typeof plan.params['dart'] === 'string' ? findDart(garment, plan.params['dart']) : null;
  const hub = point ?? (named ? { piece: named.piece.id, at: named.dart.apex as Point } : null);
  const legs = legsOf(garment, plan, point?.at ?? null);
  const marked = places.filter((one) => one.edge === null);
  const [first, ...others] = marked;
  const strokes = legs.length > 0 || !first
    ? legs
    : hub
      ? marked.filter((one) => one.piece === hub.piece).map((one) => ({ piece: one.piece, points: [one.at, hub.at] }))
      : others.filter((one) => one.piece === first.piece).map((one) => ({ piece: first.piece, points: [first.at, one.at] }));
  return { places, strokes, point };
}

function placeDrawn(garment: GarmentView, plan: Plan, field: SpotField): PlaceDrawn[] {
  const spot = spotIn(garment, field, plan.params);
  if (spot === null) return [];
  if ('dart' in spot) {
    const found = findDart(garment, spot.dart);
    return found ? [{ name: field.name, piece: found.piece.id, at: found.dart.apex, moves: false, edge: null }] : [];
  }
  const found = lookup(garment).edges.get(spot.edge);
  if (!found) return [];
  return [{ name: field.name, piece: found.piece.id, at: pathOf(found.edge).pointAt(spot.mm), moves: field.whole !== true, edge: field.whole ? spot.edge : null }];
}

/** The legs of a dart that is not there yet: from its mouth on the edge to its point. */
function legsOf(garment: GarmentView, plan: Plan, apex: Point | null): Drawn['strokes'] {
  const intake = plan.params['intake_mm'];
  const field = spotFields(plan)[0];
  const spot = field ? spotIn(garment, field, plan.params) : null;
  const found = spot && 'edge' in spot ? lookup(garment).edges.get(spot.edge) : undefined;
  if (!found || !spot || !('edge' in spot) || typeof intake !== 'number' || apex === null) return [];
  const path = pathOf(found.edge);
  return [{ piece: found.piece.id, points: [path.pointAt(spot.mm - intake / 2), apex, path.pointAt(spot.mm + intake / 2)] }];
}

/** The handle of a place is called by its field; that of a place that stands in the params themselves, `place`. */
export function handleName(name: string): string {
  return name === '' ? 'place' : name;
}

export function placeName(handle: string): string {
  return handle === 'place' ? '' : handle;
}
