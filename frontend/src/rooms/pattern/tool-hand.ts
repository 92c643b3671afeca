/**
 * The resting hand: choose things by pressing them, push a piece aside, and move what is chosen: corners, notches,
 * marks, the grain.
 */

import type { Point } from '../../core/geometry-types';
import type { State } from '../../core/store';
import { defineTool, type Effect, type Hit, type Step, type ToolContext, type ToolEvent } from '../../core/tools/machine';
import { pathOf } from '../pieces/shape';
import { draftOf, drafted } from './draft';
import { asideOf, inPiece, layoutNow } from '../pieces/layout';
import { isDerived, lookup } from '../pieces/lookup';
import { snapped } from '../pieces/run';

type Held = { on: Hit | null; at: Point; moving: boolean } | null;

/** Less than this many px is a press, not a drag. */
const STILL_PX = 4;
const DROP: Effect[] = [{ do: 'capture', on: false }, { do: 'draft', draft: null }];

export const hand = defineTool<Held>({
  id: 'pattern.hand', room: 'pattern', words: 'pattern.hand', resting: true, initial: null,
  cursor: (held) => (held?.moving ? 'grabbing' : 'default'),
  step(held, event, context) {
    if (event.kind === 'press') {
      return { state: { on: event.on, at: event.at, moving: false }, effects: [{ do: 'capture', on: true }] };
    }
    if (event.kind === 'move' && held) return moved(held, event, context);
    if (event.kind === 'release' && held) {
      return { state: null, effects: [{ do: 'capture', on: false }, ...(held.moving ? kept(context.state) : chosenBy(held.on, event, context.state))] };
    }
    if (event.kind === 'cancel' || event.kind === 'blur') return { state: null, effects: held ? DROP : [] };
    return { state: held };
  },
});

function chosenBy(on: Hit | null, event: Extract<ToolEvent, { at: Point }>, state: State): Effect[] {
  if (on?.kind === 'finding') return [{ do: 'command', id: 'pattern.show-finding', with: on.id }];
  // a hand that chooses something else has left the finding that was looked at
  const left: Effect[] = state.view.own['pattern']?.['finding'] ? [{ do: 'command', id: 'pattern.show-finding', with: null }] : [];
  return [...left, ...selected(on, event, state)];
}

function selected(on: Hit | null, event: Extract<ToolEvent, { at: Point }>, state: State): Effect[] {
  if (!on || on.kind === 'grain') return [{ do: 'select', selection: {} }];
  const kind = on.kind;
  if (!event.keys.shift) return [{ do: 'select', selection: { [kind]: [on.id] } }];
  const before = state.view.selection[kind] ?? [];
  const after = before.includes(on.id) ? before.filter((id) => id !== on.id) : [...before, on.id];
  return [{ do: 'select', selection: after.length > 0 ? { [kind]: after } : {} }];
}

function moved(held: NonNullable<Held>, event: Extract<ToolEvent, { at: Point }>, context: ToolContext): Step<Held> {
  const far = Math.hypot(event.at[0] - held.at[0], event.at[1] - held.at[1]);
  if (!held.moving && far < STILL_PX * context.mm_per_px) return { state: held };
  const effect = carried(held, event.at, context);
  return { state: { ...held, moving: true }, effects: effect ? [effect] : [] };
}

/** What a drag shows. */
function carried(held: NonNullable<Held>, at: Point, { state, tolerance_mm }: ToolContext): Effect | null {
  const garment = state.doc.garment;
  if (!garment || !held.on) return null;
  const { id, kind } = held.on;
  const things = lookup(garment);
  const layout = layoutNow(state);
  const by: Point = [at[0] - held.at[0], at[1] - held.at[1]];
  const show = (draft: ReturnType<typeof drafted>): Effect => ({ do: 'draft', draft });

  if (kind === 'corner') {
    const found = things.edges.get(id);
    if (found && !isDerived(found.piece)) return show(drafted('pattern.corner', { edge: id, to: inPiece(layout, found.piece.id, at) }));
  }
  if (kind === 'notch') {
    const found = things.notches.get(id);
    const edge = found && things.edges.get(found.notch.edge);
    if (found && edge && !isDerived(found.piece)) {
      const near = pathOf(edge.edge).nearest(inPiece(layout, found.piece.id, at));
      const snap = snapped(garment, edge.edge.id, near.atMm, tolerance_mm, id);
      return show(drafted('pattern.notch', { edge: edge.edge.id, ...snap, both: false, id }));
    }
  }
  if (kind === 'mark') {
    const found = things.marks.get(id);
    if (found && !isDerived(found.piece)) {
      const from = inPiece(layout, found.piece.id, held.at), to = inPiece(layout, found.piece.id, at);
      const points = found.mark.points.map(([x, y]): Point => [x + to[0] - from[0], y + to[1] - from[1]]);
      return show(drafted('pattern.mark', { piece: found.piece.id, id, kind: found.mark.kind, points }));
    }
  }
  if (kind === 'grain') {
    const [piece, end] = splitGrain(id);
    const found = things.pieces.get(piece);
    if (found?.grain && !isDerived(found)) {
      const to = inPiece(layout, piece, at);
      const along: readonly [Point, Point] = end === 'start' ? [to, found.grain[1]] : [found.grain[0], to];
      return show(drafted('pattern.grain', { piece, along }));
    }
  }
  const piece = pieceUnder(state, held.on);
  return piece === null ? null : show(drafted('pattern.aside', { piece, by }));
}

/** Handles of the grain are called `<piece>|start` and `<piece>|end`. */
function splitGrain(id: string): [string, string] {
  const at = id.lastIndexOf('|');
  return [id.slice(0, at), id.slice(at + 1)];
}

/** The piece that a thing belongs to. */
export function pieceUnder(state: State, on: Hit): string | null {
  const garment = state.doc.garment;
  if (!garment) return null;
  const things = lookup(garment);
  if (on.kind === 'piece') return on.id;
  if (on.kind === 'edge' || on.kind === 'corner') return things.edges.get(on.id)?.piece.id ?? null;
  if (on.kind === 'notch') return things.notches.get(on.id)?.piece.id ?? null;
  if (on.kind === 'mark') return things.marks.get(on.id)?.piece.id ?? null;
  return null;
}

/** What a finished drag does: one change, or a piece that lies elsewhere in this window. */
function kept(state: State): Effect[] {
  const { draft, doc } = state;
  const corner = draftOf(draft, 'pattern.corner');
  if (corner) return [{ do: 'change', kind: 'corner.move', params: { edge: corner.edge, end: 'start', to: corner.to } }];
  const notch = draftOf(draft, 'pattern.notch');
  if (notch?.id) {
    const count = doc.garment ? (lookup(doc.garment).notches.get(notch.id)?.notch.count ?? 1) : 1;
    return [{ do: 'change', kind: 'notch.set', params: { id: notch.id, edge: notch.edge, mm: notch.mm, count } }];
  }
  const mark = draftOf(draft, 'pattern.mark');
  if (mark?.id && doc.garment) {
    const { kind, name } = lookup(doc.garment).marks.get(mark.id)?.mark ?? { kind: mark.kind, name: '' };
    return [{ do: 'change', kind: 'mark.set', params: { piece: mark.piece, id: mark.id, kind, name, points: mark.points } }];
  }
  const grain = draftOf(draft, 'pattern.grain');
  if (grain) return [{ do: 'change', kind: 'grain.set', params: { piece: grain.piece, along: grain.along } }];
  const aside = draftOf(draft, 'pattern.aside');
  if (aside) {
    const before = asideOf(state)[aside.piece] ?? [0, 0];
    const by: Point = [before[0] + aside.by[0], before[1] + aside.by[1]];
    return [{ do: 'command', id: 'pattern.push-aside', with: { piece: aside.piece, by } }, { do: 'draft', draft: null }];
  }
  return [{ do: 'draft', draft: null }];
}
