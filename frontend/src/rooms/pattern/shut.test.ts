import { describe, expect, it } from 'vitest';
import type { MarkView } from '../../client/types.gen';
import { box } from '../pieces/testing';
import { mirror } from '../../core/geometry/rigid';
import { beginsAt, endToCountFrom, likelyShut, mayBeShut, openingOf, worksInstead, type Said } from './shut';

const piece = box('skirt', 200, 400);
const line = (points: [number, number][], kind = 'line'): MarkView => ({ id: 'm', kind, name: '', points, held_on: null });
const said: Said = { what: 'dart', mm: 12, folded: true, pressed: 'second', far_mm: null, widest: 0.5 };

describe('a line that was traced shut', () => {
  it('is what it most probably is by the edges that it reaches, a little short of them too', () => {
    expect(likelyShut(piece, line([[100, 397], [100, 250]]))).toBe('dart');
    expect(likelyShut(piece, line([[100, 250], [100, 397]]))).toBe('dart');
    expect(likelyShut(piece, line([[100, 4], [100, 400]]))).toBe('pleat');
    expect(likelyShut(piece, line([[100, 100], [100, 300]]))).toBe('inside');
    expect(beginsAt(piece, line([[100, 250], [100, 397]]))).toBe('skirt-top');
    expect(beginsAt(piece, line([[100, 100], [100, 300]]))).toBeNull();
  });

  it('is a plain line of some length', () => {
    expect(mayBeShut(line([[0, 0], [0, 30]]))).toBe(true);
    expect(mayBeShut(line([[0, 0], [0, 10]]))).toBe(false);
    expect(mayBeShut(line([[0, 0], [0, 30]], 'balance'))).toBe(false);
    expect(mayBeShut(line([[0, 0]]))).toBe(false);
  });

  it('is counted from the end that is the upper or the left one as it lies on the table', () => {
    const upright = line([[100, 100], [110, 300]]), level = line([[150, 20], [50, 25]]);
    expect(endToCountFrom(upright)).toEqual({ side: 'upper', first: false });
    expect(endToCountFrom(level)).toEqual({ side: 'left', first: false });
    expect(endToCountFrom(upright, mirror([0, 0], [1, 0]))).toEqual({ side: 'upper', first: true });
    expect(endToCountFrom(level, mirror([0, 0], [0, 1]))).toEqual({ side: 'left', first: true });
  });

  it('is opened by what was measured, as it was measured', () => {
    expect(openingOf(line([]), said)).toEqual({ kind: 'fit.open_dart', params: { mark: 'm', intake_mm: 12, measured: 'folded', pressed: 'second' } });
    expect(openingOf(line([]), { ...said, what: 'tuck', far_mm: 0, folded: false })).toEqual({
      kind: 'fit.open_pleat', params: { mark: 'm', intake_mm: 12, measured: 'whole', far_mm: 0, how: 'tuck', pressed: 'second' },
    });
    expect(openingOf(line([]), { ...said, what: 'inside' })).toEqual({ kind: 'dart.inside', params: { mark: 'm', intake_mm: 12, measured: 'folded', widest: 0.5 } });
  });

  it('is offered the nearest amount that works, never one that is wider than the most', () => {
    expect(worksInstead({ most_mm: 48.97 }, 200)).toBe(48.9);
    expect(worksInstead({ least_mm: 1 }, 0)).toBe(1);
    expect(worksInstead({ most_mm: 300 }, 200)).toBeNull();
    expect(worksInstead({}, 200)).toBeNull();
  });
});
