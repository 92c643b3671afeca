import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { ClothView, CutPieceView, LayView } from '../../client/types.gen';
import { contains, distanceOfRingsMm, distanceToRingMm } from '../../core/geometry/polygon';
import { placed } from '../../core/geometry/rigid';
import type { Point } from '../../core/geometry-types';
import { groundOf, hazardsOn } from './ground';
import { aCloth, aLay, aPiece, anLaid, L_SHAPE, square } from './testing';

const FREE = { turnDeg: 0, mirrored: false, xMm: 0, yMm: 0 };

function ground(piece: CutPieceView, cloth: ClothView, others: ReturnType<typeof anLaid>[] = [], lay: Partial<LayView> = {}, turnDeg = 0) {
  return groundOf(hazardsOn(cloth, others, { ...aLay(), ...lay }), piece, { ...FREE, turnDeg });
}

describe('sliding on a cloth', () => {
  const piece = aPiece('p', square(100));
  const cloth = aCloth('c', square(1000));

  it('goes where nothing is in the way', () => {
    expect(ground(piece, cloth).slide([10, 10], [500, 300])).toEqual([500, 300]);
  });

  it('stops at the edge and goes along it', () => {
    const [x, y] = ground(piece, cloth).slide([500, 500], [2000, 700]);
    expect(x).toBeCloseTo(900, 1);
    expect(y).toBeCloseTo(700, 6);
  });

  it('keeps the gap to a neighbour, to a hundredth of a millimetre', () => {
    const other = anLaid('q', square(100), [400, 0]);
    const [x] = ground(piece, cloth, [other]).slide([100, 1], [800, 1]);
    expect(400 - (x + 100)).toBeGreaterThanOrEqual(2);
    expect(400 - (x + 100)).toBeLessThan(2.03);
  });

  it('goes round a corner of a neighbour at the distance of the gap', () => {
    const other = anLaid('q', square(100), [400, 400]);
    const g = ground(piece, cloth, [other]);
    let at: Point = [299, 250];
    for (let i = 0; i < 60; i++) at = g.slide(at, [at[0] + 10, at[1] + 6]);
    expect(g.hits(at)).toEqual([]);
    expect(at[0]).toBeGreaterThan(500);
  });

  it('does not fall through something thin in one long step', () => {
    const wall = anLaid('w', [[500, 0], [501, 0], [501, 1000], [500, 1000]], [0, 0]);
    expect(ground(piece, cloth, [wall]).slide([100, 100], [800, 100])[0]).toBeLessThan(398.1);
  });

  it('may leave a place at which the gap is short by rounding, but not make it shorter', () => {
    const other = anLaid('q', square(100), [201.985, 0]);
    const g = ground(piece, cloth, [other]);
    expect(g.hits([100, 0.5])).toEqual([]);
    expect(g.slide([100, 0.5], [120, 0.5])[0]).toBeCloseTo(100, 3);
    expect(g.slide([100, 0.5], [50, 0.5])[0]).toBeCloseTo(50, 6);
  });
});

describe('what is in the way', () => {
  const piece = aPiece('p', square(100));

  it('has a name', () => {
    const cloth = { ...aCloth('c', square(1000)), holes: [square(50, 600, 600)], flaws: [{ id: 'f', polygon: square(50, 300, 600), kind: 'stain', quality: 1 }] };
    const g = ground(piece, cloth as ClothView, [anLaid('q', square(100), [0, 0])]);
    expect(g.hits([50, 50])).toEqual(['q']);
    expect(g.hits([-5, 500])).toEqual(['edge']);
    expect(g.hits([1500, 500])).toEqual(['edge']);
    expect(g.hits([651.5, 600])).toEqual(['hole']);
    expect(g.hits([655, 600])).toEqual([]);
    expect(g.hits([300, 600])).toEqual(['flaw']);
    expect(g.hits([610, 610]).length).toBeGreaterThan(0);
  });

  it('may be a flaw for what is seen and not for what is hidden', () => {
    const cloth = { ...aCloth('c', square(1000)), flaws: [{ id: 'f', polygon: square(50, 300, 600), kind: 'stain', quality: 1 }] } as ClothView;
    const hidden = { ...piece, least_quality: 1 } as CutPieceView;
    expect(ground(piece, cloth).hits([300, 600])).toEqual(['flaw']);
    expect(ground(hidden, cloth).hits([300, 600])).toEqual([]);
  });

  it('is a neighbour also where one lies wholly in the other', () => {
    const small = aPiece('s', square(10));
    expect(ground(small, aCloth('c', square(1000)), [anLaid('q', square(200), [100, 100])]).hits([150, 150])).toEqual(['q']);
    const large = aPiece('l', square(400));
    expect(ground(large, aCloth('c', square(1000)), [anLaid('q', square(20), [200, 200])]).hits([100, 100])).toEqual(['q']);
  });
});

describe('a place near the hand', () => {
  it('is free and near', () => {
    const piece = aPiece('p', square(100));
    const g = ground(piece, aCloth('c', square(1000)), [anLaid('q', square(100), [400, 400])]);
    const near = g.near([330, 420], 120);
    expect(near).not.toBeNull();
    expect(g.hits(near as Point)).toEqual([]);
    expect(Math.hypot((near as Point)[0] - 330, (near as Point)[1] - 420)).toBeLessThan(60);
  });

  it('is none where there is no room', () => {
    expect(ground(aPiece('p', square(100)), aCloth('c', square(90))).near([0, 0], 120)).toBeNull();
  });
});

// Whatever is dragged wherever: distances measured by another way hold the gaps.
describe('a drag', () => {
  const step = fc.tuple(fc.double({ min: -80, max: 80, noNaN: true }), fc.double({ min: -80, max: 80, noNaN: true }));

  it('never ends in anything', () => {
    fc.assert(
      fc.property(fc.array(step, { minLength: 1, maxLength: 25 }), fc.double({ min: 0, max: 360, noNaN: true }), (steps, turnDeg) => {
        const piece = aPiece('p', L_SHAPE);
        const cloth = { ...aCloth('c', [[0, 0], [900, 40], [860, 700], [400, 640], [30, 720]]), holes: [square(60, 600, 500)] } as ClothView;
        const others = [anLaid('q', L_SHAPE, [500, 120], 31), anLaid('r', square(90), [120, 520], 10)];
        const g = ground(piece, cloth, others, {}, turnDeg);
        let at: Point = [300, 330];
        if (g.hits(at).length > 0) return;
        for (const [dx, dy] of steps) at = g.slide(at, [at[0] + dx, at[1] + dy]);
        const here = placed(L_SHAPE, { turnDeg, mirrored: false, xMm: at[0], yMm: at[1] });
        for (const other of others) expect(distanceOfRingsMm(here, other.laid?.outline ?? [])).toBeGreaterThan(2 - 0.02);
        expect(distanceOfRingsMm(here, cloth.holes[0] ?? [])).toBeGreaterThan(3 - 0.02);
        for (const p of here) expect(contains(cloth.outline, p) || distanceToRingMm(cloth.outline, p) < 0.02).toBe(true);
      }),
      { numRuns: 150 },
    );
  });
});
