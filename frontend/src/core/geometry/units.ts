/**
 * Numbers and points with a unit in their type.
 *
 * The types are flavoured: a plain number may be used as any of them, so that what comes from the server needs
 * no casts, but a value that is known to be degrees is refused where millimetres are wanted.
 */

declare const unit: unique symbol;

type Flavoured<U extends string> = number & { readonly [unit]?: U };

/** Millimetres: of cloth, paper or pattern. */
export type Mm = Flavoured<'mm'>;
/** Degrees, counter-clockwise positive. */
export type Deg = Flavoured<'deg'>;
/** Pixels of the screen. */
export type Px = Flavoured<'px'>;
/** Square millimetres. */
export type Mm2 = Flavoured<'mm2'>;

/** A place or a vector in mm: x to the right, y up. */
export type PointMm = readonly [Mm, Mm];
/** A place on the screen: x to the right, y down. */
export type PointPx = readonly [Px, Px];
/** A closed outline in mm; the first point is not repeated. */
export type RingMm = readonly PointMm[];
/** An upright box: least x, least y, greatest x, greatest y. */
export type BoxMm = readonly [Mm, Mm, Mm, Mm];

/** Two ends count as the same point: as in `eke.geometry.tolerance`. */
export const JOIN_MM: Mm = 1e-6;
/** Chord error of a flattened curve: a quarter of the line that a home printer draws. */
export const FLATTEN_MM: Mm = 0.05;

const DEG_PER_RAD = 180 / Math.PI;

/** Radians to degrees. */
export function degrees(rad: number): Deg {
  return rad * DEG_PER_RAD;
}

/** Degrees to radians, for kernels. */
export function radians(deg: Deg): number {
  return deg / DEG_PER_RAD;
}

/** The distance of two points. */
export function distanceMm(p: PointMm, q: PointMm): Mm {
  return Math.hypot(q[0] - p[0], q[1] - p[1]);
}

/** The point at share `t` of the way from `p` to `q`. */
export function lerp(p: PointMm, q: PointMm, t: number): PointMm {
  return [p[0] + (q[0] - p[0]) * t, p[1] + (q[1] - p[1]) * t];
}
