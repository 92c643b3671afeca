import { describe, expect, it } from 'vitest';
import { answers, json } from './driver';
import { Eke } from './eke';

const WORKROOM = { revision: 5, projects: [], steps: { undo: null, redo: null } };

function opened(jobs: () => unknown) {
  let away = false;
  const inner = answers({ 'GET /api/workroom': WORKROOM, 'GET /api/jobs': jobs }, []);
  const eke = new Eke({ fetch: (address, how) => (away ? Promise.reject(new TypeError('no answer')) : inner(address, how)) });
  return { eke, leave: () => (away = true), back: () => (away = false) };
}
const settle = () => new Promise((done) => setTimeout(done, 5));

describe('a lost server', () => {
  it('is said, and being there again too', async () => {
    const { eke, leave, back } = opened(() => []);
    const listening = eke.listening();
    listening.event('hello', { version: '1', started: '' });
    expect(eke.state.line).toBe('up');
    leave();
    listening.lost();
    await settle();
    expect(eke.state.line).toBe('lost');
    back();
    listening.up();
    listening.event('hello', { version: '1', started: '' });
    await settle();
    expect(eke.state.line).toBe('up');
    expect(eke.state.said?.sentence).toBe('Eke is there again. Nothing was lost.');
  });

  it('that was started anew asks this window for its key', async () => {
    const { eke } = opened(() => json({ code: 'refused', sentence: 'no', facts: {} }, 403));
    eke.listening().lost();
    await settle();
    expect(eke.state.line).toBe('locked');
    eke.listening().lost(); // asked again while the maker opens the other window
    await settle();
    expect(eke.state.line).toBe('locked');
  });
});

describe('what is kept beside a history', () => {
  it('is fetched anew alone when another window changes it', async () => {
    const asked: { what: string; said: unknown }[] = [];
    const garment = { id: 'g1', revision: 1, project: 'p1', steps: { undo: null, redo: null } };
    const eke = new Eke({
      fetch: answers({ 'GET /api/workroom': WORKROOM, 'GET /api/garments/g1': garment, 'GET /api/garments/g1/pegs': [], 'GET /api/garments/g1/making': { tasks: [] } }, asked),
    });
    await eke.go('making', { garment: 'g1' });
    await eke.need('making');
    asked.length = 0;
    eke.listening().event('revision', { log: 'g1', revision: 1, sentence: '', about: 'ticks' });
    await settle();
    expect(asked.map((one) => one.what).sort()).toEqual(['GET /api/garments/g1/making', 'GET /api/garments/g1/pegs']);
  });
});

it('what is of the project is fetched as soon as the garment says which', async () => {
  const asked: { what: string; said: unknown }[] = [];
  const garment = { id: 'g1', revision: 1, project: 'p1', steps: { undo: null, redo: null } };
  const eke = new Eke({
    fetch: answers({ 'GET /api/workroom': WORKROOM, 'GET /api/garments/g1': garment, 'GET /api/garments/g1/pegs': [], 'GET /api/projects/p1/ledger': { project: 'p1' } }, asked),
  });
  void eke.go('ledger', { garment: 'g1' }); // as a window that was loaded anew: nothing is there yet
  void eke.need('ledger');
  await settle();
  expect(eke.state.doc.ledger).toEqual({ project: 'p1' });
  expect(asked.filter((one) => one.what === 'GET /api/projects/p1/ledger')).toHaveLength(1);
});

describe('what is done quickly, one after the other', () => {
  function twice(second: (expected: number) => unknown) {
    let revision = 4;
    const asked: { what: string; said: unknown }[] = [];
    const garment = () => ({ id: 'g1', revision, project: 'p1', steps: { undo: 'a', redo: null } });
    const eke = new Eke({
      fetch: answers({
        'GET /api/workroom': WORKROOM, 'GET /api/garments/g1': garment, 'GET /api/garments/g1/pegs': [],
        'POST /api/garments/g1/undo': (said: { expected: number }) => (said.expected === 4 ? { id: 'a', sentence: 'Taken back: a', revision: (revision = 5), unsettled: [] } : second(said.expected)),
      }, asked),
    });
    return { eke, expected: () => asked.filter((one) => one.what.endsWith('undo')).map((one) => (one.said as { expected: number }).expected) };
  }

  it('is asked in turn, each after what came of the one before', async () => {
    const { eke, expected } = twice(() => ({ id: 'b', sentence: 'Taken back: b', revision: 6, unsettled: [] }));
    await eke.go('pattern', { garment: 'g1' });
    await eke.need('garment');
    const both = await Promise.all([eke.undo('garment'), eke.undo('garment')]);
    expect(expected()).toEqual([4, 5]);
    expect(both.map((one) => one?.sentence)).toEqual(['Taken back: a', 'Taken back: b']);
  });

  it('is still refused when somebody else was quicker', async () => {
    const { eke, expected } = twice(() => json({ code: 'changed-elsewhere', sentence: 'no', facts: {} }, 409));
    await eke.go('pattern', { garment: 'g1' });
    await eke.need('garment');
    const both = await Promise.all([eke.undo('garment'), eke.undo('garment')]);
    expect(expected()).toEqual([4, 5]);
    expect(both[1]).toBeNull();
    expect(eke.state.said?.tone).toBe('elsewhere');
  });
});

it('an address of a garment that is gone leads to all garments, and says so', async () => {
  const eke = new Eke({ fetch: answers({ 'GET /api/workroom': WORKROOM, 'GET /api/garments/g9': () => json({ code: 'not-found', sentence: 'There is no such garment.', facts: {} }, 404) }, []) });
  await eke.go('pattern', { garment: 'g9' });
  await eke.need('garment');
  expect(eke.state.view).toMatchObject({ place: 'welcome', garment: null });
  expect(eke.state.said).toMatchObject({ sentence: 'There is no such garment.', tone: 'trouble' });
});
