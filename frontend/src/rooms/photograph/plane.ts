/**
 * A photograph as a table: one unit is one pixel of the upright picture. Pixels run down and their origin is the
 * centre of the top-left one; the table's y runs up, so the height turns one into the other.
 */

import type { Box, Point } from '../../core/geometry-types';

export interface PictureSize {
  width_px: number;
  height_px: number;
}

export function onPlane(px: readonly number[], picture: PictureSize): Point {
  return [px[0] ?? 0, picture.height_px - 1 - (px[1] ?? 0)];
}

export function ringOnPlane(ring: readonly (readonly number[])[], picture: PictureSize): Point[] {
  return ring.map((p) => onPlane(p, picture));
}

/** Back to pixels, kept inside the picture. */
export function inPicture(at: Point, picture: PictureSize): [number, number] {
  const hold = (value: number, most: number) => Math.round(Math.min(Math.max(value, 0), most) * 100) / 100;
  return [hold(at[0], picture.width_px - 1), hold(picture.height_px - 1 - at[1], picture.height_px - 1)];
}

/** Where the whole picture lies on its plane: half a pixel more than its outermost centres. */
export function planeBox(picture: PictureSize): Box {
  return { left: -0.5, bottom: -0.5, width: picture.width_px, height: picture.height_px };
}
