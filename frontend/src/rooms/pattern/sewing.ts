/** Saying a seam by hand: which edges, in which order, walked which way. */

import type { GarmentView, RunPartView } from '../../client/types.gen';
import type { State } from '../../core/store';
import { lookup, neighbour } from '../pieces/lookup';
import { runLength } from '../pieces/run';

export interface Sewing {
  a: readonly RunPartView[];
  b: readonly RunPartView[];
  side: 'a' | 'b';
}

export const NOTHING_SEWN: Sewing = { a: [], b: [], side: 'a' };

/** What was chosen so far, kept in this window until the seam is said. */
export function sewingOf(state: State): Sewing {
  return (state.view.own['pattern']?.['sewing'] as Sewing | undefined) ?? NOTHING_SEWN;
}

/** Add an edge to the side that is being said, or take it out again. */
export function toggled(garment: GarmentView, sewing: Sewing, edge: string): Sewing {
  const found = lookup(garment).edges.get(edge);
  if (!found) return sewing;
  const out = (run: readonly RunPartView[]) => run.filter((part) => part.edge !== edge);
  if ([...sewing.a, ...sewing.b].some((part) => part.edge === edge)) {
    return { ...sewing, a: directed(garment, out(sewing.a), 'a'), b: directed(garment, out(sewing.b), 'b') };
  }
  const run = [...sewing[sewing.side], { piece: found.piece.id, edge, reverse: false }];
  return { ...sewing, [sewing.side]: directed(garment, run, sewing.side) };
}

/** The corner at which an edge begins or ends, as the id of the edge that starts there. */
function corner(garment: GarmentView, edge: string, end: 'start' | 'end'): string | null {
  const found = lookup(garment).edges.get(edge);
  if (!found) return null;
  return end === 'start' ? edge : (neighbour(found.piece, found.index, 1)?.id ?? null);
}

/** The corner at which a part is walked into (`from`) or left (`to`). */
function walked(garment: GarmentView, part: RunPartView, at: 'from' | 'to'): string | null {
  return corner(garment, part.edge, (at === 'from') === !(part.reverse ?? false) ? 'start' : 'end');
}

/** Whether two corners are one place of the garment: the same corner, two ends of a dart, or sewn together. */
export function meet(garment: GarmentView, p: string | null, q: string | null): boolean {
  if (p === null || q === null) return false;
  if (p === q) return true;
  const { edges } = lookup(garment);
  const piece = edges.get(p)?.piece;
  for (const dart of piece?.darts ?? []) {
    const mouth = [dart.first_leg, corner(garment, dart.second_leg, 'end')];
    if (mouth.includes(p) && mouth.includes(q)) return true;
  }
  return garment.seams.some((seam) => {
    const [a0, a1, b0, b1] = [seam.a[0], seam.a.at(-1), seam.b[0], seam.b.at(-1)];
    if (!a0 || !a1 || !b0 || !b1) return false;
    const ends = [
      [walked(garment, a0, 'from'), walked(garment, b0, 'from')],
      [walked(garment, a1, 'to'), walked(garment, b1, 'to')],
    ];
    return ends.some((pair) => pair.includes(p) && pair.includes(q));
  });
}

/** More edges than this on one side are walked as they were chosen. */
const MOST_TRIED = 6;

/**
 * The run with each part walked so that it goes on where the one before ended. Where nothing tells, side one runs
 * with the outline and side two against it, as the two sides of a seam do.
 */
export function directed(garment: GarmentView, run: readonly RunPartView[], side: 'a' | 'b'): RunPartView[] {
  const usual = side === 'b';
  if (run.length > MOST_TRIED) return run.map((part) => ({ ...part }));
  let best: RunPartView[] = [];
  let most = -1;
  for (let bits = 0; bits < 2 ** run.length; bits++) {
    const tried = run.map((part, i) => ({ ...part, reverse: usual !== Boolean((bits >> i) & 1) }));
    const joined = tried.slice(1).filter((part, i) => {
      const before = tried[i];
      return before && meet(garment, walked(garment, before, 'to'), walked(garment, part, 'from'));
    }).length;
    const plain = tried.filter((part) => part.reverse === usual).length;
    const worth = joined * 100 + plain;
    if (worth > most) {
      most = worth;
      best = tried;
    }
  }
  return best;
}

/** The run walked the other way. */
export function turnedRound(run: readonly RunPartView[]): RunPartView[] {
  return [...run].reverse().map((part) => ({ ...part, reverse: !part.reverse }));
}

/** One part turned round, the others kept. */
export function withPartTurned(run: readonly RunPartView[], edge: string): RunPartView[] {
  return run.map((part) => (part.edge === edge ? { ...part, reverse: !part.reverse } : part));
}

/** How much longer side one is. */
export function differenceOf(garment: GarmentView, sewing: Sewing): number {
  return runLength(garment, sewing.a) - runLength(garment, sewing.b);
}

/** The params of `seam.say`. */
export function saidSeam(sewing: Sewing, name = ''): Record<string, unknown> {
  const run = (parts: readonly RunPartView[]) => parts.map((part) => ({ edge: part.edge, reverse: part.reverse ?? false }));
  return { a: run(sewing.a), b: run(sewing.b), ...(name ? { name } : {}) };
}
