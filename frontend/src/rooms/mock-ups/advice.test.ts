import { describe, expect, it } from 'vitest';
import { answers } from '../../core/driver';
import { Eke } from '../../core/eke';
import { box, garment } from '../pieces/testing';
import { askingOf, looksAt, NOTHING, placed, planFor, saidOf } from './advice';
import { OUTLINES, pictureOf, PICTURES } from './advice-pictures';

const REMEDY = { kind: 'fit.take_in', params: { seam: 'side', knots: [[0, 0], [200, 12], [400, 0]], share_a: 0.5 } };

describe('asking for advice', () => {
  it('is complete with what was seen, where, and how much', () => {
    const made = garment();
    const asking = { ...NOTHING, showing: 'loose-at-waist', edge: 'front-right', mm: 150, amount_mm: 12, whole: false };
    expect(saidOf(made, asking)).toEqual({ showing: 'loose-at-waist', edge: 'front-right', mm: 150, amount_mm: 12, whole: false, cloth: 'cotton', expected: 1 });
    for (const gap of [{ showing: null }, { edge: null }, { amount_mm: null }, { amount_mm: 0 }, { edge: 'gone' }]) expect(saidOf(made, { ...asking, ...gap })).toBeNull();
  });

  it('keeps the place on its edge', () => {
    expect(saidOf(garment(), { ...NOTHING, showing: 'x', edge: 'front-right', mm: 4000, amount_mm: 5 })?.mm).toBe(400);
    expect(saidOf(garment(), { ...NOTHING, showing: 'x', edge: 'front-right', mm: -3, amount_mm: 5 })?.mm).toBe(0);
  });

  it('has no place on what follows a recipe, nor on the leg of a dart', () => {
    const made = garment({ pieces: [box('front', 200, 400, { darts: [{ id: 'd', first_leg: 'front-right', second_leg: 'front-top', apex: [100, 300], intake_mm: 20 }] })] });
    expect(placed(made, { ...NOTHING, edge: 'front-right' })).toBeNull();
    expect(placed(made, { ...NOTHING, edge: 'front-left' })?.piece.id).toBe('front');
    expect(placed(garment(), { ...NOTHING, edge: 'r1/front-top' })).toBeNull();
  });

  it('is kept in the window with what is not said yet', () => {
    const eke = new Eke({ fetch: answers({}, []) });
    expect(askingOf(eke.state)).toEqual(NOTHING);
    eke.setOwn('mock-ups', { advice: { showing: 'armhole-gapes', amount_mm: 12 } });
    expect(askingOf(eke.state)).toEqual({ ...NOTHING, showing: 'armhole-gapes', amount_mm: 12 });
  });

  it('shows a remedy as a plan of its own, and easing as none', () => {
    const plan = planFor(REMEDY);
    expect(plan).toEqual({ kind: 'named', change: 'fit.take_in', params: REMEDY.params });
    expect(looksAt(plan, REMEDY)).toBe(true);
    expect(looksAt(plan, { ...REMEDY, params: { ...REMEDY.params, share_a: 1 } })).toBe(false);
    expect(looksAt(null, REMEDY)).toBe(false);
    expect(planFor({ kind: '', params: {} })).toBeNull();
  });
});

describe('the pictures of what may be seen', () => {
  it.each(Object.entries(PICTURES))('%s is marked, within the picture', (_, picture) => {
    const paths = [...(picture.stands ?? []), ...(picture.lines ?? [])];
    expect(paths.length).toBeGreaterThan(0);
    for (const path of [...paths, OUTLINES[picture.view]]) {
      const numbers = path.match(/-?[\d.]+/gu)?.map(Number) ?? [];
      expect(numbers.length % 2).toBe(0);
      numbers.forEach((value, i) => {
        expect(value).toBeGreaterThanOrEqual(0);
        expect(value).toBeLessThanOrEqual(i % 2 === 0 ? 48 : 60);
      });
    }
  });

  it('of something new is the plain dress', () => {
    expect(pictureOf('what-nobody-knows')).toEqual({ view: 'front' });
  });
});
