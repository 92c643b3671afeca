/** The tools that are taken in hand: notch, corner, balance line, grain, sewing. */

import type { PieceView } from '../../client/types.gen';
import type { Point } from '../../core/geometry-types';
import { t } from '../../core/language';
import type { State } from '../../core/store';
import { defineTool, type Effect, type Hit, type Tool, type ToolContext, type ToolEvent } from '../../core/tools/machine';
import { inside, levelCrossings, pathOf, shapeOf } from '../pieces/shape';
import { drafted } from './draft';
import { inPiece, layoutNow } from '../pieces/layout';
import { isDerived, lookup, type FoundEdge } from '../pieces/lookup';
import { alongA, snapped } from '../pieces/run';
import { hand, pieceUnder } from './tool-hand';
import { edgesChosen } from './actions';
import { sewingOf, toggled, type Sewing } from './sewing';

type At = Extract<ToolEvent, { at: Point }>;
const CLEAR: Effect = { do: 'draft', draft: null };

function isOver(event: ToolEvent): boolean {
  return event.kind === 'cancel' || event.kind === 'blur';
}

/** The edge under the pointer, and how far along it. */
function edgeAt(state: State, on: Hit | null, at: Point): { found: FoundEdge; mm: number } | null {
  const garment = state.doc.garment;
  const found = garment && on?.kind === 'edge' ? lookup(garment).edges.get(on.id) : undefined;
  if (!found) return null;
  const near = pathOf(found.edge).nearest(inPiece(layoutNow(state), found.piece.id, at));
  return { found, mm: near.atMm };
}

/** The maker's own piece under the pointer, its allowances and edges counted in. */
function pieceAt(state: State, on: Hit | null, at: Point): PieceView | null {
  const layout = layoutNow(state);
  const hit = on ? pieceUnder(state, on) : null;
  const own = state.doc.garment?.pieces.find((piece) => piece.id === hit);
  if (own) return own;
  return state.doc.garment?.pieces.find((piece) => inside(shapeOf(piece).ring, inPiece(layout, piece.id, at))) ?? null;
}

/** Whether notches are set on both sides of a seam at once. */
export function bothSides(state: State): boolean {
  return state.view.own['pattern']?.['bothSides'] !== false;
}

function wouldNotch(event: At, context: ToolContext) {
  const { state } = context;
  const garment = state.doc.garment;
  const here = edgeAt(state, event.on, event.at);
  if (!garment || !here || isDerived(here.found.piece)) return null;
  const snap = snapped(garment, here.found.edge.id, here.mm, context.tolerance_mm);
  const both = bothSides(state) && snap.mate === null && here.found.edge.seams.length === 1;
  return { edge: here.found.edge.id, ...snap, both, id: null };
}

const notch = defineTool<null>({
  id: 'pattern.notch', room: 'pattern', words: 'pattern.notch', key: 'n', cursor: 'crosshair', initial: null,
  step(_, event, context) {
    if (isOver(event)) return { state: null, effects: [CLEAR] };
    if (event.kind === 'move') {
      const would = wouldNotch(event, context);
      if (would) return { state: null, effects: [{ do: 'draft', draft: drafted('pattern.notch', would) }] };
      return { state: null, effects: context.state.draft ? [CLEAR] : [] };
    }
    if (event.kind === 'release') {
      const would = wouldNotch(event, context);
      const garment = context.state.doc.garment;
      if (!would || !garment) return { state: null, effects: [CLEAR, { do: 'say', sentence: t('pattern.notch.where') }] };
      const seam = would.both ? lookup(garment).seams.get(lookup(garment).edges.get(would.edge)?.edge.seams[0] ?? '') : undefined;
      const at_mm = seam ? alongA(garment, seam, would.edge, would.mm) : null;
      if (seam && at_mm !== null) return { state: null, effects: [{ do: 'change', kind: 'notch.pair', params: { seam: seam.id, at_mm } }] };
      return { state: null, effects: [{ do: 'change', kind: 'notch.set', params: { edge: would.edge, mm: would.mm } }] };
    }
    return { state: null };
  },
});

const corner = defineTool<null>({
  id: 'pattern.split', room: 'pattern', words: 'pattern.split', key: 'k', cursor: 'crosshair', initial: null,
  step(_, event, { state }) {
    if (isOver(event)) return { state: null, effects: [CLEAR] };
    if (event.kind !== 'move' && event.kind !== 'release') return { state: null };
    const here = edgeAt(state, event.on, event.at);
    if (!here || isDerived(here.found.piece)) return { state: null, effects: state.draft ? [CLEAR] : [] };
    const place = { edge: here.found.edge.id, mm: here.mm };
    if (event.kind === 'move') return { state: null, effects: [{ do: 'draft', draft: drafted('pattern.split', place) }] };
    return { state: null, effects: [{ do: 'change', kind: 'edge.split', params: place }, { do: 'tool', id: null }] };
  },
});

/** A level line across a piece at a height of its own frame. */
export function levelAcross(piece: PieceView, y: number, x: number): readonly [Point, Point] | null {
  const crossings = levelCrossings(shapeOf(piece).ring, y);
  for (let i = 0; i + 1 < crossings.length; i += 2) {
    const from = crossings[i] ?? 0, to = crossings[i + 1] ?? 0;
    if (x >= from && x <= to) return [[from, y], [to, y]];
  }
  return null;
}

const balance = defineTool<null>({
  id: 'pattern.balance', room: 'pattern', words: 'pattern.balance', key: 'b', cursor: 'crosshair', initial: null, grabsEmpty: true,
  step(_, event, { state }) {
    if (isOver(event)) return { state: null, effects: [CLEAR] };
    if (event.kind !== 'move' && event.kind !== 'release') return { state: null };
    const piece = pieceAt(state, event.on, event.at);
    if (!piece) return { state: null, effects: state.draft ? [CLEAR] : [] };
    const [x, y] = inPiece(layoutNow(state), piece.id, event.at);
    const points = levelAcross(piece, y, x);
    if (!points) return { state: null };
    const mark = { piece: piece.id, id: null, kind: 'balance', points };
    if (event.kind === 'move') return { state: null, effects: [{ do: 'draft', draft: drafted('pattern.mark', mark) }] };
    const name = (state.view.own['pattern']?.['balanceName'] as string | undefined) ?? t('pattern.balance.waist');
    return { state: null, effects: [{ do: 'change', kind: 'mark.set', params: { piece: piece.id, kind: 'balance', name, points } }] };
  },
});

interface Drawing {
  piece: string;
  from: Point;
}
const SHORTEST_GRAIN_MM = 10;

const grain = defineTool<Drawing | null>({
  id: 'pattern.grain', room: 'pattern', words: 'pattern.grain', key: 'g', cursor: 'crosshair', initial: null, grabsEmpty: true,
  step(drawing, event, { state }) {
    if (isOver(event)) return { state: null, effects: [CLEAR, { do: 'capture', on: false }] };
    if (event.kind === 'press') {
      const piece = pieceAt(state, event.on, event.at);
      return piece ? { state: { piece: piece.id, from: event.at }, effects: [{ do: 'capture', on: true }] } : { state: null };
    }
    if (!drawing || (event.kind !== 'move' && event.kind !== 'release')) return { state: drawing };
    const layout = layoutNow(state);
    const along: readonly [Point, Point] = [inPiece(layout, drawing.piece, drawing.from), inPiece(layout, drawing.piece, event.at)];
    if (event.kind === 'move') return { state: drawing, effects: [{ do: 'draft', draft: drafted('pattern.grain', { piece: drawing.piece, along }) }] };
    const long = Math.hypot(along[1][0] - along[0][0], along[1][1] - along[0][1]) >= SHORTEST_GRAIN_MM;
    return {
      state: null,
      effects: [
        { do: 'capture', on: false },
        ...(long
          ? ([{ do: 'change', kind: 'grain.set', params: { piece: drawing.piece, along } }, { do: 'tool', id: null }] as const)
          : ([CLEAR, { do: 'say', sentence: t('pattern.grain.longer') }] as const)),
      ],
    };
  },
});

/** An edge that was chosen by keyboard and may be sewn. */
function edgeByKey(state: State, sewing: Sewing): string | null {
  const found = edgesChosen(state)[0];
  return found && found.edge.kind !== 'fold' && ![...sewing.a, ...sewing.b].some((part) => part.edge === found.edge.id) ? found.edge.id : null;
}

const sew = defineTool<null>({
  id: 'pattern.sew', room: 'pattern', words: 'pattern.sew', key: 's', cursor: 'pointer', initial: null,
  step(_, event, { state }) {
    const garment = state.doc.garment;
    // what was chosen so far outlives two fingers on the table: it is kept beside the gesture
    const sewing = sewingOf(state);
    const byKey = event.kind === 'key' && event.key === 'enter' && garment ? edgeByKey(state, sewing) : null;
    if (byKey && garment) {
      return { state: null, effects: [{ do: 'command', id: 'pattern.sewing', with: toggled(garment, sewing, byKey) }, { do: 'select', selection: {} }], taken: true };
    }
    if (event.kind === 'key' && event.key === 'enter' && sewing.a.length > 0) {
      const next: Effect = sewing.side === 'a' && sewing.b.length === 0
        ? { do: 'command', id: 'pattern.sewing', with: { ...sewing, side: 'b' } }
        : { do: 'command', id: 'pattern.sew-these' };
      return { state: null, effects: [next], taken: true };
    }
    if (event.kind !== 'release' || !garment || event.on?.kind !== 'edge') return { state: null };
    const found = lookup(garment).edges.get(event.on.id);
    if (!found || isDerived(found.piece)) return { state: null, effects: [{ do: 'say', sentence: t('pattern.sew.own') }] };
    if (found.edge.kind === 'fold') return { state: null, effects: [{ do: 'say', sentence: t('pattern.sew.fold') }] };
    return { state: null, effects: [{ do: 'command', id: 'pattern.sewing', with: toggled(garment, sewing, event.on.id) }] };
  },
});

export const tools: readonly Tool[] = [hand, notch, corner, balance, grain, sew];
