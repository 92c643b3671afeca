/** What can be done in this room, as commands. */

import type { HistoryLine } from '../../client/types.gen';
import type { Command } from '../../core/commands/command';
import type { Eke } from '../../core/eke';
import { chosen, type State } from '../../core/store';
import { dartOf, isDerived, lookup, matesOf, type FoundEdge } from '../pieces/lookup';
import { alongA } from '../pieces/run';
import { alter } from '../pieces/steps';
import { changeOf, idle, newDart, planOf, stands, takeIn, type Plan } from './plan';

const HERE = ['mock-ups'] as const;

/** The plan as it is under the hand, or as it was left. */
export function planNow(state: State): Plan | null {
  const { draft, doc } = state;
  const held = draft?.kind === 'mock-ups.plan' ? (draft.value as Plan | null) : null;
  return held && doc.garment && stands(doc.garment, held) ? held : planOf(state);
}

export function edgeHere(state: State): FoundEdge | null {
  const found = state.doc.garment ? lookup(state.doc.garment).edges.get(chosen(state, 'edge')[0] ?? '') : undefined;
  return found && !isDerived(found.piece) ? found : null;
}

/** How far along the chosen edge it was pressed; its middle where it was chosen otherwise. */
export function placeHere(state: State): number {
  const found = edgeHere(state);
  const place = state.view.own['mock-ups']?.['place'] as { edge: string; mm: number } | undefined;
  return place && place.edge === found?.edge.id ? place.mm : (found?.edge.length_mm ?? 0) / 2;
}

function setPlan(eke: Eke, plan: Plan | null): void {
  eke.setOwn('mock-ups', { plan, step: null });
  if (plan) eke.select({});
}

export function stepShown(state: State): string | null {
  const id = state.view.own['mock-ups']?.['step'];
  return typeof id === 'string' && (state.doc.history?.lines.some((line) => line.id === id) ?? false) ? id : null;
}

/** Steps that are about the fit; others are shown when they are asked for. */
export function isFit(line: Pick<HistoryLine, 'kind'>): boolean {
  return line.kind.startsWith('fit.') || line.kind === 'mockup.note';
}

export function allSteps(state: State): boolean {
  return state.view.own['mock-ups']?.['all'] === true;
}

export function stepsSeen(state: State): readonly HistoryLine[] {
  const lines = state.doc.history?.lines ?? [];
  return allSteps(state) ? lines : lines.filter(isFit);
}

function neighbourStep(eke: Eke, by: 1 | -1): void {
  const lines = stepsSeen(eke.state);
  if (lines.length === 0) return;
  const at = lines.findIndex((line) => line.id === stepShown(eke.state));
  const next = at < 0 ? (by > 0 ? 0 : lines.length - 1) : Math.min(Math.max(at + by, 0), lines.length - 1);
  eke.setOwn('mock-ups', { step: lines[next]?.id ?? null });
}

export { alter };

export const commands: readonly Command[] = [
  {
    id: 'mock-ups.take-in', words: 'mock-ups.take-in', keys: ['i'], rooms: HERE,
    available: (s) => {
      const found = edgeHere(s);
      return found !== null && s.doc.garment !== null && matesOf(s.doc.garment, found.edge.id).length > 0;
    },
    run: (eke) => {
      const garment = eke.state.doc.garment, found = edgeHere(eke.state);
      const seam = garment && found ? matesOf(garment, found.edge.id)[0]?.seam : undefined;
      if (!garment || !found || !seam) return;
      const at = alongA(garment, seam, found.edge.id, placeHere(eke.state));
      setPlan(eke, takeIn(garment, seam.id, at ?? undefined));
    },
  },
  {
    id: 'mock-ups.take-in-seam', words: 'mock-ups.take-in', rooms: HERE, available: (s) => s.doc.garment !== null,
    run: (eke, said) => {
      if (eke.state.doc.garment && typeof said === 'string') setPlan(eke, takeIn(eke.state.doc.garment, said));
    },
  },
  {
    id: 'mock-ups.dart', words: 'mock-ups.dart', keys: ['d'], rooms: HERE,
    available: (s) => {
      const found = edgeHere(s);
      return found !== null && found.edge.kind !== 'fold' && dartOf(found) === null;
    },
    run: (eke) => {
      const garment = eke.state.doc.garment, found = edgeHere(eke.state);
      if (garment && found) setPlan(eke, newDart(garment, found.edge.id, placeHere(eke.state)));
    },
  },
  {
    id: 'mock-ups.move-dart', words: 'mock-ups.move-dart', keys: ['m'], rooms: HERE,
    available: (s) => {
      const found = edgeHere(s);
      return found !== null && found.edge.kind !== 'fold' && found.piece.darts.length > 0 && dartOf(found) === null;
    },
    run: (eke, said) => {
      const found = edgeHere(eke.state);
      const dart = found?.piece.darts.find((one) => one.id === said) ?? found?.piece.darts[0];
      if (found && dart) setPlan(eke, { kind: 'move-dart', dart: dart.id, edge: found.edge.id, mm: placeHere(eke.state) });
    },
  },
  { id: 'mock-ups.plan', words: 'mock-ups.plan', rooms: HERE, run: (eke, said) => { if (said) eke.setOwn('mock-ups', { plan: said, step: null }); } },
  { id: 'mock-ups.place', words: 'mock-ups.place', rooms: HERE, run: (eke, said) => eke.setOwn('mock-ups', { place: said }) },
  {
    id: 'mock-ups.apply', words: 'mock-ups.apply', rooms: HERE,
    available: (s) => {
      const plan = planOf(s);
      return plan !== null && !idle(plan) && s.busy === 0;
    },
    run: async (eke, said) => {
      const plan = planOf(eke.state);
      if (!plan) return;
      const { kind, params } = changeOf(plan);
      const done = await eke.change(kind, params, typeof said === 'string' ? said : '');
      if (done) eke.setOwn('mock-ups', { plan: null, step: null });
    },
  },
  {
    id: 'mock-ups.leave', words: 'mock-ups.leave', keys: ['x'], rooms: HERE,
    available: (s) => planOf(s) !== null || stepShown(s) !== null,
    run: (eke) => eke.setOwn('mock-ups', { plan: null, step: null }),
  },
  { id: 'mock-ups.step', words: 'mock-ups.step', rooms: HERE, run: (eke, said) => eke.setOwn('mock-ups', { step: said === stepShown(eke.state) ? null : said, plan: null }) },
  { id: 'mock-ups.next-step', words: 'mock-ups.next-step', keys: [']'], rooms: HERE, available: (s) => stepsSeen(s).length > 0, run: (eke) => neighbourStep(eke, 1) },
  { id: 'mock-ups.previous-step', words: 'mock-ups.previous-step', keys: ['['], rooms: HERE, available: (s) => stepsSeen(s).length > 0, run: (eke) => neighbourStep(eke, -1) },
  {
    id: 'mock-ups.note', words: 'mock-ups.note', rooms: HERE, available: (s) => s.doc.garment !== null,
    run: async (eke, said) => { await eke.change('mockup.note', { noticed: String(said) }); },
  },
];
