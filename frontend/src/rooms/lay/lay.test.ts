import { describe, expect, it } from 'vitest';
import { answers, Driver, json } from '../../core/driver';
import { GENERAL } from '../../core/commands/general';
import { Eke } from '../../core/eke';
import type { BesideView, LayView, PlacementSaid } from '../../client/types.gen';
import type { Point } from '../../core/geometry-types';
import { arrange } from './arrange';
import { cardPlace } from './card-place';
import { copiesOf, grainRule, offGrainDeg, standing, withCopy } from './copies';
import { harmStep } from './stints';
import { labelLines } from './labels';
import { arrangedOf, chosenCopy, heldIn, layOf, layState, letteredCloths, matching, ownOf, stripeLines } from './own';
import { commands, tools } from './parts';
import { aCloth, aLay, anLaid, aPiece, square } from './testing';

const CLOTH = aCloth('c', square(1000));
const OTHER = aCloth('d', square(600));
const FRONT = aPiece('front', square(200), { copies: 2 });
const TIE = aPiece('tie', square(100), { grain: 'any', turns_deg: null });

/** Two fronts and a tie; one front lies. */
function view(more: Partial<LayView> = {}): LayView {
  const laid = { ...anLaid('front', square(200), [100, 100]).laid, id: 'front#1' };
  return aLay({
    use_percent: 4, cloths: [CLOTH, OTHER], cut_pieces: [FRONT, TIE], laid: [laid as LayView['laid'][number]],
    missing: [{ piece: 'front', name: 'front', count: 1 }, { piece: 'tie', name: 'tie', count: 1 }], ...more,
  });
}

async function opened(lay: LayView = view(), put: unknown = undefined) {
  const asked: { what: string; said: unknown }[] = [];
  const table: Record<string, unknown> = {
    'GET /api/workroom': { revision: 5, projects: [], steps: { undo: null, redo: null } },
    'GET /api/garments/g1': { id: 'g1', name: 'Vest', revision: 1, project: 'p1', pieces: [], derived: [], steps: { undo: null, redo: null } },
    'GET /api/garments/g1/pegs': [],
    'GET /api/garments/g1/lay?roles=outer': lay,
    'GET /api/jobs': [],
    'POST /api/garments/g1/lay': { id: 'j1', what: 'lay', subject: 'g1', title: 'Laying', state: 'running', fraction: null, sentence: '', result: null },
    'PUT /api/garments/g1/lay': put ?? ((said: { placements: PlacementSaid[] }) => {
      const laid = said.placements.map((p) => ({ ...anLaid(p.piece, square(p.piece === 'tie' ? 100 : 200), [p.x_mm, p.y_mm], p.turn_deg, p.cloth).laid, ...p }));
      return view({ laid: laid as LayView['laid'], sentence: 'Checked.' });
    }),
  };
  const eke = new Eke({ fetch: answers(table, asked) });
  await eke.go('lay', { garment: 'g1' });
  await eke.need('lay');
  const driver = new Driver(eke, { tools, commands: [...commands, ...GENERAL] });
  const arranged = () => arrangedOf(layOf(eke.state) as LayView, ownOf(eke.state));
  /** A place of a cloth, on the table. */
  const on = (cloth: string, x: number, y: number): Point => {
    const by = arranged().cloths.get(cloth) ?? [0, 0];
    return [x + by[0], y + by[1]];
  };
  const puts = () => asked.filter((a) => a.what.startsWith('PUT')).map((a) => (a.said as { placements: PlacementSaid[] }).placements);
  return { eke, asked, driver, on, puts, arranged, table };
}

const AT = (id: string) => ({ kind: 'laid', id });

describe('a piece moved by hand', () => {
  it('follows the hand as a draft, and is put once on release', async () => {
    const { eke, driver, on, puts } = await opened();
    driver.press(on('c', 200, 200), AT('front#1')).move(on('c', 250, 260));
    expect(heldIn(eke.state.draft)?.at).toMatchObject({ xMm: 150, yMm: 160 });
    expect(puts()).toHaveLength(0);
    expect(driver.captured).toBe(true);
    await driver.release(on('c', 250, 260)).settle();
    expect(puts()).toEqual([[expect.objectContaining({ id: 'front#1', cloth: 'c', x_mm: 150, y_mm: 160, turn_deg: 0 })]]);
    expect(eke.state.doc.lay?.sentence).toBe('Checked.');
    expect(eke.state.draft).toBeNull();
    expect(chosenCopy(eke.state)).toBe('front#1');
  });

  it.each(['cancel', 'blur'] as const)('goes back on %s', async (way) => {
    const { eke, driver, on, puts } = await opened();
    driver.press(on('c', 200, 200), AT('front#1')).move(on('c', 250, 260))[way]().release(on('c', 250, 260));
    await driver.settle();
    expect(eke.state.draft).toBeNull();
    expect(puts()).toHaveLength(0);
  });

  it('is only chosen by a click', async () => {
    const { eke, driver, on, puts } = await opened();
    await driver.click(on('c', 200, 200), AT('front#1')).settle();
    expect(chosenCopy(eke.state)).toBe('front#1');
    expect(puts()).toHaveLength(0);
    await driver.click(on('c', 700, 700)).settle();
    expect(chosenCopy(eke.state)).toBeNull();
  });

  it('stops at the edge of the cloth while the hand is just outside', async () => {
    const { driver, on, puts } = await opened();
    await driver.drag([on('c', 200, 200), on('c', 150, 200), on('c', 60, 200), on('c', -20, 200)], AT('front#1')).settle();
    expect(puts()[0]?.[0]?.x_mm).toBeCloseTo(0, 1);
  });

  it('goes back into the tray when it is put down beside the cloths', async () => {
    const { eke, driver, on, puts } = await opened();
    await driver.drag([on('c', 200, 200), on('c', 100, 500), on('c', -300, 500)], AT('front#1')).settle();
    expect(puts()).toEqual([[]]);
    expect(eke.state.said?.sentence).toContain('tray');
  });

  it('comes from the tray onto a cloth, and onto another', async () => {
    const { driver, on, puts, arranged } = await opened();
    const slot = arranged().slots.get('front#2');
    const from: Point = [(slot?.xMm ?? 0) + 100, (slot?.yMm ?? 0) + 100];
    await driver.drag([from, on('d', 300, 300)], AT('front#2')).settle();
    expect(puts()[0]).toContainEqual(expect.objectContaining({ id: 'front#2', cloth: 'd', x_mm: 200, y_mm: 200 }));
    expect(puts()[0]).toHaveLength(2);
  });

  it('says what is in the way and is not put where there is no room', async () => {
    const small = { ...CLOTH, ...aCloth('c', square(230)) };
    const laid = [{ ...anLaid('front', square(200), [10, 10]).laid, id: 'front#1' }] as LayView['laid'];
    const { eke, driver, on, puts, arranged } = await opened(view({ cloths: [small], laid }));
    const slot = arranged().slots.get('front#2');
    await driver.drag([[(slot?.xMm ?? 0) + 100, (slot?.yMm ?? 0) + 100], on('c', 110, 110)], AT('front#2')).settle();
    expect(puts()).toHaveLength(0);
    expect(eke.state.said?.sentence).toContain('front is in the way');
    expect(eke.state.draft).toBeNull();
  });

  it('is where it was when the server finds something wrong, and says what', async () => {
    const { eke, driver, on } = await opened(view(), json({ code: 'conflict', sentence: '“front” is 3.0° off the grain.', facts: { faults: [] } }, 409));
    await driver.drag([on('c', 200, 200), on('c', 300, 300)], AT('front#1')).settle();
    expect(eke.state.said).toMatchObject({ sentence: '“front” is 3.0° off the grain.', tone: 'trouble' });
    expect(layOf(eke.state)?.laid[0]).toMatchObject({ x_mm: 100, y_mm: 100 });
    expect(ownOf(eke.state).back).toHaveLength(0);
  });

  it('comes onto a cloth also when nothing has been laid yet', async () => {
    const { eke, driver, on, puts, arranged } = await opened(view({ use_percent: null, laid: [], missing: [{ piece: 'front', name: 'front', count: 2 }, { piece: 'tie', name: 'tie', count: 1 }] }));
    expect(layState(eke.state)).toBe('empty');
    const slot = arranged().slots.get('tie#1');
    await driver.drag([[(slot?.xMm ?? 0) + 50, (slot?.yMm ?? 0) + 50], on('c', 300, 300)], AT('tie#1')).settle();
    expect(puts()[0]).toHaveLength(1);
  });

  it('does not move while a lay is being looked for, or when the lay is old', async () => {
    const { driver, on, puts, eke } = await opened(view({ stale: ['The pattern has changed.'] }));
    expect(layState(eke.state)).toBe('stale');
    await driver.drag([on('c', 200, 200), on('c', 300, 300)], AT('front#1')).settle();
    expect(puts()).toHaveLength(0);
  });
});

describe('turning', () => {
  it('by the head of the grain arrow only comes to rest where the grain allows', async () => {
    const { eke, driver, on, puts } = await opened();
    driver.press(on('c', 200, 330), { kind: 'lay-turn', id: 'front#1' }).move(on('c', 300, 250)).move(on('c', 260, 120));
    expect(heldIn(eke.state.draft)?.at.turnDeg).toBe(180);
    await driver.release(on('c', 260, 120)).settle();
    expect(puts()[0]?.[0]).toMatchObject({ turn_deg: 180 });
    expect(puts()[0]?.[0]?.x_mm).toBeCloseTo(300);
  });

  it('by keys steps through the turns of the grain, and freely where any will do', async () => {
    const laid = [{ ...anLaid('tie', square(100), [500, 500]).laid, id: 'tie#1' }] as LayView['laid'];
    const { eke, driver, puts } = await opened(view({ laid }));
    eke.select({ laid: ['tie#1'] });
    await driver.key('[').settle();
    expect(puts()[0]?.[0]?.turn_deg).toBeCloseTo(15);
    await driver.key(']').key(']').settle();
    expect(puts().at(-1)?.[0]?.turn_deg).toBeCloseTo(345);
  });

  it('is told in degrees off the grain', () => {
    const rule = grainRule(aPiece('p', square(10), { tilt_deg: 2 }), aCloth('c', square(100), { grain_deg: 30 }));
    expect(offGrainDeg(301.5, rule)).toBeCloseTo(1.5);
    expect(offGrainDeg(120, rule)).toBeCloseTo(0);
    expect(offGrainDeg(12, grainRule(TIE, CLOTH))).toBeNull();
    expect(grainRule(FRONT, { ...CLOTH, nap: 'one-way' }).turnsDeg).toEqual([0]);
  });
});

describe('keys', () => {
  it('move by a millimetre and by a centimetre, and are put once for a run of them', async () => {
    const { eke, driver, puts } = await opened();
    eke.select({ laid: ['front#1'] });
    driver.key('arrowright').key('arrowright').key('shift+arrowup').key('arrowleft');
    expect(heldIn(eke.state.draft)?.at).toMatchObject({ xMm: 101, yMm: 110 });
    await new Promise((done) => setTimeout(done, 600));
    await driver.settle();
    expect(puts()).toEqual([[expect.objectContaining({ x_mm: 101, y_mm: 110 })]]);
  });

  it('give a run of steps back on Esc', async () => {
    const { eke, driver, puts } = await opened();
    eke.select({ laid: ['front#1'] });
    driver.key('arrowright').key('arrowright').key('escape');
    await new Promise((done) => setTimeout(done, 600));
    await driver.settle();
    expect(eke.state.draft).toBeNull();
    expect(puts()).toHaveLength(0);
  });

  it('pin a piece, take it off, find it a place, and take all that back again', async () => {
    const { eke, driver, puts } = await opened();
    eke.select({ laid: ['front#1'] });
    await driver.key('l').settle();
    expect(puts().at(-1)?.[0]?.locked).toBe(true);
    await driver.key('delete').settle();
    expect(puts().at(-1)).toEqual([]);
    eke.select({ laid: ['tie#1'] });
    await driver.key('m').settle();
    expect(puts().at(-1)?.[0]).toMatchObject({ id: 'tie#1', cloth: 'c' });
    await driver.key('ctrl+z').settle();
    expect(puts().at(-1)).toEqual([]);
    await driver.key('ctrl+z').settle();
    expect(puts().at(-1)?.[0]).toMatchObject({ id: 'front#1', locked: true, x_mm: 100 });
    await driver.key('ctrl+z').settle();
    expect(puts().at(-1)?.[0]).toMatchObject({ id: 'front#1', locked: false });
    await driver.key('ctrl+shift+z').settle();
    expect(puts().at(-1)?.[0]).toMatchObject({ id: 'front#1', locked: true });
  });

  it('go from piece to piece', async () => {
    const { eke, driver } = await opened();
    driver.key('.').key('.');
    expect(chosenCopy(eke.state)).toBe('front#2');
    driver.key(',').key(',').key(',');
    expect(chosenCopy(eke.state)).toBe('front#2');
  });
});

describe('the search', () => {
  it('is asked for with the cloths that are ticked, and keeps what is pinned', async () => {
    const pinned = view();
    const { eke, asked, driver } = await opened(view({ laid: pinned.laid.map((one) => ({ ...one, locked: true })) }));
    eke.setOwn('lay', { cloths: ['d'], seconds: 5 });
    await driver.key('shift+g').settle();
    const said = asked.find((a) => a.what === 'POST /api/garments/g1/lay')?.said;
    expect(said).toMatchObject({ roles: ['outer'], cloths: ['d'], seconds: 5, stints: [], keep: [{ id: 'front#1', locked: true }] });
    expect(layState(eke.state)).toBe('running');
  });

  it('goes on from where the pieces lie, or begins another way than the lay was found', async () => {
    const { eke, asked } = await opened(view({ seed: 4 }));
    await commands.find((one) => one.id === 'lay.go-on')?.run(eke);
    expect(asked.at(-1)?.said).toMatchObject({ keep: [{ id: 'front#1', x_mm: 100, locked: false }] });
    const again = await opened(view({ seed: 4 }));
    await commands.find((one) => one.id === 'lay.other')?.run(again.eke);
    expect(again.asked.at(-1)?.said).toMatchObject({ seed: 5, keep: [] });
    expect(commands.find((one) => one.id === 'lay.go-on')?.available?.((await opened(view({ laid: [] }))).eke.state)).toBe(false);
  });

  it('gives up again what was given up before, unless something else is chosen', async () => {
    const stint = { id: 'hem', kind: 'narrower hem', sentence: '', harm: 6, saves_mm2: 1, enough: true };
    const { eke, asked, driver } = await opened(view({ given_up: [stint] }));
    await driver.key('g').settle();
    expect(asked.at(-1)?.said).toMatchObject({ stints: ['hem'], keep: [] });
    expect(ownOf(eke.state).trayed).toEqual(['front#2', 'tie#1']);
  });

  it('lets stripes meet where there are stripes and a line for them, and goes on doing so', async () => {
    const striped = { cloths: [aCloth('c', square(1000), { repeat_mm: [40, null] }), OTHER], stripe_lines: ['waist'] };
    const { eke, asked, driver } = await opened(view(striped));
    await driver.key('g').settle();
    expect(asked.at(-1)?.said).toMatchObject({ match_stripes: false });
    eke.setOwn('lay', { stripes: true });
    expect(matching(view(striped), ownOf(eke.state))).toBe(true);
    expect(stripeLines(view({ ...striped, stripe_lines: [] }), ownOf(eke.state))).toEqual([]);
    expect(matching(view({ stripe_lines: ['waist'] }), ownOf(eke.state))).toBe(false); // plain cloth
    const again = await opened(view({ ...striped, match_stripes: true }));
    await again.driver.key('g').settle();
    expect(again.asked.at(-1)?.said).toMatchObject({ match_stripes: true });
  });

  it('is looked for again with nothing given up', async () => {
    const stint = { id: 'hem', kind: 'narrower hem', sentence: '', harm: 6, saves_mm2: 1, enough: true };
    const whole = commands.find((one) => one.id === 'lay.without-stints');
    const { eke, asked } = await opened(view({ given_up: [stint] }));
    expect(whole?.available?.(eke.state)).toBe(true);
    await whole?.run(eke);
    expect(asked.at(-1)?.said).toMatchObject({ stints: [] });
    expect(whole?.available?.((await opened()).eke.state)).toBe(false);
  });
});

describe('the lay beside', () => {
  const other = (more: Partial<BesideView> = {}): BesideView => ({
    made: 1, cloths: [CLOTH], laid: view().laid, complete: false, sentence: 'Before.', on_percent: 40, given_up: [], stale: [], cut: false, ...more,
  });
  const both = (more: Partial<BesideView> = {}, lay: Partial<LayView> = {}) => view({ made: 2, beside: other(more), ...lay });
  const ready = async (lay: LayView, after: LayView = view({ made: 1, sentence: 'Before.', beside: other({ made: 2, sentence: 'After.' }) })) => {
    const made = await opened(lay);
    made.table['POST /api/garments/g1/lay/exchange'] = after;
    return made;
  };
  const exchanges = (asked: { what: string }[]) => asked.filter((a) => a.what.endsWith('/lay/exchange')).length;
  const can = (eke: Eke, id: string) => commands.find((one) => one.id === id)?.available?.(eke.state);

  it('is put on the table by one touch', async () => {
    const { eke, driver, asked } = await ready(both());
    await driver.key('x').settle();
    expect(asked.at(-1)).toMatchObject({ what: 'POST /api/garments/g1/lay/exchange', said: { roles: ['outer'] } });
    expect(layOf(eke.state)).toMatchObject({ sentence: 'Before.', made: 1, beside: { made: 2 } });
    expect(eke.state.said?.sentence).toContain('Before.');
  });

  it('is what "Take it back" brings, after the steps by hand, and "Do it again" brings the later one', async () => {
    const { eke, driver, asked, on, puts, table } = await ready(both());
    table['PUT /api/garments/g1/lay'] = (said: { placements: PlacementSaid[] }) => both({}, { laid: said.placements.map((p) => ({ ...view().laid[0], ...p })) as LayView['laid'] });
    await driver.drag([on('c', 200, 200), on('c', 250, 260)], AT('front#1')).settle();
    expect(can(eke, 'lay.before')).toBe(false);
    await driver.key('ctrl+z').settle();
    expect(puts()).toHaveLength(2);
    expect(exchanges(asked)).toBe(0);
    await driver.key('ctrl+z').settle();
    expect(exchanges(asked)).toBe(1);
    expect(layOf(eke.state)?.made).toBe(1);
    expect(can(eke, 'lay.before')).toBe(false);
    expect(can(eke, 'lay.after')).toBe(true);
    table['POST /api/garments/g1/lay/exchange'] = both();
    await driver.key('ctrl+shift+z').settle();
    expect(layOf(eke.state)?.made).toBe(2);
    // the move by hand of this lay can still be done again
    expect(can(eke, 'lay.again')).toBe(true);
  });

  it('is not offered when it no longer holds, was cut, or a lay is being looked for', async () => {
    const blocked = ['lay.exchange', 'lay.before', 'lay.after'];
    for (const lay of [both({ stale: ['“blue” has changed.'] }), both({ cut: true }), both({}, { cut: true }), view()]) {
      const { eke } = await ready(lay);
      for (const id of blocked) expect(can(eke, id), id).toBe(false);
    }
    const { eke, driver } = await ready(both());
    await driver.key('g').settle();
    expect(layState(eke.state)).toBe('running');
    for (const id of blocked) expect(can(eke, id), id).toBe(false);
  });

  it('can be put in the place of one that no longer holds', async () => {
    const { eke } = await ready(both({}, { stale: ['The pieces have changed.'] }));
    expect(can(eke, 'lay.exchange')).toBe(true);
    expect(can(eke, 'lay.before')).toBe(false);
  });

  it('leaves a step of a history that was done since to be taken back first', async () => {
    const { eke } = await ready(both());
    eke.say('Cut.', { tone: 'done', back: 'workroom', log: 'workroom' });
    expect(can(eke, 'lay.before')).toBe(false);
    await commands.find((one) => one.id === 'lay.exchange')?.run(eke);
    expect(can(eke, 'lay.after')).toBe(true);
  });
});

describe('the table', () => {
  it('lays cloths beside each other without touching, and all pieces without a place into the tray', () => {
    const lay = view();
    const arranged = arrange(lay.cloths, copiesOf(lay).filter((c) => !c.laid), [960, 600]);
    const [c, d] = [arranged.cloths.get('c'), arranged.cloths.get('d')];
    expect(c).toBeDefined();
    expect(Math.abs((c?.[0] ?? 0) - (d?.[0] ?? 0)) > 1000 || Math.abs((c?.[1] ?? 0) - (d?.[1] ?? 0)) > 600).toBe(true);
    expect([...arranged.slots.keys()].sort()).toEqual(['front#2', 'tie#1']);
    for (const slot of arranged.slots.values()) {
      expect(slot.xMm).toBeGreaterThan(arranged.tray?.left ?? Infinity);
      expect(slot.yMm).toBeGreaterThan(arranged.tray?.bottom ?? Infinity);
      expect(slot.yMm).toBeLessThan((arranged.tray?.bottom ?? 0) + (arranged.tray?.height ?? 0));
    }
  });

  it('is as high as it is wide on a tall one', () => {
    const cloths = [1, 2, 3, 4].map((i) => aCloth(`c${i}`, square(1000)));
    expect(arrange(cloths, [], [1200, 400]).box.width).toBeGreaterThan(arrange(cloths, [], [400, 800]).box.width);
  });

  it.each([[360, 330], [390, 600], [900, 500], [1600, 900]] as const)('has room for the letter and the arrow of every cloth, on %i × %i px', (wide, high) => {
    const sizes = [[1400, 900], [1000, 1100], [60, 500], [30, 40], [25, 25], [700, 40]] as const;
    const cloths = sizes.map(([w, h], i) => aCloth(`c${i}`, [[0, 0], [w, 0], [w, h], [0, h]]));
    const { cloths: places, box } = arrange(cloths, [], [wide, high]);
    const px = Math.min(wide / box.width, high / box.height);
    // the letter and the arrow stand over the upper left corner: 52 px wide, 33 px high
    const signs = cloths.map((cloth) => {
      const [x, y] = places.get(cloth.id) ?? [0, 0];
      return { id: cloth.id, left: x * px, right: x * px + 52, low: (y + cloth.height_mm) * px, top: (y + cloth.height_mm) * px + 33 };
    });
    for (const a of signs) {
      for (const b of signs) {
        if (a === b) continue;
        expect(a.right <= b.left || b.right <= a.left || a.top <= b.low || b.top <= a.low, `${a.id} and ${b.id}`).toBe(true);
      }
      for (const cloth of cloths) {
        const [x, y] = places.get(cloth.id) ?? [0, 0];
        const over = a.right > x * px && a.left < (x + cloth.width_mm) * px && a.top > y * px && a.low + 1 < (y + cloth.height_mm) * px;
        expect(over, `${a.id} over ${cloth.id}`).toBe(false);
      }
    }
  });

  it('gives letters by size', () => {
    expect(letteredCloths(view()).map(({ letter, cloth }) => letter + cloth.id)).toEqual(['Ac', 'Bd']);
  });
});

describe('counts', () => {
  it('areas and what is missing', () => {
    const stands = standing(view());
    expect(stands).toMatchObject({ on: 1, all: 3, on_mm2: 40000, cloth_mm2: 1e6 });
    expect(stands.share).toBeCloseTo(40000 / 90000);
    expect(stands.missing).toEqual([{ name: 'front', count: 1 }, { name: 'tie', count: 1 }]);
  });

  it('placements without what is taken off', () => {
    const lay = view();
    const [first] = copiesOf(lay);
    expect(first && withCopy(lay, first, null, null)).toEqual([]);
  });

  it('harm in four steps, least first', () => {
    expect([1, 2, 3, 5, 6, 8, 9, 12].map(harmStep)).toEqual([1, 1, 2, 2, 3, 3, 4, 4]);
  });

  it('names that fit', () => {
    expect(labelLines('armhole facing', 70, 60)).toEqual(['armhole', 'facing']);
    expect(labelLines('armhole facing', 40, 60)).toBeNull();
    expect(labelLines('tie', 100, 10)).toBeNull();
  });
});

describe('the card of a piece', () => {
  const room = { width: 900, height: 400 };
  const card = { width: 300, height: 200 };
  const covers = (at: { left: number; top: number }, piece: { left: number; right: number; top: number; bottom: number }) =>
    at.left < piece.right && at.left + card.width > piece.left && at.top < piece.bottom && at.top + card.height > piece.top;

  it.each([
    ['left', { left: 20, right: 120, top: 100, bottom: 200 }],
    ['right', { left: 780, right: 880, top: 10, bottom: 90 }],
    ['bottom', { left: 400, right: 500, top: 300, bottom: 390 }],
    ['wide, above', { left: 100, right: 800, top: 10, bottom: 120 }],
    ['wide, below', { left: 100, right: 800, top: 260, bottom: 390 }],
  ])('does not cover a piece that is at the %s', (_, piece) => {
    const at = cardPlace(piece, card, room);
    expect(covers(at, piece)).toBe(false);
    expect(at.left).toBeGreaterThanOrEqual(8);
    expect(at.left + card.width).toBeLessThanOrEqual(892);
  });
});
