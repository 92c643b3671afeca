import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import type { GarmentView, PieceView, SeamView } from '../../client/types.gen';
import { GENERAL } from '../../core/commands/general';
import { answers, Driver } from '../../core/driver';
import { Eke } from '../../core/eke';
import type { Point } from '../../core/geometry-types';
import { maybe } from '../../core/language';
import { layoutOf, onTable } from '../pieces/layout';
import { lookup } from '../pieces/lookup';
import { pathOf } from '../pieces/shape';
import { garment as small } from '../pieces/testing';
import { commands } from './actions';
import { resolved, spotIn, withSpot, type Params, type Pointed } from './fields';
import { met } from './guess';
import { fieldsOfChange, possible, ROWS, rowOf } from './named';
import { amountOf, begin, changeOf, missing, nearest, piecesOf, planOf, seamKnots, spotFields, stands, withDart, withPlace, type Plan } from './plan';
import { drawnOf } from './strokes';
import { tools } from './tools';

/** As a server told it: written by tests/web/test_named_changes.py, which also tries the plans that are made here. */
const told = JSON.parse(readFileSync(fileURLToPath(new URL('./first-plans/garment.json', import.meta.url)), 'utf-8')) as { pieces: PieceView[]; seams: SeamView[] };
const GARMENT: GarmentView = small({ ...told, derived: [], recipes: [] });
const DART = GARMENT.pieces.find((piece) => piece.darts.length > 0)?.darts[0]?.id ?? '';
const named = (change: string, params: Params): Plan => ({ kind: 'named', change, params });
const edgeOf = (piece: string, called: string): string => GARMENT.pieces.find((one) => one.id === piece)?.edges.find((edge) => edge.name === called)?.id ?? '';

/** Everything that can be pointed at: edges near an end and further along, darts, seams, and nothing. */
function everywhere(): Pointed[] {
  const edges = GARMENT.pieces.flatMap((piece) => piece.edges);
  return [
    {},
    ...edges.flatMap((edge) => [{ edge: edge.id, mm: edge.length_mm * 0.4 }, { edge: edge.id, mm: edge.length_mm }]),
    { dart: DART },
    ...GARMENT.seams.map((seam) => ({ seam: seam.id })),
  ];
}
const first = (): { at: Pointed; plan: Plan }[] =>
  ROWS.flatMap((row) => everywhere().flatMap((at) => {
    const plan = begin(GARMENT, row.change, at);
    return plan ? [{ at, plan }] : [];
  }));

describe('the table of named changes', () => {
  it('has words for what each does, and each change once', () => {
    for (const row of ROWS) {
      expect(maybe(row.id), row.id).not.toBeNull();
      expect(maybe(`${row.id}.how`), row.id).toMatch(/\.$/);
    }
    expect(new Set(ROWS.map((row) => row.change)).size).toBe(ROWS.length);
    const keys = ROWS.flatMap((row) => row.keys ?? []);
    expect(new Set(keys).size).toBe(keys.length);
  });

  it('begins every change somewhere, and the plans are those that the server is tried with', async () => {
    const plans = first().map(({ plan }) => ({ change: plan.change, params: changeOf(plan).params }));
    expect(new Set(plans.map((plan) => plan.change))).toEqual(new Set(ROWS.map((row) => row.change)));
    await expect(`[\n${plans.map((plan) => JSON.stringify(plan)).join(',\n')}\n]\n`).toMatchFileSnapshot('./first-plans/plans.json');
  });

  it('begins with what stands, names pieces, and can be drawn', () => {
    for (const { plan } of first()) {
      expect(stands(GARMENT, plan), JSON.stringify(plan)).toBe(true);
      if (rowOf(plan.change)?.group !== 'garment') expect(piecesOf(GARMENT, plan).length, JSON.stringify(plan)).toBeGreaterThan(0);
      const drawn = drawnOf(GARMENT, plan);
      for (const point of [...drawn.places.map((place) => place.at), ...drawn.strokes.flatMap((stroke) => stroke.points)]) {
        expect(point.every(Number.isFinite), JSON.stringify(plan)).toBe(true);
      }
    }
  });

  it('offers what fits, the likeliest first', () => {
    const offered = (at: Pointed) => possible(resolved(GARMENT, at)).map((row) => row.change);
    expect(offered({ edge: edgeOf('front', 'hem') })[0]).toBe('fit.hem');
    expect(offered({ edge: edgeOf('front', 'neck') })[0]).toBe('fit.opening');
    expect(offered({ edge: edgeOf('front', 'shoulder') }).slice(0, 3)).toContain('fit.shoulder_slope');
    expect(offered({ edge: edgeOf('sleeve', 'cap') }).slice(0, 3)).toContain('fit.sleeve_cap');
    expect(offered({ dart: DART }).every((change) => /dart|princess|bust/.test(change))).toBe(true);
    expect(offered({ edge: edgeOf('front', 'centre') })).toEqual(expect.not.arrayContaining(['fit.wedge', 'fit.opening', 'fit.hem']));
    expect(offered({})).toEqual(['fit.resize']);
    // both pieces lie on a fold; a sleeve in two parts does not
    expect(offered({ edge: edgeOf('front', 'shoulder') })).not.toContain('fit.join');
    expect(offered({ seam: 'seam/cuff' })).toContain('fit.join');
    expect(offered({ edge: edgeOf('front', 'shoulder') })).toContain('fit.broaden');
    const side = offered({ edge: edgeOf('front', 'side'), mm: 100 });
    for (const change of ['fit.broaden', 'fit.widen', 'fit.sleeve_cap', 'fit.shoulder_slope']) expect(side).not.toContain(change);
  });

  it('offers a bust on a front, a shoulder and a cap where they can be one, and joins no pieces that lie turned over', () => {
    const offered = (at: Pointed) => possible(resolved(GARMENT, at)).map((row) => row.change);
    for (const edge of ['hem', 'side', 'armhole']) {
      expect(offered({ edge: edgeOf('front', edge) }), edge).toContain('fit.bust');
      expect(offered({ edge: edgeOf('back', edge) }), edge).not.toContain('fit.bust');
    }
    for (const piece of ['sleeve', 'cuff']) expect(offered({ edge: edgeOf(piece, 'cuff') })).not.toContain('fit.shoulder_slope');
    expect(offered({ seam: 'seam/shoulder' })).toContain('fit.shoulder_slope');
    expect(offered({ seam: 'seam/cuff' })).toEqual(expect.not.arrayContaining(['fit.shoulder_slope', 'fit.sleeve_cap']));
    expect(offered({ seam: 'seam/shoulder' })).not.toContain('fit.sleeve_cap');
    const turned = { ...GARMENT, seams: GARMENT.seams.map((seam) => (seam.id === 'seam/cuff' ? { ...seam, b: seam.b.map((part) => ({ ...part, reverse: !(part.reverse ?? false) })) } : seam)) };
    expect(possible(resolved(turned, { seam: 'seam/cuff' })).map((row) => row.change)).not.toContain('fit.join');
    // a name that says nothing leaves it to the shape; one that says something else does not
    const called = (name: string) => ({ ...GARMENT, pieces: GARMENT.pieces.map((piece) => ({ ...piece, edges: piece.edges.map((edge) => (edge.name === 'shoulder' ? { ...edge, name, called: name } : edge)) })) });
    expect(possible(resolved(called('top'), { seam: 'seam/shoulder' })).map((row) => row.change)).toContain('fit.shoulder_slope');
    expect(possible(resolved(called('waist'), { seam: 'seam/shoulder' })).map((row) => row.change)).not.toContain('fit.shoulder_slope');
  });

  it('takes a centre seam in by half on the edge that is sewn to its own image, and moves it over nowhere', () => {
    const own = { ...GARMENT, seams: GARMENT.seams.map((seam) => (seam.id === 'seam/side' ? { ...seam, b: seam.a, b_mirrored: true } : seam)) };
    const changes = possible(resolved(own, { seam: 'seam/side' })).map((row) => row.change);
    expect(changes).toContain('fit.take_in');
    expect(changes).not.toContain('fit.move_seam');
    const shares = fieldsOfChange('fit.take_in', {}).find((one) => one.name === 'share_a');
    expect(shares?.as === 'choice' && shares.options(own, { seam: 'seam/side' }).map((one) => one.value)).toEqual([0.5]);
  });

  it('begins a cap with the ease of its seam, and a gathered one with what it is longer', () => {
    const cap = edgeOf('sleeve', 'cap');
    const told = (gathers: { ratio: number | null }[], by_mm: number) => {
      const long = (id: string) => lookup(GARMENT).edges.get(id)?.edge.length_mm ?? 0;
      const armhole = long(edgeOf('front', 'armhole')) + long(edgeOf('back', 'armhole'));
      const pieces = GARMENT.pieces.map((piece) => (piece.name === 'sleeve' ? {
        ...piece, gathers: gathers.map(({ ratio }) => ({ id: 'g', edge: cap, from_mm: 0, to_mm: 1, how: 'gathered' as const, ratio, words: '', wave: [] })),
        edges: piece.edges.map((edge) => (edge.id === cap ? { ...edge, length_mm: armhole + by_mm } : edge)),
      } : piece));
      return begin({ ...GARMENT, pieces }, 'fit.sleeve_cap', { seam: 'seam/armhole' })?.params['ease_mm'];
    };
    expect(told([], 10)).toBe(0);
    expect(told([], 90)).toBe(90);
    expect(told([{ ratio: null }], 10)).toBe(10);
    expect(told([{ ratio: 1.5 }], 90)).toBe(0);
  });

  it('places a bust so that the server takes it: the armhole above the bust point and outside of it', () => {
    const plan = begin(GARMENT, 'fit.bust', { edge: edgeOf('front', 'armhole'), mm: 50 });
    const bare = plan && withDart(GARMENT, plan, undefined);
    const [low, armhole, side] = bare ? spotFields(bare).map((one) => spotIn(GARMENT, one, bare.params)) : [];
    const point = bare?.params['apex'] as Point;
    const at = (spot: typeof low) => {
      const found = spot && 'edge' in spot ? lookup(GARMENT).edges.get(spot.edge) : undefined;
      return found && spot && 'edge' in spot ? pathOf(found.edge).pointAt(spot.mm) : [NaN, NaN];
    };
    expect(low).toMatchObject({ edge: edgeOf('front', 'hem') });
    expect(at(armhole)[1]).toBeGreaterThanOrEqual(point[1] + 20);
    expect(at(armhole)[0]).toBeGreaterThanOrEqual(point[0]);
    expect(Math.abs((at(side)[1] ?? NaN) - point[1])).toBeLessThan(10);
  });

  it('takes an amount that somebody else has worked out', () => {
    const at = { edge: edgeOf('front', 'neck'), mm: 40 };
    expect(begin(GARMENT, 'fit.wedge', at, 6)?.params['width_mm']).toBe(6);
    expect(begin(GARMENT, 'fit.dart_intake', { dart: DART }, 25)?.params['intake_mm']).toBe(25);
    const seam = begin(GARMENT, 'fit.take_in', { seam: 'seam/side' }, 24);
    expect(seam && Math.max(...(seamKnots(GARMENT, seam)?.knots.map(([, mm]) => mm) ?? []))).toBe(24);
    expect(begin(GARMENT, 'fit.wedge', { edge: edgeOf('front', 'centre') })).toBeNull();
    expect(begin(GARMENT, 'fit.unknown', at)).toBeNull();
  });
});

describe('places in params', () => {
  const field = spotFields(named('fit.wedge', {})).find((one) => one.name === '');
  const neck = edgeOf('front', 'neck');
  const long = lookup(GARMENT).edges.get(neck)?.edge.length_mm ?? 0;

  it('are read however they are said', () => {
    if (!field) throw new Error('a wedge has a place');
    const at = (params: Params) => spotIn(GARMENT, field, { edge: neck, ...params });
    const far = (params: Params) => {
      const spot = at(params);
      return spot && 'edge' in spot ? spot.mm : null;
    };
    expect(far({ mm: 20 })).toBe(20);
    expect(far({ mm: 20, from_end: 'end' })).toBeCloseTo(long - 20);
    expect(far({ fraction: 0.25 })).toBeCloseTo(long / 4);
    const edge = lookup(GARMENT).edges.get(neck)?.edge;
    expect(far({ point: edge ? pathOf(edge).pointAt(33) : [0, 0] })).toBeCloseTo(33, 3);
    expect(at({})).toBeNull();
    expect(spotIn(GARMENT, field, { edge: 'gone', mm: 3 })).toBeNull();
  });

  it('come back as they were put in, for every place of every change', () => {
    for (const { plan } of first()) {
      for (const one of spotFields(plan)) {
        const spot = spotIn(GARMENT, one, plan.params);
        if (spot === null) continue;
        const again = withSpot(GARMENT, one, plan.params, spot);
        expect(spotIn(GARMENT, one, again), plan.change).toEqual(spot);
        // nothing else is touched
        expect(withSpot(GARMENT, one, again, null), plan.change).toEqual(withSpot(GARMENT, one, plan.params, null));
      }
    }
  });

  it('lie on one piece, and the server is never asked about a place beyond the end', () => {
    const wedge = begin(GARMENT, 'fit.wedge', { edge: neck, mm: 40 });
    const to = wedge && spotFields(wedge).find((one) => one.name === 'to');
    if (!wedge || !to) throw new Error('a wedge ends somewhere');
    expect(withPlace(GARMENT, wedge, to, { edge: edgeOf('back', 'side'), mm: 10 })).toBeNull();
    const moved = withPlace(GARMENT, wedge, to, { edge: edgeOf('front', 'armhole'), mm: 1e6 });
    const end = (moved?.params['to'] as { mm: number } | undefined)?.mm ?? NaN;
    expect(end).toBeLessThan(lookup(GARMENT).edges.get(edgeOf('front', 'armhole'))?.edge.length_mm ?? 0);
    expect(withPlace(GARMENT, wedge, to, { dart: DART })?.params['to']).toEqual({ dart: DART });
  });

  it('that are still missing are asked for, one after the other', () => {
    const split = begin(GARMENT, 'fit.dart_split', { dart: DART });
    expect(split && missing(GARMENT, split)?.ask).toBe('mock-ups.ask.second-dart');
    const bust = begin(GARMENT, 'fit.bust', { edge: edgeOf('front', 'hem'), mm: 90 });
    expect(bust?.params).toMatchObject({ dart: DART, armhole: { edge: edgeOf('front', 'armhole') } });
    const bare = bust && withDart(GARMENT, bust, undefined);
    expect(bare?.params['dart']).toBeUndefined();
    expect(bare?.params['apex']).toHaveLength(2);
    expect(bare && spotFields(bare).map((one) => one.name)).toEqual(['', 'armhole', 'side']);
  });
});

describe('plans that somebody else made', () => {
  it('have their numbers in the form, also where the table does not know the change', () => {
    expect(fieldsOfChange('fit.other', { girth_mm: 4, edge: 'e' }).map((one) => one.name)).toEqual(['girth_mm']);
    expect(amountOf(named('fit.wedge', { edge: edgeOf('front', 'neck'), notch: null, fraction: 0.5, width_mm: 6 }))?.name).toBe('width_mm');
  });

  it('are let go when something that they speak of is gone', () => {
    const edge = edgeOf('front', 'neck');
    expect(stands(GARMENT, named('fit.wedge', { edge, mm: 4, to: { dart: DART }, width_mm: 6 }))).toBe(true);
    expect(stands(GARMENT, named('fit.wedge', { edge, mm: 4, to: { dart: 'gone' }, width_mm: 6 }))).toBe(false);
    expect(stands(GARMENT, named('fit.lengthen', { edge, mm: 4, only: ['gone'], by_mm: 6 }))).toBe(false);
    // what a new seam is called is no id
    expect(stands(GARMENT, named('fit.cut', { edge, mm: 4, to: { edge, mm: 9 }, seam: 'yoke seam' }))).toBe(true);
  });

  it('are brought to the nearest amount that works', () => {
    const plan = named('fit.wedge', { edge: edgeOf('front', 'neck'), mm: 20, width_mm: -60, to: { dart: DART } });
    expect(nearest(plan, { most_mm: 12.37 })?.mm).toBe(-12.3);
    expect(nearest(plan, { most_mm: 12.37 })?.plan.params).toEqual({ ...plan.params, width_mm: -12.3 });
    // joined for as far as the sides lie on one another, where all of the seam was meant
    expect(nearest(named('fit.join', { seam: 'seam/cuff' }), { most_mm: 120 })?.plan.params['up_to_mm']).toBe(120);
    expect(nearest(plan, { most_mm: 400 })).toBeNull();
    // with what has to be said too, and where no amount changes
    expect(nearest(named('fit.join', { seam: 'seam/cuff' }), { most_mm: 120, goes_with: { from_end: 'end' } })?.plan.params).toMatchObject({ up_to_mm: 120, from_end: 'end' });
    expect(nearest(plan, { goes_with: { mm: 24 } })).toMatchObject({ mm: null, plan: { params: { mm: 24, width_mm: -60 } } });
    expect(nearest(plan, {})).toBeNull();
  });
});

describe('a line across a piece', () => {
  it('meets the nearest edge opposite', () => {
    const pocket = small().pieces.find((piece) => piece.id === 'pocket');
    if (!pocket) throw new Error('there is a pocket');
    const other = met(pocket, [0, 40], [1, 0]);
    expect(other?.edge.id).toBe('pocket-right');
    expect(other?.mm).toBeCloseTo(40);
    expect(met(pocket, [0, 40], [-1, 0])).toBeNull();
    expect(met(pocket, [0, 40], [0, 0])).toBeNull();
  });
});

describe('the hand, with a named change', () => {
  async function opened() {
    const eke = new Eke({
      fetch: answers({
        'GET /api/workroom': { revision: 1, projects: [], steps: { undo: null, redo: null } },
        'GET /api/garments/g1': GARMENT, 'GET /api/garments/g1/pegs': [], 'GET /api/jobs': [],
      }, []),
    });
    await eke.go('mock-ups', { garment: 'g1' });
    const driver = new Driver(eke, { tools, commands: [...commands, ...GENERAL] });
    const at = (edge: string, mm: number): Point => {
      const found = lookup(GARMENT).edges.get(edge);
      return found ? onTable(layoutOf(GARMENT), found.piece.id, pathOf(found.edge).pointAt(mm)) : [0, 0];
    };
    return { eke, driver, at };
  }
  const neck = edgeOf('front', 'neck'), armhole = edgeOf('front', 'armhole');

  it('begins by a key where an edge was pressed, and a press puts its end elsewhere', async () => {
    const { eke, driver, at } = await opened();
    driver.click(at(neck, 40), { kind: 'edge', id: neck }).key('w');
    expect(planOf(eke.state)).toMatchObject({ change: 'fit.wedge', params: { edge: neck, to: { dart: DART } } });
    driver.click(at(armhole, 70), { kind: 'edge', id: armhole });
    const to = planOf(eke.state)?.params['to'] as { edge: string; mm: number };
    expect(to.edge).toBe(armhole);
    expect(to.mm).toBeCloseTo(70, 1);
    // the other place, once it is asked for
    commands.find((one) => one.id === 'mock-ups.ask')?.run(eke, '');
    const shoulder = edgeOf('front', 'shoulder');
    driver.click(at(shoulder, 30), { kind: 'edge', id: shoulder });
    expect(planOf(eke.state)?.params).toMatchObject({ edge: shoulder, to: { edge: armhole } });
  });

  it('says so when another piece is pressed, and keeps the plan', async () => {
    const { eke, driver, at } = await opened();
    driver.click(at(neck, 40), { kind: 'edge', id: neck }).key('w');
    const before = planOf(eke.state);
    const side = edgeOf('back', 'side');
    driver.click(at(side, 70), { kind: 'edge', id: side });
    expect(planOf(eke.state)).toEqual(before);
    expect(eke.state.said?.sentence).toContain('front');
  });

  it('drags a place along its edge, and gives it back on blur', async () => {
    const { eke, driver, at } = await opened();
    driver.click(at(neck, 40), { kind: 'edge', id: neck }).key('w');
    const before = planOf(eke.state);
    driver.press(at(neck, 40), { kind: 'mouth', id: 'place' }).move(at(neck, 60)).blur();
    await driver.release(at(neck, 60)).settle();
    expect(planOf(eke.state)).toEqual(before);
    driver.press(at(neck, 40), { kind: 'mouth', id: 'place' }).move(at(neck, 60));
    await driver.release(at(neck, 60)).settle();
    expect(planOf(eke.state)?.params['mm']).toBeCloseTo(60, 0);
    expect(planOf(eke.state)?.params['to']).toEqual({ dart: DART });
  });

  it('moves a seam over: the knots go outwards on the first side, inwards on the second', async () => {
    const { eke } = await opened();
    eke.setOwn('mock-ups', { plan: begin(GARMENT, 'fit.move_seam', { seam: 'seam/side' }) });
    const plan = planOf(eke.state);
    expect(plan && seamKnots(GARMENT, plan)?.shares).toEqual([-1, 1]);
  });
});
