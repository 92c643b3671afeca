import { describe, expect, it } from 'vitest';
import { GENERAL } from '../../core/commands/general';
import { answers, Driver } from '../../core/driver';
import { Eke } from '../../core/eke';
import type { Point } from '../../core/geometry-types';
import { shapeOf, heartOf, inside, levelCrossings } from '../pieces/shape';
import { edgesChosen, findingKey, neighboursChosen } from './actions';
import { commands } from './parts';
import { onTable, layoutNow, inPiece } from '../pieces/layout';
import { bendOf, numbersOf } from './numbers';
import { alongA, placeOnRun, snapped } from '../pieces/run';
import { directed, meet, saidSeam, sewingOf, toggled, turnedRound, NOTHING_SEWN } from './sewing';
import { box, edge, garment, SIDE } from '../pieces/testing';
import { tools } from './tools';
import { drawWalk, standing } from './walked';
import { open, questionNow, sureness } from './question';

async function opened(made = garment(), answersMore: Record<string, unknown> = {}) {
  const asked: { what: string; said: unknown }[] = [];
  const eke = new Eke({
    fetch: answers({
      'GET /api/workroom': { revision: 1, projects: [], steps: { undo: null, redo: null } },
      'GET /api/garments/g1': () => made,
      'GET /api/garments/g1/pegs': [],
      'POST /api/garments/g1/changes': { id: 'made', sentence: 'Done.', revision: 2, unsettled: [] },
      'GET /api/jobs': [], ...answersMore,
    }, asked),
  });
  await eke.go('pattern', { garment: 'g1' });
  const driver = new Driver(eke, { tools, commands: [...commands, ...GENERAL] });
  const posts = () => asked.filter((one) => one.what.startsWith('POST')).map((one) => one.said as { kind: string; params: Record<string, unknown> });
  /** A place in the frame of a piece, on the table. */
  const at = (piece: string, p: Point) => onTable(layoutNow(eke.state), piece, p);
  return { eke, driver, posts, at, asked };
}

describe('the resting hand', () => {
  it('chooses what is pressed, several with Shift, and nothing on an empty place', async () => {
    const { eke, driver, at } = await opened();
    driver.click(at('front', [200, 100]), { kind: 'edge', id: 'front-right' });
    expect(eke.state.view.selection).toEqual({ edge: ['front-right'] });
    driver.click(at('front', [100, 400]), { kind: 'edge', id: 'front-top' }, { shift: true });
    expect(eke.state.view.selection).toEqual({ edge: ['front-right', 'front-top'] });
    driver.click([9999, 9999]);
    expect(eke.state.view.selection).toEqual({});
  });

  it('moves a corner by a drag: a preview, then one change in the frame of the piece', async () => {
    const { eke, driver, at, posts } = await opened();
    driver.press(at('back', [220, 0]), { kind: 'corner', id: 'back-right' }).move(at('back', [230, -12]));
    expect(eke.state.draft).toMatchObject({ kind: 'pattern.corner', value: { edge: 'back-right' } });
    expect(posts()).toEqual([]);
    await driver.release(at('back', [230, -12])).settle();
    expect(posts()).toHaveLength(1);
    expect(posts()[0]).toMatchObject({ kind: 'corner.move', params: { edge: 'back-right', end: 'start' } });
    const to = posts()[0]?.params['to'] as Point;
    expect(to[0]).toBeCloseTo(230);
    expect(to[1]).toBeCloseTo(-12);
  });

  it.each(['cancel', 'blur'] as const)('gives a corner back on %s', async (way) => {
    const { eke, driver, at, posts } = await opened();
    driver.press(at('back', [220, 0]), { kind: 'corner', id: 'back-right' }).move(at('back', [240, 0]))[way]();
    expect(eke.state.draft).toBeNull();
    await driver.release(at('back', [240, 0])).settle();
    expect(posts()).toEqual([]);
  });

  it('pushes a piece aside in this window only', async () => {
    const { driver, at, posts } = await opened();
    const before = at('back', [50, 50]);
    await driver.drag([before, [before[0] + 80, before[1] + 10], [before[0] + 100, before[1] - 40]], { kind: 'piece', id: 'back' }).settle();
    const after = at('back', [50, 50]);
    expect(after[0] - before[0]).toBeCloseTo(100);
    expect(after[1] - before[1]).toBeCloseTo(-40);
    expect(posts()).toEqual([]);
    driver.key('t');
    expect(at('back', [50, 50])).toEqual(before);
  });

  it('slides a notch along its edge to the distance of its mate', async () => {
    const { driver, at, posts } = await opened();
    // n-back lies 404 - 244 = 160 mm along the seam
    await driver.press(at('front', [200, 150]), { kind: 'notch', id: 'n-front' }).move(at('front', [205, 156])).release(at('front', [205, 156])).settle();
    expect(posts()[0]).toMatchObject({ kind: 'notch.set', params: { id: 'n-front', edge: 'front-right', mm: 160, count: 1 } });
  });

  it('moves one end of the grain', async () => {
    const { driver, at, posts } = await opened();
    await driver.press(at('back', [110, 20]), { kind: 'grain', id: 'back|start' }).move(at('back', [120, 20])).release(at('back', [120, 20])).settle();
    const [from, to] = posts()[0]?.params['along'] as [Point, Point];
    expect(posts()[0]?.kind).toBe('grain.set');
    expect(from[0]).toBeCloseTo(120);
    expect(to).toEqual([110, 384]);
  });

  it('leaves derived pieces as their recipe makes them', async () => {
    const { driver, at, posts } = await opened();
    await driver.press(at('r1/front', [0, 0]), { kind: 'corner', id: 'r1/front-bottom' }).move(at('r1/front', [9, 9])).release(at('r1/front', [9, 9])).settle();
    expect(posts()).toEqual([]);
  });
});

describe('tools', () => {
  it('set a notch on both sides of a seam, at the distance along side one', async () => {
    const { driver, at, posts } = await opened();
    driver.key('n');
    await driver.move(at('front', [201, 300]), { kind: 'edge', id: 'front-right' }).click(at('front', [201, 300]), { kind: 'edge', id: 'front-right' }).settle();
    expect(posts()[0]).toMatchObject({ kind: 'notch.pair', params: { seam: 'side' } });
    expect(posts()[0]?.params['at_mm']).toBeCloseTo(300);
  });

  it('set a single notch where it meets the mate, or when the maker wants one side only', async () => {
    const { eke, driver, at, posts } = await opened();
    driver.key('n');
    await driver.click(at('front', [200, 163]), { kind: 'edge', id: 'front-right' }).settle();
    expect(posts()[0]).toMatchObject({ kind: 'notch.set', params: { edge: 'front-right', mm: 160 } });
    eke.setOwn('pattern', { bothSides: false });
    await driver.click(at('front', [200, 300]), { kind: 'edge', id: 'front-right' }).settle();
    expect(posts()[1]?.kind).toBe('notch.set');
  });

  it('put a corner on an edge and are laid down', async () => {
    const { eke, driver, at, posts } = await opened();
    driver.key('k');
    await driver.click(at('front', [90, 402]), { kind: 'edge', id: 'front-top' }).settle();
    expect(posts()[0]).toMatchObject({ kind: 'edge.split', params: { edge: 'front-top' } });
    expect(posts()[0]?.params['mm']).toBeCloseTo(110);
    expect(eke.state.view.tool).toBeNull();
  });

  it('draw a balance line level across a piece', async () => {
    const { driver, at, posts } = await opened();
    driver.key('b');
    await driver.move(at('pocket', [60, 40])).click(at('pocket', [60, 40])).settle();
    expect(posts()[0]).toMatchObject({ kind: 'mark.set', params: { piece: 'pocket', kind: 'balance', name: 'waist' } });
    const [p, q] = posts()[0]?.params['points'] as [Point, Point];
    expect([p[0], q[0]]).toEqual([0, 120]);
    expect(p[1]).toBeCloseTo(40);
  });

  it('draw a grain line by a drag, and ask for a longer one', async () => {
    const { eke, driver, at, posts } = await opened();
    driver.key('g');
    await driver.drag([at('pocket', [60, 20]), at('pocket', [61, 22])]).settle();
    expect(posts()).toEqual([]);
    expect(eke.state.said?.sentence).toContain('short');
    await driver.drag([at('pocket', [60, 20]), at('pocket', [62, 60]), at('pocket', [64, 80])]).settle();
    expect(posts()[0]).toMatchObject({ kind: 'grain.set', params: { piece: 'pocket' } });
  });

  it.each(['n', 'k', 'b', 'g'])('leave no draft behind on Esc (%s)', async (key) => {
    const { eke, driver, at } = await opened();
    driver.key(key).move(at('front', [200, 100]), { kind: 'edge', id: 'front-right' }).press(at('front', [150, 100])).move(at('front', [150, 200]));
    driver.cancel();
    expect(eke.state.draft).toBeNull();
  });

  it('say a seam by hand', async () => {
    const { eke, driver, posts } = await opened();
    driver.key('s').click([0, 0], { kind: 'edge', id: 'front-top' }).key('enter').click([0, 0], { kind: 'edge', id: 'back-top' });
    expect(sewingOf(eke.state)).toMatchObject({ a: [{ edge: 'front-top', reverse: false }], b: [{ edge: 'back-top', reverse: true }] });
    await driver.key('enter').settle();
    expect(posts()[0]).toMatchObject({ kind: 'seam.say', params: { a: [{ edge: 'front-top', reverse: false }], b: [{ edge: 'back-top', reverse: true }] } });
    expect(eke.state.view.selection).toEqual({ seam: ['made'] });
    expect(eke.state.view.tool).toBeNull();
    expect(sewingOf(eke.state)).toEqual(NOTHING_SEWN);
  });
});

describe('a seam by keyboard', () => {
  it('takes the edge that was stepped to, and goes on with Enter', async () => {
    const { eke, driver, posts } = await opened();
    driver.key('s').key('p').key('e').key('e').key('e').key('enter');
    expect(sewingOf(eke.state).a.map((part) => part.edge)).toEqual(['front-top']);
    driver.key('enter').key('p').key('p').key('e').key('e').key('e').key('enter');
    expect(sewingOf(eke.state).b.map((part) => part.edge)).toEqual(['back-top']);
    await driver.key('enter').settle();
    expect(posts()[0]).toMatchObject({ kind: 'seam.say' });
  });
});

describe('commands', () => {
  it('goes from line to line of a piece by key, and opens the form for what was traced shut', async () => {
    const line = (id: string, x: number) => ({ id, kind: 'line', name: id, points: [[x, 100], [x, 300]] as [number, number][], held_on: null });
    const { eke, driver } = await opened(garment({ pieces: [box('front', 200, 400, { marks: [line('one', 50), line('two', 150)] })] }));
    driver.key('shift+m');
    expect(eke.state.view.selection).toEqual({ mark: ['one'] });
    driver.key('shift+m');
    expect(eke.state.view.selection).toEqual({ mark: ['two'] });
    driver.key('shift+g');
    expect(eke.state.view.own['pattern']?.['opening']).toEqual({ mark: 'two' });
    eke.select({ edge: ['front-right'] });
    driver.key('shift+g');
    expect(eke.state.view.own['pattern']?.['opening']).toEqual({ edge: 'front-right' });
  });

  it('go round the piece by keyboard', async () => {
    const { eke, driver } = await opened();
    driver.key('p');
    expect(eke.state.view.selection).toEqual({ piece: ['front'] });
    driver.key('e');
    expect(eke.state.view.selection).toEqual({ edge: ['front-bottom'] });
    driver.key('shift+e');
    expect(eke.state.view.selection).toEqual({ edge: ['front-left'] });
    driver.key('shift+p').key('shift+p');
    expect(eke.state.view.selection).toEqual({ piece: ['pocket'] });
  });

  it('are offered where they make sense', async () => {
    const { eke } = await opened();
    const can = (id: string) => commands.find((one) => one.id === id)?.available?.(eke.state);
    eke.select({ edge: ['front-right'] });
    expect(can('pattern.merge')).toBe(false);
    expect(can('pattern.walk')).toBe(true);
    eke.select({ edge: ['front-right', 'front-bottom'] });
    expect(neighboursChosen(eke.state)?.map((one) => one.edge.id)).toEqual(['front-bottom', 'front-right']);
    eke.select({ edge: ['front-right', 'front-left'] });
    expect(neighboursChosen(eke.state)).toBeNull();
    eke.select({ edge: ['r1/front-top'] });
    expect(edgesChosen(eke.state)).toEqual([]);
  });

  it('remember with the garment which edges are not sewn together', async () => {
    const proposal = { a: [{ piece: 'front', edge: 'front-top', reverse: false }], b: [{ piece: 'back', edge: 'back-top', reverse: true }], words_a: '', words_b: '', length_a_mm: 200, length_b_mm: 220, confidence: 0.7, ease_mm: 0, b_mirrored: false, why: '' };
    const first = await opened();
    first.eke.setOwn('pattern', { proposals: [proposal], asking: true });
    expect(questionNow(first.eke.state)).toBe(proposal);
    await commands.find((one) => one.id === 'pattern.not-these')?.run(first.eke, proposal);
    expect(first.posts()[0]).toEqual({ kind: 'fact.set', params: { name: 'not_sewn_together', value: ['back-top~front-top'] }, note: '', expected: 1 });
    const second = await opened(garment({ facts: { not_sewn_together: ['back-top~front-top'] } }));
    second.eke.setOwn('pattern', { proposals: [proposal], asking: true });
    expect(open(second.eke.state)).toEqual([]);
  });

  it('name a seam as both its edges are called, or tell it by them', async () => {
    const proposal = { a: [{ piece: 'front', edge: 'front-top', reverse: false }], b: [{ piece: 'back', edge: 'back-top', reverse: true }], words_a: 'the top of front', words_b: 'the top of back', length_a_mm: 200, length_b_mm: 220, confidence: 0.7, ease_mm: 0, b_mirrored: false, why: '' };
    const yes = commands.find((one) => one.id === 'pattern.yes');
    const first = await opened();
    await yes?.run(first.eke, proposal);
    expect(first.posts()[0]?.params).toMatchObject({ called: 'the top of front to the top of back', ease_mm: 0, b_mirrored: false });
    expect(first.posts()[0]?.params['name']).toBeUndefined();
    const made = garment();
    for (const piece of made.pieces) for (const one of piece.edges) if (one.id.endsWith('-top')) one.name = 'shoulder';
    const second = await opened(made);
    await yes?.run(second.eke, proposal);
    expect(second.posts()[0]?.params).toMatchObject({ name: 'shoulder' });
  });

  it('settle a finding as it stands', async () => {
    const finding = { code: 'join-angle', severity: 'ask' as const, sentence: '', where: ['side', 'start'], piece: 'front', at: null, amount: 1, unit: '', tolerance: 1, fixes: [], can_settle: true };
    const { eke, posts } = await opened(garment({ findings: [finding] }));
    await commands.find((one) => one.id === 'pattern.settle')?.run(eke, finding);
    expect(posts()[0]).toMatchObject({ kind: 'finding.settle', params: { code: 'join-angle', where: ['side', 'start'] } });
    expect(findingKey(finding)).toBe('join-angle:side,start');
  });
});

describe('seams', () => {
  it('measure along side one from either side', () => {
    const made = garment();
    expect(alongA(made, SIDE, 'front-right', 150)).toBeCloseTo(150);
    expect(alongA(made, SIDE, 'back-left', 404)).toBeCloseTo(0);
    expect(alongA(made, SIDE, 'back-left', 0)).toBeCloseTo(400);
    expect(placeOnRun(made, SIDE.b, 0)).toEqual({ edge: 'back-left', mm: 404 });
  });

  it('snap a notch only when its mate is near', () => {
    expect(snapped(garment(), 'front-right', 155, 8)).toEqual({ mm: 160, mate: 'n-back' });
    expect(snapped(garment(), 'front-right', 120, 8)).toEqual({ mm: 120, mate: null });
    expect(snapped(garment(), 'pocket-top', 20, 8)).toEqual({ mm: 20, mate: null });
  });

  it('run on over pieces that are sewn together', () => {
    const made = garment();
    // the side seam starts where front-right and back-left begin: the hems of both meet there
    expect(meet(made, 'front-right', 'back-bottom')).toBe(true);
    expect(meet(made, 'front-right', 'back-top')).toBe(false);
    const hem = directed(made, [{ piece: 'front', edge: 'front-bottom', reverse: false }, { piece: 'back', edge: 'back-bottom', reverse: false }], 'a');
    expect(hem.map((part) => part.reverse)).toEqual([false, false]);
    const back = directed(made, [{ piece: 'back', edge: 'back-bottom', reverse: false }, { piece: 'front', edge: 'front-bottom', reverse: false }], 'a');
    expect(back.map((part) => part.reverse)).toEqual([true, true]);
  });

  it('are taken apart and turned round', () => {
    const made = garment();
    let sewing = toggled(made, NOTHING_SEWN, 'front-top');
    sewing = toggled(made, { ...sewing, side: 'b' }, 'back-top');
    expect(saidSeam(sewing, 'shoulder')).toEqual({ a: [{ edge: 'front-top', reverse: false }], b: [{ edge: 'back-top', reverse: true }], name: 'shoulder' });
    expect(turnedRound(sewing.b)).toEqual([{ piece: 'back', edge: 'back-top', reverse: false }]);
    expect(toggled(made, sewing, 'back-top').b).toEqual([]);
  });
});

describe('numbers', () => {
  it('of an edge: length, line, corners, mate and difference', async () => {
    const { eke } = await opened();
    eke.select({ edge: ['front-right'] });
    const items = Object.fromEntries(numbersOf(eke.state).map((item) => [item.label, item]));
    expect(items['Length']?.value).toBe('40 cm');
    expect(items['Line']?.value).toBe('straight');
    expect(items['Corners']?.value).toBe('90° and 90°');
    expect(items['Difference']).toMatchObject({ value: '−4 mm', mark: 'attention' });
    expect(items['Sewn to']?.value).toContain('40.4 cm');
  });

  it('tell a straight line, an arc and a curve apart', () => {
    // a quarter circle of radius 100 as one cubic: k = 4/3 (√2 − 1), within 0.03 %
    const k = (4 / 3) * (Math.SQRT2 - 1) * 100;
    const arc = edge('arc', [100, 0], [0, 100], { shape: 'fair', segments: [{ points: [[100, 0], [100, k], [k, 100], [0, 100]] }] });
    const bend = bendOf(arc);
    expect(bend.kind).toBe('round');
    expect(bend.kind === 'round' && bend.radius_mm).toBeCloseTo(100, 0);
    expect(bendOf(edge('line', [0, 0], [50, 50])).kind).toBe('straight');
    const wave = edge('wave', [0, 0], [300, 0], { shape: 'fair', segments: [{ points: [[0, 0], [100, 150], [200, -150], [300, 0]] }] });
    expect(bendOf(wave).kind).toBe('curved');
  });
});

describe('the walk', () => {
  const side = (length_mm: number) => ({ length_mm, stretches: [], notches: [] });
  const walk = (a: number, b: number, running: [number, number][]) => ({ seam: 's', name: '', a: side(a), b: side(b), difference_mm: a - b, ease_mm: 0, running, joins: [], findings: [] });

  it('draws the longer side over the end and the difference enlarged', () => {
    const drawn = drawWalk(walk(500, 496, [[0, 0], [250, 2], [500, 4]]), 1000);
    expect(drawn.scale).toBe(2);
    expect(drawn.over).toEqual({ from: 992, to: 1000, side: 'a' });
    expect(drawn.times).toBe(2);
    expect(drawn.chalk).not.toBe('');
  });

  it('draws nothing between equal sides', () => {
    const drawn = drawWalk(walk(500, 500, [[0, 0], [500, 0]]), 800);
    expect(drawn).toMatchObject({ over: null, chalk: '' });
    expect(standing(walk(500, 500, []))).toBe('same');
    expect(standing(walk(500, 503, []))).toBe('b-longer');
  });
});

describe('shapes', () => {
  it('find a place inside for a name, also in a hollow shape', () => {
    const hollow: Point[] = [[0, 0], [300, 0], [300, 300], [200, 300], [200, 100], [100, 100], [100, 300], [0, 300]];
    expect(inside(hollow, heartOf(hollow))).toBe(true);
    expect(inside(hollow, [150, 200])).toBe(false);
    expect(levelCrossings(hollow, 200)).toEqual([0, 100, 200, 300]);
  });

  it('are worked out once for each piece', () => {
    const piece = box('x', 10, 20);
    expect(shapeOf(piece)).toBe(shapeOf(piece));
    expect(shapeOf(piece).box).toEqual({ left: -15, bottom: -15, width: 40, height: 50 });
  });

  it('are not cut along their fold', () => {
    const half = box('half', 100, 200, { fold: 'half-left', cut_outline: [[0, -15], [115, -15], [115, 215], [0, 215]] });
    expect(shapeOf(half).cutLine).toBe('M0 -15L115 -15M115 -15L115 215M115 215L0 215');
    expect(shapeOf(half).foldLine).toBe('M0 215L0 -15');
    expect(shapeOf(box('whole', 100, 200)).cutLine).toMatch(/Z$/);
  });

  it('go into the frame of a piece and back', async () => {
    const { eke } = await opened();
    const layout = layoutNow(eke.state);
    const there = onTable(layout, 'back', [12, 34]);
    const back = inPiece(layout, 'back', there);
    expect(back[0]).toBeCloseTo(12);
    expect(back[1]).toBeCloseTo(34);
  });

  it('say how sure a question is', () => {
    expect([0.95, 0.7, 0.3].map(sureness)).toEqual(['sure', 'likely', 'perhaps']);
  });
});
