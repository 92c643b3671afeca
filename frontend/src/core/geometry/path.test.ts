import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { golden, near, nearPoint, nearPoints, type RawSegment } from './golden-testing';
import { Path } from './path';
import { isLine, type Segment } from './segments';
import { distanceMm, type PointMm } from './units';

interface Case {
  name: string;
  segments: RawSegment[];
  length_mm: number;
  closed: boolean;
  joints_mm: number[];
  bounds: number[];
  places: { mm: number; point: PointMm; tangent: PointMm }[];
  nearest: { to: PointMm; at_mm: number; point: PointMm; distance_mm: number }[];
  cut: { mm: number; parts: RawSegment[][] };
  flat: PointMm[];
  flat_tolerance_mm: number;
  flat_fine_points: number;
}

const cases = golden<{ cases: Case[] }>('paths.json').cases;

describe.each(cases)('$name', (c) => {
  const path = Path.of(c.segments);

  test('is as long, and lies, as in Python', () => {
    near(path.lengthMm, c.length_mm, 'length');
    expect(path.isClosed).toBe(c.closed);
    path.jointsMm.forEach((mm, i) => near(mm, c.joints_mm[i] ?? NaN, 'joint'));
    path.bounds.forEach((v, i) => near(v, c.bounds[i] ?? NaN, 'bounds'));
    for (const place of c.places) {
      nearPoint(path.pointAt(place.mm), place.point, `point at ${place.mm}`, 1e-5);
      // beside a cusp the direction turns within a nanometre: only its being a unit can be told there
      if (!c.name.includes('cusp') && !c.name.includes('back on itself')) {
        nearPoint(path.tangentAt(place.mm), place.tangent, `tangent at ${place.mm}`, 1e-5);
      }
    }
  });

  test('is met at the same nearest places', () => {
    for (const n of c.nearest) {
      const found = path.nearest(n.to);
      near(found.distanceMm, n.distance_mm, 'distance');
      // two feet may be equally far
      if (distanceMm(found.point, n.point) > 1e-3) near(distanceMm(found.point, n.to), n.distance_mm, 'other foot');
      else near(found.atMm, n.at_mm, 'along', 1e-5);
    }
  });

  test('is cut in two at the same place', () => {
    if (c.cut.parts.length === 0) return;
    path.split(c.cut.mm).forEach((part, i) => {
      const wanted = c.cut.parts[i] ?? [];
      expect(part.segments.length).toBe(wanted.length);
      part.segments.forEach((s, k) => nearPoints(s, wanted[k]?.points ?? [], 'part', 1e-5));
    });
  });

  test('has the same chords', () => {
    nearPoints(path.flatten(c.flat_tolerance_mm), c.flat, 'flat');
    expect(path.flatten().length).toBe(c.flat_fine_points);
  });
});

const coordinate = fc.integer({ min: -4000, max: 4000 }).map((v) => v / 8);
const point = fc.tuple(coordinate, coordinate) as fc.Arbitrary<PointMm>;

/** Chains of one to four lines and curves whose ends are some millimetres apart. */
export const somePath = fc
  .tuple(point, fc.array(fc.tuple(point, point, point, fc.boolean()), { minLength: 1, maxLength: 4 }))
  .map(([start, rest]) => {
    let here: PointMm = start;
    const segments: Segment[] = [];
    for (const [a, b, end, line] of rest) {
      const there: PointMm = distanceMm(here, end) > 2 ? end : [here[0] + 7, here[1] - 4];
      segments.push(line ? [here, there] : [here, a, b, there]);
      here = there;
    }
    return new Path(segments);
  });

test('the parts of a cut line are together as long as it was', () => {
  fc.assert(
    fc.property(somePath, fc.double({ min: 0.05, max: 0.95, noNaN: true }), (path, share) => {
      const [head, tail] = path.split(share * path.lengthMm);
      near(head.lengthMm, share * path.lengthMm, 'head');
      near(head.lengthMm + tail.lengthMm, path.lengthMm, 'both');
      expect(head.end).toEqual(tail.start);
    }),
  );
});

test('a line is as long walked the other way, and no shorter than its chord nor longer than its legs', () => {
  fc.assert(
    fc.property(somePath, (path) => {
      near(path.reversed().lengthMm, path.lengthMm, 'reversed');
      const chords = path.flatten(0.01);
      const along = chords.slice(1).reduce((sum, p, i) => sum + distanceMm(p, chords[i] ?? p), 0);
      expect(along).toBeLessThanOrEqual(path.lengthMm * (1 + 1e-9));
      expect(along).toBeGreaterThan(path.lengthMm - 0.02 * chords.length);
      const legs = path.segments.flatMap((s) => s.slice(1).map((p, i) => distanceMm(p, s[i] ?? p)));
      expect(path.lengthMm).toBeLessThanOrEqual(legs.reduce((a, b) => a + b, 0) * (1 + 1e-9) + 1e-9);
    }),
  );
});

test('a point of the line is its own nearest point', () => {
  fc.assert(
    fc.property(somePath, fc.double({ min: 0, max: 1, noNaN: true }), (path, share) => {
      const at = path.pointAt(share * path.lengthMm);
      const found = path.nearest(at);
      expect(found.distanceMm).toBeLessThan(1e-5);
      expect(distanceMm(path.pointAt(found.atMm), at)).toBeLessThan(1e-3);
    }),
  );
});

test('no sample of the line is nearer than its nearest point', () => {
  fc.assert(
    fc.property(somePath, point, (path, pt) => {
      const found = path.nearest(pt).distanceMm;
      for (const p of path.flatten(0.5)) expect(distanceMm(p, pt)).toBeGreaterThan(found - 1e-6);
    }),
  );
});

test('a slice of a closed line may run over its start', () => {
  const square = Path.polyline([[0, 0], [100, 0], [100, 100], [0, 100]], true);
  const stretch = square.slice(350, 70);
  near(stretch.lengthMm, 120);
  expect(stretch.start).toEqual([0, 50]);
  expect(stretch.end).toEqual([70, 0]);
  expect(square.ring()).toHaveLength(4);
  expect(square.segments.every(isLine)).toBe(true);
});

test('what is no line is refused', () => {
  expect(() => new Path([])).toThrow(RangeError);
  expect(() => new Path([[[0, 0], [1, 0]], [[2, 0], [3, 0]]])).toThrow('gap');
  expect(() => Path.line([0, Number.NaN], [1, 1])).toThrow('no number');
  expect(() => Path.line([0, 0], [10, 0]).split(0)).toThrow(RangeError);
  expect(() => Path.of([{ points: [[0, 0], [1, 1], [2, 2]] }])).toThrow('two or four');
});
