/** Where one looks on the table: the point of the table (mm, y up) in the middle, and px per mm. */

import type { Box, Point } from './geometry-types';

export interface Camera {
  x: number;
  y: number;
  /** CSS px per mm. */
  scale: number;
}
export interface Size {
  width: number;
  height: number;
}

export const START: Camera = { x: 0, y: 0, scale: 1 };
/** From 20 m across a small window to single hundredths of a mm. */
export const LEAST_SCALE = 0.02;
export const MOST_SCALE = 60;

export function toScreen(camera: Camera, size: Size, at: Point): Point {
  return [(at[0] - camera.x) * camera.scale + size.width / 2, size.height / 2 - (at[1] - camera.y) * camera.scale];
}

export function toTable(camera: Camera, size: Size, px: Point): Point {
  return [camera.x + (px[0] - size.width / 2) / camera.scale, camera.y - (px[1] - size.height / 2) / camera.scale];
}

/** Move what is seen by px on the screen (right and down positive), as a hand moves paper. */
export function pan(camera: Camera, dx: number, dy: number): Camera {
  return { ...camera, x: camera.x - dx / camera.scale, y: camera.y + dy / camera.scale };
}

/** Bring closer (factor > 1) or farther, so that what is under `px` stays there. */
export function zoomAt(camera: Camera, size: Size, px: Point, factor: number): Camera {
  const scale = Math.min(MOST_SCALE, Math.max(LEAST_SCALE, camera.scale * factor));
  const at = toTable(camera, size, px);
  return {
    x: at[0] - (px[0] - size.width / 2) / scale,
    y: at[1] + (px[1] - size.height / 2) / scale,
    scale,
  };
}

/** Show a whole box with `margin` px round it. */
export function fit(box: Box | null, size: Size, margin = 32): Camera {
  if (!box || size.width <= 0 || size.height <= 0) return START;
  const wide = Math.max(size.width - 2 * margin, 16) / Math.max(box.width, 1);
  const high = Math.max(size.height - 2 * margin, 16) / Math.max(box.height, 1);
  const scale = Math.min(MOST_SCALE, Math.max(LEAST_SCALE, Math.min(wide, high)));
  return { x: box.left + box.width / 2, y: box.bottom + box.height / 2, scale };
}

/** The SVG transform of the group in which everything is drawn in mm with y up. */
export function transformOf(camera: Camera, size: Size): string {
  const [x, y] = toScreen(camera, size, [0, 0]);
  return `translate(${x} ${y}) scale(${camera.scale} ${-camera.scale})`;
}
