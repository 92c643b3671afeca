import { describe, expect, it } from 'vitest';
import type { PhotographView } from '../../client/types.gen';
import { namesOf, toJoin } from './joining';

/** Only what these functions look at. */
const photograph = (more: Partial<PhotographView>) => ({ parts: [], cloth: false, ...more }) as unknown as PhotographView;

describe('Photographs that may be joined', () => {
  const left = photograph({ id: 'a', name: 'left.jpg' }), right = photograph({ id: 'b', name: 'right.jpg' });
  const both = photograph({ id: 'c', name: 'left + right', parts: ['a', 'b'] });

  it('are those that a camera took, of one kind', () => {
    const wool = photograph({ id: 'd', name: 'wool.jpg', cloth: true });
    expect(toJoin([left, both, wool, right]).map((one) => one.id)).toEqual(['a', 'b']);
    expect(toJoin([both])).toEqual([]);
    expect(toJoin([])).toEqual([]);
  });

  it('are named in the one that joins them, as far as they lie on the table', () => {
    expect(namesOf([left, right, both], both.parts)).toBe('left and right');
    expect(namesOf([right, both], both.parts)).toBe('right');
    expect(namesOf([both], both.parts)).toBe('');
  });
});
