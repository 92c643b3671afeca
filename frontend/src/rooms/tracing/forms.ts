/** What the maker has said of a found outline before it is put into the pattern. */

import type { FoundPiece, FoundView, GarmentView, PhotographView, TakePiece } from '../../client/types.gen';
import type { Point } from '../../core/geometry-types';
import type { State } from '../../core/store';
import { cornersInOrder, lengthOf, nearestOn, pointAlong, wayBetween } from '../photograph/outlines';

export type LineSaid = 'net' | 'finished' | 'cut';
export type TracedBy = NonNullable<TakePiece['traced_by']>;
export const TRACED_BY: TracedBy[] = ['pen', 'pins', 'cloth'];
export type CutSaid = 'once' | 'pair' | 'fold';
export type Turn = 0 | 90 | 180 | 270;

export interface Form {
  name: string;
  line: LineSaid;
  /** With `cut`: how far the traced edge lies outside of the seam line, mm. */
  allowance_mm: number;
  /** With what it was traced; null: not said. */
  by: TracedBy | null;
  /** The garment is much worn. */
  worn: boolean;
  cut: CutSaid;
  /** How often, or how many pairs. */
  count: number;
  /** How it is turned on its way into the pattern, degrees counter-clockwise. */
  turn: Turn;
  /** Id of the piece that this traces again. */
  again: string | null;
  answers: Record<string, number | null>;
}

export const NEW_FORM: Form = { name: '', line: 'net', allowance_mm: 10, by: null, worn: false, cut: 'once', count: 1, turn: 0, again: null, answers: {} };

const key = (photo: string, which: string) => `${photo} ${which}`;

export function formOf(state: State, photo: string, which: string): Form {
  const forms = state.view.own['tracing']?.['forms'] as Record<string, Form> | undefined;
  return { ...NEW_FORM, ...forms?.[key(photo, which)] };
}

/** The forms with one changed, for `eke.setOwn('tracing', …)`. */
export function withForm(state: State, photo: string, which: string, said: Partial<Form>): { forms: Record<string, Form> } {
  const forms = (state.view.own['tracing']?.['forms'] as Record<string, Form> | undefined) ?? {};
  return { forms: { ...forms, [key(photo, which)]: { ...formOf(state, photo, which), ...said } } };
}

export function withoutForm(state: State, photo: string, which: string): { forms: Record<string, Form> } {
  const { [key(photo, which)]: _gone, ...forms } = (state.view.own['tracing']?.['forms'] as Record<string, Form> | undefined) ?? {};
  return { forms };
}

/** What is asked of the server for a form. */
export function takeOf(which: string, form: Form, called: string): TakePiece {
  return {
    which,
    name: form.name.trim() || called,
    traced_as: form.line,
    traced_allowance_mm: form.line === 'cut' ? form.allowance_mm : 0,
    traced_by: form.by,
    worn: form.worn,
    count: form.cut === 'fold' ? 1 : form.count,
    pairs: form.cut === 'pair',
    again: form.again,
    answers: form.answers,
    turn_deg: form.turn,
  };
}

/** What the outline is worth with the hand that traced it, mm: errors that are strangers to each other add as squares. */
export function withHand(uncertainty_mm: number, form: Form, found: Pick<FoundView, 'hand_mm' | 'worn_mm'>): number {
  return Math.hypot(uncertainty_mm, form.by ? found.hand_mm[form.by] ?? 0 : 0, form.worn ? found.worn_mm : 0);
}

/** A quarter turn further, clockwise. */
export function turnedOn(turn: Turn): Turn {
  return ((turn + 270) % 360) as Turn;
}

/** Points as they will lie in the pattern, mm. */
export function turnedPoints(points: readonly (readonly number[])[], turn: Turn): Point[] {
  const [c, s] = ({ 0: [1, 0], 90: [0, 1], 180: [-1, 0], 270: [0, -1] } as const)[turn];
  return points.map(([x = 0, y = 0]): Point => [c * x - s * y, s * x + c * y]);
}

/** Corners in the order of the outline: as the maker put them, or as found. */
export function cornersNow(piece: FoundPiece): Point[] {
  return cornersInOrder(piece.outline, piece.corners).map(({ at }) => at);
}

/** Nearest two corners may come to each other, mm: nearer, the edge between them is no edge. */
export const LEAST_EDGE_MM = 2;

export function cornerMoved(ring: readonly (readonly number[])[], corners: readonly Point[], index: number, to: Point): Point[] {
  const { at } = nearestOn(ring, to);
  const near = corners.some((other, i) => i !== index && Math.hypot(other[0] - at[0], other[1] - at[1]) < LEAST_EDGE_MM);
  return near ? [...corners] : corners.map((old, i) => (i === index ? at : old));
}

/** Slide a corner along the outline; forward is counter-clockwise. */
export function cornerSlid(ring: readonly (readonly number[])[], corners: readonly Point[], index: number, by_mm: number): Point[] {
  const corner = corners[index];
  return corner ? cornerMoved(ring, corners, index, pointAlong(ring, nearestOn(ring, corner).along + by_mm)) : [...corners];
}

/** One more corner at the place of the outline nearest to a point; none when one is there already. */
export function cornerAdded(ring: readonly (readonly number[])[], corners: readonly Point[], near: Point): Point[] {
  const { at } = nearestOn(ring, near);
  if (corners.some((other) => Math.hypot(other[0] - at[0], other[1] - at[1]) < LEAST_EDGE_MM)) return [...corners];
  return cornersInOrder(ring, [...corners, at]).map((one) => one.at);
}

/** One more corner half-way to the next one. */
export function cornerAfter(ring: readonly (readonly number[])[], corners: readonly Point[], index: number): Point[] {
  const here = corners[index], next = corners[(index + 1) % corners.length];
  if (!here || !next) return [...corners];
  const from = nearestOn(ring, here).along;
  const way = wayBetween(ring, from, nearestOn(ring, next).along) || lengthOf(ring);
  return cornerAdded(ring, corners, pointAlong(ring, from + way / 2));
}

export function cornerDropped(corners: readonly Point[], index: number): Point[] {
  return corners.filter((_, i) => i !== index);
}

/** Names of pieces made of this photograph's outlines. */
export function pieceName(garment: GarmentView | null, id: string | null | undefined): string | null {
  return garment?.pieces.find((piece) => piece.id === id)?.name ?? null;
}

export function takenCount(photo: PhotographView): number {
  return [...(photo.found?.pieces ?? []).map((p) => p.piece), ...(photo.found?.cloths ?? []).map((c) => c.cloth)].filter((id) => id != null).length;
}
