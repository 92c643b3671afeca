import fc from 'fast-check';
import { expect, test } from 'vitest';
import { golden, near, nearMove, nearPoint, nearPoints } from './golden-testing';
import {
  STILL, allowedTurnDeg, angleBetweenDeg, apply, applyVector, between, composed, flips, followedBy, fullTurnDeg,
  grainTurnsDeg, inverse, isRigid, mirror, moveOf, placed, placementOf, shift, snappedDeg, turn, turnFromToDeg, turnedOver,
  turnedTo, type Move, type Placement,
} from './rigid';
import { signedAreaMm2 } from './polygon';
import { distanceMm, type PointMm } from './units';

interface Golden {
  moves: {
    turn_deg: number;
    about: PointMm;
    shift: PointMm;
    p: PointMm;
    q: PointMm;
    point: PointMm;
    turned: number[];
    mirrored: number[];
    all: Move;
    all_point: number[];
    back: Move;
    between: Move;
  }[];
  flag: PointMm[];
  laid: { turn_deg: number; x_mm: number; y_mm: number; mirrored: boolean; ring: number[][] }[];
}

const said = golden<Golden>('rigid.json');

test.each(said.moves)('a turn of $turn_deg° goes where Python puts it', (m) => {
  const turned = turn(m.turn_deg, m.about);
  nearPoint(apply(turned, m.point), m.turned, 'turned');
  nearPoint(apply(mirror(m.p, m.q), m.point), m.mirrored, 'mirrored');
  const all = composed(turned, shift(...m.shift), mirror(m.p, m.q));
  nearMove(all, m.all, 'all');
  nearPoint(apply(all, m.point), m.all_point, 'all');
  nearMove(inverse(all), m.back, 'back');
  nearMove(between(m.p, m.q, m.about, m.point), m.between, 'between');
});

test.each(said.laid)('a flag laid at $turn_deg°, mirrored: $mirrored', (l) => {
  const placement: Placement = { turnDeg: l.turn_deg, xMm: l.x_mm, yMm: l.y_mm, mirrored: l.mirrored };
  nearPoints(placed(said.flag, placement), l.ring, 'laid');
});

const coordinate = fc.double({ min: -2000, max: 2000, noNaN: true });
const point = fc.tuple(coordinate, coordinate) as fc.Arbitrary<PointMm>;
const angle = fc.double({ min: -720, max: 720, noNaN: true });
const placement: fc.Arbitrary<Placement> = fc.record({
  turnDeg: angle, xMm: coordinate, yMm: coordinate, mirrored: fc.boolean(),
});
const rigid = fc.tuple(angle, point, point, placement).map(([a, p, q, l]) => composed(turn(a, p), shift(...q), moveOf(l)));

test('a move and its way back leave everything where it was', () => {
  fc.assert(
    fc.property(rigid, point, (move, pt) => {
      nearPoint(apply(followedBy(move, inverse(move)), pt), pt, 'there and back');
      nearPoint(apply(inverse(move), apply(move, pt)), pt, 'back');
      nearMove(followedBy(inverse(move), move), STILL);
    }),
  );
});

test('a rigid move keeps distances, and tells whether it turned the plane over', () => {
  fc.assert(
    fc.property(rigid, point, point, placement, (move, p, q, l) => {
      expect(isRigid(move)).toBe(true);
      near(distanceMm(apply(move, p), apply(move, q)), distanceMm(p, q));
      expect(flips(moveOf(l))).toBe(l.mirrored);
      const [x, y] = applyVector(move, [q[0] - p[0], q[1] - p[1]]);
      near(Math.hypot(x, y), distanceMm(p, q));
    }),
  );
  expect(isRigid({ ...STILL, a: 1.01 })).toBe(false);
});

test('a placement is found again from its move', () => {
  fc.assert(
    fc.property(placement, (l) => {
      const again = placementOf(moveOf(l));
      expect(again.mirrored).toBe(l.mirrored);
      near(Math.cos(((again.turnDeg - l.turnDeg) * Math.PI) / 180), 1);
      near(again.xMm, l.xMm);
      near(again.yMm, l.yMm);
    }),
  );
});

test('an outline stays counter-clockwise, mirrored or not', () => {
  fc.assert(fc.property(placement, (l) => near(signedAreaMm2(placed(said.flag, l)), signedAreaMm2(said.flag))));
});

test('turning about a point of the cloth keeps what lies there', () => {
  fc.assert(
    fc.property(placement, angle, point, (l, to, about) => {
      const drawn = apply(inverse(moveOf(l)), about);
      const turned = turnedTo(l, to, about);
      nearPoint(apply(moveOf(turned), drawn), about, 'kept');
      near(Math.cos(((turned.turnDeg - to) * Math.PI) / 180), 1);
      const over = turnedOver(l, about);
      nearPoint(apply(moveOf(over), drawn), about, 'over');
      expect(over.mirrored).toBe(!l.mirrored);
    }),
  );
});

test('angles', () => {
  expect(fullTurnDeg(-90)).toBe(270);
  expect(fullTurnDeg(720)).toBe(0);
  expect(fullTurnDeg(-1e-15)).toBe(0);
  expect(turnFromToDeg(350, 10)).toBe(20);
  expect(turnFromToDeg(10, 350)).toBe(-20);
  near(angleBetweenDeg([1, 0], [0, 2]), 90);
  near(angleBetweenDeg([0, 1], [1, 0]), -90);
  expect(snappedDeg(44, 45, 2)).toBe(45);
  expect(snappedDeg(42, 45, 2)).toBe(42);
});

test('a piece is turned only as the grain allows', () => {
  // the warp runs along x: a piece whose grain is +y lies on it after a turn of -90° or 90°
  const along = { grainDeg: 0, turnsDeg: [0, 180], tiltDeg: 2 };
  expect(grainTurnsDeg(along)).toEqual([90, 270]);
  expect(allowedTurnDeg(80, along)).toBe(88);
  expect(allowedTurnDeg(91.5, along)).toBe(91.5);
  expect(allowedTurnDeg(265, along)).toBe(268);
  expect(allowedTurnDeg(12, { grainDeg: null, turnsDeg: [0, 180], tiltDeg: 0 })).toBe(12);
  expect(allowedTurnDeg(12, { grainDeg: 90, turnsDeg: null, tiltDeg: 0 })).toBe(12);
  expect(allowedTurnDeg(10, { grainDeg: 90, turnsDeg: [0], tiltDeg: 0 })).toBe(0);
  expect(grainTurnsDeg({ grainDeg: 90, turnsDeg: null, tiltDeg: 0 })).toEqual([]);
});
