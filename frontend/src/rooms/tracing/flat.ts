/** Corners of a found outline on the paper as it lies flat: dragged along the line, slid by arrow keys, added, dropped. */

import type { FoundPiece } from '../../client/types.gen';
import type { Point } from '../../core/geometry-types';
import { chosen, type State } from '../../core/store';
import type { ToolEvent, Step, ToolContext, Effect } from '../../core/tools/machine';
import { nearestOn } from '../photograph/outlines';
import { shownPhotograph } from '../photograph/tools';
import { cornerAdded, cornerAfter, cornerDropped, cornerMoved, cornersNow, cornerSlid } from './forms';

export const CORNER_DRAFT = 'outline-corner';
export interface CornerDraft {
  corners: Point[];
  index: number;
}
export interface CornerDrag {
  index: number;
  moved: boolean;
}

/** Whether the flat paper is looked at, and not the photograph. */
export function isFlat(state: State): boolean {
  return Number(state.view.own['tracing']?.['flat'] ?? 0) === 1 && shownPhotograph(state, 'tracing')?.found != null;
}

/** The outline in hand: the chosen one, or the only one, or the first that is not in the pattern yet. */
export function outlineInHand(state: State): FoundPiece | null {
  const photo = shownPhotograph(state, 'tracing');
  const pieces = photo?.found?.pieces ?? [];
  return pieces.find((piece) => piece.which === chosen(state, 'outline')[0]) ?? (pieces.length === 1 ? pieces[0] : pieces.find((piece) => piece.piece === null)) ?? null;
}

export function cornersInHand(state: State): Point[] {
  const piece = outlineInHand(state);
  return piece ? cornersNow(piece) : [];
}

/** The number of the chosen corner; null: none. */
export function cornerChosen(state: State): number | null {
  const id = chosen(state, 'corner')[0];
  return id === undefined ? null : Number(id);
}

const SLIDES: Record<string, number> = { arrowleft: -1, arrowdown: -1, arrowright: 1, arrowup: 1 };

/** One step of the hand on the flat paper. */
export function stepFlat(drag: CornerDrag | null, event: ToolEvent, { state, tolerance_mm }: ToolContext): Step<CornerDrag | null> {
  const piece = outlineInHand(state);
  const corners = cornersInHand(state);
  if (event.kind === 'cancel' || event.kind === 'blur') {
    return { state: null, effects: drag ? [{ do: 'draft', draft: null }, { do: 'capture', on: false }] : [] };
  }
  if (event.kind === 'press') {
    if (event.on?.kind === 'corner' && piece) {
      return {
        state: { index: Number(event.on.id), moved: false },
        effects: [{ do: 'select', selection: { outline: [piece.which], corner: [event.on.id] } }, { do: 'capture', on: true }],
      };
    }
    const near = nearestOutline(state, event.at);
    const which = near && near.away <= tolerance_mm * 4 ? near.which : null;
    return { state: null, effects: [{ do: 'select', selection: which === null ? (piece ? { outline: [piece.which] } : {}) : { outline: [which] } }] };
  }
  if (!piece) return { state: null };
  if (event.kind === 'move' && drag) {
    const value: CornerDraft = { corners: cornerMoved(piece.outline, corners, drag.index, event.at), index: drag.index };
    return { state: { ...drag, moved: true }, effects: [{ do: 'draft', draft: { kind: CORNER_DRAFT, value } }] };
  }
  if (event.kind === 'release' && drag) {
    const effects: Effect[] = [{ do: 'capture', on: false }];
    if (drag.moved) {
      effects.push({ do: 'command', id: 'tracing.corners', with: cornerMoved(piece.outline, corners, drag.index, event.at) }, { do: 'draft', draft: null });
    }
    return { state: null, effects };
  }
  if (event.kind === 'key' && !drag) {
    const index = cornerChosen(state);
    if (index === null || event.keys.ctrl || event.keys.alt) return { state: null };
    const way = SLIDES[event.key];
    if (way !== undefined) {
      return { state: null, taken: true, effects: [{ do: 'command', id: 'tracing.corners', with: cornerSlid(piece.outline, corners, index, way * (event.keys.shift ? 10 : 1)) }] };
    }
    if (event.key === 'delete' || event.key === 'backspace') {
      return { state: null, taken: true, effects: [{ do: 'command', id: 'tracing.drop-corner' }] };
    }
  }
  return { state: drag };
}

function nearestOutline(state: State, at: Point): { which: string; away: number } | null {
  const rows = (shownPhotograph(state, 'tracing')?.found?.pieces ?? []).map((piece) => ({ which: piece.which, away: nearestOn(piece.outline, at).away }));
  rows.sort((a, b) => a.away - b.away);
  return rows[0] ?? null;
}

export const changes = {
  dropped: (state: State): Point[] | null => {
    const index = cornerChosen(state);
    return index === null ? null : cornerDropped(cornersInHand(state), index);
  },
  after: (state: State): Point[] | null => {
    const index = cornerChosen(state), piece = outlineInHand(state);
    return index === null || !piece ? null : cornerAfter(piece.outline, cornersInHand(state), index);
  },
  added: (state: State, near: Point): Point[] | null => {
    const piece = outlineInHand(state);
    return piece ? cornerAdded(piece.outline, cornersInHand(state), near) : null;
  },
};
