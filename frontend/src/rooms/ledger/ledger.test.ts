import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { BUTTONS, fillJar, GLASS, RADIUS } from './jar';
import { portions, sumOf, typedAmount, weightsOf } from '../../core/money';

describe('a typed amount', () => {
  it.each([['2,40', '2.40'], ['2.40', '2.40'], [' 12 ', '12'], ['0,5', '0.5'], [',5', '.5']])('%s is %s', (typed, said) => {
    expect(typedAmount(typed)).toBe(said);
  });

  it.each(['', '0', '-2', '1.2.3', '2,4,0', 'five', '1e3', '2 40'])('%s is none', (typed) => {
    expect(typedAmount(typed)).toBeNull();
  });
});

it('a sum is read out of its words', () => {
  expect(sumOf('7.40 EUR')).toBe(7.4);
  expect(sumOf('−1.20 GBP')).toBe(-1.2);
  expect(sumOf('nothing')).toBeNull();
  expect(sumOf(null)).toBeNull();
});

describe('shares', () => {
  const parts = (...shares: string[]) => shares.map((share, i) => ({ id: `${i}`, name: `${i}`, shares: share }));

  it('divide what can be divided and give the odd cent to one', () => {
    expect(portions(5, 'EUR', parts('1', '1'))).toEqual([2.5, 2.5]);
    expect(portions(1, 'EUR', parts('1', '1', '1'))).toEqual([0.34, 0.33, 0.33]);
    expect(portions(100, 'JPY', parts('1', '1', '1'))).toEqual([34, 33, 33]); // no decimals: ISO 4217
    expect(weightsOf(parts('1', '2,5'))).toEqual({ 0: '1', 1: '2.5' });
  });

  it('always add up', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 1e6 }), fc.array(fc.integer({ min: 1, max: 99 }), { minLength: 1, maxLength: 9 }), (cents, weights) => {
        const sums = portions(cents / 100, 'EUR', parts(...weights.map(String)));
        expect(Math.round(sums.reduce((a, b) => a + b, 0) * 100)).toBe(cents);
      }),
    );
  });
});

describe('the jar', () => {
  it('holds what is left, and beside it lies what is spent', () => {
    const jar = fillJar(0.6);
    expect([jar.inside.length, jar.beside.length, jar.over.length]).toEqual([16, 24, 0]);
    expect(fillJar(0).inside).toHaveLength(BUTTONS);
    expect(fillJar(1.25)).toMatchObject({ inside: [], over: { length: 10 } });
    expect(fillJar(null)).toEqual({ inside: [], beside: [], over: [] });
  });

  it('has every button inside the glass, none over another', () => {
    fc.assert(
      fc.property(fc.double({ min: 0, max: 3, noNaN: true }), (share) => {
        const jar = fillJar(share);
        for (const one of jar.inside) {
          expect(one.x - RADIUS).toBeGreaterThan(GLASS.left - 8);
          expect(one.x + RADIUS).toBeLessThan(GLASS.right + 8);
          expect(one.y).toBeGreaterThan(100);
        }
        for (const heap of [jar.inside, [...jar.beside, ...jar.over]]) {
          heap.forEach((a, i) => heap.slice(i + 1).forEach((b) => expect(Math.hypot(a.x - b.x, a.y - b.y)).toBeGreaterThan(2 * RADIUS - 2.5)));
        }
      }),
      { numRuns: 40 },
    );
  });
});
