import { describe, expect, it } from 'vitest';
import type { HalvesView } from '../../client/types.gen';
import { mirror, turn } from '../../core/geometry/rigid';
import type { State } from '../../core/store';
import { box, garment } from '../pieces/testing';
import { commands, halvesOf, halvesPath, making, sideWords, type Halves } from './halves';
import { laidOf } from './laid';

const STILL = turn(0);
const UP = { start: [50, 0] as [number, number], end: [50, 100] as [number, number] };
const view = { piece: 'pocket', edge: null, middle: { ...UP, by: 'grain', rms_mm: 1, sides: ['left', 'right'] }, middles: [], greatest_mm: 3.21, edges: [], why: null } as HalvesView;
const halves: Halves = { piece: 'pocket', edge: null, by: null, take: 'mean' };

function state(selection: Record<string, string[]>, own: object = {}): State {
  const front = box('front', 100, 300, { fold: 'front-left' }, { left: { kind: 'fold' } });
  return { doc: { garment: garment({ pieces: [front, box('pocket', 100, 120)] }) }, view: { place: 'pattern', selection, own: { pattern: own } } } as unknown as State;
}
const can = (selection: Record<string, string[]>) => commands[0]?.available?.(state(selection));

describe('both halves of a piece', () => {
  it('are asked for of a piece that is drawn whole, or of one edge of it', () => {
    expect([can({ piece: ['pocket'] }), can({ edge: ['pocket-top'] })]).toEqual([true, true]);
    expect([can({}), can({ piece: ['front'] }), can({ edge: ['front-right'] }), can({ edge: ['pocket-top', 'pocket-left'] }), can({ notch: ['n'] })]).toEqual([false, false, false, false, false]);
  });

  it('are asked of the server over the line that is chosen', () => {
    expect(halvesPath('g1', halves)).toBe('/api/garments/g1/pieces/pocket/halves');
    expect(halvesPath('g1', { ...halves, edge: 'pocket-top', by: 'edge' })).toBe('/api/garments/g1/pieces/pocket/halves?edge=pocket-top&middle=edge');
  });

  it('are called as they lie on the table, turned or turned over', () => {
    const over = mirror([0, 0], [0, 1]);
    expect([sideWords(UP, 'left', STILL), sideWords(UP, 'right', STILL)]).toEqual(['left', 'right']);
    expect([sideWords(UP, 'left', over), sideWords(UP, 'right', over)]).toEqual(['right', 'left']);
    expect([sideWords(UP, 'left', turn(90)), sideWords(UP, 'right', turn(90))]).toEqual(['lower', 'upper']);
  });

  it('are made the same over the line that is drawn, whichever line would be proposed later', () => {
    expect(making(halves, view, STILL)).toEqual({ kind: 'true.halves', params: { piece: 'pocket', take: 'mean', middle: 'grain' } });
    expect(making({ ...halves, edge: 'pocket-top', take: 'right' }, view, STILL)).toEqual({ kind: 'true.halves', params: { edge: 'pocket-top', take: 'right', middle: 'grain', kept: 'right' } });
  });

  it('are nothing once the piece or the edge is gone', () => {
    expect(halvesOf(state({}, { halves }))).toEqual(halves);
    expect(halvesOf(state({}, { halves: { ...halves, piece: 'gone' } }))).toBeNull();
    expect(halvesOf(state({}, { halves: { ...halves, edge: 'front-left' } }))).toBeNull();
    expect(halvesOf(state({}))).toBeNull();
  });

  it('are drawn before another tracing is', () => {
    expect(laidOf(null, view)).toEqual({ piece: 'pocket', edges: [], middle: view.middle });
    expect(laidOf({ first: 'a', second: 'b', turned_over: false, greatest_mm: 1, edges: [] }, null)).toEqual({ piece: 'a', edges: [], middle: null });
    expect(laidOf(null, null)).toBeNull();
  });
});
