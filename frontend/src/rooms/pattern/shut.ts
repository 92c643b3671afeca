/** What a line that was traced inside a piece may be, sewn shut, and what is asked of the server to open it. */

import type { GarmentView, MarkView, PieceView } from '../../client/types.gen';
import type { Command } from '../../core/commands/command';
import type { Point } from '../../core/geometry-types';
import { apply, STILL, type Move } from '../../core/geometry/rigid';
import { distanceMm } from '../../core/geometry/units';
import { chosen, type State } from '../../core/store';
import { foldsAway, isDerived, lookup } from '../pieces/lookup';
import { pathOf } from '../pieces/shape';

export const SHUT = ['dart', 'pleat', 'tuck', 'inside'] as const;
export type Shut = (typeof SHUT)[number];

/** What is being opened, or said to be gathered: a line that was traced, or an edge. */
export type Opening = { mark: string } | { edge: string };

/** What the form at the side is about; null: it is not open, or that thing is gone. */
export function openingNow(state: State): Opening | null {
  const said = state.view.own['pattern']?.['opening'] as Opening | null | undefined;
  if (!said || !state.doc.garment) return null;
  const things = lookup(state.doc.garment);
  return ('mark' in said ? things.marks.has(said.mark) : things.edges.has(said.edge)) ? said : null;
}

export const commands: readonly Command[] = [
  { id: 'pattern.shut', words: 'pattern.shut', keys: ['shift+g'], rooms: ['pattern'], available: (s) => markHere(s) !== null, run: (eke) => eke.setOwn('pattern', { opening: markHere(eke.state) }) },
  { id: 'pattern.gathers', words: 'pattern.gathers', keys: ['shift+g'], rooms: ['pattern'], available: (s) => edgeHere(s) !== null, run: (eke) => eke.setOwn('pattern', { opening: edgeHere(eke.state) }) },
  { id: 'pattern.shut.leave', words: 'mock-ups.leave', rooms: ['pattern'], available: (s) => openingNow(s) !== null, run: (eke) => eke.setOwn('pattern', { opening: null }) },
];

function markHere(state: State): Opening | null {
  const found = state.doc.garment ? lookup(state.doc.garment).marks.get(chosen(state, 'mark')[0] ?? '') : undefined;
  return found && !isDerived(found.piece) && mayBeShut(found.mark) ? { mark: found.mark.id } : null;
}

function edgeHere(state: State): Opening | null {
  const found = state.doc.garment ? lookup(state.doc.garment).edges.get(chosen(state, 'edge')[0] ?? '') : undefined;
  return found && !isDerived(found.piece) && found.edge.kind !== 'fold' && !foldsAway(found.piece, found.edge.id) ? { edge: found.edge.id } : null;
}

/** What is said of a line that was traced. */
export interface Said {
  what: Shut;
  /** As it was measured; of a dart inside at its widest place. */
  mm: number;
  folded: boolean;
  pressed: 'first' | 'second';
  /** At the other edge; null: as the kind of line says. */
  far_mm: number | null;
  /** Share of the line at which a dart inside is widest. */
  widest: number;
}

/** How long a line is, straight from end to end. */
export function lengthOf(mark: MarkView): number {
  const p = mark.points[0], q = mark.points.at(-1);
  return p && q ? distanceMm([p[0], p[1]], [q[0], q[1]]) : 0;
}

/** From which end of a line its widest place is counted, as it lies on the table: the upper one, or the left one. */
export function endToCountFrom(mark: MarkView, move: Move = STILL): { side: 'upper' | 'left'; first: boolean } {
  const [p, q] = [mark.points[0], mark.points.at(-1)].map((end) => apply(move, [end?.[0] ?? 0, end?.[1] ?? 0]));
  if (!p || !q) return { side: 'upper', first: true };
  const upright = Math.abs(p[1] - q[1]) >= Math.abs(p[0] - q[0]);
  return upright ? { side: 'upper', first: p[1] >= q[1] } : { side: 'left', first: p[0] <= q[0] };
}

/** A line that ends so near to the outline was meant to reach it; the server says the same. */
const REACHES_MM = 6;

/** The edge that an end of a line reaches. */
export function reached(piece: PieceView, end: Point): string | null {
  const found = piece.edges.filter((edge) => !foldsAway(piece, edge.id)).map((edge) => {
    const path = pathOf(edge);
    return { id: edge.id, mm: distanceMm(path.pointAt(path.nearest(end).atMm), end) };
  });
  const near = found.sort((p, q) => p.mm - q.mm)[0];
  return near && near.mm <= REACHES_MM ? near.id : null;
}

/** Where a line begins: the edge that it reaches, with its first end if both do. */
export function beginsAt(piece: PieceView, mark: MarkView): string | null {
  const ends = [mark.points[0], mark.points.at(-1)].map((p) => (p ? reached(piece, [p[0], p[1]]) : null));
  return ends[0] ?? ends[1] ?? null;
}

/** What a line probably is: across the piece a pleat, from an edge inwards a dart, else a dart inside. */
export function likelyShut(piece: PieceView, mark: MarkView): Shut {
  const reach = [mark.points[0], mark.points.at(-1)].filter((p) => p && reached(piece, [p[0], p[1]]) !== null).length;
  return reach === 2 ? 'pleat' : reach === 1 ? 'dart' : 'inside';
}

/** A line may be one of these: only a mark that is a plain line of some length. */
export function mayBeShut(mark: MarkView): boolean {
  return mark.kind === 'line' && lengthOf(mark) >= 20;
}

/** The change that does it. */
export function openingOf(mark: MarkView, said: Said): { kind: string; params: Record<string, unknown> } {
  const shared = { mark: mark.id, intake_mm: said.mm, measured: said.folded ? 'folded' : 'whole' };
  if (said.what === 'inside') return { kind: 'dart.inside', params: { ...shared, widest: said.widest } };
  if (said.what === 'dart') return { kind: 'fit.open_dart', params: { ...shared, pressed: said.pressed } };
  const far = said.far_mm === null ? {} : { far_mm: said.far_mm };
  return { kind: 'fit.open_pleat', params: { ...shared, ...far, how: said.what, pressed: said.pressed } };
}

/** The amount that works instead, as the server told it; null: none, or it is the same. */
export function worksInstead(facts: Readonly<Record<string, unknown>>, mm: number): number | null {
  const most = facts['most_mm'], least = facts['least_mm'];
  if (typeof most === 'number' && most < mm) return Math.floor(most * 10) / 10;
  return typeof least === 'number' && least > mm ? Math.ceil(least * 10) / 10 : null;
}

/** Gathered stretches of an edge. */
export function gathersOn(garment: GarmentView, edge: string) {
  return garment.pieces.flatMap((piece) => piece.gathers).filter((gather) => gather.edge === edge);
}
