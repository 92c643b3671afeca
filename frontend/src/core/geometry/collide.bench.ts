/** How long a step of a drag takes, with 40 pieces of 150 points on a cloth: `npx vitest bench`. */

import { test } from 'vitest';
import { LayHazards } from './collide';
import type { PointMm } from './units';

function chance(seed: number): () => number {
  let state = seed;
  // Park & Miller, CACM 31, 1988
  return () => (state = (state * 16807) % 2147483647) / 2147483647;
}

const next = chance(1);

function blob(points: number, size: number, x = 0, y = 0): PointMm[] {
  return Array.from({ length: points }, (_, i) => {
    const rad = (2 * Math.PI * i) / points;
    const reach = size * (0.82 + 0.18 * Math.sin(5 * rad + next()));
    return [x + reach * Math.cos(rad), y + reach * Math.sin(rad)];
  });
}

const laid = Array.from({ length: 40 }, (_, k) => ({
  id: `${k}`,
  outline: blob(150, 148, 150 + (k % 5) * 300, 150 + Math.floor(k / 5) * 300),
}));
const cloth = { outline: [[0, 0], [1500, 0], [1500, 3000], [0, 3000]] as PointMm[], holes: [], flaws: [] };
const gaps = { piecesMm: 2, edgeMm: 0, holeMm: 3 };
const mover = { id: 'in hand', outline: blob(150, 120) };
const hazards = new LayHazards(cloth, gaps, laid);
const carried = hazards.carry(mover, { turnDeg: 10, mirrored: false });
let at = carried.near([750, 2700], 340) ?? ([750, 2700] as PointMm);
const anywhere = (): PointMm => [100 + 1300 * next(), 100 + 2800 * next()];

test('a step of a drag', async ({ bench }) => {
  await bench.compare(
    bench('slide by up to 30 mm', () => {
      at = carried.slide(at, [at[0] + 60 * (next() - 0.5), at[1] + 60 * (next() - 0.5)]).at;
    }),
    bench('slide towards anywhere', () => {
      at = carried.slide(at, anywhere()).at;
    }),
    bench('free?', () => {
      carried.isFree(anywhere());
    }),
    bench('what it runs into', () => {
      carried.hits(anywhere());
    }),
  );
});

test('once for a gesture', async ({ bench }) => {
  await bench.compare(
    bench('prepare the lay', () => {
      new LayHazards(cloth, gaps, laid);
    }),
    bench('take in the hand', () => {
      hazards.carry(mover, { turnDeg: 360 * next(), mirrored: false });
    }),
    bench('find room within 120 mm', () => {
      carried.near(anywhere(), 120);
    }),
  );
});
