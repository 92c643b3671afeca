import { describe, expect, it } from 'vitest';
import type { CutLineView, TaskView } from '../../client/types.gen';
import { answers, json } from '../../core/driver';
import { Eke } from '../../core/eke';
import { inMemory } from '../../core/preferences';
import { byCloth, commonName } from './cutting';
import { byHeading, nextStep, takeUp, tell, tick, ticked, waitingOf } from './ticks';

const task = (id: string, done = false, heading = 'Sewing'): TaskView => ({ id, heading, sentence: id, pieces: [], seams: [], done });

async function opened(answer: Record<string, unknown>, keep = inMemory()) {
  const asked: { what: string; said: unknown }[] = [];
  let away = false;
  const inner = answers({ 'GET /api/workroom': { revision: 1, projects: [], steps: { undo: null, redo: null } }, ...answer }, asked);
  const eke = new Eke({ keep, fetch: (address, how) => (away ? Promise.reject(new TypeError('no answer')) : inner(address, how)) });
  await eke.go('making', { garment: 'g1' });
  asked.length = 0;
  return { eke, asked, keep, leave: () => (away = true), back: () => (away = false) };
}

const GARMENT = { 'GET /api/garments/g1': { id: 'g1', revision: 1, project: 'p1', steps: { undo: null, redo: null } }, 'GET /api/garments/g1/pegs': [] };

describe('ticks', () => {
  it('are told at once when the server answers, and nothing is left waiting', async () => {
    const making = { cutting: [], needs: [], cautions: [], tasks: [task('a', true)], notes: [] };
    const { eke, asked } = await opened({ ...GARMENT, 'PUT /api/garments/g1/ticks/a': making });
    eke.setDoc({ making: { ...making, tasks: [task('a')] } });
    await tick(eke, 'g1', 'a', true);
    expect(asked).toEqual([{ what: 'PUT /api/garments/g1/ticks/a', said: { done: true } }]);
    expect(eke.state.doc.making?.tasks[0]?.done).toBe(true);
    expect(waitingOf(eke.state, 'g1')).toEqual({});
  });

  it('wait while the server is away, over a reload too, and are told in their order when it is back', async () => {
    const told = { cutting: [], needs: [], cautions: [], tasks: [], notes: [] };
    const routes = { ...GARMENT, 'PUT /api/garments/g1/ticks/a': told, 'PUT /api/garments/g1/ticks/b': told };
    const first = await opened(routes);
    first.leave();
    await tick(first.eke, 'g1', 'a', true);
    await tick(first.eke, 'g1', 'b', true);
    await tick(first.eke, 'g1', 'a', false);
    expect(first.eke.state.line).toBe('lost');
    expect(waitingOf(first.eke.state, 'g1')).toEqual({ a: false, b: true });

    const again = await opened(routes, first.keep); // the window was loaded anew
    await takeUp(again.eke, 'g1');
    expect(again.asked).toEqual([
      { what: 'PUT /api/garments/g1/ticks/a', said: { done: false } },
      { what: 'PUT /api/garments/g1/ticks/b', said: { done: true } },
    ]);
    expect(waitingOf(again.eke.state, 'g1')).toEqual({});

    first.back();
    await tell(first.eke, 'g1');
    expect(waitingOf(first.eke.state, 'g1')).toEqual({});
  });

  it('of a step that is gone are let go, with the reason said', async () => {
    const gone = json({ code: 'not-found', sentence: 'This step is not in the order of work any more.', facts: {} }, 404);
    const { eke } = await opened({ ...GARMENT, 'PUT /api/garments/g1/ticks/a': gone });
    await tick(eke, 'g1', 'a', true);
    expect(waitingOf(eke.state, 'g1')).toEqual({});
    expect(eke.state.said).toMatchObject({ tone: 'trouble', sentence: 'This step is not in the order of work any more.' });
  });

  it('that were kept by something else are not taken up', async () => {
    const keep = inMemory();
    keep.set('eke.ticks.g1', '{"a": "yes"');
    const { eke, asked } = await opened(GARMENT, keep);
    await takeUp(eke, 'g1');
    expect(asked).toEqual([]);
  });
});

describe('the order of work', () => {
  it('shows waiting ticks over those of the server, and the first step that is not done', () => {
    const tasks = ticked([task('a', true), task('b'), task('c')], { a: false, b: true });
    expect(tasks.map((one) => one.done)).toEqual([false, true, false]);
    expect(nextStep(tasks)?.id).toBe('a');
    expect(nextStep([task('a', true)])).toBeNull();
  });

  it('stands under its headings in its order', () => {
    const groups = byHeading([task('a', false, 'Cutting'), task('b'), task('c'), task('d', false, 'Cutting')]);
    expect(groups.map((group) => [group.heading, group.tasks.map((one) => one.id)])).toEqual([
      ['Cutting', ['a']], ['Sewing', ['b', 'c']], ['Cutting', ['d']],
    ]);
  });
});

describe('the cutting list', () => {
  const line = (piece: string, name: string, cut: string, cloth: string): CutLineView => ({ id: name + cloth, number: '1', piece, name, cut, cloth, notes: '' });

  it('puts both ways up of a piece on one line of its cloth', () => {
    const list = byCloth([
      line('sleeve', 'sleeve, as drawn', 'cut 1', 'curtain'),
      line('sleeve', 'sleeve, mirrored', 'cut 1, face down', 'curtain'),
      line('sleeve', 'sleeve, mirrored', 'cut 1, face down', 'sheet'),
    ]);
    expect(list.map((cloth) => [cloth.cloth, cloth.rows.map((row) => [row.name, row.cuts])])).toEqual([
      ['curtain', [['sleeve', ['cut 1', 'cut 1, face down']]]],
      ['sheet', [['sleeve, mirrored', ['cut 1, face down']]]],
    ]);
  });

  it('keeps names whole that have nothing in common', () => {
    expect(commonName(['lining, side front, as drawn', 'lining, side front, mirrored'])).toBe('lining, side front');
    expect(commonName(['cuff'])).toBe('cuff');
    expect(commonName(['cuff', 'collar'])).toBe('cuff');
  });
});
