import { describe, expect, it } from 'vitest';
import { difference, measure, parseMeasure, UNITS } from './units';

describe('lengths', () => {
  it('are written as the maker thinks of them', () => {
    expect(measure(125, 'cm')).toBe('12.5 cm');
    expect(measure(120, 'cm')).toBe('12 cm');
    expect(measure(125, 'mm')).toBe('125 mm');
    expect(measure(123.825, 'in')).toBe('4 7/8 in'); // 1 in = 25.4 mm exactly (international yard, 1959)
    expect(measure(25.4 * 5, 'in')).toBe('5 in');
    expect(measure(-12.7, 'in')).toBe('−1/2 in');
    expect(measure(0.2, 'in')).toBe('0 in');
    expect(difference(4.2, 'cm')).toBe('4.2 mm');
  });

  it('are read in any unit', () => {
    expect(parseMeasure('12.5', 'cm')).toBeCloseTo(125);
    expect(parseMeasure('1,5 cm', 'in')).toBeCloseTo(15);
    expect(parseMeasure('4 7/8', 'in')).toBeCloseTo(123.825);
    expect(parseMeasure('4-7/8 in', 'mm')).toBeCloseTo(123.825);
    expect(parseMeasure('7/8"', 'cm')).toBeCloseTo(22.225);
    expect(parseMeasure('-3 mm', 'cm')).toBeCloseTo(-3);
    expect(parseMeasure('1,4m', 'cm')).toBeCloseTo(1400);
    expect(parseMeasure('1 1/2 yd', 'cm')).toBeCloseTo(1371.6);
    expect(parseMeasure('2 yards', 'cm')).toBeCloseTo(1828.8);
    expect(parseMeasure('20mm', 'in')).toBeCloseTo(20);
    for (const text of ['', 'wide', '1/0', '3 ells', '1.2.3']) expect(parseMeasure(text, 'cm')).toBeNull();
  });

  it('come back from what is written, within half of the last place', () => {
    const half = { cm: 0.5, mm: 0.5, in: 25.4 / 32 };
    for (const unit of UNITS) {
      for (let mm = 0; mm < 700; mm += 3.37) {
        const back = parseMeasure(measure(mm, unit), unit);
        expect(back).not.toBeNull();
        expect(Math.abs((back ?? NaN) - mm)).toBeLessThanOrEqual(half[unit] + 1e-9);
      }
    }
  });
});
