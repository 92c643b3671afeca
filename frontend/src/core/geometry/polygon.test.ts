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

test('many small steps do not add up to more than was allowed', () => {
  // a round bite: bridged point by point, each bridge only a little beyond the one before
  const bite = Array.from({ length: 61 }, (_, i): PointMm => {
    const rad = Math.PI + (Math.PI * i) / 60;
    return [50 + 40 * Math.cos(rad), -40 * Math.sin(rad) * -1 + 100];
  });
  const ring: PointMm[] = [[0, 0], [100, 0], [100, 100], ...bite.reverse(), [0, 100]];
  expect(selfCrossing(ring)).toBeNull();
  const coarse = simplifiedOutwards(ring, 1);
  expect(coarse.length).toBeLessThan(ring.length / 2);
  coarse.forEach((p, i) => {
    for (let t = 0; t < 1; t += 0.05) {
      const at = lerp(p, coarse[(i + 1) % coarse.length] as PointMm, t);
      expect(distanceToRingMm(ring, at)).toBeLessThanOrEqual(1 + 1e-6);
    }
  });
});

test('a dent is not bridged across what stands in it', () => {
  // a dent 30 deep in the upper arm, and a thorn of the lower arm that reaches into it
  const hook: PointMm[] = [
    [0, 100], [500, 130], [1000, 100], [1000, 60], [520, 60], [500, 115], [480, 60], [0, 60], [0, 0], [1200, 0],
    [1200, 300], [0, 300],
  ];
  expect(selfCrossing(hook)).toBeNull();
  const coarse = simplifiedOutwards(hook, 32);
  expect(selfCrossing(coarse)).toBeNull();
  for (const p of hook) expect(contains(coarse, p) || distanceToRingMm(coarse, p) < 1e-6).toBe(true);
});

test('any ring is simplified outwards within its tolerance', () => {
  const spokes = fc.array(fc.tuple(fc.double({ min: 20, max: 100, noNaN: true }), fc.integer({ min: 0, max: 719 })), {
    minLength: 5, maxLength: 60,
  });
  fc.assert(
    fc.property(spokes, fc.double({ min: 0.2, max: 20, noNaN: true }), (all, tolerance) => {
      const turns = [...new Map(all.map(([reach, half]) => [half, reach]))].sort((p, q) => p[0] - q[0]);
      const ring = turns.map(([half, reach]): PointMm => {
        const rad = (half * Math.PI) / 360;
        return [reach * Math.cos(rad), reach * Math.sin(rad)];
      });
      if (ring.length < 5 || signedAreaMm2(ring) <= 0 || selfCrossing(ring) !== null) return;
      const coarse = simplifiedOutwards(ring, tolerance);
      expect(selfCrossing(coarse)).toBeNull();
      for (const p of ring) expect(contains(coarse, p) || distanceToRingMm(coarse, p) < 1e-6).toBe(true);
      coarse.forEach((p, i) => {
        for (const t of [0, 0.2, 0.5, 0.8]) {
          const at = lerp(p, coarse[(i + 1) % coarse.length] as PointMm, t);
          expect(distanceToRingMm(ring, at)).toBeLessThanOrEqual(tolerance + 1e-6);
        }
      });
    }),
    { numRuns: 200 },
  );
});
