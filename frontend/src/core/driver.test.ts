import { describe, expect, it } from 'vitest';
import { GENERAL } from './commands/general';
import { keyName } from './commands/command';
import { answers, Driver, json } from './driver';
import { Eke } from './eke';
import type { Point } from './geometry-types';
import { defineTool } from './tools/machine';

/** A tool that drags points, small enough to be read at a glance. */
const dragging = defineTool<{ id: string; from: Point } | null>({
  id: 'drag-point', room: 'pattern', words: 'x', resting: true, cursor: (s) => (s ? 'grabbing' : 'default'), initial: null,
  step(state, event) {
    if (event.kind === 'press' && event.on?.kind === 'point') {
      return { state: { id: event.on.id, from: event.at }, effects: [{ do: 'capture', on: true }] };
    }
    if (event.kind === 'move' && state) return { state, effects: [{ do: 'draft', draft: { kind: 'drag', value: event.at } }] };
    if (event.kind === 'release' && state) {
      return { state: null, effects: [{ do: 'capture', on: false }, { do: 'change', kind: 'point.move', params: { id: state.id, to: event.at } }] };
    }
    if (event.kind === 'cancel' || event.kind === 'blur') return { state: null, effects: [{ do: 'draft', draft: null }] };
    return { state };
  },
});

const garment = (revision: number) => ({ id: 'g1', name: 'Vest', revision, project: 'p1', steps: { undo: 'move a point', redo: null } });

async function opened(change: unknown = { id: 'c', sentence: 'The point is moved.', revision: 2, unsettled: [] }) {
  const asked: { what: string; said: unknown }[] = [];
  let revision = 1;
  const eke = new Eke({
    fetch: answers({
      'GET /api/workroom': { revision: 5, projects: [], steps: { undo: null, redo: null } },
      'GET /api/garments/g1': () => garment(revision),
      'GET /api/garments/g1/pegs': [],
      'POST /api/garments/g1/changes': () => ((revision += 1), change),
      'POST /api/garments/g1/undo': () => ((revision += 1), { id: 'c', sentence: 'Taken back: move a point.', revision, unsettled: [] }),
      'GET /api/jobs': [],
    }, asked),
  });
  await eke.go('pattern', { garment: 'g1' });
  return { eke, asked, driver: new Driver(eke, { tools: [dragging], commands: GENERAL }) };
}

describe('a drag by a tool', () => {
  it('shows a draft, then changes the garment once with the revision that was seen', async () => {
    const { eke, asked, driver } = await opened();
    driver.press([0, 0], { kind: 'point', id: 'n1' }).move([3, 4]);
    expect(eke.state.draft).toEqual({ kind: 'drag', value: [3, 4] });
    expect(driver.captured).toBe(true);
    await driver.release([5, 5]).settle();
    const posts = asked.filter((a) => a.what.startsWith('POST'));
    expect(posts).toEqual([{ what: 'POST /api/garments/g1/changes', said: { kind: 'point.move', params: { id: 'n1', to: [5, 5] }, note: '', expected: 1 } }]);
    expect(eke.state.said).toMatchObject({ sentence: 'The point is moved.', tone: 'done', back: 'garment' });
    expect(eke.state.doc.garment?.revision).toBe(2);
    expect(eke.state.draft).toBeNull();
  });

  it.each(['cancel', 'blur'] as const)('ends without a trace on %s', async (way) => {
    const { eke, asked, driver } = await opened();
    driver.press([0, 0], { kind: 'point', id: 'n1' }).move([3, 4])[way]().release([3, 4]);
    await driver.settle();
    expect(eke.state.draft).toBeNull();
    expect(asked.some((a) => a.what.startsWith('POST'))).toBe(false);
  });

  it('keeps the draft and fetches anew when another window was quicker', async () => {
    const { eke, asked, driver } = await opened(json({ code: 'changed-elsewhere', sentence: 'no', facts: {} }, 409));
    driver.press([0, 0], { kind: 'point', id: 'n1' }).move([3, 4]);
    await driver.release([5, 5]).settle();
    expect(eke.state.draft).toEqual({ kind: 'drag', value: [3, 4] });
    expect(eke.state.said?.tone).toBe('elsewhere');
    expect(asked.filter((a) => a.what === 'GET /api/garments/g1')).toHaveLength(2);
  });
});

describe('keys', () => {
  it('take back in the history of the room', async () => {
    const { eke, asked, driver } = await opened();
    await driver.key('ctrl+z').settle();
    expect(asked.at(-1)?.what).not.toBe('POST /api/workroom/undo');
    expect(asked.some((a) => a.what === 'POST /api/garments/g1/undo')).toBe(true);
    expect(eke.state.said?.sentence).toBe('Taken back: move a point.');
  });

  it('have names', () => {
    const none = { shiftKey: false, altKey: false, ctrlKey: false, metaKey: false };
    expect(keyName({ ...none, key: 'Z', ctrlKey: true, shiftKey: true })).toBe('ctrl+shift+z');
    expect(keyName({ ...none, key: '?', shiftKey: true })).toBe('?');
    expect(keyName({ ...none, key: 'ArrowLeft', altKey: true })).toBe('alt+arrowleft');
    expect(keyName({ ...none, key: ' ' })).toBe('space');
  });
});
