/**
 * A photograph as a table: one unit is one pixel of the upright picture. Pixels run down and their origin is the
 * centre of the top-left one; the table's y runs up, so the height turns one into the other.
 */

import type { FoundView } from '../../client/types.gen';
import { boxOf, type Box, type Point } from '../../core/geometry-types';

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

/** What is worth seeing of the flat paper: all that was found, with some room, or all of it where nothing was. */
export function flatBox(found: FoundView): Box | null {
  const whole = found.straightened_box;
  const seen = boxOf([...found.pieces, ...found.cloths].flatMap((one) => one.outline));
  if (!seen) return whole ? { left: whole[0], bottom: whole[1], width: whole[2], height: whole[3] } : null;
  const room = Math.max(seen.width, seen.height) * 0.12;
  return { left: seen.left - room, bottom: seen.bottom - room, width: seen.width + 2 * room, height: seen.height + 2 * room };
}
