import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { ClothView } from '../../client/types.gen';
import { answers, Driver } from '../../core/driver';
import { Eke } from '../../core/eke';
import type { Point } from '../../core/geometry-types';
import { contains, signedAreaMm2 } from '../../core/geometry/polygon';
import { contours, crossesItself, erased, painted, simpler } from './contours';
import { gripDropped, gripMoved, grips, pointAfter } from './edge';
import { arrow, directions, facing, fallen, pointed, SIDES } from './grain';
import { middleOn } from './looking';
import { commands, freeId, tools } from './parts';
import { drawn, EXAMPLES } from './shapes';
import { shelfFor } from './shelf';

const box: [number, number][] = [[0, 0], [1000, 0], [1000, 600], [0, 600]];
export function cloth(more: Partial<ClothView> = {}): ClothView {
  return {
    id: 'c1', name: 'curtain', outline: box, holes: [], flaws: [], grain_deg: null, same_face: true, nap: 'none', repeat_mm: [null, null], weight_gsm: null,
    shrink_warp_percent: 0, shrink_weft_percent: 0, price: null, origin: '', second_hand: false, washed: false, fibre: '', uncertainty_mm: 0, parent: null,
    photos: [], hottest_wash_deg: null, tumble_dry: null, width_mm: 1000, height_mm: 600, area_mm2: 600_000, kept_for: [], advice: [], ...more,
  } as ClothView;
}

describe('painting', () => {
  it('covers at least a dot of the width of the brush, and hardly more', () => {
    const dot = painted([[100, 100]], 40) as Point[];
    expect(signedAreaMm2(dot)).toBeGreaterThan(0.995 * Math.PI * 400);
    expect(signedAreaMm2(dot)).toBeLessThan(1.06 * Math.PI * 400);
  });

  it('covers a straight stroke: a rectangle with round ends', () => {
    const stroke = painted([[0, 0], [50, 0], [200, 0]], 30) as Point[];
    const area = 200 * 30 + Math.PI * 225;
    expect(Math.abs(signedAreaMm2(stroke) - area) / area).toBeLessThan(0.05);
  });

  it('covers what it is drawn round', () => {
    const round: Point[] = Array.from({ length: 40 }, (_, i) => [100 * Math.cos((i / 39) * 2 * Math.PI), 100 * Math.sin((i / 39) * 2 * Math.PI)]);
    const ring = painted(round, 20) as Point[];
    expect(contains(ring, [0, 0])).toBe(true);
    expect(Math.abs(signedAreaMm2(ring) / (Math.PI * 110 * 110) - 1)).toBeLessThan(0.03);
  });

  it('never crosses itself, and holds every point of the stroke', () => {
    const point = fc.tuple(fc.integer({ min: 0, max: 400 }), fc.integer({ min: 0, max: 400 }));
    fc.assert(fc.property(fc.array(point, { minLength: 1, maxLength: 12 }), fc.integer({ min: 5, max: 120 }), (stroke, width) => {
      const ring = painted(stroke, width) as Point[];
      return signedAreaMm2(ring) > 0 && !crossesItself(ring) && stroke.every((p) => contains(ring, p));
    }), { numRuns: 60 });
  });

  it('rubs a place in two, a crumb away, and leaves alone what it does not touch', () => {
    const strip: [number, number][] = [[0, 0], [200, 0], [200, 30], [0, 30]];
    const parts = erased(strip, [[100, -20], [100, 60]], 40) as Point[][];
    expect(parts).toHaveLength(2);
    expect(parts.reduce((sum, part) => sum + signedAreaMm2(part), 0)).toBeCloseTo(160 * 30, -2.5);
    expect(erased(strip, [[0, 15], [200, 15]], 80)).toEqual([]);
    expect(erased(strip, [[100, 200]], 40)).toBeNull();
  });

  it('finds two separate outlines of a field', () => {
    const rings = contours((x, y) => Math.max(10 - Math.hypot(x - 20, y - 20), 8 - Math.hypot(x - 60, y - 20)), { left: 0, bottom: 0, width: 80, height: 40 }, 1);
    expect(rings.map((ring) => Math.sign(signedAreaMm2(ring)))).toEqual([1, 1]);
  });
});

describe('the edge', () => {
  const dense: [number, number][] = [...Array(21).keys()].map((i): [number, number] => [i * 10, i === 0 || i === 20 ? 0 : Math.sin(i)]).concat([[200, 100], [0, 100]]);
  it('has few grips from afar and more from near', () => {
    expect(grips(dense, 1)).toEqual([0, 20, 21, 22]);
    expect(grips(dense, 0.02).length).toBeGreaterThan(10);
    expect(grips(dense, 1, [7])).toContain(7);
  });

  it('takes what lies between along, the less the further, and nothing else', () => {
    const held = grips(dense, 1);
    const moved = gripMoved(dense, held, 20, [200, -40]);
    expect(moved[20]).toEqual([200, -40]);
    expect(moved[10]![1] - dense[10]![1]).toBeCloseTo(-20, 0);
    expect(moved[0]).toEqual([0, 0]);
    expect(moved[21]).toEqual([200, 100]);
    expect(moved[22]).toEqual([0, 100]);
  });

  it('drops and adds points, but keeps three', () => {
    expect(gripDropped(box, [0, 1, 2, 3], 1)).toEqual([[0, 0], [1000, 600], [0, 600]]);
    expect(gripDropped([[0, 0], [1, 0], [0, 1]], [0, 1, 2], 1)).toHaveLength(3);
    expect(pointAfter(box, [0, 1, 2, 3], 3)).toEqual({ ring: [...box, [0, 300]], grip: 4 });
  });

  it('is made simpler without straying', () => {
    const line: Point[] = [[0, 0], [5, 0.1], [10, 0], [10, 10]];
    expect(simpler(line, 0.2, false)).toEqual([[0, 0], [10, 0], [10, 10]]);
  });
});

describe('the grain', () => {
  it('falls in with seen threads first, then with long edges, and is free otherwise', () => {
    const toward = directions(box, 2);
    expect(fallen(91, toward)).toEqual({ deg: 92, to: 'threads' });
    expect(fallen(268, directions(box, null))).toEqual({ deg: 270, to: 'edge' });
    expect(fallen(45, toward)).toEqual({ deg: 45, to: null });
    expect(fallen(-1, directions(box, null))).toEqual({ deg: 0, to: 'edge' });
  });

  it('turns its top to any side along the threads that are known', () => {
    expect(SIDES.map((side) => facing(null, side))).toEqual([90, 270, 180, 0]);
    expect(SIDES.map((side) => facing(92, side))).toEqual([92, 272, 182, 2]);
    expect(SIDES.map((side) => facing(178.5, side))).toEqual([88.5, 268.5, 178.5, 358.5]);
  });

  it('is an arrow on the cloth, also where its centre is off it', () => {
    expect(pointed([0, 0], [0, 5])).toBe(90);
    expect(arrow([0, 0], 90, 10)[1][1]).toBeCloseTo(5);
    const bow: [number, number][] = [[0, 0], [100, 0], [100, 100], [90, 100], [90, 10], [10, 10], [10, 100], [0, 100]];
    expect(contains(bow, middleOn(bow))).toBe(true);
  });
});

describe('the shelf', () => {
  it('shows all cloths apart and in proportion, whatever the window', () => {
    const many = [[1400, 1000], [300, 2000], [80, 60], [1100, 1100], [500, 400]].map(([w = 1, h = 1], i) => cloth({ id: `c${i}`, outline: [[5, 5], [5 + w, 5], [5 + w, 5 + h], [5, 5 + h]] }));
    for (const [w, h] of [[900, 560], [390, 400], [820, 660]] as const) {
      const { lying, box: all, scale } = shelfFor(many, w, h);
      expect(lying).toHaveLength(5);
      expect((all?.width ?? 0) * scale).toBeLessThanOrEqual(w);
      expect((all?.height ?? 0) * scale).toBeLessThanOrEqual(h);
      for (const a of lying) for (const b of lying) {
        if (a === b) continue;
        const apart = a.box.left >= b.box.left + b.box.width || b.box.left >= a.box.left + a.box.width || a.box.bottom >= b.box.bottom + b.box.height || b.box.bottom >= a.box.bottom + a.box.height;
        expect(apart).toBe(true);
      }
    }
    expect(shelfFor([], 900, 500).lying).toEqual([]);
  });
});

describe('typed shapes', () => {
  it.each(Object.entries(EXAMPLES))('%s has its measures on its outline', (word, mm) => {
    const shape = drawn(word, mm);
    expect(shape?.dimensions).toHaveLength(mm.length);
    shape?.dimensions.forEach((d, i) => expect(Math.hypot(d.to[0] - d.from[0], d.to[1] - d.from[1])).toBeCloseTo(mm[i] ?? 0, 6));
    expect(signedAreaMm2(shape?.outline ?? [])).toBeGreaterThan(0);
  });

  it('does not draw what cannot be', () => {
    expect(drawn('four-sided', [100, 100, 100, 100, 500])).toBeNull();
    expect(drawn('l-shape', [100, 100, 120, 10])).toBeNull();
    expect(drawn('round', [0])).toBeNull();
  });
});

async function opened(first = cloth()) {
  const asked: { what: string; said: unknown }[] = [];
  let now = first, revision = 3;
  const done = (said: { said?: object; polygon?: unknown }) => {
    now = { ...now, ...said.said };
    revision += 1;
    return { id: 'c1', sentence: 'Described “curtain”.', revision, unsettled: [] };
  };
  const eke = new Eke({
    fetch: answers({
      'GET /api/workroom': () => ({ revision, projects: [], steps: { undo: 'x', redo: null } }),
      'GET /api/shelf': () => ({ revision, cloths: [now], gone: [], shapes: [], steps: { undo: null, redo: null } }),
      'GET /api/subjects/shelf/photographs': [],
      'PATCH /api/cloths/c1': done,
      'POST /api/cloths/c1/flaws': done,
    }, asked),
  });
  await eke.go('cloth', { garment: null });
  await eke.need('shelf', 'shelfPhotographs');
  eke.setOwn('cloth', { open: 'c1' });
  const writes = () => asked.filter((a) => !a.what.startsWith('GET'));
  return { eke, asked, writes, now: () => now, driver: new Driver(eke, { tools, commands }) };
}

describe('a cloth under the hand', () => {
  it('has its edge dragged: a draft, then one change with the revision that was seen', async () => {
    const { eke, driver, writes } = await opened();
    driver.press([1000, 600], { kind: 'grip', id: '2' }).move([900, 500]);
    expect((eke.state.draft?.value as { ring: Point[] }).ring[2]).toEqual([900, 500]);
    expect(writes()).toEqual([]);
    await driver.release([900, 500]).settle();
    expect(writes()).toEqual([{ what: 'PATCH /api/cloths/c1', said: { said: { outline: [[0, 0], [1000, 0], [900, 500], [0, 600]] }, expected: 3 } }]);
    expect(eke.state.draft).toBeNull();
  });

  it('is left as it was where its edge would cross itself', async () => {
    const { eke, driver, writes } = await opened();
    await driver.drag([[1000, 600], [500, -300]], { kind: 'grip', id: '2' }).settle();
    expect(writes()).toEqual([]);
    expect(eke.state.said?.tone).toBe('trouble');
    expect(eke.state.draft).toBeNull();
  });

  it.each(['cancel', 'blur'] as const)('gives edge, grain and stroke back on %s', async (way) => {
    const { eke, driver, writes } = await opened();
    driver.press([1000, 600], { kind: 'grip', id: '2' }).move([900, 500])[way]().release([900, 500]);
    driver.press([500, 400], { kind: 'grain', id: '1' }).move([700, 300])[way]().release([700, 300]);
    driver.key('b').press([100, 100]).move([200, 200])[way]().release([200, 200]);
    await driver.settle();
    expect(eke.state.draft).toBeNull();
    expect(writes()).toEqual([]);
  });

  it('has its grain turned by either end, falling in with an edge', async () => {
    const { driver, now } = await opened();
    await driver.press([500, 450], { kind: 'grain', id: '1' }).move([505, 500]).release([505, 500]).settle();
    expect(now().grain_deg).toBe(90);
    await driver.press([500, 150], { kind: 'grain', id: '0' }).move([500, 590]).release([500, 590]).settle();
    expect(now().grain_deg).toBe(270);
  });

  it('is painted and rubbed', async () => {
    const { eke, driver, writes } = await opened();
    driver.key('b').drag([[100, 100], [160, 100], [220, 100]]);
    expect(eke.state.draft).not.toBeNull();
    await driver.settle();
    await new Promise((go) => setTimeout(go, 5));
    expect(writes()).toHaveLength(1);
    expect(writes()[0]?.said).toMatchObject({ kind: 'stain', quality: 1 });
    eke.setOwn('cloth', { brush: { kind: 'hole' } });
    await driver.drag([[500, 300], [520, 300]]).settle();
    await new Promise((go) => setTimeout(go, 5));
    const said = writes()[1]?.said as { said: { holes: Point[][] } };
    expect(said.said.holes).toHaveLength(1);
    driver.key('e').drag([[460, 300], [560, 300]]);
    await driver.settle();
    await new Promise((go) => setTimeout(go, 5));
    expect(writes()[2]?.said).toMatchObject({ said: { holes: [], flaws: [] } });
  });

  it('is painted by keyboard where the brush stands', async () => {
    const { eke, driver, writes } = await opened();
    eke.setCamera('cloth:c1', { x: 300, y: 200, scale: 1 });
    await driver.key('b').key('enter').settle();
    const [x, y] = ((writes()[0]?.said as { polygon: Point[] }).polygon).reduce<Point>((s, p, _i, all) => [s[0] + p[0] / all.length, s[1] + p[1] / all.length], [0, 0]);
    expect(Math.hypot(x - 300, y - 200)).toBeLessThan(1);
  });

  it('gives every flaw an id of its own', () => {
    expect(freeId(cloth({ flaws: [{ id: 'stain 1', polygon: box, kind: 'stain', quality: 1 }] }), 'stain', ['stain 2'])).toBe('stain 3');
  });
});
