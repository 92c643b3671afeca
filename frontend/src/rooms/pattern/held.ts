/** Lengths and points that are held: asked for by key, said by the cards beside an edge, a corner, a notch, a mark. */

import type { EdgeView, MarkView, PieceView } from '../../client/types.gen';
import type { Command } from '../../core/commands/command';
import { t } from '../../core/language';
import { chosen, type State } from '../../core/store';
import { foldsAway, lookup, neighbour, type FoundEdge } from '../pieces/lookup';
import { cornerChosen, edgesChosen } from './actions';

export type Keep = 'start' | 'end' | 'middle';

/** Which ends of an edge may stay when it is made another length: a corner on the fold does not leave it. */
export function keepsOf(found: FoundEdge): Keep[] {
  const before = neighbour(found.piece, found.index, -1), after = neighbour(found.piece, found.index, 1);
  if (found.edge.kind === 'fold' || found.piece.edges.length < 2) return ['start', 'end', 'middle'];
  if (before?.kind === 'fold' && after?.kind === 'fold') return ['start', 'end', 'middle'];
  if (before?.kind === 'fold') return ['start'];
  return after?.kind === 'fold' ? ['end'] : ['start', 'end', 'middle'];
}

/** A way to a balance line, in words and as the params that say it. */
export interface WayToLine {
  words: string;
  params: Record<string, unknown>;
}

/** Balance lines of a piece: those with two ends. */
export function linesOf(piece: PieceView): MarkView[] {
  return piece.marks.filter((mark) => mark.kind === 'balance' && mark.points.length > 1);
}

/** How a corner comes to a balance line: along either of its edges, or along the grain; on the fold along that. */
export function waysOfCorner(found: FoundEdge): WayToLine[] {
  const before = neighbour(found.piece, found.index, -1);
  const along = (edge: EdgeView, end: 'start' | 'end', how: 'edge' | 'grain', words: string) => ({ words, params: { edge: edge.id, end, along: how } });
  if (!before || before.id === found.edge.id) return [];
  if (found.edge.kind === 'fold' || before.kind === 'fold') return [along(found.edge, 'start', 'grain', t('pattern.on-line.fold'))];
  return [
    along(before, 'end', 'edge', t('pattern.on-line.along', { edge: before.called })),
    along(found.edge, 'start', 'edge', t('pattern.on-line.along', { edge: found.edge.called })),
    along(found.edge, 'start', 'grain', t('pattern.on-line.grain')),
  ];
}

function edgeOfAnyLength(state: State): FoundEdge | null {
  const [found, more] = edgesChosen(state);
  return found && !more && !foldsAway(found.piece, found.edge.id) ? found : null;
}

function pointChosen(state: State): boolean {
  if (cornerChosen(state)) return true;
  const { garment } = state.doc;
  if (!garment) return false;
  const things = lookup(garment);
  const mark = things.marks.get(chosen(state, 'mark')[0] ?? '');
  return things.notches.has(chosen(state, 'notch')[0] ?? '') || mark?.mark.points.length === 1;
}

const HERE = ['pattern'] as const;

/** A card that was asked for by key opens and takes the keys: `own.pattern.opened` names it. */
export const commands: readonly Command[] = [
  {
    id: 'pattern.length', words: 'pattern.length', keys: ['l'], rooms: HERE, available: (s) => edgeOfAnyLength(s) !== null,
    run: (eke) => eke.setOwn('pattern', { opened: 'length' }),
  },
  {
    id: 'pattern.on-line', words: 'pattern.on-line', keys: ['l'], rooms: HERE, available: pointChosen,
    run: (eke) => eke.setOwn('pattern', { opened: 'on-line' }),
  },
];
