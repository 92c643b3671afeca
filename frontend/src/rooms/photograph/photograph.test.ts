import { describe, expect, it } from 'vitest';
import type { FoundView, PhotographView } from '../../client/types.gen';
import { answers, Driver } from '../../core/driver';
import { Eke } from '../../core/eke';
import type { Point } from '../../core/geometry-types';
import { firstCorners, fourCorners, handlesOf, movedTo, ofKind } from './handles';
import { carried, mapThrough } from './homography';
import { cornersInOrder, edgesBetween, lengthOf, nearestOn, partBetween, pointAlong, wayBetween } from './outlines';
import { inPicture, onPlane } from './plane';
import { photographCommands, photographHand, touchTool } from './tools';

export function photograph(more: Partial<PhotographView> = {}): PhotographView {
  return {
    id: 'ph', subject: 'g1', name: 'front.jpg', photo: 'sha', width_px: 4000, height_px: 3000, cloth: false,
    references: [{ kind: 'a4', corners_px: [[100, 100], [400, 100], [400, 300], [100, 300]] }], square_paper: false,
    touches: [{ x_px: 1000, y_px: 1000, side: '+' }], strokes: [], state: 'new', refused: null, refused_px: [], missing: null, answers: [], job: null, glance: null, parts: [], found: null, ...more,
  };
}

describe('places on a photograph', () => {
  it('turns pixels over and back, and stays inside', () => {
    const picture = { width_px: 40, height_px: 30 };
    expect(onPlane([3, 4], picture)).toEqual([3, 25]);
    expect(inPicture(onPlane([3, 4], picture), picture)).toEqual([3, 4]);
    expect(inPicture([-5, 99], picture)).toEqual([0, 0]);
  });

  it('moves one corner, one mark, one touch and nothing else', () => {
    const photo = photograph({ references: [...photograph().references, { kind: 'points', from_px: [1, 2], to_px: [30, 2], distance_mm: 100 }] });
    expect(handlesOf(photo).map((one) => one.id)).toEqual(['corner:0:0', 'corner:0:1', 'corner:0:2', 'corner:0:3', 'mark:1:from', 'mark:1:to', 'touch:0']);
    expect(movedTo(photo, 'corner:0:2', [7, 8]).references?.[0]?.corners_px).toEqual([[100, 100], [400, 100], [7, 8], [100, 300]]);
    expect(movedTo(photo, 'mark:1:to', [7, 8]).references?.[1]).toMatchObject({ from_px: [1, 2], to_px: [7, 8] });
    expect(movedTo(photo, 'touch:0', [7, 8])).toEqual({ touches: [{ x_px: 7, y_px: 8, side: '+' }] });
  });

  it('begins corners in the proportion of the thing, inside of the picture', () => {
    const corners = firstCorners(photograph(), 'a4');
    const [a, b, c] = corners as unknown as [Point, Point, Point];
    expect((b[0] - a[0]) / (c[1] - b[1])).toBeCloseTo(297 / 210, 6);
    for (const [x, y] of corners) expect(x > 0 && x < 4000 && y > 0 && y < 3000).toBe(true);
  });

  it('begins them where such a thing was seen', () => {
    const seen: Point[] = [[10, 10], [50, 9.5], [100, 10], [101, 60], [55, 60.5], [9, 61]];
    const found = { references_px: [seen] } as unknown as FoundView;
    expect(firstCorners(photograph({ found }), 'a4')).toEqual([[10, 10], [100, 10], [101, 60], [9, 61]]);
    expect(fourCorners([[0, 0], [1, 0], [1, 1]])).toHaveLength(3);
  });

  it('gives two marks a length that the server takes, and forgets corners where they mean nothing', () => {
    expect(ofKind(photograph(), { kind: 'a4' }, 'points')).toMatchObject({ kind: 'points', distance_mm: 200, height_mm: 0 });
    expect(ofKind(photograph(), photograph().references[0]!, 'letter').corners_px).toHaveLength(4);
    expect(ofKind(photograph(), photograph().references[0]!, 'auto')).toEqual({ kind: 'auto' });
  });
});

describe('along an outline', () => {
  const square: Point[] = [[0, 0], [10, 0], [10, 10], [0, 10]];
  it('measures and finds places', () => {
    expect(lengthOf(square)).toBe(40);
    expect(nearestOn(square, [11, 4])).toEqual({ along: 14, at: [10, 4], away: 1 });
    expect(pointAlong(square, 14)).toEqual([10, 4]);
    expect(pointAlong(square, -5)).toEqual([0, 5]);
    expect(wayBetween(square, 35, 5)).toBe(10);
  });

  it('cuts at corners in the order of the outline from the first one', () => {
    expect(cornersInOrder(square, [[10, 10], [0, 0], [10, 0]]).map((one) => one.at)).toEqual([[10, 10], [0, 0], [10, 0]]);
    const edges = edgesBetween(square, [[0, 0], [10, 10]]);
    expect(edges).toEqual([[[0, 0], [10, 0], [10, 10]], [[10, 10], [0, 10], [0, 0]]]);
    expect(partBetween(square, 0, 0)).toHaveLength(5);
  });
});

describe('the map to the flat paper', () => {
  it('finds a map again from four pairs and more, and says where it cannot', () => {
    const map = [1.2, 0.1, 5, -0.05, 0.9, 7, 0.0002, -0.0001, 1] as const;
    const from: Point[] = [[0, 0], [4000, 0], [4000, 3000], [0, 3000], [1500, 800]];
    const pairs = from.map((point) => ({ from: point, to: carried(map, point) as Point }));
    const found = mapThrough(pairs);
    for (const [i, value] of map.entries()) expect(found?.[i]).toBeCloseTo(value, 6);
    expect(mapThrough(pairs.slice(0, 3))).toBeNull();
    expect(mapThrough([0, 1, 2, 3].map((i) => ({ from: [i, i], to: [2 * i, 2 * i] })))).toBeNull();
    expect(carried([1, 0, 0, 0, 1, 0, 0, -0.001, 1], [0, 2000])).toBeNull();
  });
});

async function opened(photo = photograph()) {
  const asked: { what: string; said: unknown }[] = [];
  let now = photo;
  const eke = new Eke({
    fetch: answers({
      'GET /api/workroom': { revision: 5, projects: [], steps: { undo: null, redo: null } },
      'GET /api/garments/g1': { id: 'g1', name: 'Vest', revision: 1, project: 'p1', pieces: [], steps: { undo: null, redo: null } },
      'GET /api/garments/g1/pegs': [],
      'GET /api/subjects/g1/photographs': () => [now],
      'PATCH /api/photographs/ph': (said: object) => (now = { ...now, ...said, state: now.state === 'new' ? 'new' : 'changed' }),
      'POST /api/photographs/ph/trace': { id: 'j', what: 'trace', subject: 'ph', title: 'Tracing', state: 'running', fraction: null, sentence: '', result: null },
    }, asked),
  });
  await eke.go('tracing', { garment: 'g1' });
  await eke.need('photographs');
  eke.setOwn('tracing', { photo: 'ph' });
  const tables = { tools: [photographHand('tracing', 'tracing.hand', () => null), touchTool('tracing', '+', 'x', 'i')], commands: photographCommands('tracing') };
  return { eke, asked, driver: new Driver(eke, tables), patches: () => asked.filter((a) => a.what.startsWith('PATCH')).map((a) => a.said) };
}

describe('the hand on a photograph', () => {
  const corner = { kind: 'handle', id: 'corner:0:1' };
  it('shows a corner under way, says it once on release, and asks nothing meanwhile', async () => {
    const { eke, driver, patches } = await opened();
    driver.press([402, 2899], corner).move([500, 2800]);
    expect(eke.state.draft?.value).toEqual({ id: 'corner:0:1', at: [498, 199] });
    expect(driver.captured).toBe(true);
    expect(patches()).toEqual([]);
    driver.release([500, 2800]);
    expect(eke.state.doc.photographs?.[0]?.references[0]?.corners_px?.[1]).toEqual([498, 199]);
    await driver.settle();
    await new Promise((done) => setTimeout(done, 5));
    expect(patches()).toHaveLength(1);
    expect(eke.state.draft).toBeNull();
  });

  it.each(['cancel', 'blur'] as const)('gives a corner back on %s', async (way) => {
    const { eke, driver, patches } = await opened();
    driver.press([400, 2899], corner).move([500, 2800])[way]().release([500, 2800]);
    expect(eke.state.draft).toBeNull();
    expect(eke.state.doc.photographs?.[0]?.references[0]?.corners_px?.[1]).toEqual([400, 100]);
    expect(patches()).toEqual([]);
  });

  it('nudges the chosen corner by arrow keys, the newest word winning', async () => {
    const { eke, driver, patches } = await opened();
    driver.click([400, 2899], corner).key('arrowright').key('shift+arrowdown').key('arrowright');
    expect(eke.state.doc.photographs?.[0]?.references[0]?.corners_px?.[1]).toEqual([402, 110]);
    await new Promise((done) => setTimeout(done, 20));
    const last = patches().at(-1) as { references: { corners_px: number[][] }[] };
    expect(last.references[0]?.corners_px[1]).toEqual([402, 110]);
    expect(patches().length).toBeLessThanOrEqual(3);
  });

  it('touches inside, and takes a touch away again', async () => {
    const { eke, driver } = await opened();
    driver.key('i').click([2000, 1000]);
    expect(eke.state.doc.photographs?.[0]?.touches).toHaveLength(2);
    expect(eke.state.doc.photographs?.[0]?.touches[1]).toEqual({ x_px: 2000, y_px: 1999, side: '+' });
    driver.press([2000, 1000]).move([2300, 1000]).release([2300, 1000]);
    expect(eke.state.doc.photographs?.[0]?.touches).toHaveLength(2);
    driver.click([1000, 1999], { kind: 'handle', id: 'touch:0' });
    expect(eke.state.doc.photographs?.[0]?.touches).toHaveLength(1);
  });

  it('touches by keyboard too, and moves the touch by arrow keys', async () => {
    const { eke, driver } = await opened();
    driver.key('i').key('enter');
    expect(eke.state.doc.photographs?.[0]?.touches[1]).toEqual({ x_px: 2000, y_px: 1499, side: '+' });
    driver.key('shift+arrowleft');
    expect(eke.state.doc.photographs?.[0]?.touches[1]).toMatchObject({ x_px: 1990 });
    driver.key('delete');
    expect(eke.state.doc.photographs?.[0]?.touches).toHaveLength(1);
  });

  it('says that it must be traced again as soon as anything that matters is said', async () => {
    const { eke, driver } = await opened(photograph({ state: 'found' }));
    driver.press([400, 2899], corner).move([500, 2800]).release([500, 2800]);
    expect(eke.state.doc.photographs?.[0]?.state).toBe('changed');
  });

  it('traces only after all that was said has arrived', async () => {
    const { asked, driver } = await opened();
    driver.press([400, 2899], corner).move([500, 2800]).release([500, 2800]).key('t');
    await new Promise((done) => setTimeout(done, 20));
    const order = asked.map((a) => a.what).filter((what) => what.startsWith('P'));
    expect(order).toEqual(['PATCH /api/photographs/ph', 'POST /api/photographs/ph/trace']);
  });
});
