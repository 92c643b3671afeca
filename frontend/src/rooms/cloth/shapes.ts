/** Shapes of cloth that a tape measure can tell, drawn while they are typed. The server makes the real outline. */

import type { Point } from '../../core/geometry-types';

/** Where a measure is written on the picture: along a line between two places. */
export interface Dimension {
  from: Point;
  to: Point;
  /** On the picture the word stands to this side of the line: 1 left of its direction, −1 right. */
  side: 1 | -1;
}
export interface Drawn {
  outline: Point[];
  dimensions: Dimension[];
}

/** Measures to draw a shape with before anything is typed, mm. */
export const EXAMPLES: Record<string, readonly number[]> = {
  rectangle: [1400, 1000],
  round: [1200],
  'half-round': [1400],
  oval: [1500, 1000],
  'l-shape': [1400, 1200, 600, 500],
  'four-sided': [1300, 900, 1000, 1000, 1500],
};

/** The shape with those measures; null: lengths that do not meet. */
export function drawn(shape: string, mm: readonly number[]): Drawn | null {
  const [a = 0, b = 0, c = 0, d = 0, e = 0] = mm;
  if (mm.some((value) => !(value > 0))) return null;
  switch (shape) {
    case 'rectangle': return { outline: [[0, 0], [a, 0], [a, b], [0, b]], dimensions: [dim([0, 0], [a, 0], -1), dim([0, 0], [0, b], 1)] };
    case 'round': return { outline: oval(a, a), dimensions: [dim([0, a / 2], [a, a / 2], 1)] };
    case 'oval': return { outline: oval(a, b), dimensions: [dim([0, b / 2], [a, b / 2], -1), dim([a / 2, 0], [a / 2, b], 1)] };
    case 'half-round': {
      const half = oval(a, a).filter(([, y]) => y > a / 2 + 1e-6).map(([x, y]): Point => [x, y - a / 2]);
      return { outline: [[0, 0], [a, 0], ...half], dimensions: [dim([0, 0], [a, 0], -1)] };
    }
    case 'l-shape':
      if (c >= a || d >= b) return null;
      return {
        outline: [[0, 0], [a, 0], [a, b - d], [a - c, b - d], [a - c, b], [0, b]],
        dimensions: [dim([0, 0], [a, 0], -1), dim([0, 0], [0, b], 1), dim([a - c, b], [a, b], 1), dim([a, b - d], [a, b], -1)],
      };
    case 'four-sided': {
      const far = corner(a, e, b);
      if (!far) return null;
      const off = corner(e, d, c);
      if (!off) return null;
      const ux = far[0] / e, uy = far[1] / e;
      const top: Point = [off[0] * ux - off[1] * uy, off[0] * uy + off[1] * ux];
      return {
        outline: [[0, 0], [a, 0], far, top],
        dimensions: [dim([0, 0], [a, 0], -1), dim([a, 0], far, -1), dim(far, top, -1), dim(top, [0, 0], -1), dim([0, 0], far, 1)],
      };
    }
    default: return null;
  }
}

function dim(from: Point, to: Point, side: 1 | -1): Dimension {
  return { from, to, side };
}

function oval(width: number, length: number): Point[] {
  return Array.from({ length: 72 }, (_, i): Point => {
    const turn = (i / 72) * 2 * Math.PI;
    return [width / 2 + (width / 2) * Math.cos(turn), length / 2 + (length / 2) * Math.sin(turn)];
  });
}

/** The corner above a line from the origin along x, by its distances from the two ends. */
function corner(base: number, fromStart: number, fromEnd: number): Point | null {
  const along = (base * base + fromStart * fromStart - fromEnd * fromEnd) / (2 * base);
  const square = fromStart * fromStart - along * along;
  return square > 0 ? [along, Math.sqrt(square)] : null;
}
