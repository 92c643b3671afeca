/** What can be done in this room, as commands. */

import type { HistoryLine } from '../../client/types.gen';
import type { Command } from '../../core/commands/command';
import type { Eke } from '../../core/eke';
import { chosen, type State } from '../../core/store';
import { isDerived, lookup, type FoundEdge } from '../pieces/lookup';
import { alter } from '../pieces/steps';
import { resolved, type Pointed } from './fields';
import { ROWS, type Row } from './named';
import { begin, changeOf, idle, planOf, stands, type Plan } from './plan';

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
  eke.setOwn('mock-ups', { plan, begun: plan, less: null, step: null, asked: null, reason: '' });
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

/** What is pointed at: the chosen edge, where it was pressed. */
export function pointedHere(state: State): Pointed {
  const found = edgeHere(state);
  return found ? { edge: found.edge.id, mm: placeHere(state) } : {};
}

function isPointed(said: unknown): said is Pointed {
  return said !== null && typeof said === 'object';
}

/** The command that begins a named change, at what is said or else at what is chosen. */
function beginning(row: Row): Command {
  return {
    id: row.id, words: row.id, keys: row.keys, rooms: HERE,
    available: (s) => s.doc.garment !== null && (row.group === 'garment' || edgeHere(s) === null || row.fits(resolved(s.doc.garment, pointedHere(s)))),
    run: (eke, said) => {
      const plan = eke.state.doc.garment && begin(eke.state.doc.garment, row.change, isPointed(said) ? said : row.group === 'garment' ? {} : pointedHere(eke.state));
      if (plan) setPlan(eke, plan);
    },
  };
}

export const commands: readonly Command[] = [
  ...ROWS.map(beginning),
  { id: 'mock-ups.plan', words: 'mock-ups.plan', rooms: HERE, run: (eke, said) => { if (said) eke.setOwn('mock-ups', { plan: said, step: null }); } },
  { id: 'mock-ups.ask', words: 'mock-ups.ask', rooms: HERE, available: (s) => planOf(s) !== null, run: (eke, said) => eke.setOwn('mock-ups', { asked: said }) },
  { id: 'mock-ups.place', words: 'mock-ups.place', rooms: HERE, run: (eke, said) => eke.setOwn('mock-ups', { place: said }) },
  {
    id: 'mock-ups.apply', words: 'mock-ups.apply', rooms: HERE,
    available: (s) => {
      const plan = planOf(s);
      return plan !== null && s.doc.garment !== null && !idle(s.doc.garment, plan) && s.busy === 0;
    },
    run: async (eke, said) => {
      const plan = planOf(eke.state);
      if (!plan) return;
      const { kind, params } = changeOf(plan);
      const done = await eke.change(kind, params, typeof said === 'string' ? said : '');
      if (done) eke.setOwn('mock-ups', { plan: null, step: null, reason: '' });
    },
  },
  {
    id: 'mock-ups.leave', words: 'mock-ups.leave', keys: ['x'], rooms: HERE,
    available: (s) => planOf(s) !== null || stepShown(s) !== null,
    run: (eke) => eke.setOwn('mock-ups', { plan: null, step: null, reason: '' }),
  },
  { id: 'mock-ups.step', words: 'mock-ups.step', rooms: HERE, run: (eke, said) => eke.setOwn('mock-ups', { step: said === stepShown(eke.state) ? null : said, plan: null }) },
  { id: 'mock-ups.next-step', words: 'mock-ups.next-step', keys: [']'], rooms: HERE, available: (s) => stepsSeen(s).length > 0, run: (eke) => neighbourStep(eke, 1) },
  { id: 'mock-ups.previous-step', words: 'mock-ups.previous-step', keys: ['['], rooms: HERE, available: (s) => stepsSeen(s).length > 0, run: (eke) => neighbourStep(eke, -1) },
  {
    id: 'mock-ups.note', words: 'mock-ups.note', rooms: HERE, available: (s) => s.doc.garment !== null,
    run: async (eke, said) => { await eke.change('mockup.note', { noticed: String(said) }); },
  },
];
