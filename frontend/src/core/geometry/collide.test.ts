import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { LayHazards, STEP_PAIRS, type GapsMm, type Mover } from './collide';
import { golden, near } from './golden-testing';
import { distanceOfRingsMm } from './polygon';
import { placed, type Placement } from './rigid';
import { distanceMm, type PointMm } from './units';

interface Cloth {
  outline: PointMm[];
  holes: PointMm[][];
  flaws: { id: string; polygon: PointMm[]; quality: number }[];
}
interface Said {
  turn_deg: number;
  x_mm: number;
  y_mm: number;
  mirrored: boolean;
  free: boolean;
  pieces: string[];
  ground: boolean;
  flaw: boolean;
}
interface Lay {
  cloth: Cloth;
  gaps: { pieces_mm: number; edge_mm: number; hole_mm: number };
  laid: { id: string; outline: PointMm[] }[];
}
interface Golden {
  pieces: Record<string, { ring: PointMm[]; least_quality: number }>;
  cases: (Lay & { name: string; tries: (Said & { mover: string })[] })[];
  near: (Lay & {
    turn_deg: number;
    tries: (Said & { beside: string; within_gap: boolean; ring: PointMm[]; least_quality: number })[];
  })[];
}

const said = golden<Golden>('lays.json');

function gapsOf(lay: Lay): GapsMm {
  return { piecesMm: lay.gaps.pieces_mm, edgeMm: lay.gaps.edge_mm, holeMm: lay.gaps.hole_mm };
}

function hazardsOf(lay: Lay): LayHazards {
  return new LayHazards(lay.cloth, gapsOf(lay), lay.laid);
}

function moverOf(name: string): Mover {
  const piece = said.pieces[name];
  if (piece === undefined) throw new Error(name);
  return { id: name, outline: piece.ring, leastQuality: piece.least_quality };
}

function placementOf(t: Said): Placement {
  return { turnDeg: t.turn_deg, xMm: t.x_mm, yMm: t.y_mm, mirrored: t.mirrored };
}

describe.each(said.cases)('$name', (lay) => {
  const hazards = hazardsOf(lay);

  test('says of every place what the exact check says', () => {
    for (const t of lay.tries) {
      const mover = moverOf(t.mover);
      const hits = hazards.hits(mover, placementOf(t));
      const where = JSON.stringify(t);
      expect(hazards.isFree(mover, placementOf(t)), where).toBe(t.free);
      expect(hits.length === 0, where).toBe(t.free);
      expect(hits.filter((h) => h.kind === 'piece').map((h) => h.id).sort(), where).toEqual(t.pieces);
      expect(hits.some((h) => h.kind === 'edge' || h.kind === 'hole'), where).toBe(t.ground);
      expect(hits.some((h) => h.kind === 'flaw'), where).toBe(t.flaw);
      for (const h of hits) expect(h.depthMm).toBeGreaterThan(0);
    }
  });

  test('a piece that lies there runs into nothing but itself', () => {
    for (const one of lay.laid) {
      const still: Placement = { turnDeg: 0, xMm: 0, yMm: 0, mirrored: false };
      expect(hazards.hits({ id: one.id, outline: one.outline }, still)).toEqual([]);
      const other = hazards.hits({ id: 'another', outline: one.outline }, still);
      expect(other.map((h) => h.id)).toContain(one.id);
    }
  });
});

describe.each(said.near)('nearly touching, turned by $turn_deg°, gaps $gaps', (lay) => {
  test.each(lay.tries)('$beside, within the gap: $within_gap', (t) => {
    const mover: Mover = { id: 'strip', outline: t.ring, leastQuality: t.least_quality };
    const hits = hazardsOf(lay).hits(mover, placementOf(t));
    expect(hits.length === 0).toBe(t.free);
    expect(t.free).toBe(!t.within_gap);
    // it reaches in by a twentieth of a millimetre, and so says the depth
    for (const h of hits) near(h.depthMm, 0.05, h.id, 2e-3);
  });
});

const curtain = said.cases[0] as Golden['cases'][number];
const curtainHazards = hazardsOf(curtain);
const anywhere = fc.tuple(
  fc.double({ min: -100, max: 1300, noNaN: true }), fc.double({ min: -100, max: 1100, noNaN: true }),
) as fc.Arbitrary<PointMm>;
const someMover = fc.constantFrom('strip', 'star', 'sleeve').map(moverOf);
const someTurn = fc.oneof(fc.constantFrom(0, 90, 180, 270), fc.double({ min: 0, max: 360, noNaN: true }));

test('sliding never ends in a collision, and never farther away than it began', () => {
  let slid = 0;
  fc.assert(
    fc.property(someMover, someTurn, fc.boolean(), anywhere, anywhere, (mover, turnDeg, mirrored, from, wanted) => {
      const carried = curtainHazards.carry(mover, { turnDeg, mirrored });
      const start = carried.near(from, 340);
      if (start === null) return;
      expect(carried.isFree(start)).toBe(true);
      const end = carried.slide(start, wanted);
      slid += 1;
      expect(carried.isFree(end.at)).toBe(true);
      expect(carried.hits(end.at)).toEqual([]);
      expect(distanceMm(end.at, wanted)).toBeLessThanOrEqual(distanceMm(start, wanted) + 1e-6);
      if (end.arrived) expect(distanceMm(end.at, wanted)).toBeLessThan(0.01);
      else expect(end.against.length).toBeGreaterThan(0);
    }),
    { numRuns: 300 },
  );
  expect(slid).toBeGreaterThan(100);
});

test('sliding keeps the gap to its neighbours, measured side by side', () => {
  fc.assert(
    fc.property(someMover, anywhere, (mover, wanted) => {
      const carried = curtainHazards.carry(mover, { turnDeg: 0, mirrored: false });
      const start = carried.near([250, 480], 300);
      if (start === null) return;
      const outline = carried.outlineAt(carried.slide(start, wanted).at);
      for (const one of curtain.laid) {
        expect(distanceOfRingsMm(outline, one.outline)).toBeGreaterThan(curtain.gaps.pieces_mm - 1e-6);
      }
      for (const hole of curtain.cloth.holes) {
        expect(distanceOfRingsMm(outline, hole)).toBeGreaterThan(curtain.gaps.hole_mm - 1e-6);
      }
    }),
    { numRuns: 100 },
  );
});

const square = (size: number): PointMm[] => [[0, 0], [size, 0], [size, size], [0, size]];
const noGaps: GapsMm = { piecesMm: 0, edgeMm: 0, holeMm: 0 };
const table = { outline: square(1000), holes: [], flaws: [] };

test('a square slides along a wall to where it is wanted, and stops in a corner', () => {
  const hazards = new LayHazards(table, { piecesMm: 2, edgeMm: 0, holeMm: 3 }, [
    { id: 'wall', outline: [[500, 0], [600, 0], [600, 700], [500, 700]] },
  ]);
  const mover: Mover = { id: 'a', outline: square(100) };
  const from: Placement = { turnDeg: 0, xMm: 200, yMm: 300, mirrored: false };
  const beside = hazards.slideTo(mover, from, [450, 500]);
  near(beside.placement.xMm, 398 - 0.005, 'x', 1e-5);
  near(beside.placement.yMm, 500, 'y', 1e-5);
  expect(beside.against).toEqual([{ kind: 'piece', id: 'wall' }]);
  const corner = hazards.slideTo(mover, from, [900, -400]);
  near(corner.placement.xMm, 398 - 0.005, 'x', 1e-5);
  near(corner.placement.yMm, 0.005, 'y', 1e-5);
  expect(corner.against.map((h) => h.kind).sort()).toEqual(['edge', 'piece']);
  // over the top of the wall it has room
  const over = hazards.slideTo(mover, { ...from, yMm: 800 }, [850, 800]);
  expect(over.arrived).toBe(true);
});

test('a long fast stroke does not jump over a thin piece', () => {
  const hazards = new LayHazards(table, noGaps, [{ id: 'thin', outline: [[500, 0], [501, 0], [501, 1000], [500, 1000]] }]);
  const slide = hazards.slideTo({ id: 'a', outline: square(50) }, { turnDeg: 0, xMm: 10, yMm: 500, mirrored: false }, [900, 500]);
  expect(slide.placement.xMm).toBeLessThan(450);
  expect(slide.placement.xMm).toBeGreaterThan(449.9);
});

test('shapes that lie exactly on each other, or in each other, are caught', () => {
  const wall = { id: 'b', outline: [[200, 200], [300, 200], [300, 300], [200, 300]] as PointMm[] };
  const hazards = new LayHazards(table, noGaps, [wall]);
  const at = (size: number, x: number, y: number): string[] =>
    hazards.hits({ id: 'a', outline: square(size) }, { turnDeg: 0, xMm: x, yMm: y, mirrored: false }).map((h) => h.id);
  expect(at(100, 200, 200)).toEqual(['b']);
  expect(at(20, 240, 240)).toEqual(['b']);
  expect(at(400, 100, 100)).toEqual(['b']);
  expect(at(50, 200, 200)).toEqual(['b']);
  expect(at(100, 250, 200)).toEqual(['b']);
  expect(at(100, 300, 200)).toEqual([]);
  expect(at(100, 300, 250)).toEqual([]);
  expect(at(100, 100, 200)).toEqual([]);
  expect(at(1000, 0, 0)).toEqual(['b']);
  expect(at(1001, 0, 0).sort()).toEqual(['b', 'edge']);
  expect(at(3000, -1000, -1000).sort()).toEqual(['b', 'edge']);
  expect(at(200, 800, 800)).toEqual([]);
  expect(at(200, 800, 800.1)).toEqual(['edge']);
  expect(at(100, 2000, 800)).toEqual(['edge']);
});

test('a cross of two strips is caught though neither has a corner in the other', () => {
  const hazards = new LayHazards(table, noGaps, [{ id: 'lies', outline: [[100, 480], [900, 480], [900, 520], [100, 520]] }]);
  const stands: Mover = { id: 'stands', outline: [[0, 0], [60, 0], [60, 800], [0, 800]] };
  // the middle of the upright one's sides lies 20 deep, that of the level one's 30
  const hits = hazards.hits(stands, { turnDeg: 0, xMm: 470, yMm: 100, mirrored: false });
  expect(hits.map((h) => h.id)).toEqual(['lies']);
  expect(hits[0]?.depthMm).toBeCloseTo(30, 6);
});

test('a flaw forbids only what needs better cloth', () => {
  const stained = { ...table, flaws: [{ id: 'stain', polygon: [[400, 400], [500, 400], [500, 500], [400, 500]] as PointMm[], quality: 1 }] };
  const hazards = new LayHazards(stained, noGaps, []);
  const at: Placement = { turnDeg: 0, xMm: 450, yMm: 450, mirrored: false };
  expect(hazards.hits({ id: 'a', outline: square(30) }, at).map((h) => h.id)).toEqual(['stain']);
  expect(hazards.hits({ id: 'a', outline: square(30), leastQuality: 2 }, at).map((h) => h.id)).toEqual(['stain']);
  expect(hazards.hits({ id: 'a', outline: square(30), leastQuality: 1 }, at)).toEqual([]);
});

test('a piece is turned where there is room, shifted where that makes room, and else left as it was', () => {
  const strip: Mover = { id: 'strip', outline: [[0, 0], [40, 0], [40, 300], [0, 300]] };
  const hazards = new LayHazards({ outline: [[0, 0], [1000, 0], [1000, 320], [0, 320]], holes: [], flaws: [] }, noGaps, []);
  const upright: Placement = { turnDeg: 0, xMm: 500, yMm: 10, mirrored: false };
  const free = hazards.turn(strip, upright, 90, [520, 160], 50);
  expect(free.done).toBe(true);
  expect(free.shiftedMm).toBe(0);
  const byTheEdge = hazards.turn(strip, { ...upright, xMm: 0 }, 90, [20, 160], 200);
  expect(byTheEdge.done).toBe(true);
  expect(byTheEdge.shiftedMm).toBeGreaterThan(129);
  expect(byTheEdge.shiftedMm).toBeLessThan(131);
  expect(hazards.isFree(strip, byTheEdge.placement)).toBe(true);
  const refused = hazards.turn(strip, { ...upright, xMm: 0 }, 90, [20, 160], 40);
  expect(refused.done).toBe(false);
  expect(refused.placement).toEqual({ ...upright, xMm: 0 });
  expect(refused.hits.map((h) => h.id)).toEqual(['edge']);
});

test('a piece that stands where it may not finds its way out, or stays', () => {
  const hazards = new LayHazards(table, { piecesMm: 2, edgeMm: 0, holeMm: 0 }, [{ id: 'b', outline: placed(square(100), { turnDeg: 0, xMm: 500, yMm: 500, mirrored: false }) }]);
  const carried = hazards.carry({ id: 'a', outline: square(100) }, { turnDeg: 0, mirrored: false });
  // a tenth within the gap
  const out = carried.slide([398.1, 500], [300, 500]);
  expect(out.arrived).toBe(true);
  const deep = carried.slide([450, 500], [300, 500]);
  expect(deep.at).toEqual([450, 500]);
  expect(deep.arrived).toBe(false);
});

test('a cloth that is filled to the last millimetre: every piece lies well, and none can be pushed anywhere', () => {
  const places: PointMm[] = [[0, 0], [102, 0], [0, 102], [102, 102]];
  const laid = places.map((at, i) => ({
    id: `${i}`, outline: placed(square(100), { turnDeg: 0, xMm: at[0], yMm: at[1], mirrored: false }),
  }));
  // all turned by 17°, so that nothing is exact in binary
  const turned = (ring: readonly PointMm[]): PointMm[] => placed(ring, { turnDeg: 17, xMm: 300, yMm: 40, mirrored: false });
  for (const way of [(ring: readonly PointMm[]) => [...ring], turned]) {
    const hazards = new LayHazards(
      { outline: way(square(202)), holes: [], flaws: [] }, { piecesMm: 2, edgeMm: 0, holeMm: 3 },
      laid.map(({ id, outline }) => ({ id, outline: way(outline) })),
    );
    laid.forEach(({ id, outline }) => {
      const carried = hazards.carry({ id, outline: way(outline) }, { turnDeg: 0, mirrored: false });
      expect(carried.hits([0, 0])).toEqual([]);
      for (const wanted of [[30, 0], [0, -30], [-20, 20], [3, 400]] as PointMm[]) {
        const slide = carried.slide([0, 0], wanted);
        expect(distanceMm(slide.at, [0, 0])).toBeLessThan(0.03);
        expect(carried.isFree(slide.at)).toBe(true);
        expect(slide.arrived).toBe(false);
      }
    });
  }
});

test('sliding along a round neighbour goes round it, its gap kept all the way', () => {
  const round: PointMm[] = Array.from({ length: 72 }, (_, i) => {
    const rad = (2 * Math.PI * i) / 72;
    return [500 + 150 * Math.cos(rad), 500 + 150 * Math.sin(rad)];
  });
  const hazards = new LayHazards(table, { piecesMm: 2, edgeMm: 0, holeMm: 3 }, [{ id: 'round', outline: round }]);
  const carried = hazards.carry({ id: 'a', outline: square(60) }, { turnDeg: 0, mirrored: false });
  // the hand goes straight across its upper part, as a mouse does: 8 mm at a time
  let at: PointMm = [200, 610];
  for (let x = 200; x <= 760; x += 8) {
    at = carried.slide(at, [x, 610]).at;
    expect(distanceOfRingsMm(carried.outlineAt(at), round)).toBeGreaterThan(2 - 1e-6);
  }
  expect(distanceMm(at, [760, 610])).toBeLessThan(0.01);
});

describe('where exactly a piece stops', () => {
  const gaps: GapsMm = { piecesMm: 2, edgeMm: 0, holeMm: 3 };
  const reach = 2.005;
  const slide = (mover: Mover, from: PointMm, wanted: PointMm, outline: PointMm[]) =>
    new LayHazards(table, gaps, [{ id: 'other', outline }]).slideTo(
      mover, { turnDeg: 0, xMm: from[0], yMm: from[1], mirrored: false }, wanted,
    );

  test('a flat side before a point', () => {
    const spike: PointMm[] = [[500, 333], [900, 200], [900, 466]];
    const end = slide({ id: 'a', outline: square(100) }, [100, 290], [700, 290], spike);
    near(end.at[0], 400 - reach, 'x', 1e-9);
    expect(end.at[1]).toBe(290);
  });

  test('a point before a flat side', () => {
    const arrow: PointMm[] = [[0, 0], [100, 37], [0, 74]];
    const end = slide({ id: 'a', outline: arrow }, [100, 290], [700, 290], [[500, 200], [600, 200], [600, 400], [500, 400]]);
    near(end.at[0], 400 - reach, 'x', 1e-9);
  });

  test('a corner before a corner', () => {
    // both on the diagonal: the gap is kept round the corner
    const end = slide({ id: 'a', outline: square(100) }, [100, 100], [700, 700], [[500, 500], [600, 500], [600, 600], [500, 600]]);
    near(end.at[0], 400 - reach / Math.SQRT2, 'x', 1e-6);
    near(end.at[1], 400 - reach / Math.SQRT2, 'y', 1e-6);
  });

  test('flush with the edge of the cloth it still slides along it', () => {
    const hazards = new LayHazards(table, gaps, []);
    for (const [from, wanted, stop] of [
      [[0, 300], [-80, 500], [0, 500]],
      [[900, 300], [990, 100], [900, 100]],
      [[300, 0], [700, -60], [700, 0]],
      [[300, 900], [200, 980], [200, 900]],
    ] as const) {
      const end = hazards.slideTo(
        { id: 'a', outline: square(100) }, { turnDeg: 0, xMm: from[0], yMm: from[1], mirrored: false }, wanted,
      );
      near(end.at[0], stop[0], 'x', 1e-5);
      near(end.at[1], stop[1], 'y', 1e-5);
      expect(end.against.map((h) => h.kind)).toEqual(['edge']);
    }
  });
});

describe('what is near is touched', () => {
  const gaps: GapsMm = { piecesMm: 2, edgeMm: 0, holeMm: 3 };
  const wall = { id: 'wall', outline: [[500, 0], [600, 0], [600, 700], [500, 700]] as PointMm[] };
  const hazards = new LayHazards(table, gaps, [wall]);
  const carried = hazards.carry({ id: 'a', outline: square(100) }, { turnDeg: 0, mirrored: false });

  test('at the gap, at right angles', () => {
    const [x, y] = carried.touch([390, 300], 20);
    near(x, 398 - 0.005, 'x', 1e-6);
    near(y, 300, 'y', 1e-6);
  });

  test('in a corner on both sides', () => {
    const [x, y] = carried.touch([385, 12], 20);
    near(x, 398 - 0.005, 'x', 1e-6);
    near(y, 0.005, 'y', 1e-6);
  });

  test('not from farther away', () => {
    expect(carried.touch([370, 300], 20)).toEqual([370, 300]);
    expect(carried.touch([390, 300], 0)).toEqual([390, 300]);
  });

  test('and ends free, touching or where it was, wherever that is', () => {
    let touched = 0;
    fc.assert(
      fc.property(someMover, someTurn, anywhere, fc.double({ min: 0.1, max: 40, noNaN: true }), (mover, turnDeg, from, within) => {
        const hand = curtainHazards.carry(mover, { turnDeg, mirrored: false });
        const free = hand.near(from, 340);
        if (free === null) return;
        const end = hand.touch(free, within);
        expect(hand.isFree(end)).toBe(true);
        expect(distanceMm(free, end)).toBeLessThanOrEqual(within * Math.SQRT2 + 1e-6);
        if (distanceMm(free, end) < 1e-6) return;
        touched += 1;
        const outline = hand.outlineAt(end);
        const { cloth, laid, gaps: kept } = curtain;
        const rings = [[cloth.outline, kept.edge_mm], ...cloth.holes.map((ring) => [ring, kept.hole_mm]), ...laid.map((one) => [one.outline, kept.pieces_mm]), ...cloth.flaws.map((flaw) => [flaw.polygon, 0])] as [PointMm[], number][];
        expect(Math.min(...rings.map(([ring, gap]) => distanceOfRingsMm(outline, ring) - gap))).toBeLessThan(0.02);
      }),
      { numRuns: 150 },
    );
    expect(touched).toBeGreaterThan(10);
  });
});

describe('pairs of sides tested for one step of the hand', () => {
  // 80 pieces of 120 points, closely laid on 1.5 × 3 m: more than a coat with its lining on one cloth
  const blob = (size: number, x: number, y: number, phase: number): PointMm[] =>
    Array.from({ length: 120 }, (_, i) => {
      const rad = (2 * Math.PI * i) / 120;
      const reach = size * (0.85 + 0.15 * Math.sin(5 * rad + phase));
      return [x + reach * Math.cos(rad), y + reach * Math.sin(rad)];
    });
  const laid = Array.from({ length: 80 }, (_, k) => ({ id: `${k}`, outline: blob(92, 95 + (k % 8) * 187, 150 + Math.floor(k / 8) * 300, k) }));
  const big = { outline: [[0, 0], [1500, 0], [1500, 3000], [0, 3000]] as PointMm[], holes: [], flaws: [] };
  const hazards = new LayHazards(big, { piecesMm: 2, edgeMm: 0, holeMm: 3 }, laid);
  const place = fc.tuple(fc.double({ min: 0, max: 1500, noNaN: true }), fc.double({ min: 0, max: 3000, noNaN: true })) as fc.Arbitrary<PointMm>;
  const all = 120 * (80 * 120 + 4);

  test('never more than the bound, whatever lies there and however far the hand went', () => {
    let most = 0;
    fc.assert(
      fc.property(place, place, fc.constantFrom(40, 92, 300), fc.double({ min: 0, max: 360, noNaN: true }), (from, to, size, turnDeg) => {
        const carried = hazards.carry({ id: 'in hand', outline: blob(size, 0, 0, 1) }, { turnDeg, mirrored: false });
        const count = (step: () => void) => {
          const before = hazards.tested;
          step();
          most = Math.max(most, hazards.tested - before);
        };
        // brought to a cloth: room near the hand, or what is in the way
        count(() => void (carried.isFree(to) || carried.near(to, 120) || carried.inTheWay(to)));
        const start = carried.near(from, 340);
        // on the cloth: along what is there, to touch
        if (start) count(() => void (carried.isFree(to) || carried.touch(carried.slide(start, to).at, 40)));
      }),
      { numRuns: 120 },
    );
    expect(most).toBeLessThanOrEqual(STEP_PAIRS);
    expect(most).toBeGreaterThan(0);
    // and a step of some centimetres is a small part of testing all against all
    const carried = hazards.carry({ id: 'in hand', outline: blob(60, 0, 0, 1) }, { turnDeg: 0, mirrored: false });
    let at = carried.near([750, 300], 340) as PointMm;
    let steps = 0;
    const before = hazards.tested;
    for (let x = 0; x < 300; x += 10, steps++) at = carried.touch(carried.slide(at, [450 + x, 300]).at, 20);
    expect((hazards.tested - before) / steps).toBeLessThan(0.001 * all);
  });
});
