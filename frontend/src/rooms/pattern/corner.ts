/** A corner under the hand: both edges follow, as the server will make them follow. */

import type { EdgeView, PieceView } from '../../client/types.gen';
import type { Point } from '../../core/geometry-types';
import { Path } from '../../core/geometry/path';
import { withEnds, isLine, startOf, endOf, type Segment } from '../../core/geometry/segments';
import { pathOf } from '../pieces/shape';

export interface Carried {
  /** Where the corner comes to lie: on a fold it slides along the fold. */
  at: Point;
  /** `d` of both edges. */
  paths: string[];
  lengths_mm: number[];
}

/** The corner at which an edge starts, put at `to` (frame of the piece). */
export function cornerCarried(piece: PieceView, edge: string, to: Point): Carried {
  const index = piece.edges.findIndex((one) => one.id === edge);
  const after = piece.edges[index];
  const before = piece.edges[(index - 1 + piece.edges.length) % piece.edges.length];
  if (!after || !before || after === before) return { at: to, paths: [], lengths_mm: [] };
  const fold = [after, before].find((one) => one.kind === 'fold');
  const at = fold ? alongFold(fold, to) : to;
  const carried = [carriedEnd(before, 'end', at), carriedEnd(after, 'start', at)];
  return { at, paths: carried.map((path) => path.svg()), lengths_mm: carried.map((path) => path.lengthMm) };
}

function alongFold(fold: EdgeView, to: Point): Point {
  const path = pathOf(fold);
  const [x, y] = path.start;
  const [ux, uy] = path.tangentAt(0);
  const along = (to[0] - x) * ux + (to[1] - y) * uy;
  return [x + along * ux, y + along * uy];
}

/** A straight edge stays straight; a curve follows with all of the shift at the moved end and none at the other. */
export function carriedEnd(edge: EdgeView, end: 'start' | 'end', to: Point): Path {
  const path = pathOf(edge);
  const from = end === 'start' ? path.start : path.end;
  const [dx, dy] = [to[0] - from[0], to[1] - from[1]];
  const first = path.segments[0];
  if (edge.shape === 'straight' || edge.kind === 'fold' || (path.segments.length === 1 && first && isLine(first))) {
    return end === 'start' ? Path.line(to, path.end) : Path.line(path.start, to);
  }
  const weight = (i: number): number => {
    const share = (path.jointsMm[i] ?? 0) / path.lengthMm;
    const w = end === 'end' ? share : 1 - share;
    return w * w * (3 - 2 * w);
  };
  const put = (p: Point, w: number): Point => [p[0] + w * dx, p[1] + w * dy];
  return new Path(path.segments.map((segment, i): Segment => withEnds(segment, put(startOf(segment), weight(i)), put(endOf(segment), weight(i + 1)))));
}
