import { describe, expect, it } from 'vitest';
import type { FoundPiece, PhotographView } from '../../client/types.gen';
import { answers, Driver } from '../../core/driver';
import { Eke } from '../../core/eke';
import type { Point } from '../../core/geometry-types';
import { cornerAdded, cornerAfter, cornerMoved, cornersNow, cornerSlid, NEW_FORM, takeOf, turnedOn, turnedPoints, withHand, type Turn } from './forms';
import { commands, tools } from './parts';

const square: [number, number][] = [[0, 0], [100, 0], [100, 100], [0, 100]];
const piece = (corners = square): FoundPiece => ({
  which: '1', outline: square, outline_px: square, segments: [], corners, corners_px: corners, marks: [], uncertainty_mm: 1, piece: null,
});

describe('corners of an outline', () => {
  it('stay on the outline and away from each other', () => {
    expect(cornerMoved(square, square, 1, [90, -8])[1]).toEqual([90, 0]);
    expect(cornerMoved(square, square, 1, [1, 0])).toEqual(square);
  });

  it('slide, are added in their order, and half-way to the next', () => {
    expect(cornerSlid(square, square, 1, 5)[1]).toEqual([100, 5]);
    expect(cornerAdded(square, square, [50, -3])).toEqual([[0, 0], [50, 0], [100, 0], [100, 100], [0, 100]]);
    expect(cornerAdded(square, square, [100, 1])).toEqual(square);
    expect(cornerAfter(square, square, 3)).toContainEqual([0, 50]);
    expect(cornersNow(piece([[100, 100], [0, 0]]))).toEqual([[100, 100], [0, 0]]);
  });
});

describe('what is asked for a piece', () => {
  it('says an allowance only with a cut edge, and a pair as a pair', () => {
    expect(takeOf('1', { ...NEW_FORM, name: ' front ', cut: 'pair', count: 3 }, 'x')).toMatchObject({ name: 'front', traced_as: 'net', traced_allowance_mm: 0, count: 3, pairs: true });
    expect(takeOf('1', { ...NEW_FORM, cut: 'fold', count: 3 }, 'x')).toMatchObject({ count: 1, pairs: false });
    expect(takeOf('1', { ...NEW_FORM, line: 'cut', allowance_mm: 15 }, 'Outline 1')).toMatchObject({ name: 'Outline 1', traced_allowance_mm: 15, pairs: false });
  });
});

describe('the hand that traced', () => {
  const worth = { hand_mm: { pen: 0.8, pins: 1, cloth: 2.5 }, worn_mm: 2 };
  it('adds to what the photograph is worth, and wear does too', () => {
    expect(withHand(0.6, NEW_FORM, worth)).toBeCloseTo(0.6);
    expect(withHand(0.6, { ...NEW_FORM, by: 'pen' }, worth)).toBeCloseTo(1);
    expect(withHand(0, { ...NEW_FORM, by: 'cloth', worn: true }, worth)).toBeCloseTo(Math.hypot(2.5, 2));
  });
  it('is asked of the server with the piece', () => {
    expect(takeOf('1', { ...NEW_FORM, by: 'pins', worn: true }, 'x')).toMatchObject({ traced_by: 'pins', worn: true });
    expect(takeOf('1', NEW_FORM, 'x')).toMatchObject({ traced_by: null, worn: false });
  });
});

describe('which way up', () => {
  it('goes round in four quarter turns, and the drawing with it as the server turns it', () => {
    const corner: [number, number][] = [[30, 10]];
    const seen: { turn: Turn; at: Point[] }[] = [];
    let turn: Turn = 0;
    for (let i = 0; i < 4; i += 1) {
      seen.push({ turn, at: turnedPoints(corner, turn).map(([x, y]): Point => [x + 0, y + 0]) });
      expect(takeOf('1', { ...NEW_FORM, turn }, 'x').turn_deg).toBe(turn);
      turn = turnedOn(turn);
    }
    expect(turn).toBe(0);
    // clockwise under the hand: what lay to the right lies below
    expect(seen).toEqual([{ turn: 0, at: [[30, 10]] }, { turn: 270, at: [[10, -30]] }, { turn: 180, at: [[-30, -10]] }, { turn: 90, at: [[-10, 30]] }]);
  });
});

async function opened() {
  const asked: { what: string; said: unknown }[] = [];
  let now: PhotographView = {
    id: 'ph', subject: 'g1', name: 'a.jpg', photo: 's', width_px: 400, height_px: 300, cloth: false, references: [{ kind: 'auto' }], square_paper: false,
    touches: [], strokes: [], state: 'found', refused: null, refused_px: [], missing: null, answers: [], job: null, glance: null, parts: [],
    found: { reference: 'a4', uncertainty_percent: 1, references_px: [], pieces: [piece()], cloths: [], warnings: [], mm_per_px: 1, straightened: true, straightened_box: [0, 0, 200, 200], hand_mm: { pen: 0.8, pins: 1, cloth: 2.5 }, worn_mm: 2 },
  };
  const eke = new Eke({
    fetch: answers({
      'GET /api/workroom': { revision: 5, projects: [], steps: { undo: null, redo: null } },
      'GET /api/garments/g1': { id: 'g1', name: 'Vest', revision: 1, project: 'p1', pieces: [], steps: { undo: null, redo: null } },
      'GET /api/garments/g1/pegs': [],
      'GET /api/subjects/g1/photographs': () => [now],
      'PUT /api/photographs/ph/outlines/1/corners': (said: { corners: [number, number][] }) => (now = { ...now, found: { ...now.found!, pieces: [piece(said.corners)] } }),
    }, asked),
  });
  await eke.go('tracing', { garment: 'g1' });
  await eke.need('photographs');
  eke.setOwn('tracing', { photo: 'ph', flat: 1 });
  const corners = () => (eke.state.doc.photographs?.[0]?.found?.pieces[0]?.corners ?? []) as Point[];
  return { eke, asked, corners, driver: new Driver(eke, { tools, commands }) };
}

describe('corners under the hand', () => {
  it('drag along the line and are kept once', async () => {
    const { eke, asked, corners, driver } = await opened();
    driver.press([100, 0], { kind: 'corner', id: '1' }).move([95, 30]);
    expect(eke.state.draft?.value).toMatchObject({ index: 1, corners: [[0, 0], [100, 30], [100, 100], [0, 100]] });
    driver.release([95, 30]);
    expect(corners()[1]).toEqual([100, 30]);
    await new Promise((done) => setTimeout(done, 10));
    expect(asked.filter((a) => a.what.startsWith('PUT'))).toHaveLength(1);
  });

  it.each(['cancel', 'blur'] as const)('go back on %s', async (way) => {
    const { asked, corners, driver } = await opened();
    driver.press([100, 0], { kind: 'corner', id: '1' }).move([100, 30])[way]().release([100, 30]);
    expect(corners()).toEqual(square);
    expect(asked.some((a) => a.what.startsWith('PUT'))).toBe(false);
  });

  it('slide by arrow keys, are dropped by Delete, and the next one is in hand', async () => {
    const { eke, corners, driver } = await opened();
    driver.click([100, 0], { kind: 'corner', id: '1' }).key('shift+arrowright').key('arrowleft');
    expect(corners()[1]?.[1]).toBeCloseTo(9);
    driver.key('delete');
    expect(corners()).toEqual([[0, 0], [100, 100], [0, 100]]);
    expect(eke.state.view.selection['corner']).toEqual(['1']);
  });

  it('are added where the line is touched, and the hand is empty again', async () => {
    const { eke, corners, driver } = await opened();
    driver.key('c');
    expect(eke.state.view.tool).toBe('tracing.add-corner');
    driver.click([50, 2]);
    expect(corners()).toHaveLength(5);
    expect(eke.state.view.tool).toBeNull();
  });
});
