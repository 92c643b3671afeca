import { describe, expect, it } from 'vitest';
import type { PhotographView, Stroke } from '../../client/types.gen';
import { answers, Driver } from '../../core/driver';
import { Eke } from '../../core/eke';
import type { Point } from '../../core/geometry-types';
import { words } from '../../words/tracing';
import { commands, tools } from '../tracing/parts';
import { handlesOf, movedTo, without, withSaid } from './handles';
import { rubberPx, thinned } from './strokes';

const LINE: Stroke = { how: 'draw', points_px: [[100, 200], [300, 240]] };
const SPOT: Stroke = { how: 'rub', points_px: [[500, 600]] };

function photograph(more: Partial<PhotographView> = {}): PhotographView {
  return {
    id: 'ph', subject: 'g1', name: 'front.jpg', photo: 'sha', width_px: 1000, height_px: 800, cloth: false,
    references: [{ kind: 'auto' }], square_paper: false, touches: [], strokes: [], state: 'found', refused: null,
    refused_px: [], missing: null, answers: [], job: null, glance: null, parts: [], found: null, ...more,
  };
}

/** As a server says it that knows nothing of strokes. */
function old(): PhotographView {
  const { strokes: _none, ...rest } = photograph();
  return rest as PhotographView;
}

async function opened(photo = photograph(), scale = 1) {
  const said: Partial<PhotographView>[] = [];
  let now = photo;
  const eke = new Eke({
    fetch: answers({
      'GET /api/workroom': { revision: 5, projects: [], steps: { undo: null, redo: null } },
      'GET /api/garments/g1': { id: 'g1', name: 'Vest', revision: 1, project: 'p1', pieces: [], steps: { undo: null, redo: null } },
      'GET /api/garments/g1/pegs': [],
      'GET /api/subjects/g1/photographs': () => [now],
      'POST /api/photographs/ph/trace': { id: 'j', what: 'trace', subject: 'ph', title: 'Tracing', state: 'running', fraction: null, sentence: '', result: null },
      'PATCH /api/photographs/ph': (one: object) => {
        said.push(one);
        return (now = { ...now, ...one, state: 'changed' });
      },
    }),
  });
  await eke.go('tracing', { garment: 'g1' });
  await eke.need('photographs');
  eke.setOwn('tracing', { photo: 'ph' });
  const driver = new Driver(eke, { tools, commands }, scale);
  return {
    eke, driver, said,
    photo: () => eke.state.doc.photographs?.[0] as PhotographView,
    strokes: () => eke.state.doc.photographs?.[0]?.strokes ?? [],
    arrived: () => new Promise((done) => setTimeout(done, 10)),
  };
}

describe('a stroke of the hand', () => {
  it('is shown while it is drawn, and said once on release, in pixels that run down', async () => {
    const { eke, driver, strokes, said, photo, arrived } = await opened();
    driver.key('d').press([100, 700]).move([150, 700]);
    expect(driver.captured).toBe(true);
    expect(eke.state.draft).toEqual({ kind: 'photograph-stroke', value: { how: 'draw', points_px: [[100, 99], [150, 99]] } });
    driver.move([200, 700]).move([200, 600]).release([200, 600]);
    expect(strokes()).toEqual([{ how: 'draw', points_px: [[100, 99], [200, 99], [200, 199]] }]);
    expect(photo().state).toBe('changed');
    expect(eke.state.draft).toBeNull();
    expect(driver.captured).toBe(false);
    await arrived();
    expect(said).toEqual([{ strokes: strokes() }]);
  });

  it('sets a dot, or rubs a spot, where nothing was dragged', async () => {
    const { driver, strokes } = await opened();
    driver.key('d').click([100, 700]).key('r').press([300, 700]).move([301, 701]).release([301, 701]);
    expect(strokes()).toEqual([{ how: 'draw', points_px: [[100, 99]] }, { how: 'rub', points_px: [[300, 99]] }]);
  });

  it('is straight with shift, whatever the way there', async () => {
    const { driver, strokes } = await opened();
    driver.key('d').drag([[100, 700], [150, 600], [400, 650]], null, { shift: true });
    expect(strokes()).toEqual([{ how: 'draw', points_px: [[100, 99], [400, 149]] }]);
  });

  it('keeps a long way in at most 200 places, and within what a hand can see', async () => {
    const { driver, strokes } = await opened();
    const wave: Point[] = Array.from({ length: 900 }, (_, i) => [20 + i, 400 + 100 * Math.sin(i / 60)]);
    driver.key('r').drag(wave);
    const kept = strokes()[0]?.points_px ?? [];
    expect(kept.length).toBeGreaterThan(20);
    expect(kept.length).toBeLessThanOrEqual(200);
    expect(kept[0]).toEqual([20, 399]);
    expect(kept.at(-1)?.[0]).toBeCloseTo(919, 6);
    const off = wave.map(([x, y]) => {
      const i = Math.max(kept.findIndex((p) => p[0] >= x), 1);
      const [ax, ay] = kept[i - 1] as [number, number], [bx, by] = kept[i] as [number, number];
      return Math.abs(ay + ((by - ay) * (x - ax)) / (bx - ax) - (799 - y));
    });
    expect(Math.max(...off)).toBeLessThan(2.5);
  });

  it('coarsens rather than saying more than 200 places', () => {
    const saw: Point[] = Array.from({ length: 1000 }, (_, i) => [i, i % 2 === 0 ? 0 : 3]);
    const kept = thinned(saw, 0.5);
    expect(kept.length).toBeLessThanOrEqual(200);
    expect([kept[0], kept.at(-1)]).toEqual([saw[0], saw.at(-1)]);
    expect(thinned([[0, 0]], 1)).toEqual([[0, 0]]);
  });

  it('stays inside of the picture', async () => {
    const { driver, strokes } = await opened();
    driver.key('d').drag([[900, 700], [1200, 900]]);
    expect(strokes()[0]?.points_px).toEqual([[900, 99], [999, 0]]);
  });

  it.each(['cancel', 'blur'] as const)('is given up on %s', async (end) => {
    const { eke, driver, strokes, said, arrived } = await opened();
    driver.key('d').press([100, 700]).move([300, 700])[end]().release([300, 700]);
    expect(strokes()).toEqual([]);
    expect(eke.state.draft).toBeNull();
    expect(driver.captured).toBe(false);
    await arrived();
    expect(said).toEqual([]);
  });

  it('is drawn by keyboard from the middle of what is seen', async () => {
    const { eke, driver, strokes } = await opened();
    eke.setCamera('photo:ph', { x: 400, y: 300, scale: 1 });
    driver.key('d').key('enter').key('arrowup').key('shift+arrowright').key('enter');
    expect(strokes()).toEqual([{ how: 'draw', points_px: [[400, 499], [440, 495]] }]);
    driver.key('delete');
    expect(strokes()).toEqual([]);
    driver.key('enter').key('enter');
    expect(strokes()).toEqual([{ how: 'draw', points_px: [[400, 499]] }]);
    driver.key('enter').key('escape').key('enter');
    expect(strokes()).toHaveLength(1);
  });

  it.each([
    ['on cloth', photograph({ cloth: true }), 0],
    ['on the paper laid flat', photograph(), 1],
  ])('is none %s', async (_where, photo, flat) => {
    const { eke, driver, strokes } = await opened(photo);
    eke.setOwn('tracing', { flat });
    driver.key('d').drag([[100, 700], [300, 700]]).key('enter').key('enter').key('r').click([100, 700]);
    expect(strokes()).toEqual([]);
    expect(eke.state.draft).toBeNull();
  });
});

describe('strokes that were said', () => {
  const said = () => photograph({ strokes: [LINE, SPOT] });

  it('have a handle each at their first place', () => {
    expect(handlesOf(said())).toEqual([
      { id: 'stroke:0', at: [100, 200], kind: 'stroke', number: 1, how: 'draw' },
      { id: 'stroke:1', at: [500, 600], kind: 'stroke', number: 2, how: 'rub' },
    ]);
    expect(handlesOf(old())).toEqual([]);
  });

  it('move as a whole, and no farther than the edge of the picture', () => {
    expect(movedTo(said(), 'stroke:0', [110, 190])).toEqual({ strokes: [{ how: 'draw', points_px: [[110, 190], [310, 230]] }, SPOT] });
    expect(movedTo(said(), 'stroke:0', [999, 0]).strokes?.[0]?.points_px).toEqual([[799, 0], [999, 40]]);
    expect(movedTo(said(), 'stroke:1', [0, 0]).strokes).toEqual([LINE, { how: 'rub', points_px: [[0, 0]] }]);
    expect(movedTo(old(), 'stroke:0', [1, 1])).toEqual({ strokes: [] });
  });

  it('are taken away one by one, and kept by whatever else is said', () => {
    expect(without(said(), 'stroke:0')).toEqual({ strokes: [SPOT] });
    expect(without(photograph({ touches: [{ x_px: 1, y_px: 2, side: '+' }] }), 'touch:0')).toEqual({ touches: [] });
    expect(withSaid(said(), { square_paper: true }).strokes).toEqual([LINE, SPOT]);
    expect(withSaid(said(), { strokes: [] }).strokes).toEqual([]);
    expect(withSaid(old(), { strokes: [LINE] }).strokes).toEqual([LINE]);
    expect(withSaid(old(), {}).strokes).toEqual([]);
  });

  it('go where the same tool presses their ring; the other tool, or a drag, begins a new one there', async () => {
    const { driver, strokes } = await opened(said());
    const ring = { kind: 'handle', id: 'stroke:0' };
    driver.key('r').click([100, 599], ring);
    expect(strokes()).toEqual([LINE, SPOT, { how: 'rub', points_px: [[100, 200]] }]);
    driver.key('d').drag([[100, 599], [100, 499]], ring);
    expect(strokes()).toHaveLength(4);
    driver.click([100, 599], ring);
    expect(strokes()).toHaveLength(3);
    expect(strokes()[0]).toEqual(SPOT);
  });

  it('are chosen, moved and taken away by the resting hand', async () => {
    const { eke, driver, strokes, photo } = await opened(said());
    const ring = { kind: 'handle', id: 'stroke:0' };
    driver.press([100, 599], ring).move([120, 599]).release([120, 599]);
    expect(strokes()[0]?.points_px).toEqual([[120, 200], [320, 240]]);
    expect(photo().state).toBe('changed');
    driver.key('backspace');
    expect(strokes()).toEqual([SPOT]);
    expect(eke.state.view.selection['handle']).toBeUndefined();
  });

  it('are safe from Delete once they are traced', async () => {
    const { eke, driver, strokes } = await opened();
    driver.key('d').drag([[100, 700], [300, 700]]);
    expect(eke.state.view.selection['handle']).toEqual(['stroke:0']);
    driver.key('t');
    expect(eke.state.view.tool).toBeNull();
    driver.key('delete');
    expect(strokes()).toHaveLength(1);
  });

  it('are begun on a photograph that has never heard of any', async () => {
    const { driver, strokes } = await opened(old());
    driver.key('r').click([10, 10]);
    expect(strokes()).toEqual([{ how: 'rub', points_px: [[10, 789]] }]);
  });
});

it('a rubber is as broad on the picture as on the paper, once something was found with its true size', () => {
  expect(rubberPx(photograph())).toBeNull();
  const square = (side: number): Point[] => [[0, 0], [side, 0], [side, side], [0, side]];
  const pieces = [{ outline_px: square(400), outline: square(100) }];
  expect(rubberPx(photograph({ found: { pieces } as unknown as PhotographView['found'] }))).toBeCloseTo(20, 9);
});

it('both tools have a name, and a sentence that tells how by hand and by keyboard', () => {
  for (const tool of tools.filter((one) => one.id === 'tracing.draw' || one.id === 'tracing.rub')) {
    const told = words as unknown as Record<string, string | undefined>;
    expect(told[tool.words]).toBeTruthy();
    expect(told[`${tool.words}.how`]).toContain('By keyboard');
    expect(told[`${tool.words}.what`]).toBeTruthy();
  }
  expect(commands.find((one) => one.id === 'tracing.stroke')?.words).toBe('tracing.do.stroke');
});
