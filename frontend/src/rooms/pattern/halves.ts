/** Both halves of a piece that is drawn whole, or of one edge over its middle: laid on one another and made the same. */

import type { HalvesView, MiddleView } from '../../client/types.gen';
import type { Command } from '../../core/commands/command';
import { applyVector, type Move } from '../../core/geometry/rigid';
import { chosen, type State } from '../../core/store';
import { isDerived, lookup } from '../pieces/lookup';
import { edgesChosen, pieceChosen } from './actions';

export type Take = 'mean' | 'left' | 'right';
export const TAKE: readonly Take[] = ['mean', 'left', 'right'];
export type Side = 'left' | 'right' | 'upper' | 'lower';

export interface Halves {
  piece: string;
  /** One edge only; null: the whole piece. */
  edge: string | null;
  /** How the middle is found; null: as proposed. */
  by: MiddleView['by'] | null;
  take: Take;
}

/** What is laid on itself; null: nothing, or it is gone. */
export function halvesOf(state: State): Halves | null {
  const halves = state.view.own['pattern']?.['halves'] as Halves | null | undefined;
  const { garment } = state.doc;
  if (!halves || !garment) return null;
  const piece = lookup(garment).pieces.get(halves.piece);
  return piece && (halves.edge === null || piece.edges.some((edge) => edge.id === halves.edge)) ? halves : null;
}

/** Where the halves are asked for. */
export function halvesPath(garment: string, halves: Halves): string {
  const asked = [halves.edge === null ? '' : `edge=${encodeURIComponent(halves.edge)}`, halves.by === null ? '' : `middle=${halves.by}`].filter(Boolean).join('&');
  return `/api/garments/${garment}/pieces/${encodeURIComponent(halves.piece)}/halves${asked ? `?${asked}` : ''}`;
}

/** What a half is called as it lies on the table: a piece may lie turned, or turned over. */
export function sideWords(middle: Pick<MiddleView, 'start' | 'end'>, take: 'left' | 'right', move: Move): Side {
  const [dx, dy] = [middle.end[0] - middle.start[0], middle.end[1] - middle.start[1]];
  const [x, y] = applyVector(move, take === 'left' ? [-dy, dx] : [dy, -dx]);
  if (Math.abs(x) >= Math.abs(y)) return x < 0 ? 'left' : 'right';
  return y > 0 ? 'upper' : 'lower';
}

/** The change that makes both halves the same. */
export function making(halves: Halves, view: HalvesView, move: Move): { kind: string; params: Record<string, unknown> } {
  const what = halves.edge === null ? { piece: halves.piece } : { edge: halves.edge };
  const kept = halves.take === 'mean' ? {} : { kept: sideWords(view.middle, halves.take, move) };
  return { kind: 'true.halves', params: { ...what, take: halves.take, middle: view.middle.by, ...kept } };
}

/** The piece or edge whose halves could be laid on one another: drawn whole, and the maker's own. */
function wholeChosen(state: State): Pick<Halves, 'piece' | 'edge'> | null {
  const { garment } = state.doc;
  if (!garment) return null;
  const edges = edgesChosen(state);
  const [found] = edges;
  if (found) return edges.length === 1 && found.piece.fold === null ? { piece: found.piece.id, edge: found.edge.id } : null;
  if (chosen(state, 'piece').length !== 1) return null;
  const piece = lookup(garment).pieces.get(pieceChosen(state) ?? '');
  return piece && !isDerived(piece) && piece.fold === null ? { piece: piece.id, edge: null } : null;
}

const HERE = ['pattern'] as const;

export const commands: readonly Command[] = [
  {
    id: 'pattern.halves', words: 'pattern.halves', keys: ['h'], rooms: HERE, available: (s) => wholeChosen(s) !== null,
    run: (eke) => {
      const what = wholeChosen(eke.state);
      if (!what) return;
      eke.select({});
      eke.setOwn('pattern', { halves: { ...what, by: null, take: 'mean' } satisfies Halves, twice: null });
    },
  },
  {
    id: 'pattern.halves.one', words: 'pattern.halves.one', rooms: HERE, available: (s) => halvesOf(s) !== null,
    run: async (eke, said) => {
      const halves = halvesOf(eke.state);
      if (!halves) return;
      const { view, move } = said as { view: HalvesView; move: Move };
      const { kind, params } = making(halves, view, move);
      if ((await eke.change(kind, params)) !== null) eke.setOwn('pattern', { halves: null });
    },
  },
  { id: 'pattern.halves.leave', words: 'pattern.halves.leave', keys: ['x'], rooms: HERE, available: (s) => halvesOf(s) !== null, run: (eke) => eke.setOwn('pattern', { halves: null }) },
];
