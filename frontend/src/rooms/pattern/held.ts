/** Lengths and points that are held: asked for by key, said by the cards beside an edge, a corner, a notch, a mark. */

import type { EdgeView, MarkView, PieceView } from '../../client/types.gen';
import type { Command } from '../../core/commands/command';
import type { Point } from '../../core/geometry-types';
import type { Move } from '../../core/geometry/rigid';
import { t } from '../../core/language';
import { chosen, type State } from '../../core/store';
import { measure, type Unit } from '../../core/units';
import { foldsAway, lookup, neighbour, type FoundEdge } from '../pieces/lookup';
import { movedDirection, movedPoint, pathOf, spotOf } from '../pieces/shape';
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

/** A sign on the drawing: the thing that is held, where on the table, turned along an edge, and in words. */
export interface HeldSign {
  kind: 'edge' | 'corner' | 'notch' | 'mark';
  id: string;
  at: Point;
  turn_deg: number;
  words: string;
}

/** The signs of what is held on a piece that lies where `move` puts it. */
export function heldSigns(piece: PieceView, move: Move, unit: Unit): HeldSign[] {
  const onLine = (kind: HeldSign['kind'], id: string, at: readonly number[] | undefined, line: string | null): HeldSign[] =>
    line === null || !at ? [] : [{ kind, id, at: movedPoint(move, [at[0] ?? 0, at[1] ?? 0]), turn_deg: 0, words: t('pattern.held.on', { line }) }];
  return [
    ...piece.edges.flatMap((edge): HeldSign[] => {
      if (edge.held_mm === null) return [];
      const { at, along } = spotOf(edge);
      const [x, y] = movedDirection(move, along);
      const words = t('pattern.held.at', { mm: measure(edge.held_mm, unit, { fine: true }) });
      return [{ kind: 'edge', id: edge.id, at: movedPoint(move, at), turn_deg: (Math.atan2(y, x) * 180) / Math.PI, words }];
    }),
    ...piece.edges.flatMap((edge) => onLine('corner', edge.id, pathOf(edge).start, edge.start_held_on)),
    ...piece.notches.flatMap((notch) => onLine('notch', notch.id, notch.at, notch.held_on)),
    ...piece.marks.flatMap((mark) => onLine('mark', mark.id, mark.points[0], mark.held_on)),
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
