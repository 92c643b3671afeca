import { expect, it } from 'vitest';
import { chapters } from './told';

it('tells changes garment by garment, in their order', () => {
  const told = chapters(['Vest: Took in the side', 'Skirt: Straightened the hem', 'Vest: Added a dart: 6 mm', 'Began'], ['Vest', 'Skirt']);
  expect(told).toEqual([
    { garment: 'Vest', sentences: ['Took in the side', 'Added a dart: 6 mm'] },
    { garment: 'Skirt', sentences: ['Straightened the hem'] },
    { garment: '', sentences: ['Began'] },
  ]);
});
