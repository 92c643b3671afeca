import { describe, expect, it } from 'vitest';
import { told } from './told';

describe('a sentence of the workroom', () => {
  it('tells lengths in the unit of the maker', () => {
    expect(told('Take in “side” by 390 mm, then 8 mm.', 'cm')).toBe('Take in “side” by 39 cm, then 8 mm.');
    expect(told('Take in “side” by 390 mm, then 8 mm.', 'mm')).toBe('Take in “side” by 390 mm, then 8 mm.');
    expect(told('It is 127 mm long.', 'in')).toBe('It is 5 in long.'); // 1 in = 25.4 mm exactly
    expect(told('A piece of 100 × 76 cm is left.', 'in')).toBe('A piece of 39 3/8 × 29 15/16 in is left.');
    expect(told('A piece of 100 × 76 cm is left.', 'mm')).toBe('A piece of 1000 × 760 mm is left.');
    expect(told('Between 10 and 15 mm.', 'in')).toBe('Between 3/8 and 9/16 in.');
    expect(told('It is −12.7 mm off.', 'in')).toBe('It is −1/2 in off.');
    expect(told('Certain to 0.4 mm.', 'in')).toBe('Certain to less than 1/16 in.');
    expect(told('It is 232.5 mm.', 'cm')).toBe('It is 23.25 cm.');
  });

  it('tells areas in square inches to one who thinks in inches', () => {
    expect(told('Saves 237 cm² of 0.23 m².', 'in')).toBe('Saves 37 in² of 357 in².');
    expect(told('Saves 237 cm² of 0.23 m².', 'mm')).toBe('Saves 237 cm² of 0.23 m².');
  });

  it('leaves the words of the maker, and what is no length, alone', () => {
    for (const words of ['Named “10 mm wide”.', 'A wash of 30 °C.', '120 g/m²', 'In 20 seconds 3 of 4 are on.', 'Paper of 80 mmol'])
      expect(told(words, 'in')).toBe(words);
  });
});
