import { describe, expect, it } from 'vitest';
import { answers, json } from './driver';
import { Eke } from './eke';
import { startState, Store } from './store';

const tick = () => new Promise((done) => setTimeout(done, 0));

describe('store', () => {
  it('tells only what has changed', () => {
    const store = new Store(startState());
    const heard: unknown[] = [];
    const stop = store.subscribe((s) => [s.view.unit, s.busy], (v) => heard.push(v));
    store.write((s) => ({ ...s, line: 'up' }));
    store.write((s) => ({ ...s, busy: 1 }));
    stop();
    store.write((s) => ({ ...s, busy: 2 }));
    expect(heard).toEqual([['cm', 0], ['cm', 1]]);
  });
});

describe('what the server sends', () => {
  async function opened() {
    let revision = 1;
    const eke = new Eke({
      fetch: answers({
        'GET /api/workroom': { revision: 5, projects: [], steps: { undo: null, redo: null } },
        'GET /api/garments/g1': () => ({ id: 'g1', revision, project: 'p', steps: { undo: null, redo: null } }),
        'GET /api/garments/g1/pegs': [],
        'GET /api/jobs': [],
        'POST /api/garments/g1/changes': () => json({ code: 'bad-input', sentence: 'That edge is not there.', facts: {} }, 400),
      }),
    });
    await eke.go('pattern', { garment: 'g1' });
    return { eke, set: (r: number) => (revision = r) };
  }

  it('of another window is fetched and said', async () => {
    const { eke, set } = await opened();
    set(2);
    eke.listening().event('revision', { log: 'g1', revision: 2, sentence: 'A notch is set.', about: 'history' });
    await tick();
    expect(eke.state.doc.garment?.revision).toBe(2);
    expect(eke.state.said).toMatchObject({ tone: 'elsewhere', sentence: 'In another window: A notch is set.' });
  });

  it('of this window is passed over', async () => {
    const { eke } = await opened();
    eke.listening().event('revision', { log: 'g1', revision: 1, sentence: 'A notch is set.', about: 'history' });
    await tick();
    expect(eke.state.said).toBeNull();
  });

  it('is missed while the server is lost, and fetched when it is there again', async () => {
    const { eke, set } = await opened();
    eke.listening().lost();
    expect(eke.state.line).toBe('lost');
    set(3);
    eke.listening().event('hello', { version: '1', started: '' });
    await tick();
    expect(eke.state.line).toBe('up');
    expect(eke.state.doc.garment?.revision).toBe(3);
  });

  it('as trouble is said, and nothing is lost', async () => {
    const { eke } = await opened();
    expect(await eke.change('edge.straighten', {})).toBeNull();
    expect(eke.state.said).toMatchObject({ tone: 'trouble', sentence: 'That edge is not there.' });
    expect(eke.state.busy).toBe(0);
  });
});
