/** What can be done in this room, as commands: buttons, keys and the help page come from this table. */

import type { FindingView, GarmentView, ProposalView, RunPartView } from '../../client/types.gen';
import type { Command } from '../../core/commands/command';
import { isTrouble } from '../../core/api';
import type { Eke } from '../../core/eke';
import type { Point } from '../../core/geometry-types';
import { t } from '../../core/language';
import { chosen, type State } from '../../core/store';
import { asideOf } from '../pieces/layout';
import { dartOf, edgeWords, isDerived, lookup, matesOf, neighbour, type FoundEdge } from '../pieces/lookup';
import { NOTHING_SEWN, saidSeam, sewingOf, type Sewing } from './sewing';

const HERE = ['pattern'] as const;

// ---- what is chosen -----------------------------------------------------------------------------------------

/** Edges that are chosen, of the maker's own pieces. */
export function edgesChosen(state: State): FoundEdge[] {
  const garment = state.doc.garment;
  if (!garment) return [];
  const { edges } = lookup(garment);
  return chosen(state, 'edge').flatMap((id) => edges.get(id) ?? []).filter((found) => !isDerived(found.piece));
}

function oneEdge(state: State): FoundEdge | null {
  const found = edgesChosen(state);
  return found.length === 1 ? (found[0] ?? null) : null;
}

export function cornerChosen(state: State): FoundEdge | null {
  const id = chosen(state, 'corner')[0];
  const found = id === undefined || !state.doc.garment ? undefined : lookup(state.doc.garment).edges.get(id);
  return found && !isDerived(found.piece) ? found : null;
}

/** Two neighbours, the first ending where the second starts; null: they are none. */
export function neighboursChosen(state: State): [FoundEdge, FoundEdge] | null {
  const corner = cornerChosen(state);
  if (corner && state.doc.garment) {
    const before = neighbour(corner.piece, corner.index, -1);
    const first = before ? lookup(state.doc.garment).edges.get(before.id) : undefined;
    return first && first.edge.id !== corner.edge.id ? [first, corner] : null;
  }
  const [p, q, more] = edgesChosen(state);
  if (!p || !q || more || p.piece.id !== q.piece.id) return null;
  if (neighbour(p.piece, p.index, 1)?.id === q.edge.id) return [p, q];
  return neighbour(q.piece, q.index, 1)?.id === p.edge.id ? [q, p] : null;
}

/** The one seam that is meant: chosen itself, or through its edge. */
export function seamChosen(state: State): string | null {
  const own = chosen(state, 'seam')[0];
  if (own !== undefined) return own;
  const edge = chosen(state, 'edge')[0] ?? chosen(state, 'corner')[0];
  if (edge === undefined || !state.doc.garment) return null;
  return matesOf(state.doc.garment, edge)[0]?.seam.id ?? null;
}

export function seamWalked(state: State): string | null {
  const seam = state.view.own['pattern']?.['walk'];
  return typeof seam === 'string' && state.doc.garment?.seams.some((one) => one.id === seam) ? seam : null;
}

// ---- edges --------------------------------------------------------------------------------------------------

async function eachEdge(eke: Eke, kind: string, params: Record<string, unknown> = {}): Promise<void> {
  for (const { edge } of edgesChosen(eke.state)) {
    if ((await eke.change(kind, { edge: edge.id, ...params })) === null) return;
  }
}

/** No fair curve lies so near: how near the best one comes, so that the maker can allow that much. */
async function fairNeeds(eke: Eke, params: { edge: string }): Promise<{ edge: string; mm: number } | null> {
  const { garment } = eke.state.doc;
  if (!garment) return null;
  try {
    await eke.api.post(`/api/garments/${garment.id}/preview`, { kind: 'true.fair', params, note: '', expected: garment.revision });
    return null;
  } catch (trouble) {
    const mm = isTrouble(trouble) ? trouble.facts['deviation_mm'] : null;
    return typeof mm === 'number' ? { edge: params.edge, mm: Math.ceil(mm * 10) / 10 } : null;
  }
}

const anyEdge = (s: State) => edgesChosen(s).length > 0;

const kindOf = (kind: FoundEdge['edge']['kind'], key: string): Command => ({
  id: `pattern.is-${kind}`, words: `pattern.is.${kind}`, keys: [key], rooms: HERE,
  available: (s) => edgesChosen(s).some(({ edge }) => edge.kind !== kind),
  run: (eke) => eachEdge(eke, 'edge.set', { kind }),
});

const EDGES: readonly Command[] = [
  {
    id: 'pattern.straighten', words: 'pattern.straighten', keys: ['shift+s'], rooms: HERE,
    available: (s) => edgesChosen(s).some(({ edge }) => edge.shape !== 'straight'),
    run: (eke) => eachEdge(eke, 'true.straighten'),
  },
  {
    id: 'pattern.fair', words: 'pattern.fair', keys: ['shift+c'], rooms: HERE, available: anyEdge,
    run: async (eke, said) => {
      const found = oneEdge(eke.state);
      if (!found) return eachEdge(eke, 'true.fair');
      const params = { edge: found.edge.id, ...(typeof said === 'number' ? { deviation_mm: said } : {}) };
      const done = await eke.change('true.fair', params);
      eke.setOwn('pattern', { fairNeeds: done ? null : await fairNeeds(eke, params) });
    },
  },
  kindOf('seam', '1'), kindOf('hem', '2'), kindOf('fold', '3'), kindOf('opening', '4'),
  {
    id: 'pattern.merge', words: 'pattern.merge', keys: ['m'], rooms: HERE,
    available: (s) => neighboursChosen(s) !== null,
    run: async (eke) => {
      const pair = neighboursChosen(eke.state);
      if (pair) await eke.change('edge.merge', { first: pair[0].edge.id, second: pair[1].edge.id });
    },
  },
  {
    id: 'pattern.dart', words: 'pattern.dart', keys: ['d'], rooms: HERE,
    available: (s) => {
      const pair = neighboursChosen(s);
      return pair !== null && (pair[1].edge.start_angle_deg ?? 0) > 180 && dartOf(pair[0]) === null && dartOf(pair[1]) === null;
    },
    run: async (eke) => {
      const pair = neighboursChosen(eke.state);
      if (pair) await eke.change('dart.say', { first_leg: pair[0].edge.id, second_leg: pair[1].edge.id });
    },
  },
  {
    id: 'pattern.grain-along', words: 'pattern.grain.along', rooms: HERE, available: (s) => oneEdge(s) !== null,
    run: async (eke) => {
      const found = oneEdge(eke.state);
      if (found) await eke.change('grain.set', { piece: found.piece.id, edge: found.edge.id });
    },
  },
  {
    id: 'pattern.square', words: 'pattern.square', rooms: HERE, available: (s) => oneEdge(s) !== null,
    run: async (eke, said) => {
      const found = oneEdge(eke.state);
      if (found) await eke.change('true.square', { edge: found.edge.id, end: said === 'end' ? 'end' : 'start' });
    },
  },
];

// ---- seams --------------------------------------------------------------------------------------------------

function setSewing(eke: Eke, sewing: Sewing): void {
  eke.setOwn('pattern', { sewing });
}

/** A seam whose edges are all called the same is called so too. */
function commonName(state: State, a: readonly RunPartView[], b: readonly RunPartView[]): string {
  const garment = state.doc.garment;
  if (!garment) return '';
  const names = new Set([...a, ...b].map((part) => lookup(garment).edges.get(part.edge)?.edge.name ?? ''));
  const [name] = names;
  return names.size === 1 && name && !garment.seams.some((seam) => seam.name === name) ? name : '';
}

/** Keys of proposals that the maker said no to: kept with the garment, so that they are not asked again. */
export function refused(garment: GarmentView): readonly string[] {
  const said: unknown = garment.facts?.['not_sewn_together'];
  return Array.isArray(said) ? said.map(String) : [];
}

export function proposalKey(proposal: Pick<ProposalView, 'a' | 'b'>): string {
  const run = (parts: readonly RunPartView[]) => parts.map((part) => part.edge).sort().join('+');
  return [run(proposal.a), run(proposal.b)].sort().join('~');
}

const SEAMS: readonly Command[] = [
  {
    id: 'pattern.sewing', words: 'pattern.sewing', rooms: HERE, available: () => true,
    run: (eke, said) => setSewing(eke, said as Sewing),
  },
  {
    id: 'pattern.sew-from', words: 'pattern.sew.from', rooms: HERE, available: anyEdge,
    run: (eke) => {
      const a = edgesChosen(eke.state).map(({ piece, edge }) => ({ piece: piece.id, edge: edge.id, reverse: false }));
      setSewing(eke, { a, b: [], side: 'b' });
      eke.select({});
      eke.take('pattern.sew');
    },
  },
  {
    id: 'pattern.sew-these', words: 'pattern.sew.these', rooms: HERE,
    available: (s) => sewingOf(s).a.length > 0 && sewingOf(s).b.length > 0,
    run: async (eke, said) => {
      const { garment } = eke.state.doc, sewing = sewingOf(eke.state);
      if (!garment) return;
      const words = (run: readonly RunPartView[]) => run.flatMap((part) => lookup(garment).edges.get(part.edge) ?? []).map(edgeWords).join(', ');
      const called = t('pattern.seam.between', { a: words(sewing.a), b: words(sewing.b) });
      const name = typeof said === 'string' && said !== '' ? said : commonName(eke.state, sewing.a, sewing.b);
      const done = await eke.change('seam.say', { ...saidSeam(sewing, name), ...(name === '' ? { called } : {}) });
      if (done === null) return;
      setSewing(eke, NOTHING_SEWN);
      eke.take(null);
      eke.select({ seam: [done.id] });
    },
  },
  {
    id: 'pattern.sew-twin', words: 'pattern.sew.twin', rooms: HERE, available: (s) => oneEdge(s) !== null,
    run: async (eke) => {
      const found = oneEdge(eke.state);
      if (!found) return;
      const run = [{ edge: found.edge.id, reverse: false }];
      await eke.change('seam.say', { a: run, b: run, b_mirrored: true });
    },
  },
  {
    id: 'pattern.yes', words: 'pattern.proposal.yes', rooms: HERE,
    run: async (eke, said) => {
      const { a, b, ease_mm, b_mirrored, words_a, words_b } = said as ProposalView;
      const name = commonName(eke.state, a, b);
      const run = (parts: readonly RunPartView[]) => parts.map((part) => ({ edge: part.edge, reverse: part.reverse ?? false }));
      await eke.change('seam.say', { a: run(a), b: run(b), ease_mm, b_mirrored, ...(name ? { name } : { called: t('pattern.seam.between', { a: words_a, b: words_b }) }) });
    },
  },
  {
    id: 'pattern.not-these', words: 'pattern.proposal.no', rooms: HERE,
    run: async (eke, said) => {
      const garment = eke.state.doc.garment;
      if (!garment) return;
      const value = [...new Set([...refused(garment), proposalKey(said as ProposalView)])];
      await eke.change('fact.set', { name: 'not_sewn_together', value });
    },
  },
  {
    id: 'pattern.walk', words: 'pattern.walk', keys: ['w'], rooms: HERE,
    available: (s) => seamChosen(s) !== null || seamWalked(s) !== null,
    run: (eke, said) => {
      const wanted = typeof said === 'string' ? said : seamChosen(eke.state);
      const walk = wanted === seamWalked(eke.state) ? null : wanted;
      eke.setOwn('pattern', { walk, look: Date.now() });
      if (walk !== null) eke.select({ seam: [walk] });
    },
  },
  {
    id: 'pattern.match-all', words: 'pattern.match-all', rooms: HERE,
    available: (s) => (s.doc.garment?.seams.length ?? 0) > 0,
    run: async (eke) => { await eke.change('true.match_all', {}); },
  },
];

// ---- going round by keyboard ---------------------------------------------------------------------------------

function stepped<T>(list: readonly T[], at: number, by: number): T | undefined {
  return list.length === 0 ? undefined : list[(at + by + list.length + (at < 0 && by < 0 ? 1 : 0)) % list.length];
}

function nextPiece(eke: Eke, by: 1 | -1): void {
  eke.setOwn('pattern', { finding: null });
  const { garment } = eke.state.doc;
  if (!garment) return;
  const all = [...garment.pieces, ...garment.derived];
  const here = pieceChosen(eke.state);
  const piece = stepped(all, all.findIndex((one) => one.id === here), by);
  if (piece) eke.select({ piece: [piece.id] });
}

/** The piece that is chosen, itself or through one of its parts. */
export function pieceChosen(state: State): string | null {
  const garment = state.doc.garment;
  if (!garment) return null;
  const things = lookup(garment);
  const own = chosen(state, 'piece')[0];
  if (own !== undefined) return own;
  const edge = chosen(state, 'edge')[0] ?? chosen(state, 'corner')[0];
  if (edge !== undefined) return things.edges.get(edge)?.piece.id ?? null;
  const notch = chosen(state, 'notch')[0];
  if (notch !== undefined) return things.notches.get(notch)?.piece.id ?? null;
  const mark = chosen(state, 'mark')[0];
  return mark === undefined ? null : (things.marks.get(mark)?.piece.id ?? null);
}

function nextPart(eke: Eke, kind: 'edge' | 'corner' | 'notch' | 'mark', by: 1 | -1): void {
  eke.setOwn('pattern', { finding: null });
  const { garment } = eke.state.doc;
  if (!garment) return;
  const piece = lookup(garment).pieces.get(pieceChosen(eke.state) ?? '') ?? garment.pieces[0];
  if (!piece) return;
  const parts = kind === 'notch' ? piece.notches : kind === 'mark' ? piece.marks : piece.edges;
  const ids = parts.map((part) => part.id);
  const here = chosen(eke.state, kind)[0] ?? (kind === 'edge' ? chosen(eke.state, 'corner')[0] : undefined);
  const id = stepped(ids, ids.indexOf(here ?? ''), by);
  if (id !== undefined) eke.select({ [kind]: [id] });
}

/** Going round by keyboard, also where the fit is changed. */
const BOTH = ['pattern', 'mock-ups'] as const;
const ROUND: readonly Command[] = [
  { id: 'pattern.next-piece', words: 'pattern.next.piece', keys: ['p'], rooms: BOTH, run: (eke) => nextPiece(eke, 1) },
  { id: 'pattern.previous-piece', words: 'pattern.previous.piece', keys: ['shift+p'], rooms: BOTH, run: (eke) => nextPiece(eke, -1) },
  { id: 'pattern.next-edge', words: 'pattern.next.edge', keys: ['e'], rooms: BOTH, run: (eke) => nextPart(eke, 'edge', 1) },
  { id: 'pattern.previous-edge', words: 'pattern.previous.edge', keys: ['shift+e'], rooms: BOTH, run: (eke) => nextPart(eke, 'edge', -1) },
  { id: 'pattern.next-corner', words: 'pattern.next.corner', keys: ['c'], rooms: HERE, run: (eke) => nextPart(eke, 'corner', 1) },
  { id: 'pattern.next-notch', words: 'pattern.next.notch', keys: ['shift+o'], rooms: HERE, run: (eke) => nextPart(eke, 'notch', 1) },
  { id: 'pattern.next-mark', words: 'pattern.next.mark', keys: ['shift+m'], rooms: HERE, run: (eke) => nextPart(eke, 'mark', 1) },
  { id: 'pattern.next-finding', words: 'pattern.next.finding', keys: ['f'], rooms: HERE, available: (s) => (s.doc.garment?.findings.length ?? 0) > 0, run: (eke) => nextFinding(eke, 1) },
  { id: 'pattern.previous-finding', words: 'pattern.previous.finding', keys: ['shift+f'], rooms: HERE, available: (s) => (s.doc.garment?.findings.length ?? 0) > 0, run: (eke) => nextFinding(eke, -1) },
];

// ---- findings ------------------------------------------------------------------------------------------------

export function findingKey(finding: Pick<FindingView, 'code' | 'where'>): string {
  return `${finding.code}:${finding.where.join(',')}`;
}

export function findingShown(state: State): string | null {
  const key = state.view.own['pattern']?.['finding'];
  return typeof key === 'string' && state.doc.garment?.findings.some((one) => findingKey(one) === key) ? key : null;
}

function nextFinding(eke: Eke, by: 1 | -1): void {
  const findings = eke.state.doc.garment?.findings ?? [];
  const at = findings.findIndex((one) => findingKey(one) === findingShown(eke.state));
  const next = stepped(findings, at, by);
  if (next) showFinding(eke, next);
}

/** Go to a finding: it is opened in the list, its thing is chosen and shown. */
export function showFinding(eke: Eke, finding: FindingView): void {
  const garment = eke.state.doc.garment;
  eke.setOwn('pattern', { finding: findingKey(finding), look: Date.now() });
  if (!garment) return;
  const things = lookup(garment);
  const id = finding.where;
  const notches = id.filter((one) => things.notches.has(one));
  const edges = id.filter((one) => things.edges.has(one));
  const seams = id.filter((one) => things.seams.has(one));
  if (notches.length > 0) eke.select({ notch: notches });
  else if (edges.length > 0) eke.select({ edge: edges });
  else if (seams.length > 0) eke.select({ seam: seams });
  else if (finding.piece) eke.select({ piece: [finding.piece] });
}

const OTHERS: readonly Command[] = [
  {
    id: 'pattern.show-finding', words: 'pattern.finding.show', rooms: HERE,
    run: (eke, said) => {
      const found = eke.state.doc.garment?.findings.find((one) => findingKey(one) === said);
      if (found) showFinding(eke, found);
      else eke.setOwn('pattern', { finding: null });
    },
  },
  {
    id: 'pattern.settle', words: 'pattern.finding.meant', rooms: HERE,
    run: async (eke, said) => {
      const { code, where } = said as FindingView;
      await eke.change('finding.settle', { code, where });
    },
  },
  {
    id: 'pattern.push-aside', words: 'pattern.push-aside', rooms: HERE,
    run: (eke, said) => {
      const { piece, by } = said as { piece: string; by: Point };
      eke.setOwn('pattern', { aside: { ...asideOf(eke.state), [piece]: by }, asideIn: eke.state.view.garment });
    },
  },
  {
    id: 'pattern.tidy', words: 'pattern.tidy', keys: ['t'], rooms: HERE,
    available: (s) => Object.keys(asideOf(s)).length > 0,
    run: (eke) => eke.setOwn('pattern', { aside: {}, asideIn: eke.state.view.garment }),
  },
  {
    id: 'pattern.drop', words: 'pattern.drop', keys: ['delete', 'backspace'], rooms: HERE,
    available: (s) => dropOf(s) !== null,
    run: async (eke) => {
      const drop = dropOf(eke.state);
      if (!drop) return;
      if ((await eke.change(drop.kind, drop.params)) !== null) eke.select({});
    },
  },
];

/** What "Take it out" means for the thing that is chosen. */
export function dropOf(state: State): { kind: string; params: Record<string, unknown> } | null {
  const garment = state.doc.garment;
  if (!garment) return null;
  const things = lookup(garment);
  const notch = things.notches.get(chosen(state, 'notch')[0] ?? '');
  if (notch) return isDerived(notch.piece) ? null : { kind: 'notch.drop', params: { notch: notch.notch.id } };
  const mark = things.marks.get(chosen(state, 'mark')[0] ?? '');
  if (mark) return isDerived(mark.piece) ? null : { kind: 'mark.drop', params: { mark: mark.mark.id } };
  const seam = chosen(state, 'seam')[0];
  if (seam !== undefined) return { kind: 'seam.drop', params: { seam } };
  const piece = things.pieces.get(chosen(state, 'piece')[0] ?? '');
  if (!piece) return null;
  return piece.recipe ? { kind: 'recipe.drop', params: { recipe_id: piece.recipe } } : { kind: 'piece.drop', params: { piece: piece.id } };
}

export const commands: readonly Command[] = [...EDGES, ...SEAMS, ...ROUND, ...OTHERS];

/** A sentence for an edge that is not the maker's to change. */
export function followsSentence(name: string): string {
  return t('pattern.derived.follows', { name });
}
