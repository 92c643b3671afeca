import { describe, expect, it } from 'vitest';
import type { MarkView } from '../../client/types.gen';
import type { State } from '../../core/store';
import { box, garment, notch } from '../pieces/testing';
import { turn } from '../../core/geometry/rigid';
import { commands, heldSigns, keepsOf, linesOf, waysOfCorner } from './held';
import { numbersOf } from './numbers';

const mark = (id: string, kind: string, ...points: [number, number][]): MarkView => ({ id, kind, name: id, points, held_on: null });
const front = box(
  'front', 100, 300,
  { fold: 'front-left', marks: [mark('waist', 'balance', [0, 150], [100, 150]), mark('dot', 'balance', [5, 5]), mark('bp', 'apex', [50, 200])], notches: [notch('n', 'front-right', [100, 80], 80)] },
  { left: { kind: 'fold' } },
);
const found = (index: number) => ({ piece: front, edge: front.edges[index]!, index });

describe('what is held', () => {
  it('keeps a corner on the fold where it is', () => {
    expect([keepsOf(found(0)), keepsOf(found(1)), keepsOf(found(2))]).toEqual([['start'], ['start', 'end', 'middle'], ['end']]);
    expect(keepsOf(found(3))).toEqual(['start', 'end', 'middle']);
  });

  it('brings a corner to a line along either edge or the grain, and along the fold only there', () => {
    expect(waysOfCorner(found(2)).map((way) => way.params)).toEqual([
      { edge: 'front-right', end: 'end', along: 'edge' },
      { edge: 'front-top', end: 'start', along: 'edge' },
      { edge: 'front-top', end: 'start', along: 'grain' },
    ]);
    expect(waysOfCorner(found(3)).map((way) => way.params)).toEqual([{ edge: 'front-left', end: 'start', along: 'grain' }]);
    expect(waysOfCorner(found(0)).map((way) => way.params)).toEqual([{ edge: 'front-bottom', end: 'start', along: 'grain' }]);
  });

  it('counts as a balance line only what has two ends', () => {
    expect(linesOf(front).map((one) => one.id)).toEqual(['waist']);
  });

  it('is told among the numbers of its edge', () => {
    const long = box('long', 100, 300, {}, { right: { held_mm: 310 } });
    const state = { doc: { garment: garment({ pieces: [long], seams: [] }) }, view: { place: 'pattern', unit: 'cm', selection: { edge: ['long-right'] }, own: {} } } as unknown as State;
    const told = Object.fromEntries(numbersOf(state).map((item) => [item.label, item.value]));
    expect([told['Length'], told['Held at']]).toEqual(['30 cm', '31 cm']);
  });

  it('has a sign at its place on the table, along its edge, with what is held in words', () => {
    const piece = box('long', 100, 300, { notches: [{ ...notch('n', 'long-right', [100, 80], 80), held_on: 'the waist line' }] }, { right: { held_mm: 310 }, top: { start_held_on: 'the hip line' } });
    const signs = heldSigns(piece, turn(90), 'cm');
    expect(signs.map((one) => [one.kind, one.id, one.words])).toEqual([
      ['edge', 'long-right', 'Held at 31 cm'],
      ['corner', 'long-top', 'Held on the hip line'],
      ['notch', 'n', 'Held on the waist line'],
    ]);
    // turned a quarter to the left, the right edge lies above, walked to the left
    expect(signs[0]!.at[0]).toBeCloseTo(-150, 6);
    expect(signs[0]!.at[1]).toBeCloseTo(100, 6);
    expect(Math.abs(signs[0]!.turn_deg)).toBeCloseTo(180, 6);
    expect(heldSigns(front, turn(0), 'cm')).toEqual([]);
  });

  it('is asked for by one key, of an edge its length, of a point its line', () => {
    const meant = (selection: Record<string, string[]>) => {
      const state = { doc: { garment: garment({ pieces: [front] }) }, view: { place: 'pattern', selection, own: {} } } as unknown as State;
      return commands.filter((one) => one.keys?.includes('l') && one.available?.(state)).map((one) => one.id);
    };
    const points: Record<string, string[]>[] = [{ corner: ['front-top'] }, { notch: ['n'] }, { mark: ['bp'] }];
    const others: Record<string, string[]>[] = [{}, { mark: ['waist'] }, { piece: ['front'] }, { edge: ['front-right', 'front-top'] }];
    expect(meant({ edge: ['front-right'] })).toEqual(['pattern.length']);
    for (const point of points) expect(meant(point)).toEqual(['pattern.on-line']);
    for (const other of others) expect(meant(other)).toEqual([]);
  });
});
