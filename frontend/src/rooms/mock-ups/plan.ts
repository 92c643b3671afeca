/** A change of fit that is being thought of: kept in this window until it is applied or left. */

import type { GarmentView, SeamView } from '../../client/types.gen';
import type { State } from '../../core/store';
import { lookup } from '../pieces/lookup';
import { begun, findDart, knotsIn, pointIn, put, resolved, spotIn, withSpot, type NumberField, type Params, type Pointed, type Spot, type SpotField } from './fields';
import { fieldsOfChange, rowOf } from './named';
import type { Knot } from './profile';

/** A named change with its params as the server knows them; the form draws it from the table in `named.ts`. */
export interface Plan {
  kind: 'named';
  change: string;
  params: Params;
}

export function planOf(state: State): Plan | null {
  const plan = state.view.own['mock-ups']?.['plan'] as Plan | null | undefined;
  return plan?.kind === 'named' && state.doc.garment && stands(state.doc.garment, plan) ? plan : null;
}

/** Why it is thought of, as the maker, or who made the plan, has said it so far. */
export function reasonOf(state: State): string {
  const reason = state.view.own['mock-ups']?.['reason'];
  return typeof reason === 'string' ? reason : '';
}

/** A plan to begin with: a change at what was pointed at. None: it cannot be done there. */
export function begin(garment: GarmentView, change: string, at: Pointed, amount_mm?: number): Plan | null {
  const row = rowOf(change);
  const here = resolved(garment, at);
  if (row === null || !row.fits(here)) return null;
  let params: Params = {};
  for (const field of row.fields) params = begun(field, params, here);
  const plan: Plan = { kind: 'named', change, params };
  return amount_mm === undefined ? plan : withAmount(plan, amount_mm);
}

// ---- what it speaks of

const IDS: Readonly<Record<string, (garment: GarmentView, id: string) => boolean>> = {
  edge: (garment, id) => lookup(garment).edges.has(id),
  seam: (garment, id) => lookup(garment).seams.has(id),
  not_over: (garment, id) => lookup(garment).seams.has(id),
  dart: (garment, id) => findDart(garment, id) !== null,
  notch: (garment, id) => lookup(garment).notches.has(id),
  mark: (garment, id) => lookup(garment).marks.has(id),
  only: (garment, id) => lookup(garment).pieces.has(id),
};

/** The ids in params, with the names that they stand under. What a new seam or part is called is no id. */
function idsIn(change: string, params: Params): [name: string, id: string][] {
  const words = new Set(fieldsOfChange(change, params).filter((field) => field.as === 'text').map((field) => field.name));
  return Object.entries(params).flatMap(([name, value]): [string, string][] => {
    if (words.has(name)) return [];
    if (value !== null && typeof value === 'object' && !Array.isArray(value)) return idsIn(change, value as Params);
    const ids = name in IDS ? [value].flat().filter((one): one is string => typeof one === 'string') : [];
    return ids.map((id) => [name, id]);
  });
}

/** Whether what the plan speaks of is still there. */
export function stands(garment: GarmentView, plan: Plan): boolean {
  return idsIn(plan.change, plan.params).every(([name, id]) => IDS[name]?.(garment, id) ?? true);
}

/** The pieces that a plan is about. */
export function piecesOf(garment: GarmentView, plan: Plan): string[] {
  const things = lookup(garment);
  const pieces = idsIn(plan.change, plan.params).flatMap(([name, id]) => {
    if (name === 'edge') return [things.edges.get(id)?.piece.id ?? ''];
    if (name === 'mark') return [things.marks.get(id)?.piece.id ?? ''];
    if (name === 'dart') return [findDart(garment, id)?.piece.id ?? ''];
    if (name !== 'seam') return [];
    const seam = things.seams.get(id);
    return [...(seam?.a ?? []), ...(seam?.b ?? [])].map((part) => part.piece);
  });
  return [...new Set(pieces)];
}

// ---- places that are pointed at

export function spotFields(plan: Plan): SpotField[] {
  return fieldsOfChange(plan.change, plan.params).filter((field) => field.as === 'spot').filter((field) => field.wanted?.(plan.params) ?? true);
}

/** The first place that has still to be pointed at. */
export function missing(garment: GarmentView, plan: Plan): SpotField | null {
  return spotFields(plan).find((field) => spotIn(garment, field, plan.params) === null) ?? null;
}

/** The place that a press on the drawing is for: the one that was asked for, one that is missing, or the last. */
export function askedSpot(state: State, plan: Plan): SpotField | null {
  const { garment } = state.doc;
  if (!garment) return null;
  const fields = spotFields(plan);
  const asked = state.view.own['mock-ups']?.['asked'];
  return missing(garment, plan) ?? fields.find((field) => field.name === asked) ?? fields.at(-1) ?? null;
}

/** The plan with a place put elsewhere. Null: it must lie on the piece that the other places lie on, and does not. */
export function withPlace(garment: GarmentView, plan: Plan, field: SpotField, spot: Spot): Plan | null {
  const piece = 'dart' in spot ? findDart(garment, spot.dart)?.piece.id : lookup(garment).edges.get(spot.edge)?.piece.id;
  const others = withSpot(garment, field, plan.params, null);
  const bound = piecesOf(garment, { ...plan, params: put(others, 'only', undefined) });
  if (bound.length > 0 && (piece === undefined || !bound.includes(piece))) return null;
  return { ...plan, params: withSpot(garment, field, plan.params, spot) };
}

/** The plan with another dart, or with none: then what is asked for in its place is there to begin with. */
export function withDart(garment: GarmentView, plan: Plan, id: string | undefined): Plan {
  let params = put(plan.params, 'dart', id);
  if (id !== undefined) return { ...plan, params };
  const spot = spotFields(plan).map((field) => spotIn(garment, field, params)).find((one) => one !== null && 'edge' in one);
  const here = { ...resolved(garment, { ...spot }), dart: null };
  for (const field of fieldsOfChange(plan.change, params)) {
    const lacking = field.as === 'spot' ? spotIn(garment, field, params) === null : field.as === 'point' && pointIn(params, field.name) === null;
    if (lacking) params = begun(field, params, here);
  }
  return { ...plan, params };
}

// ---- numbers

/** The number that says how much the change does, if it has one. */
export function amountOf(plan: Plan): NumberField | null {
  return fieldsOfChange(plan.change, plan.params).find((field): field is NumberField => field.as === 'number' && field.amount === true && typeof plan.params[field.name] === 'number') ?? null;
}

/** The same plan doing so much: its amount, or the most along its seam, kept within what can be typed. */
export function withAmount(plan: Plan, mm: number): Plan {
  const field = amountOf(plan);
  if (field) return { ...plan, params: put(plan.params, field.name, Math.min(Math.max(mm, field.least), field.most)) };
  const knots = knotsIn(plan.params);
  if (knots.length === 0) return plan;
  const most = Math.max(...knots.map(([, by]) => Math.abs(by)));
  return { ...plan, params: put(plan.params, 'knots', knots.map(([at, by]): Knot => [at, most === 0 ? mm : (by / most) * mm])) };
}

/** A plan as it was begun, as long as no hand has touched it; null: it is another by now. */
export function begunOf(state: State): Plan | null {
  const plan = planOf(state);
  return plan !== null && plan === state.view.own['mock-ups']?.['begun'] ? plan : null;
}

/** Why a plan was not begun with all that its change usually does; null: it was, or a hand has touched it since. */
export function lessOf(state: State): string | null {
  const less = state.view.own['mock-ups']?.['less'] as { plan: Plan; why: string } | null | undefined;
  return less && less.plan === planOf(state) ? less.why : null;
}

/**
 * The plan in the nearest way that works, where the server has told one: with less than what was asked for, and with
 * what else has to be said for it, such as from which end, or a place a little beside (`mm` null: no amount changes).
 */
export function nearest(plan: Plan, facts: Readonly<Record<string, unknown>>): { mm: number | null; plan: Plan } | null {
  const most = facts['most_mm'], goes = facts['goes_with'];
  const also: Params = goes !== null && typeof goes === 'object' && !Array.isArray(goes) ? (goes as Params) : {};
  const field = amountOf(plan) ?? fieldsOfChange(plan.change, plan.params).find((one): one is NumberField => one.as === 'number' && one.amount === true && one.optional !== undefined);
  if (typeof most !== 'number') return Object.keys(also).length > 0 ? { mm: null, plan: { ...plan, params: { ...plan.params, ...also } } } : null;
  if (!field) return null;
  // all of it was asked for where nothing is said
  const asked = typeof plan.params[field.name] === 'number' ? Number(plan.params[field.name]) : Infinity;
  const mm = (Math.sign(asked) * Math.floor(Math.abs(most) * 10)) / 10;
  if (mm === 0 || Math.abs(mm) >= Math.abs(asked)) return null;
  return { mm, plan: { ...plan, params: { ...put(plan.params, field.name, mm), ...also } } };
}

/** What a change by a plan is, for the server. */
export function changeOf(plan: Plan): { kind: string; params: Record<string, unknown> } {
  const knots = knotsIn(plan.params);
  return { kind: plan.change, params: { ...plan.params, ...(knots.length > 0 ? { knots: sortedKnots(knots) } : {}) } };
}

/** A plan that changes nothing yet, or has still to be told where. */
export function idle(garment: GarmentView, plan: Plan): boolean {
  const knots = knotsIn(plan.params);
  return missing(garment, plan) !== null || (knots.length > 0 && knots.every(([, mm]) => mm === 0));
}

// ---- knots

export interface SeamKnots {
  seam: SeamView;
  knots: readonly Knot[];
  /** What part of an amount each side of the seam goes inwards. */
  shares: readonly [number, number];
}

/** The amounts along a seam that a plan has; null: it has none. */
export function seamKnots(garment: GarmentView, plan: Plan): SeamKnots | null {
  const shares = rowOf(plan.change)?.shares;
  const seam = lookup(garment).seams.get(String(plan.params['seam']));
  return shares && seam ? { seam, knots: knotsIn(plan.params), shares: shares(plan.params) } : null;
}

/** Two knots no closer than this stand at different places. */
const APART_MM = 1;

export function sortedKnots(knots: readonly Knot[]): Knot[] {
  const sorted = [...knots].sort((p, q) => p[0] - q[0]);
  return sorted.filter((knot, i) => i === 0 || knot[0] - (sorted[i - 1]?.[0] ?? 0) >= APART_MM);
}

/** The knots with one put elsewhere, kept on the seam and between its neighbours. */
export function withKnot(knots: readonly Knot[], index: number, at: Knot, whole_mm: number): Knot[] {
  const low = (knots[index - 1]?.[0] ?? -APART_MM) + APART_MM;
  const high = (knots[index + 1]?.[0] ?? whole_mm + APART_MM) - APART_MM;
  return knots.map((knot, i): Knot => (i === index ? [Math.min(Math.max(at[0], low, 0), high, whole_mm), at[1]] : knot));
}

/** The knots with one more, in order. */
export function withNewKnot(knots: readonly Knot[], knot: Knot): Knot[] {
  return sortedKnots([...knots.filter((one) => Math.abs(one[0] - knot[0]) >= APART_MM), knot]);
}
