/** Asking what to do about what a mock-up showed: what is said so far, and what is asked of the server. */

import type { FitAdviceSaid, GarmentView, RemedyView } from '../../client/types.gen';
import type { State } from '../../core/store';
import { dartOf, isDerived, lookup, type FoundEdge } from '../pieces/lookup';
import type { Plan } from './plan';

export const CLOTHS = ['cotton', 'wool'] as const;

export interface Asking {
  /** The code of what was seen; null: it is not said yet. */
  showing: string | null;
  edge: string | null;
  /** From the start of the edge. */
  mm: number;
  amount_mm: number | null;
  whole: boolean;
  cloth: (typeof CLOTHS)[number];
  /** The revision of the garment at which a remedy was looked at; null: none is. */
  looked: number | null;
}

export const NOTHING: Asking = { showing: null, edge: null, mm: 0, amount_mm: null, whole: true, cloth: 'cotton', looked: null };

/** What is said so far; kept in this window, also when another room is visited. */
export function askingOf(state: State): Asking {
  return { ...NOTHING, ...(state.view.own['mock-ups']?.['advice'] as Partial<Asking> | undefined) };
}

/** The edge that was pointed at, if it is still there and something can gape at it. */
export function placed(garment: GarmentView, asking: Asking): FoundEdge | null {
  const found = lookup(garment).edges.get(asking.edge ?? '');
  return found && !isDerived(found.piece) && dartOf(found) === null ? found : null;
}

/** What is asked of the server; null: something is still to be said. */
export function saidOf(garment: GarmentView, asking: Asking): FitAdviceSaid | null {
  const found = placed(garment, asking);
  if (asking.showing === null || found === null || asking.amount_mm === null || asking.amount_mm <= 0) return null;
  return {
    showing: asking.showing, edge: found.edge.id, mm: Math.min(Math.max(asking.mm, 0), found.edge.length_mm),
    amount_mm: asking.amount_mm, whole: asking.whole, cloth: asking.cloth, expected: garment.revision,
  };
}

/** A remedy as the plan that shows it on the drawing; null: it is done in sewing. */
export function planFor(remedy: Pick<RemedyView, 'kind' | 'params'>): Plan | null {
  return remedy.kind === '' ? null : { kind: 'named', change: remedy.kind, params: { ...remedy.params } };
}

/** Whether a plan is the one that shows this remedy, as it was advised. */
export function looksAt(plan: Plan | null, remedy: Pick<RemedyView, 'kind' | 'params'>): boolean {
  return plan !== null && JSON.stringify(plan) === JSON.stringify(planFor(remedy));
}
