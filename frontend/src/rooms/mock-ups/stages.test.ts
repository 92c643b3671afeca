import { expect, it } from 'vitest';
import type { GarmentView, PieceBetweenView, PieceView, StageView, StepBetweenView } from '../../client/types.gen';
import { addressOf, fateWords, grouped, partedSteps, stageWords, togetherOf } from './stages';

const stage = (id: string, more: Partial<StageView> = {}): StageView => ({ id, sentence: `Made hem ${id} 25 mm longer`, at: '', mock_ups: [], now: false, undone: false, ...more });
const step = (more: Partial<StepBetweenView>): StepBetweenView => ({ id: 's', kind: 'fit.hem', sentence: 'Made hem longer', fate: 'made', at: '', note: '', was: null, why: null, ...more });

it('asks for the usual two where none are chosen', () => {
  expect(addressOf({ garment: 'g', earlier: null, later: null })).toBe('/api/garments/g/compare');
  expect(addressOf({ garment: 'g', earlier: 'a b', later: 'now' })).toBe('/api/garments/g/compare?earlier=a+b&later=now');
});

it('calls stages by their mock-ups, by now, or by their step in the unit of the maker', () => {
  expect(stageWords(stage('a', { mock_ups: [2] }), 'cm')).toBe('Mock-up 2 was cut from this');
  expect(stageWords(stage('a', { mock_ups: [1, 2], now: true }), 'cm')).toBe('Now: mock-ups 1, 2 were cut from this');
  expect(stageWords(stage('a', { now: true }), 'cm')).toBe('Now');
  expect(stageWords(stage('a'), 'cm')).toBe('Made hem a 2.5 cm longer');
  expect(stageWords(stage('a', { undone: true }), 'mm')).toBe('taken back: Made hem a 25 mm longer');
});

it('lists what has a name first, the newest of the rest after it', () => {
  const { named, steps } = grouped([stage('a'), stage('b', { mock_ups: [1] }), stage('c'), stage('d', { now: true }), stage('e', { undone: true })]);
  expect(named.map((one) => one.id)).toEqual(['d', 'b']);
  expect(steps.map((one) => one.id)).toEqual(['e', 'c', 'a']);
});

it('tells what became of a step', () => {
  expect(fateWords(step({}))).toBe('');
  expect(fateWords(step({ fate: 'made off' }))).toBe('made, and switched off');
  expect(fateWords(step({ fate: 'aside', why: 'its edge is gone' }))).toBe('set aside: its edge is gone');
  const { fit, other } = partedSteps([step({}), step({ kind: 'edge.set' }), step({ kind: 'recipe.add' }), step({ kind: 'mockup.note' })]);
  expect([fit.length, other.length]).toEqual([3, 1]);
});

it('arranges the pieces of both stages, without seams of edges that neither shows', () => {
  const piece = (id: string): PieceView => ({ id, name: id, edges: [{ id: `${id}-e` }] }) as unknown as PieceView;
  const between = (id: string, more: Partial<PieceBetweenView>): PieceBetweenView => ({ id, name: id, how: 'same', derived: false, before: null, after: piece(id), shift_mm: [0, 0], apart_mm: 0, where: '', at: null, ...more });
  const seam = (...ids: string[]) => ({ a: [{ edge: `${ids[0]}-e` }], b: [{ edge: `${ids[1]}-e` }] });
  const garment = { seams: [seam('a', 'b'), seam('a', 'new')] } as unknown as GarmentView;
  const together = togetherOf(garment, [between('a', {}), between('b', { how: 'removed', before: piece('b'), after: null }), between('c', { derived: true })]);
  expect(together.pieces.map((one) => one.id)).toEqual(['a', 'b']);
  expect(together.derived.map((one) => one.id)).toEqual(['c']);
  expect(together.seams.length).toBe(1);
});
