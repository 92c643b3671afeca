import { expect, test } from 'vitest';
import { golden, near, nearPoints } from './golden-testing';
import type { Deg, Mm } from './units';

test('the comparisons fail where they must', () => {
  expect(() => near(1, 1.001)).toThrow();
  expect(() => near(Number.NaN, 1)).toThrow();
  expect(() => nearPoints([[0, 0]], [])).toThrow();
  expect(() => nearPoints([[0, 0]], [[0, 0.1]])).toThrow();
  near(1000.0005, 1000);
  expect(() => golden('no-such.json')).toThrow();
});

test('degrees are not taken for millimetres', () => {
  const turn: Deg = 90;
  const plain: Mm = 12.5;
  // @ts-expect-error a turn is no length
  const wrong: Mm = turn;
  expect(plain + wrong).toBe(102.5);
});
