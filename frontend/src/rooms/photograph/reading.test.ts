/** What a photograph tells after a tracing: how sure, what cures it, what is missing, what can be said to help. */

import { describe, expect, it } from 'vitest';
import fc from 'fast-check';
import type { FoundPiece, FoundView, PhotographView } from '../../client/types.gen';
import { contains } from '../../core/geometry/polygon';
import type { Point } from '../../core/geometry-types';
import { answers as served, Driver, json } from '../../core/driver';
import { Eke } from '../../core/eke';
import { answerWords, saidBy, settle } from './answers';
import { takeIn, tellEnded } from './saying';
import { cureOf, verdictOf } from './scale';
import { photographCommands, photographHand, touchTool } from './tools';
import { deepInside, missedTouches, withTouch } from './touches';
import { certaintyWords, plainName, stateWord } from './words';

const ring = (x: number, y: number, size = 100): [number, number][] => [[x, y], [x + size, y], [x + size, y + size], [x, y + size]];
const piece = (which: string, outline_px: [number, number][]): FoundPiece => ({
  which, outline: outline_px, outline_px, segments: [], corners: [], corners_px: [], marks: [], uncertainty_mm: 1, piece: null,
});
const found = (more: Partial<FoundView> = {}): FoundView => ({
  reference: 'a4', uncertainty_percent: 1, references_px: [], pieces: [piece('1', ring(100, 100)), piece('2', ring(300, 100))], cloths: [], warnings: [],
  mm_per_px: 1, straightened: true, straightened_box: [0, 0, 800, 600], hand_mm: { pen: 0.8, pins: 1, cloth: 2.5 }, worn_mm: 2, ...more,
});
const photograph = (more: Partial<PhotographView> = {}): PhotographView => ({
  id: 'ph', subject: 'g1', name: 'front.jpg', photo: 'sha', width_px: 800, height_px: 600, cloth: false, references: [{ kind: 'auto' }], square_paper: false,
  touches: [], strokes: [], state: 'found', refused: null, refused_px: [], missing: null, answers: [], job: null, glance: null, parts: [], found: found(), ...more,
});
const plus = (x_px: number, y_px: number) => ({ x_px, y_px, side: '+' as const });
const minus = (x_px: number, y_px: number) => ({ x_px, y_px, side: '-' as const });

describe('a touch where nothing was found', () => {
  it('keeps what was found, and comes first itself', () => {
    const touches = withTouch(photograph(), plus(600, 400));
    expect(touches[0]).toEqual(plus(600, 400));
    expect(touches).toHaveLength(3);
    for (const [i, outline] of [ring(100, 100), ring(300, 100)].entries()) {
      const { x_px, y_px, side } = touches[i + 1]!;
      expect([contains(outline, [x_px, y_px]), side]).toEqual([true, '+']);
    }
  });

  it('brings nothing back that was said to be none, and says nothing twice', () => {
    const photo = photograph({ touches: [minus(150, 150), plus(350, 150)] });
    expect(withTouch(photo, plus(600, 400))).toEqual([...photo.touches, plus(600, 400)]);
  });

  it('is alone before the first tracing, with a minus, and on cloth', () => {
    expect(withTouch(photograph({ state: 'new', found: null }), plus(600, 400))).toHaveLength(1);
    expect(withTouch(photograph(), minus(600, 400))).toHaveLength(1);
    expect(withTouch(photograph({ cloth: true }), plus(600, 400))).toHaveLength(1);
  });

  it('is told when the next tracing found nothing there either', () => {
    const touches = [plus(150, 150), plus(600, 400), minus(700, 500)];
    expect(missedTouches(photograph({ touches }))).toEqual([2]);
    expect(missedTouches(photograph({ touches, state: 'changed' }))).toEqual([]);
  });

  it('finds a place inside of any ring around a point', () => {
    const spokes = fc.array(fc.double({ min: 5, max: 200, noNaN: true }), { minLength: 3, maxLength: 24 });
    fc.assert(fc.property(spokes, (lengths) => {
      const star = lengths.map((r, i): Point => [400 + r * Math.cos((2 * Math.PI * i) / lengths.length), 300 + r * Math.sin((2 * Math.PI * i) / lengths.length)]);
      expect(contains(star, deepInside(star))).toBe(true);
    }));
  });
});

describe('how sure the lengths are', () => {
  it('is judged by the amount', () => {
    expect([0.05, 0.1, 0.2, 0.4, 0.41, 1.46, 4].map(verdictOf)).toEqual(['fine', 'fine', 'small', 'small', 'large', 'large', 'large']);
    expect(certaintyWords(1.46, 'cm')).toContain('7.3');
  });

  it('points to the cure that this picture has', () => {
    const cure = (more: Partial<PhotographView>, seen: Partial<FoundView> = {}) => cureOf(photograph({ ...more, found: found(seen) }));
    expect(cure({}, { uncertainty_percent: 0.1 })).toBeNull();
    expect(cure({})).toBe('square');
    expect(cure({ square_paper: true })).toBe('sheet');
    expect(cure({ references: [{ kind: 'scan' }] }, { reference: 'scan' })).toBeNull(); // no paper's edge helps a scanner
    expect(cure({ references: [{ kind: 'sheet' }] }, { reference: 'sheet' })).toBe('check');
    const measured = { references: [{ kind: 'sheet' as const, check_line_mm: 240 }], square_paper: true };
    expect(cure(measured, { reference: 'sheet' })).toBe('again');
    expect(cureOf(photograph({ found: null }))).toBeNull();
  });
});

describe('the name of a photograph', () => {
  it('reads as words, and is never empty', () => {
    expect(['p2_back_and_side.jpg', 'Rücken, größer.heic', '.jpg', '_.png', 'IMG 1'].map(plainName)).toEqual(['p2 back and side', 'Rücken, größer', '.jpg', '_.png', 'IMG 1']);
  });
});

describe('a refusal', () => {
  it('is called by what is missing', () => {
    const words = (['scale', 'outline', 'picture', 'said', null] as const).map((missing) => stateWord(photograph({ state: 'refused', missing, found: null })));
    expect(new Set(words).size).toBe(5);
  });
});

async function opened(photo = photograph(), table: Record<string, unknown> = {}) {
  const asked: { what: string; said: unknown }[] = [];
  let now = photo;
  const eke = new Eke({
    fetch: served({
      'GET /api/workroom': { revision: 5, projects: [], steps: { undo: null, redo: null } },
      'GET /api/garments/g1': { id: 'g1', name: 'Vest', revision: 1, project: 'p1', pieces: [], steps: { undo: null, redo: null } },
      'GET /api/garments/g1/pegs': [],
      'GET /api/subjects/g1/photographs': () => [now],
      'PATCH /api/photographs/ph': (said: object) => (now = { ...now, ...said, state: 'changed' }),
      'POST /api/photographs/ph/trace': { id: 'j', what: 'trace', subject: 'ph', title: 'Tracing', state: 'running', fraction: null, sentence: '', result: null },
      'POST /api/jobs/j/seen': null,
      ...table,
    }, asked),
  });
  await eke.go('tracing', { garment: 'g1' });
  await eke.need('photographs');
  eke.setOwn('tracing', { photo: 'ph' });
  const tables = { tools: [photographHand('tracing', 'tracing.hand', () => null), touchTool('tracing', '+', 'x', 'i')], commands: photographCommands('tracing') };
  return { eke, asked, driver: new Driver(eke, tables) };
}
const soon = () => new Promise((done) => setTimeout(done, 20));

describe('an answer', () => {
  it('is said as it stands and then traced, in this order', async () => {
    const answer = { references: [{ kind: 'letter' as const }], square_paper: null, touches: null, cloth: null, name: null };
    const { eke, asked } = await opened(photograph({ answers: [answer] }));
    await settle(eke, 'ph', answer);
    const sent = asked.filter((a) => a.what.startsWith('P'));
    expect(sent.map((a) => a.what)).toEqual(['PATCH /api/photographs/ph', 'POST /api/photographs/ph/trace']);
    expect(sent[0]?.said).toEqual({ references: [{ kind: 'letter' }] });
    expect(eke.state.doc.photographs?.[0]?.state).toBe('tracing');
  });

  it('has words for each kind, and leaves out what it leaves open', () => {
    const words = (['a4', 'letter', 'card'] as const).map((kind) => answerWords({ references: [{ kind }] }));
    expect(new Set([...words, answerWords({ square_paper: true }), answerWords({ square_paper: false })]).size).toBe(5);
    expect(saidBy({ references: null, square_paper: false })).toEqual({ square_paper: false });
  });
});

describe('under the hand', () => {
  it('a touch keeps what was found, and tracing puts the tool down', async () => {
    const { eke, asked, driver } = await opened();
    driver.key('i').click([600, 199]);
    expect(eke.state.doc.photographs?.[0]?.touches).toHaveLength(3);
    driver.key('t');
    expect(eke.state.view.tool).toBeNull();
    await soon();
    expect(asked.filter((a) => a.what.startsWith('P')).map((a) => a.what)).toEqual(['PATCH /api/photographs/ph', 'POST /api/photographs/ph/trace']);
  });
});

describe('a touch on the paper laid flat', () => {
  it('is none: its place is no place on the photograph', async () => {
    const { eke, driver } = await opened();
    eke.setOwn('tracing', { flat: 1 });
    driver.key('i').click([600, 199]).key('enter');
    expect(eke.state.doc.photographs?.[0]?.touches).toEqual([]);
  });
});

describe('the foot', () => {
  const job = { id: 'j', what: 'trace' as const, subject: 'ph', title: 'Tracing', fraction: 1, result: null };

  it('tells what came of a tracing, and the job is put away', async () => {
    const { eke, asked } = await opened();
    eke.began({ ...job, state: 'done', sentence: 'Found 2 outlines.' });
    tellEnded(eke, 'j');
    expect(eke.state.said?.sentence).toContain('Found 2 outlines.');
    expect(eke.state.said?.sentence).toContain('front');
    eke.began({ ...job, state: 'failed', sentence: 'Nothing of known size is seen.' });
    tellEnded(eke, 'j');
    expect(eke.state.said?.tone).toBe('trouble');
    expect(eke.state.jobs).toEqual([]);
    await soon();
    expect(asked.filter((a) => a.what === 'POST /api/jobs/j/seen')).toHaveLength(2);
  });

  it('tells what was taken in; what was refused is not written over', async () => {
    const file = new File(['x'], 'back.jpg');
    let refuse = false;
    const upload = () => (refuse ? json({ code: 'bad-input', sentence: 'It is no picture.', facts: {} }, 400) : photograph({ id: 'new', name: 'back.jpg' }));
    const { eke } = await opened(photograph(), { 'POST /api/subjects/g1/photographs': upload });
    await takeIn(eke, 'g1', [file], false, () => undefined);
    expect(eke.state.said?.sentence).toContain('back');
    refuse = true;
    await takeIn(eke, 'g1', [file], false, () => undefined);
    expect(eke.state.said?.sentence).toBe('It is no picture.');
  });
});
