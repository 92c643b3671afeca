/** What a fit change asks for: fields that the form draws, each with how it is read from the params and put back. */

import type { DartView, GarmentView, PieceView, SeamView } from '../../client/types.gen';
import type { Key } from '../../core/language';
import type { Point } from '../../core/geometry-types';
import { dartOf, foldsAway, isDerived, lookup, matesOf, type FoundEdge } from '../pieces/lookup';
import { pathOf } from '../pieces/shape';
import type { Knot } from './profile';

/** The params of a change as the server knows them. */
export type Params = Readonly<Record<string, unknown>>;

/** What was pointed at: a place on an edge, a dart, a seam. */
export interface Pointed {
  edge?: string;
  /** From the start of the edge; its middle where not said. */
  mm?: number;
  dart?: string;
  seam?: string;
}

export interface FoundDart {
  piece: PieceView;
  dart: DartView;
}

/** The same with what it belongs to. */
export interface Here {
  garment: GarmentView;
  found: FoundEdge | null;
  mm: number;
  /** The dart itself, the one that the edge is a leg of, or the first of the edge's piece. */
  dart: FoundDart | null;
  /** A dart was pointed at, not an edge. */
  onDart: boolean;
  seam: SeamView | null;
}

/** A place that a change speaks of. */
export type Spot = { edge: string; mm: number } | { dart: string };

interface Named {
  /** Its name in the params; of a spot `''` is the params themselves. */
  name: string;
  key: Key;
}

export interface SpotField extends Named {
  as: 'spot';
  /** What is said when the drawing is to be pressed for it. */
  ask: Key;
  /** The edge as a whole, no place on it. */
  whole?: boolean;
  /** It may be the point of a dart too. */
  darts?: boolean;
  /** Asked for only where this holds. */
  wanted?: (params: Params) => boolean;
  first: (here: Here) => Spot | null;
}
export interface NumberField extends Named {
  as: 'number';
  /** `times`: how many times as long. */
  unit: 'mm' | 'count' | 'share' | 'times';
  least: number;
  most: number;
  /** It is how much the change does: what an adviser says, and what the nearest value that works is used for. */
  amount?: boolean;
  /** It can be left out: the words of the box that puts it in, and what it is then. */
  optional?: { key: Key; first: number };
  /** Shown only where this holds. */
  shown?: (params: Params) => boolean;
  /** Words that know the garment, in place of `key`. */
  words?: (garment: GarmentView, params: Params) => string;
  /** undefined: left out. */
  first: (here: Here) => number | undefined;
}
export interface VectorField extends Named {
  as: 'vector';
  /** Words of what goes to the right, and up. */
  keys: readonly [Key, Key];
  first: (here: Here) => Point | undefined;
}
export interface ChoiceField extends Named {
  as: 'choice';
  options: (garment: GarmentView, params: Params) => readonly { value: string | number; words: string }[];
  shown?: (params: Params) => boolean;
  first: (here: Here) => string | number | undefined;
}
export interface SwitchField extends Named {
  as: 'switch';
  /** What stands in the params where it is on, and off; undefined: nothing. */
  on: (garment: GarmentView, params: Params) => unknown;
  off: unknown;
  /** Whether it is on where nothing is said. */
  otherwise: boolean;
}
export interface KnotsField extends Named {
  as: 'knots';
  /** How long the line is that they stand along. */
  whole: (garment: GarmentView, params: Params) => number;
  first: (here: Here) => readonly Knot[] | undefined;
}
export interface TextField extends Named {
  as: 'text';
}
/** A point inside a piece, moved on the drawing. */
export interface PointField extends Named {
  as: 'point';
  shown?: (params: Params) => boolean;
  first: (here: Here) => Point | undefined;
}
/** The dart, or the seam, that the change is about. */
export interface DartField extends Named {
  as: 'dart';
  /** There may be none yet: what is asked for in its place is `wanted` or `shown` then. */
  optional?: Key;
  first: (here: Here) => string | undefined;
}
export interface SeamField extends Named {
  as: 'seam';
}
export type Field = SpotField | NumberField | VectorField | ChoiceField | SwitchField | KnotsField | TextField | PointField | DartField | SeamField;

/** The server tells lengths to a thousandth of a mm: a place at the very end must not lie beyond it. */
export const ROUNDED_MM = 0.001;

export function resolved(garment: GarmentView, at: Pointed): Here {
  const things = lookup(garment);
  const edge = at.edge === undefined ? undefined : things.edges.get(at.edge);
  const found = edge && !isDerived(edge.piece) ? edge : null;
  const leg = found ? dartOf(found) : null;
  const named = at.dart === undefined ? null : findDart(garment, at.dart);
  const first = found?.piece.darts[0];
  return {
    garment, found,
    mm: at.mm ?? (found?.edge.length_mm ?? 0) / 2,
    dart: named ?? (found && (leg ?? first) ? { piece: found.piece, dart: (leg ?? first) as DartView } : null),
    onDart: (found !== null && foldsAway(found.piece, found.edge.id)) || (named !== null && found === null),
    seam: at.seam !== undefined ? (things.seams.get(at.seam) ?? null) : found ? (matesOf(garment, found.edge.id)[0]?.seam ?? null) : null,
  };
}

export function findDart(garment: GarmentView, id: string): FoundDart | null {
  for (const piece of garment.pieces) {
    const dart = piece.darts.find((one) => one.id === id);
    if (dart) return { piece, dart };
  }
  return null;
}

function partOf(params: Params, name: string): Params | null {
  if (name === '') return params;
  const value = params[name];
  return value !== null && typeof value === 'object' && !Array.isArray(value) ? (value as Params) : null;
}

/** The place that a field has, in whichever way the params say it; none: it is still to be pointed at. */
export function spotIn(garment: GarmentView, field: SpotField, params: Params): Spot | null {
  const said = partOf(params, field.name);
  if (said === null) return null;
  const found = typeof said['edge'] === 'string' ? lookup(garment).edges.get(said['edge']) : undefined;
  if (!found) return field.darts && typeof said['dart'] === 'string' ? { dart: said['dart'] } : null;
  const long = found.edge.length_mm;
  const numeric = (name: string) => (typeof said[name] === 'number' ? said[name] : undefined);
  const point = said['point'];
  const notch = typeof said['notch'] === 'string' ? lookup(garment).notches.get(said['notch'])?.notch : undefined;
  const mm = numeric('mm'), fraction = numeric('fraction');
  const at = notch?.mm
    ?? (Array.isArray(point) ? pathOf(found.edge).nearest([Number(point[0]), Number(point[1])]).atMm : undefined)
    ?? (fraction === undefined ? undefined : fraction * long)
    ?? (mm === undefined ? undefined : said['from_end'] === 'end' ? long - mm : mm);
  if (at === undefined && !field.whole) return null;
  return { edge: found.edge.id, mm: at ?? long / 2 };
}

/** The params with a field's place put elsewhere; null takes it out. */
export function withSpot(garment: GarmentView, field: SpotField, params: Params, spot: Spot | null): Params {
  const says = spotParams(garment, field, spot);
  if (field.name !== '') return says === null ? without(params, [field.name]) : { ...params, [field.name]: says };
  // at the top a dart may be what another field says
  const bare = without(params, ['edge', 'mm', 'from_end', 'fraction', 'notch', 'point', ...(field.darts ? ['dart'] : [])]);
  return { ...bare, ...says };
}

function spotParams(garment: GarmentView, field: SpotField, spot: Spot | null): Params | null {
  if (spot === null) return null;
  if ('dart' in spot) return spot;
  if (field.whole) return { edge: spot.edge };
  const long = lookup(garment).edges.get(spot.edge)?.edge.length_mm ?? 0;
  return { edge: spot.edge, mm: Math.min(Math.max(spot.mm, 0), Math.max(long - ROUNDED_MM, 0)), from_end: 'start' };
}

function without(params: Params, names: readonly string[]): Params {
  return Object.fromEntries(Object.entries(params).filter(([name]) => !names.includes(name)));
}

/** The params with one of them exchanged; undefined takes it out. */
export function put(params: Params, name: string, value: unknown): Params {
  return value === undefined ? without(params, [name]) : { ...params, [name]: value };
}

/** What a field says at the beginning, put into the params. */
export function begun(field: Field, params: Params, here: Here): Params {
  switch (field.as) {
    case 'spot': {
      const spot = (field.wanted?.(params) ?? true) ? field.first(here) : null;
      return spot === null ? params : withSpot(here.garment, field, params, spot);
    }
    case 'seam':
      return put(params, field.name, here.seam?.id);
    case 'text':
    case 'switch':
      return params;
    default:
      return put(params, field.name, field.first(here));
  }
}

/** The point of a field, where the params say one. */
export function pointIn(params: Params, name: string): Point | null {
  const value = params[name];
  return Array.isArray(value) && value.length === 2 && value.every((one) => typeof one === 'number') ? [value[0] as number, value[1] as number] : null;
}

export function knotsIn(params: Params): readonly Knot[] {
  const value = params['knots'];
  return Array.isArray(value) ? (value as Knot[]) : [];
}
