import { describe, expect, it } from 'vitest';
import type { FittedEdgeView } from '../../client/types.gen';
import { garment } from '../pieces/testing';
import { addressOf, carried, choicesFor, LEAVE } from './fitted';

const edge = (id: string, kind: string | null): FittedEdgeView => ({
  edge: id, name: id, beyond: true, most_mm: -9, most_at_mm: 100, mean_mm: -4, sewn: true, kind, params: kind === null ? null : {}, left_mm: null, why: '',
});

describe('a traced mock-up piece', () => {
  it('is asked for once both pieces are chosen, with the edges at which the mate moves too', () => {
    const made = garment();
    expect(addressOf(made, { ...LEAVE, traced: 'a' })).toBeNull();
    expect(addressOf(made, { ...LEAVE, piece: 'b' })).toBeNull();
    expect(addressOf(made, { traced: 'a', piece: 'b', edges: {} })).toBe(`/api/garments/${made.id}/pieces/b/fitted/a`);
    const edges = { 'one/edge': 'both', other: 'this', third: null } as const;
    expect(addressOf(made, { traced: 'a', piece: 'b', edges })).toBe(`/api/garments/${made.id}/pieces/b/fitted/a?both=one%2Fedge`);
  });

  it('carries over what is ticked and has a change', () => {
    const fitting = { traced: 'a', piece: 'b', edges: { side: 'both', neck: 'this', fold: 'this', hem: null } } as const;
    expect(carried(fitting, [edge('side', 'fit.take_in'), edge('neck', 'fit.move_freely'), edge('fold', null), edge('hem', 'fit.hem')])).toEqual({ this: ['neck'], both: ['side'] });
  });

  it('is a piece that is sewn to nothing; it was cut from one that is sewn', () => {
    const made = garment();
    const { traced, pieces } = choicesFor(made);
    expect([...traced, ...pieces].map((one) => one.id).sort()).toEqual(made.pieces.map((one) => one.id).sort());
    for (const one of traced) expect(one.edges.every((each) => each.seams.length === 0)).toBe(true);
    for (const one of pieces) expect(one.edges.some((each) => each.seams.length > 0)).toBe(true);
  });
});
