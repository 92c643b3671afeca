/** Two tracings of one piece: the one that is kept, the one laid on it, and what is taken along each edge. */

import type { ComparedView, GarmentView } from '../../client/types.gen';
import type { Command } from '../../core/commands/command';
import type { State } from '../../core/store';

export type Taken = 'mean' | 'first' | 'second';
export const TAKEN: readonly Taken[] = ['mean', 'first', 'second'];

export interface Twice {
  first: string;
  second: string;
  /** What is taken along edges for which it is said; else the mean. */
  edges: Readonly<Record<string, Taken>>;
}

/** What is laid on what; null: nothing, or one of the two is gone. */
export function twiceOf(state: State): Twice | null {
  const twice = state.view.own['pattern']?.['twice'] as Twice | null | undefined;
  const there = (id: string) => state.doc.garment?.pieces.some((piece) => piece.id === id) ?? false;
  return twice && there(twice.first) && there(twice.second) ? twice : null;
}

/** Pieces that could be another tracing of one: like ones first, then the rest that are sewn to nothing. */
export function othersFor(garment: GarmentView, id: string, like: readonly { first: string; second: string }[]): { id: string; name: string }[] {
  const near = like.flatMap((pair) => (pair.first === id ? [pair.second] : pair.second === id ? [pair.first] : []));
  const free = garment.pieces.filter((piece) => piece.id !== id && piece.edges.every((edge) => edge.seams.length === 0));
  const rank = (one: string) => (near.includes(one) ? near.indexOf(one) : near.length);
  return free.map(({ id: other, name }) => ({ id: other, name })).sort((p, q) => rank(p.id) - rank(q.id));
}

/** What is taken along an edge. */
export function takenAt(twice: Twice, edge: string): Taken {
  return twice.edges[edge] ?? 'mean';
}

/** The change that makes one of the two. */
export function combining(twice: Twice, compared: ComparedView): { kind: string; params: Record<string, unknown> } {
  const params = {
    piece: twice.first, other: twice.second, take: 'mean', edges: twice.edges, turned_over: compared.turned_over,
    apart_mm: Math.round(compared.greatest_mm * 10) / 10,
  };
  return { kind: 'trace.combine', params };
}

const HERE = ['pattern'] as const;

export const commands: readonly Command[] = [
  {
    id: 'pattern.twice', words: 'pattern.twice', rooms: HERE, available: (s) => s.doc.garment !== null,
    run: (eke, said) => {
      const { first, second } = said as Pick<Twice, 'first' | 'second'>;
      eke.select({});
      eke.setOwn('pattern', { twice: { first, second, edges: {} } satisfies Twice, halves: null });
    },
  },
  {
    id: 'pattern.twice.one', words: 'pattern.twice.one', rooms: HERE, available: (s) => twiceOf(s) !== null,
    run: async (eke, said) => {
      const twice = twiceOf(eke.state);
      if (!twice) return;
      const { kind, params } = combining(twice, said as ComparedView);
      if ((await eke.change(kind, params)) !== null) eke.setOwn('pattern', { twice: null });
    },
  },
  { id: 'pattern.twice.leave', words: 'pattern.twice.leave', keys: ['x'], rooms: HERE, available: (s) => twiceOf(s) !== null, run: (eke) => eke.setOwn('pattern', { twice: null }) },
];
