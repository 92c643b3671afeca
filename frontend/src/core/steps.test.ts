import { describe, expect, it } from 'vitest';
import type { DoneView } from '../client/types.gen';
import { answers } from './driver';
import { Eke } from './eke';
import { logOf, stepsOf } from './steps';

const STEPS = { undo: 'Straightened the hem.', redo: null };
const SHELF = { undo: 'Kept the curtain.', redo: null };

async function inTheLay() {
  const asked: { what: string; said: unknown }[] = [];
  const done = { id: 'c', sentence: 'Cut it.', revision: 6, unsettled: [] };
  const eke = new Eke({
    fetch: answers({
      'GET /api/workroom': { revision: 5, projects: [], steps: SHELF },
      'GET /api/garments/g1': { id: 'g1', revision: 1, project: 'p1', steps: STEPS },
      'GET /api/garments/g1/pegs': [],
      'POST /api/cut': done,
      'POST /api/workroom/undo': { ...done, sentence: 'Taken back: Cut it.' },
      'POST /api/garments/g1/undo': done,
    }, asked),
  });
  await eke.load('workroom');
  await eke.go('lay', { garment: 'g1' });
  return { eke, asked };
}

describe('what is taken back', () => {
  it('is the last step of the room’s own history', async () => {
    const { eke } = await inTheLay();
    expect(logOf(eke.state)).toBe('garment');
    expect(stepsOf(eke.state).undo).toBe('Straightened the hem.');
  });

  it('is of the workroom after something of the workroom was done here, until one goes elsewhere', async () => {
    const { eke, asked } = await inTheLay();
    await eke.did('workroom', () => eke.api.post<DoneView>('/api/cut'));
    eke.say('Drag a piece to move it.');
    expect(stepsOf(eke.state).undo).toBe('Kept the curtain.');
    await eke.undo();
    expect(asked.some((one) => one.what === 'POST /api/workroom/undo')).toBe(true);
    await eke.go('pattern');
    expect(logOf(eke.state)).toBe('garment');
    expect(eke.state.said?.sentence).toBe('Taken back: Cut it.');
  });
});
