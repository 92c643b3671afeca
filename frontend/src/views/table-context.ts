/** What drawn things may know of the table they lie on: `getContext<TableContext>(TABLE)`. */

import type { Camera, Size } from '../core/camera';
import type { Box, Point } from '../core/geometry-types';

export const TABLE = Symbol('table');

export interface TableContext {
  readonly camera: Camera;
  readonly size: Size;
  /** mm of the table → px of the table's SVG. */
  toScreen(at: Point): Point;
  /** Show all. */
  fit(): void;
  /** Show a part of the table. */
  show(box: Box): void;
}
