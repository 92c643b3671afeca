import { t } from '../../core/language';
import { describe, expect, it } from 'vitest';
import { GENERAL } from '../../core/commands/general';
import { answers, Driver } from '../../core/driver';
import { Eke } from '../../core/eke';
import type { Point } from '../../core/geometry-types';
import { Path } from '../../core/geometry/path';
import { layoutOf, onTable } from '../pieces/layout';
import { garment, SIDE } from '../pieces/testing';
import { commands, isFit, planNow, stepsSeen } from './actions';
import { amended, fieldsOf } from './amendable';
import { knotsIn, pointIn, type Params } from './fields';
import { knotAt, knotPlaces, movedEdges } from './knots';
import { begin, changeOf, idle, planOf, withKnot, withNewKnot, type Plan } from './plan';
import { movedInwards, profileOf, type Knot } from './profile';
import { tools } from './tools';

const line = (id: string, kind: string, more = {}) => ({ id, kind, sentence: kind, at: '', note: '', on: true, undone: false, set_aside: null, params: {}, picture: null, ...more });
const HISTORY = { revision: 1, lines: [line('c1', 'trace.add'), line('c2', 'mockup.note'), line('c3', 'fit.take_in'), line('c4', 'true.straighten')], steps: { undo: null, redo: null } };

const plan = (change: string, params: Params): Plan => ({ kind: 'named', change, params });
const knotsOf = (made: Plan | null) => knotsIn(made?.params ?? {});

async function opened(made = garment()) {
  const asked: { what: string; said: unknown }[] = [];
  const eke = new Eke({
    fetch: answers({
      'GET /api/workroom': { revision: 1, projects: [], steps: { undo: null, redo: null } },
      'GET /api/garments/g1': made,
      'GET /api/garments/g1/pegs': [],
      'GET /api/garments/g1/history?pictures=true': HISTORY,
      'POST /api/garments/g1/changes': { id: 'made', sentence: 'Done.', revision: 2, unsettled: [] },
      'POST /api/garments/g1/history/c3/switch': { id: 'made', sentence: 'Off.', revision: 2, unsettled: [] },
      'GET /api/jobs': [],
    }, asked),
  });
  await eke.go('mock-ups', { garment: 'g1' });
  await eke.need('history');
  const driver = new Driver(eke, { tools, commands: [...commands, ...GENERAL] });
  const posts = () => asked.filter((one) => one.what.startsWith('POST'));
  const at = (piece: string, p: Point) => onTable(layoutOf(made), piece, p);
  return { eke, driver, posts, at };
}

describe('a profile along a seam', () => {
  // values of scipy 1.x PchipInterpolator at nine even places
  it.each<[Knot[], number[]]>([
    [[[0, 0], [330, 10], [469, 0]], [0, 4.438811, 7.320419, 8.981227, 9.757636, 9.986047, 9.635618, 5.840209, 0]],
    [[[0, 0], [100, 4], [180, 12], [300, 11], [500, -3]], [0, 1.942414, 6.541583, 11.994912, 11.613956, 10.768719, 8.068798, 3.265826, -3]],
    [[[10, 2], [200, 9]], [2, 2.875, 3.75, 4.625, 5.5, 6.375, 7.25, 8.125, 9]],
    [[[0, 5], [50, 5], [90, -20], [400, -21]], [5, 5, -20.083686, -20.433847, -20.682575, -20.846712, -20.9431, -20.988582, -21]],
  ])('runs through its knots as SciPy draws it (%#)', (knots, told) => {
    const profile = profileOf(knots);
    const from = knots[0]?.[0] ?? 0, to = knots.at(-1)?.[0] ?? 0;
    told.forEach((value, i) => expect(profile(from + ((to - from) * i) / 8)).toBeCloseTo(value, 5));
    for (const [mm, amount] of knots) expect(profile(mm)).toBeCloseTo(amount, 9);
  });

  it('is constant beyond its knots, and nothing without any', () => {
    expect(profileOf([[50, 3], [80, 6]])(0)).toBe(3);
    expect(profileOf([[50, 3], [80, 6]])(900)).toBe(6);
    expect(profileOf([])(10)).toBe(0);
  });

  it('moves an edge to the left of its way, which is inside', () => {
    const moved = movedInwards(Path.line([0, 0], [100, 0]), () => 5, 4);
    expect(moved).toEqual([[0, 5], [25, 5], [50, 5], [75, 5], [100, 5]]);
  });
});

describe('knots', () => {
  it('stand on both sides of the seam, each moved by its share, inwards', () => {
    const made = garment();
    const places = knotPlaces(made, SIDE, [[100, 12]], [0.5, 0.5]);
    expect(places.map(({ side, piece }) => [side, piece])).toEqual([['a', 'front'], ['b', 'back']]);
    expect(places[0]?.at).toEqual([194, 100]);
    // side two is 404 mm for 400: the place is stretched with it
    expect(places[1]?.at[0]).toBeCloseTo(6);
    expect(places[1]?.at[1]).toBeCloseTo(101);
    expect(knotPlaces(made, SIDE, [[100, 12]], [1, 0])).toHaveLength(1);
  });

  it('read the hand back: how far along side one, how much in all', () => {
    const made = garment();
    expect(knotAt(made, SIDE, 'a', 0.5, 'front', [194, 100])).toEqual([100, 12]);
    const back = knotAt(made, SIDE, 'b', 0.5, 'back', [6, 101]);
    expect(back?.[0]).toBeCloseTo(100);
    expect(back?.[1]).toBe(12);
    expect(knotAt(made, SIDE, 'a', 0.5, 'front', [203, 50])).toEqual([50, -6]);
    expect(knotAt(made, SIDE, 'a', 0.5, 'pocket', [0, 0])).toBeNull();
  });

  it('keep their order and stay on the seam', () => {
    const knots: Knot[] = [[0, 0], [200, 10], [400, 0]];
    expect(withKnot(knots, 1, [500, 8], 400)[1]).toEqual([399, 8]);
    expect(withKnot(knots, 0, [-30, 2], 400)[0]).toEqual([0, 2]);
    expect(withNewKnot(knots, [100, 5]).map((knot) => knot[0])).toEqual([0, 100, 200, 400]);
    expect(withNewKnot(knots, [200.4, 7])).toEqual([[0, 0], [200.4, 7], [400, 0]]);
  });

  it('move every edge of a seam', () => {
    expect(movedEdges(garment(), SIDE, [[0, 0], [200, 10], [400, 0]], [0.5, 0.5]).map((one) => one.edge)).toEqual(['front-right', 'back-left']);
  });
});

describe('plans', () => {
  it('begin with something to look at, within the seam and the piece', () => {
    const made = garment();
    const seam = begin(made, 'fit.take_in', { edge: 'front-right', mm: 150 });
    expect(seam?.params).toMatchObject({ seam: 'side', share_a: 0.5 });
    expect(knotsOf(seam)[1]).toEqual([150, 10]);
    expect(knotsOf(seam).at(-1)?.[0]).toBeLessThan(400);
    const dart = begin(made, 'fit.add_dart', { edge: 'front-top', mm: 100 });
    expect(dart?.params).toEqual({ edge: 'front-top', mm: 100, from_end: 'start', intake_mm: 10, apex: [100, 310] });
    const shallow = begin(made, 'fit.add_dart', { edge: 'pocket-left', mm: 50 });
    expect(pointIn(shallow?.params ?? {}, 'apex')?.[0]).toBeLessThan(120);
  });

  it('say themselves as the kinds of change that the server knows', () => {
    expect(changeOf(plan('fit.take_in', { seam: 's', knots: [[200, 8], [0, 0]], share_a: 1 }))).toEqual({ kind: 'fit.take_in', params: { seam: 's', knots: [[0, 0], [200, 8]], share_a: 1 } });
    expect(changeOf(plan('fit.move_dart', { dart: 'd', edge: 'e', mm: 30, from_end: 'start' }))).toEqual({ kind: 'fit.move_dart', params: { dart: 'd', edge: 'e', mm: 30, from_end: 'start' } });
    expect(idle(garment(), plan('fit.take_in', { seam: 'side', knots: [[0, 0], [9, 0]], share_a: 1 }))).toBe(true);
  });

  it('are let go when their seam is gone', async () => {
    const { eke } = await opened(garment({ seams: [] }));
    eke.setOwn('mock-ups', { plan: plan('fit.take_in', { seam: 'side', knots: [[0, 1]], share_a: 0.5 }) });
    expect(planOf(eke.state)).toBeNull();
  });
});

describe('the hand', () => {
  it('chooses an edge where it was pressed and takes its seam in there', async () => {
    const { eke, driver, at, posts } = await opened();
    driver.click(at('front', [200, 120]), { kind: 'edge', id: 'front-right' }).key('i');
    expect(knotsOf(planOf(eke.state))[1]?.[0]).toBeCloseTo(120);
    expect(posts()).toEqual([]);
  });

  it('drags a knot with a draft, and asks nothing of the server', async () => {
    const { eke, driver, at, posts } = await opened();
    driver.click(at('front', [200, 120]), { kind: 'edge', id: 'front-right' }).key('i');
    driver.press(at('front', [195, 120]), { kind: 'knot', id: '1|a|front' }).move(at('front', [190, 200]));
    const under = planNow(eke.state);
    expect(knotsOf(under)[1]?.[0]).toBeCloseTo(200);
    expect(knotsOf(under)[1]?.[1]).toBe(20);
    expect(knotsOf(planOf(eke.state))[1]?.[1]).toBe(10);
    await driver.release(at('front', [190, 200])).settle();
    expect(knotsOf(planOf(eke.state))[1]?.[1]).toBe(20);
    expect(posts()).toEqual([]);
    await driver.key('x').settle();
    expect(planOf(eke.state)).toBeNull();
  });

  it.each(['cancel', 'blur'] as const)('gives a knot back on %s', async (way) => {
    const { eke, driver, at } = await opened();
    driver.click(at('front', [200, 120]), { kind: 'edge', id: 'front-right' }).key('i');
    const before = planOf(eke.state);
    driver.press(at('front', [195, 120]), { kind: 'knot', id: '1|a|front' }).move(at('front', [180, 200]))[way]();
    await driver.release(at('front', [180, 200])).settle();
    expect(planOf(eke.state)).toEqual(before);
  });

  it('adds a knot where the seam is pressed', async () => {
    const { eke, driver, at } = await opened();
    driver.click(at('front', [200, 200]), { kind: 'edge', id: 'front-right' }).key('i');
    driver.click(at('back', [0, 101]), { kind: 'edge', id: 'back-left' });
    expect(knotsOf(planOf(eke.state))).toHaveLength(4);
    expect(knotsOf(planOf(eke.state))[1]?.[0]).toBeCloseTo(100);
  });

  it('adds a dart, moves its point, and applies it with the reason', async () => {
    const { eke, driver, at, posts } = await opened();
    driver.click(at('front', [100, 400]), { kind: 'edge', id: 'front-top' }).key('d');
    driver.drag([at('front', [100, 310]), at('front', [104, 300]), at('front', [110, 290])], { kind: 'apex', id: 'plan' });
    expect(pointIn(planOf(eke.state)?.params ?? {}, 'apex')?.[0]).toBeCloseTo(110);
    await commands.find((one) => one.id === 'mock-ups.apply')?.run(eke, 'gapes at the neck');
    expect(posts()[0]?.said).toMatchObject({ kind: 'fit.add_dart', note: 'gapes at the neck', params: { edge: 'front-top', intake_mm: 10 } });
    expect(planOf(eke.state)).toBeNull();
  });
});

describe('steps', () => {
  it('are those of the fit, or all', async () => {
    const { eke, driver } = await opened();
    expect(stepsSeen(eke.state).map((one) => one.id)).toEqual(['c2', 'c3']);
    eke.setOwn('mock-ups', { all: true });
    expect(stepsSeen(eke.state)).toHaveLength(4);
    driver.key(']').key(']');
    expect(eke.state.view.own['mock-ups']?.['step']).toBe('c2');
    expect(isFit({ kind: 'true.fair' })).toBe(false);
  });

  it('offer their numbers, also those of knots and recipes', () => {
    const fields = fieldsOf({ kind: 'fit.take_in', params: { seam: 's', name: 'side', knots: [[0, 0], [330, 10]], share_a: 0.5 } });
    expect(fields.map((field) => [field.path.join('/'), field.value])).toEqual([['share_a', 0.5], ['knots/0/0', 0], ['knots/0/1', 0], ['knots/1/0', 330], ['knots/1/1', 10]]);
    expect(fieldsOf({ kind: 'recipe.add', params: { params: { width_mm: 45, edges: ['e'] } } }).map((field) => field.path)).toEqual([['params', 'width_mm']]);
    expect(fieldsOf({ kind: 'trace.add', params: { traced_allowance_mm: 10 } })).toEqual([]);
  });

  it('say what each number does, by the kind of step', () => {
    const told = (kind: string, params: Record<string, unknown>) => fieldsOf({ kind, params }).map((field) => t(field.key));
    expect(told('fit.lengthen', { edge: 'e', fraction: 0.5, by_mm: 12 })).toEqual(['Longer by']);
    expect(told('fit.broaden', { edge: 'e', by_mm: 8 })).toEqual(['Broader by']);
    expect(told('fit.bust', { edge: 'e', by_mm: 10 })).toEqual(['Wider on each half by']);
    expect(told('fit.flare', { edge: 'e', by_mm: 60, slashes: 3 })).toEqual(['Wider in all by', 'Slashes']);
    expect(told('fit.dart_shorten', { dart: 'd', by_mm: 12 })).toEqual(['Shorter by']);
    expect(told('fit.dart_intake', { dart: 'd', intake_mm: 22 })).toEqual(['Wide at the edge']);
    expect(told('fit.dart_split', { dart: 'd', edge: 'e', share: 0.5, short_mm: 25 })).toEqual(['Part that goes to the new dart', 'Points drawn back by']);
    expect(told('fit.shoulder_slope', { seam: 's', tip: 'end', drop_mm: 8 })).toEqual(['The tip lower by']);
    expect(told('fit.opening', { edge: 'e', start_mm: 5, end_mm: 0 })).toEqual(['Its start, into the piece', 'Its end, into the piece']);
    expect(told('fit.wedge', { edge: 'e', width_mm: 6 })).toEqual(['Width']);
    expect(told('fit.sleeve_cap', { seam: 's', ease_mm: 20 })).toEqual(['Ease']);
    expect(told('fit.hem', { edge: 'e', by_mm: 20 })).toEqual(['Longer by']);
    expect(told('fit.hem', { edge: 'e', knots: [[0, 10]] })).toEqual(['From the start', 'Longer by']);
    expect(told('fit.move_seam', { seam: 's', knots: [[0, 10]] })).toEqual(['From the start', 'The first side gains']);
  });

  it('exchange one number and keep what stands beside it', () => {
    const params = { knots: [[0, 0], [330, 10]], params: { width_mm: 45, edges: ['e'] }, mm: 3 };
    expect(amended({ params }, ['knots', 1, 1], 12)).toEqual({ knots: [[0, 0], [330, 12]] });
    expect(amended({ params }, ['params', 'width_mm'], 60)).toEqual({ params: { width_mm: 60, edges: ['e'] } });
    expect(amended({ params }, ['mm'], 4)).toEqual({ mm: 4 });
    expect(params.knots[1]?.[1]).toBe(10);
  });
});
