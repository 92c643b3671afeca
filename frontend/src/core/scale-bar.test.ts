import { describe, expect, it } from 'vitest';
import { LEAST_SCALE, MOST_SCALE } from './camera';
import { scaleBar } from './scale-bar';
import { parseMeasure, UNITS } from './units';

describe('the scale bar', () => {
  it('is 10 cm or 4 in wherever that is of a good length', () => {
    expect(scaleBar(1, 'cm')).toEqual({ mm: 100, px: 100, words: '10 cm' });
    expect(scaleBar(2.3, 'mm')).toMatchObject({ mm: 100, words: '100 mm' });
    expect(scaleBar(1, 'in').words).toBe('4 in');
    expect(scaleBar(1, 'in').px).toBeCloseTo(101.6); // 1 in = 25.4 mm: ISO 31-1
  });

  it('says the length that it has, at every zoom', () => {
    for (const unit of UNITS) {
      for (let scale = LEAST_SCALE; scale <= MOST_SCALE; scale *= 1.07) {
        const bar = scaleBar(scale, unit);
        const said = /^[\d.]+ m$/.test(bar.words) ? parseFloat(bar.words) * 1000 : parseMeasure(bar.words, unit);
        expect(said).toBeCloseTo(bar.px / scale, 6);
        expect(bar.px).toBeLessThanOrEqual(240);
        expect(bar.px).toBeGreaterThan(18);
      }
    }
  });
});
