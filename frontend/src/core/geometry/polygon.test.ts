import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { golden, near, nearPoint } from './golden-testing';
import {
  boundsOf, boxesMeet, centroid, contains, convexHull, counterClockwise, distanceOfRingsMm, distanceToRingMm,
  perimeterMm, selfCrossing, signedAreaMm2, simplifiedOutwards,
} from './polygon';
import { lerp, type PointMm } from './units';

interface Golden {
  cases: {
    name: string;
    ring: PointMm[];
    area_mm2: number;
    centre: number[];
    bounds: number[];
    perimeter_mm: number;
    inside: { point: PointMm; is: boolean }[];
    hull_area_mm2: number;
    hull_points: number;
  }[];
  apart: { a: string; b: string; distance_mm: number }[];
  crossing: { name: string; ring: PointMm[]; simple: boolean }[];
}

const said = golden<Golden>('polygons.json');
const rings = new Map(said.cases.map((c) => [c.name, c.ring]));

describe.each(said.cases)('$name', (c) => {
  test('measures as in Python', () => {
    near(signedAreaMm2(c.ring), c.area_mm2, 'area');
    nearPoint(centroid(c.ring), c.centre, 'centre');
    boundsOf(c.ring).forEach((v, i) => near(v, c.bounds[i] ?? NaN, 'bounds'));
    near(perimeterMm(c.ring), c.perimeter_mm, 'perimeter');
    for (const { point, is } of c.inside) expect(contains(c.ring, point)).toBe(is);
  });

  test('has the same hull', () => {
    const hull = convexHull(c.ring);
    near(signedAreaMm2(hull), c.hull_area_mm2, 'hull');
    expect(hull.length).toBe(c.hull_points);
  });

  test.each([0.5, 3, 12])('grows by no more than %s mm when simplified', (tolerance) => {
    const ring = counterClockwise(c.ring);
    const coarse = simplifiedOutwards(ring, tolerance);
    expect(coarse.length).toBeLessThanOrEqual(ring.length);
    expect(selfCrossing(coarse)).toBeNull();
    expect(signedAreaMm2(coarse)).toBeGreaterThanOrEqual(signedAreaMm2(ring) - 1e-6);
    // all of the old outline lies inside the new one, or on it
    ring.forEach((p, i) => {
      for (const t of [0, 0.37, 0.81]) {
        const at = lerp(p, ring[(i + 1) % ring.length] as PointMm, t);
        expect(contains(coarse, at) || distanceToRingMm(coarse, at) < 1e-6).toBe(true);
      }
    });
    coarse.forEach((p, i) => {
      for (const t of [0, 0.37, 0.81]) {
        const at = lerp(p, coarse[(i + 1) % coarse.length] as PointMm, t);
        expect(distanceToRingMm(ring, at)).toBeLessThanOrEqual(tolerance + 1e-6);
      }
    });
  });
});

test('a circle of many points becomes one of few', () => {
  const circle = rings.get('a circle of 50 mm') as PointMm[];
  expect(simplifiedOutwards(circle, 1).length).toBeLessThan(circle.length / 2);
});

test.each(said.apart)('$a and $b are $distance_mm apart', ({ a, b, distance_mm }) => {
  const [one, two] = [rings.get(a), rings.get(b)];
  near(distanceOfRingsMm(one ?? [], two ?? []), distance_mm);
});

test.each(said.crossing)('$name is simple: $simple', ({ ring, simple }) => {
  expect(selfCrossing(ring) === null).toBe(simple);
});

test('the hull of any points holds them all', () => {
  const coordinate = fc.integer({ min: -300, max: 300 });
  const points = fc.array(fc.tuple(coordinate, coordinate) as fc.Arbitrary<PointMm>, { minLength: 3, maxLength: 40 });
  fc.assert(
    fc.property(points, (all) => {
      const hull = convexHull(all);
      if (hull.length < 3) return;
      expect(signedAreaMm2(hull)).toBeGreaterThan(0);
      for (const p of all) expect(contains(hull, p) || distanceToRingMm(hull, p) < 1e-9).toBe(true);
    }),
  );
});

test('boxes', () => {
  expect(boxesMeet([0, 0, 1, 1], [2, 0, 3, 1])).toBe(false);
  expect(boxesMeet([0, 0, 1, 1], [2, 0, 3, 1], 1)).toBe(true);
  expect(boxesMeet([0, 0, 1, 1], [0, 1.5, 3, 2], 0.4)).toBe(false);
});
