import { describe, expect, it } from 'vitest';
import type { ComparedView, GarmentView } from '../../client/types.gen';
import { combining, othersFor, takenAt, twiceOf, type Twice } from './twice';

const piece = (id: string, seams: string[] = []) => ({ id, name: `piece ${id}`, edges: [{ id: `${id}-1`, seams }, { id: `${id}-2`, seams: [] }] });
const garment = { pieces: [piece('a'), piece('b', ['s1']), piece('c'), piece('d')] } as unknown as GarmentView;
const compared = { first: 'a', second: 'd', turned_over: true, greatest_mm: 3.2489, edges: [] } as ComparedView;
const twice: Twice = { first: 'a', second: 'd', edges: { 'a-1': 'second' } };

describe('two tracings of one piece', () => {
  it('offers the like ones first, and none that is sewn', () => {
    expect(othersFor(garment, 'a', [{ first: 'd', second: 'a' }]).map((one) => one.id)).toEqual(['d', 'c']);
    expect(othersFor(garment, 'a', []).map((one) => one.id)).toEqual(['c', 'd']);
    expect(othersFor({ pieces: [piece('a')] } as unknown as GarmentView, 'a', [])).toEqual([]);
  });

  it('takes the mean where nothing is said', () => {
    expect([takenAt(twice, 'a-1'), takenAt(twice, 'a-2')]).toEqual(['second', 'mean']);
    expect(combining(twice, compared)).toEqual({
      kind: 'trace.combine', params: { piece: 'a', other: 'd', take: 'mean', edges: { 'a-1': 'second' }, turned_over: true, apart_mm: 3.2 },
    });
  });

  it('is nothing once one of the two is gone', () => {
    const state = (second: string) => ({ doc: { garment }, view: { own: { pattern: { twice: { ...twice, second } } } } }) as unknown as Parameters<typeof twiceOf>[0];
    expect(twiceOf(state('d'))).toEqual({ ...twice, second: 'd' });
    expect(twiceOf(state('gone'))).toBeNull();
  });
});
