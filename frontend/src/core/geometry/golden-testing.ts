/** For tests only: the goldens that Python and the front end share, and comparisons that can fail. */

import { readFileSync } from 'node:fs';
import type { Move } from './rigid';
import type { PointMm } from './units';

/** The golden of that name in `tests/shared`. */
export function golden<T>(name: string): T {
  const file = new URL(`../../../../tests/shared/${name}`, import.meta.url);
  return JSON.parse(readFileSync(file, 'utf-8')) as T;
}

/** Throws unless two numbers are the same to a relative 1e-6, or to a millionth of a millimetre. */
export function near(found: number, wanted: number, what = '', rel = 1e-6): void {
  if (!(Math.abs(found - wanted) <= rel * Math.max(1, Math.abs(wanted)))) {
    throw new Error(`${what}: ${found}, not ${wanted}`);
  }
}

export function nearPoint(found: PointMm, wanted: readonly number[], what = '', rel = 1e-6): void {
  near(found[0], wanted[0] ?? NaN, `${what} x`, rel);
  near(found[1], wanted[1] ?? NaN, `${what} y`, rel);
}

export function nearPoints(
  found: readonly PointMm[], wanted: readonly (readonly number[])[], what = '', rel = 1e-6,
): void {
  if (found.length !== wanted.length) throw new Error(`${what}: ${found.length} points, not ${wanted.length}`);
  found.forEach((p, i) => nearPoint(p, wanted[i] ?? [], `${what} ${i}`, rel));
}

export function nearMove(found: Move, wanted: Move, what = ''): void {
  for (const key of ['a', 'b', 'tx', 'c', 'd', 'ty'] as const) near(found[key], wanted[key], `${what} ${key}`);
}

export interface RawSegment {
  points: PointMm[];
}
