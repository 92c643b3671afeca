import { describe, expect, it } from 'vitest';
import { address } from '../../core/api';
import { startState, type State } from '../../core/store';
import { fitChanges, questions } from './asking';
import { columnOf, layOut } from './laying-out';

function state(own: Record<string, unknown> = {}, more: Partial<State['view']> = {}): State {
  const start = startState();
  const line = (id: string, kind: string, extra = {}) => ({ id, kind, sentence: id, at: '', note: '', on: true, undone: false, set_aside: null, params: {}, picture: null, ...extra });
  return {
    ...start,
    doc: {
      ...start.doc,
      garment: { id: 'g1', project: 'p1', pieces: [{ id: 'front' }, { id: 'back' }], derived: [{ id: 'facing' }] } as never,
      history: { revision: 1, steps: { undo: null, redo: null }, lines: [line('a', 'fit.take_in'), line('b', 'edge.straighten'), line('c', 'fit.lengthen'), line('d', 'fit.add_dart', { undone: true }), line('e', 'fit.add_dart', { on: false })] } as never,
    },
    view: { ...start.view, place: 'paper', garment: 'g1', own: { paper: own }, ...more },
  };
}

const asked = (s: State) => {
  const [q] = questions(s);
  return q ? address(q.path, q.query) : null;
};

describe('what is asked for', () => {
  it('is the whole pattern in the unit of the maker', () => {
    expect(asked(state())).toBe('/api/garments/g1/paper/pattern?paper=a4&unit=cm');
    expect(asked(state({ paper: 'letter' }, { unit: 'in' }))).toBe('/api/garments/g1/paper/pattern?paper=letter&unit=inch');
  });

  it('is some pieces, without those that are gone, or nothing when none is ticked', () => {
    expect(asked(state({ pieces: ['back', 'facing', 'gone'] }))).toBe('/api/garments/g1/paper/pattern?paper=a4&unit=cm&pieces=back&pieces=facing');
    expect(asked(state({ pieces: [] }))).toBeNull();
    expect(asked(state({ pieces: ['gone'] }))).toBeNull();
  });

  it('belongs to the project where the money and the story are', () => {
    expect(asked(state({ what: 'ledger' }))).toBe('/api/projects/p1/paper/ledger?paper=a4');
    expect(asked(state({ what: 'journal' }, { garment: null, project: 'p2' }))).toBe('/api/projects/p2/paper/journal?paper=a4');
  });

  it('is the last fit change that holds, unless another is chosen', () => {
    expect(fitChanges(state()).map((one) => one.id)).toEqual(['c', 'a']);
    expect(questions(state({ what: 'ruler' })).map((q) => q.path)).toEqual(['/api/garments/g1/paper/ruler/c', '/api/garments/g1/paper/ruler/a']);
    expect(questions(state({ what: 'ruler', change: 'a' }))).toHaveLength(1);
    expect(asked(state({ what: 'ruler', change: 'a' }))).toBe('/api/garments/g1/paper/ruler/a?paper=a4&unit=cm');
  });

  it('names the layer of a lay plan and the number of a sheet', () => {
    expect(asked(state({ what: 'lay', role: 'lining' }))).toBe('/api/garments/g1/paper/lay?paper=a4&unit=cm&roles=lining');
    expect(asked(state({ what: 'sheet', number: 3 }))).toBe('/api/garments/g1/paper/sheet?paper=a4&number=3');
  });

  it('is a reference sheet on A4 or Letter, whatever the pages before were printed on', () => {
    const on = (paper: string) => asked(state({ what: 'sheet', paper }));
    expect(['a4', 'letter', 'a3', 'tabloid'].map(on)).toEqual(['a4', 'letter', 'a4', 'letter'].map((paper) => `/api/garments/g1/paper/sheet?paper=${paper}&number=0`));
    expect(asked(state({ what: 'order', paper: 'tabloid' }))).toBe('/api/garments/g1/paper/order?paper=tabloid');
  });
});

describe('pages on the table', () => {
  it('lie in their places when they are joined, what to do first before them', () => {
    const laid = layOut(['Vest: start here', 'A1', 'C1', 'B3'].map((title) => ({ title })));
    expect(laid.before.map((one) => one.index)).toEqual([0]);
    expect(laid.columns).toBe(3);
    expect(laid.pages.map(({ column, row }) => [column, row])).toEqual([[1, 1], [3, 1], [2, 3]]);
  });

  it('lie in a row when they are not', () => {
    const laid = layOut([{ title: 'Cutting list, 1 of 2' }, { title: 'Cutting list, 2 of 2' }]);
    expect(laid.columns).toBeNull();
    expect(laid.pages).toHaveLength(2);
  });

  it('have columns after Z', () => {
    expect(['A', 'Z', 'AA', 'AB', 'BA'].map(columnOf)).toEqual([1, 26, 27, 28, 53]);
  });
});
