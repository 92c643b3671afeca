/** Moves of the plane: turn, mirror, shift, one after the other; and how a piece lies (`Placement`). */

import { degrees, radians, type Deg, type Mm, type PointMm, type RingMm } from './units';

/** The move `x' = a x + b y + tx`, `y' = c x + d y + ty`. */
export interface Move {
  readonly a: number;
  readonly b: number;
  readonly tx: Mm;
  readonly c: number;
  readonly d: number;
  readonly ty: Mm;
}

/** How a piece lies: mirrored about its y axis first, turned about its origin, then shifted. */
export interface Placement {
  readonly turnDeg: Deg;
  readonly xMm: Mm;
  readonly yMm: Mm;
  readonly mirrored: boolean;
}

/** A move is rigid when it keeps lengths to this share. */
const RIGID_REL = 1e-9;

export const STILL: Move = { a: 1, b: 0, tx: 0, c: 0, d: 1, ty: 0 };

/** Cosine and sine; quarter turns are exact. */
function cosSin(turnDeg: Deg): readonly [number, number] {
  const quarters = turnDeg / 90;
  if (Number.isInteger(quarters)) {
    const exact = [
      [1, 0],
      [0, 1],
      [-1, 0],
      [0, -1],
    ] as const;
    return exact[((quarters % 4) + 4) % 4] ?? exact[0];
  }
  const rad = radians(turnDeg);
  return [Math.cos(rad), Math.sin(rad)];
}

export function shift(dxMm: Mm, dyMm: Mm): Move {
  return { ...STILL, tx: dxMm, ty: dyMm };
}

/** The turn about a point, counter-clockwise positive. */
export function turn(turnDeg: Deg, about: PointMm = [0, 0]): Move {
  const [cos, sin] = cosSin(turnDeg);
  const [x, y] = about;
  return { a: cos, b: -sin, tx: x - cos * x + sin * y, c: sin, d: cos, ty: y - sin * x - cos * y };
}

/** The reflection in the line through two different points. */
export function mirror(p: PointMm, q: PointMm): Move {
  const dx = q[0] - p[0];
  const dy = q[1] - p[1];
  const square = dx * dx + dy * dy;
  if (!(square > 0)) throw new RangeError("A mirror line needs two different points.");
  const a = (dx * dx - dy * dy) / square;
  const b = (2 * dx * dy) / square;
  return { a, b, tx: p[0] - a * p[0] - b * p[1], c: b, d: -a, ty: p[1] - b * p[0] + a * p[1] };
}

/** The rigid move that takes `p` to `pTo` and the direction of `q` to that of `qTo`. */
export function between(p: PointMm, q: PointMm, pTo: PointMm, qTo: PointMm): Move {
  const rad = Math.atan2(qTo[1] - pTo[1], qTo[0] - pTo[0]) - Math.atan2(q[1] - p[1], q[0] - p[0]);
  return followedBy(turn(degrees(rad), p), shift(pTo[0] - p[0], pTo[1] - p[1]));
}

/**
 * The move that does `first` and `second` after it.
 *
 * Not called as in Python: a module with an export of that name is taken for a promise and can never be loaded.
 */
export function followedBy(first: Move, second: Move): Move {
  const f = first;
  const s = second;
  return {
    a: s.a * f.a + s.b * f.c,
    b: s.a * f.b + s.b * f.d,
    tx: s.a * f.tx + s.b * f.ty + s.tx,
    c: s.c * f.a + s.d * f.c,
    d: s.c * f.b + s.d * f.d,
    ty: s.c * f.tx + s.d * f.ty + s.ty,
  };
}

/** Several moves, one after the other. */
export function composed(...moves: readonly Move[]): Move {
  return moves.reduce(followedBy, STILL);
}

/** The move back. */
export function inverse(move: Move): Move {
  const det = move.a * move.d - move.b * move.c;
  if (det === 0) throw new RangeError("A move that flattens everything to a line cannot be taken back.");
  const a = move.d / det;
  const b = -move.b / det;
  const c = -move.c / det;
  const d = move.a / det;
  return { a, b, tx: -a * move.tx - b * move.ty, c, d, ty: -c * move.tx - d * move.ty };
}

/** Whether the move turns the plane over, as a mirror does. */
export function flips(move: Move): boolean {
  return move.a * move.d - move.b * move.c < 0;
}

/** Whether the move keeps all lengths (a mirror does). */
export function isRigid(move: Move): boolean {
  return (
    Math.abs(move.a * move.a + move.c * move.c - 1) <= RIGID_REL &&
    Math.abs(move.b * move.b + move.d * move.d - 1) <= RIGID_REL &&
    Math.abs(move.a * move.b + move.c * move.d) <= RIGID_REL
  );
}

export function apply(move: Move, pt: PointMm): PointMm {
  return [move.a * pt[0] + move.b * pt[1] + move.tx, move.c * pt[0] + move.d * pt[1] + move.ty];
}

/** The moved vector: turned, not shifted. */
export function applyVector(move: Move, vector: PointMm): PointMm {
  return [move.a * vector[0] + move.b * vector[1], move.c * vector[0] + move.d * vector[1]];
}

/** The moved outline, walked the same way round as before: a mirrored one is turned round, as `placed` in Python. */
export function applyRing(move: Move, ring: RingMm): PointMm[] {
  const points = ring.map((p) => apply(move, p));
  return flips(move) ? points.reverse() : points;
}

/** The move that a placement is. */
export function moveOf(placement: Placement): Move {
  const [cos, sin] = cosSin(placement.turnDeg);
  const side = placement.mirrored ? -1 : 1;
  return { a: side * cos, b: -sin, tx: placement.xMm, c: side * sin, d: cos, ty: placement.yMm };
}

/** The placement that a rigid move is; the turn lies from 0 up to 360. */
export function placementOf(move: Move): Placement {
  // the y axis is not mirrored, so its direction tells the turn
  return {
    turnDeg: fullTurnDeg(degrees(Math.atan2(-move.b, move.d))),
    xMm: move.tx,
    yMm: move.ty,
    mirrored: flips(move),
  };
}

/** A drawn outline where it lies: as `eke.cutting.door.placed`. */
export function placed(ring: RingMm, placement: Placement): PointMm[] {
  return applyRing(moveOf(placement), ring);
}

/** The placement turned to another angle with one point of the cloth kept in place. */
export function turnedTo(placement: Placement, turnDeg: Deg, about: PointMm): Placement {
  const moved = followedBy(moveOf(placement), turn(turnDeg - placement.turnDeg, about));
  return { turnDeg: fullTurnDeg(turnDeg), xMm: moved.tx, yMm: moved.ty, mirrored: placement.mirrored };
}

/** The placement turned over about an upright line of the cloth through a point. */
export function turnedOver(placement: Placement, about: PointMm): Placement {
  return placementOf(followedBy(moveOf(placement), mirror(about, [about[0], about[1] + 1])));
}

/** The angle from `u` to `v`, counter-clockwise positive, -180 to 180. */
export function angleBetweenDeg(u: PointMm, v: PointMm): Deg {
  return degrees(Math.atan2(u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1]));
}

/** The same direction as an angle from 0 up to 360. */
export function fullTurnDeg(angleDeg: Deg): Deg {
  const full = ((angleDeg % 360) + 360) % 360;
  return full === 360 || Object.is(full, -0) ? 0 : full;
}

/** The smallest turn from one direction to another, above -180 to 180. */
export function turnFromToDeg(fromDeg: Deg, toDeg: Deg): Deg {
  const off = fullTurnDeg(toDeg - fromDeg);
  return off > 180 ? off - 360 : off;
}

/** The angle itself, or the multiple of `stepDeg` that lies within `withinDeg` of it. */
export function snappedDeg(angleDeg: Deg, stepDeg: Deg, withinDeg: Deg): Deg {
  const near = Math.round(angleDeg / stepDeg) * stepDeg;
  return Math.abs(near - angleDeg) <= withinDeg ? near : angleDeg;
}

/** How a piece may be turned on a cloth. */
export interface GrainRule {
  /** Where the warp runs in the cloth's own frame; none: nobody has said. */
  readonly grainDeg: Deg | null;
  /** Turns against the grain that are allowed; none: any. */
  readonly turnsDeg: readonly Deg[] | null;
  readonly tiltDeg: Deg;
}

/** The allowed turn that is nearest to the one wanted: a piece's grain runs along +y of its own frame. */
export function allowedTurnDeg(wantedDeg: Deg, rule: GrainRule): Deg {
  if (rule.turnsDeg === null || rule.grainDeg === null || rule.turnsDeg.length === 0) {
    return fullTurnDeg(wantedDeg);
  }
  let best = 0;
  let least = Infinity;
  for (const against of rule.turnsDeg) {
    const straight = rule.grainDeg - 90 + against;
    const off = turnFromToDeg(straight, wantedDeg);
    const kept = Math.min(Math.max(off, -rule.tiltDeg), rule.tiltDeg);
    if (Math.abs(off - kept) < least) {
      least = Math.abs(off - kept);
      best = straight + kept;
    }
  }
  return fullTurnDeg(best);
}

/** All turns on the grain of a cloth, in rising order: what one key-press steps through; none where any will do. */
export function grainTurnsDeg(rule: GrainRule): Deg[] {
  if (rule.turnsDeg === null || rule.grainDeg === null) return [];
  const from = rule.grainDeg - 90;
  return rule.turnsDeg.map((against) => fullTurnDeg(from + against)).sort((a, b) => a - b);
}
