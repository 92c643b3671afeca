/** Points and boxes: mm, x right, y up. */
export type Point = readonly [number, number];
export interface Box {
  left: number;
  bottom: number;
  width: number;
  height: number;
}

/** The smallest box round all points; none for no points. */
export function boxOf(points: Iterable<readonly number[]>): Box | null {
  let left = Infinity, bottom = Infinity, right = -Infinity, top = -Infinity;
  for (const p of points) {
    const x = p[0] ?? 0, y = p[1] ?? 0;
    left = Math.min(left, x);
    right = Math.max(right, x);
    bottom = Math.min(bottom, y);
    top = Math.max(top, y);
  }
  return left > right ? null : { left, bottom, width: right - left, height: top - bottom };
}
