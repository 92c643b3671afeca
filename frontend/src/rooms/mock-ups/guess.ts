/** Where a change probably goes to, so that there is something to look at from the first moment. */

import type { DartView, EdgeView, PieceView, RunPartView } from '../../client/types.gen';
import type { Point } from '../../core/geometry-types';
import { foldsAway, lookup, neighbour } from '../pieces/lookup';
import { inside, mouthOf, pathOf, shapeOf } from '../pieces/shape';
import type { FoundDart, Here, Spot } from './fields';

/** So near to where a line begins it meets the edge that it begins on. */
const OFF_MM = 1;

/** A press is brought so far from the ends of its edge: what is cut or folded there needs cloth on both sides. */
const FROM_END_MM = 5;

/** The place that was pressed, or the middle of the edge, a little way from both ends. */
export function placeHere(here: Here): Spot | null {
  if (!here.found || here.onDart) return null;
  const { edge } = here.found;
  const least = Math.min(FROM_END_MM, edge.length_mm / 4);
  return { edge: edge.id, mm: Math.min(Math.max(here.mm, least), edge.length_mm - least) };
}

/** The direction into the piece where it was pointed at. The grain is upwards. */
export function inwards(here: Here): Point {
  return here.found ? pathOf(here.found.edge).normalAt(here.mm) : [0, 0];
}

/** The first edge that a line from a point of a piece meets; null: there is none. Darts may be passed through. */
export function met(piece: PieceView, from: Point, way: Point, darts: 'stop' | 'pass' = 'stop'): { edge: EdgeView; mm: number } | null {
  const long = Math.hypot(way[0], way[1]);
  if (long === 0) return null;
  const [u, v] = [way[0] / long, way[1] / long];
  let best: { edge: EdgeView; at: Point; far: number } | null = null;
  for (const edge of piece.edges) {
    if (darts === 'pass' && isLeg(piece, edge)) continue;
    const points = pathOf(edge).flatten(0.2);
    for (let i = 1; i < points.length; i++) {
      const far = crossing(from, [u, v], points[i - 1] as Point, points[i] as Point);
      if (far !== null && far > OFF_MM && (best === null || far < best.far)) best = { edge, at: [from[0] + u * far, from[1] + v * far], far };
    }
  }
  return best === null ? null : { edge: best.edge, mm: pathOf(best.edge).nearest(best.at).atMm };
}

/** How far along a line from `from` with direction `way` (of length 1) it crosses a chord. */
function crossing(from: Point, way: Point, p: Point, q: Point): number | null {
  const [dx, dy] = [q[0] - p[0], q[1] - p[1]];
  const across = way[0] * dy - way[1] * dx;
  if (Math.abs(across) < 1e-12) return null;
  const [ex, ey] = [p[0] - from[0], p[1] - from[1]];
  const share = (ex * way[1] - ey * way[0]) / across;
  return share < 0 || share > 1 ? null : (ex * dy - ey * dx) / across;
}

function isLeg(piece: PieceView, edge: EdgeView): boolean {
  return foldsAway(piece, edge.id);
}

/** Straight across the piece from the place: the edge that lies opposite. */
export function across(here: Here, how: { fold?: boolean; darts?: 'pass' } = {}): Spot | null {
  if (!here.found) return null;
  const { piece, edge } = here.found;
  const path = pathOf(edge);
  const other = met(piece, path.pointAt(here.mm), path.normalAt(here.mm), how.darts);
  if (!other || other.edge.id === edge.id || isLeg(piece, other.edge) || (other.edge.kind === 'fold' && !how.fold)) return null;
  return { edge: other.edge.id, mm: other.mm };
}

/** A wedge that runs flatter to its edge than this (the cosine from square) would run along it. */
const SLANTED = 0.5;

/** The point of a dart, where a line from the place to it leaves the edge squarely enough. */
export function toDart(here: Here): Spot | null {
  if (!here.found || !here.dart) return null;
  const [x, y] = pathOf(here.found.edge).pointAt(here.mm), [nx, ny] = inwards(here), [ax, ay] = here.dart.dart.apex;
  return nx * (ax - x) + ny * (ay - y) > SLANTED * Math.hypot(ax - x, ay - y) ? { dart: here.dart.dart.id } : null;
}

/** The dart of a piece that runs across rather than up: of a front, its bust dart. */
export function dartAcross(piece: PieceView): DartView | undefined {
  return piece.darts.find((dart) => {
    const [x, y] = mouthOf(piece, dart) ?? dart.apex;
    return Math.abs(dart.apex[0] - x) > Math.abs(dart.apex[1] - y);
  });
}

/** Where the middle line of a dart comes out beyond its point. */
export function beyond({ piece, dart }: FoundDart): Spot | null {
  const mouth = mouthOf(piece, dart);
  const other = mouth && met(piece, dart.apex, [dart.apex[0] - mouth[0], dart.apex[1] - mouth[1]]);
  return other && other.edge.kind !== 'fold' && !isLeg(piece, other.edge) ? { edge: other.edge.id, mm: other.mm } : null;
}

/** Straight down the grain from a point of a piece: its hem, or its waist. */
export function below(piece: PieceView, from: Point): Spot | null {
  const other = met(piece, from, [0, -1]);
  return other && other.edge.kind !== 'fold' && !isLeg(piece, other.edge) ? { edge: other.edge.id, mm: other.mm } : null;
}

/** An edge at its first notch, or its middle. */
function atNotch(piece: PieceView, edge: EdgeView): Spot {
  const notch = piece.notches.find((one) => one.edge === edge.id);
  return { edge: edge.id, mm: notch?.mm ?? edge.length_mm / 2 };
}

/** Which end of an edge lies lower on the body: of a shoulder, its tip. */
export function lowerEnd(edge: EdgeView): 'start' | 'end' {
  const path = pathOf(edge);
  return path.start[1] < path.end[1] ? 'start' : 'end';
}

/** The edge beside the lower end of an edge: of a shoulder, the armhole. */
export function besideLower(here: Here): Spot | null {
  if (!here.found) return null;
  const { piece, edge, index } = here.found;
  const other = neighbour(piece, index, lowerEnd(edge) === 'end' ? 1 : -1);
  return other && other.kind !== 'fold' && !isLeg(piece, other) ? atNotch(piece, other) : null;
}

/** The edge that adjoins the first part of a run where it begins, or the last where it ends. */
export function atRunEnd(here: Pick<Here, 'garment'>, run: readonly RunPartView[], end: 'start' | 'end'): EdgeView | null {
  const part = end === 'start' ? run[0] : run.at(-1);
  const found = part && lookup(here.garment).edges.get(part.edge);
  if (!part || !found) return null;
  return neighbour(found.piece, found.index, (end === 'end') !== part.reverse ? 1 : -1);
}

/** A point well inside a piece on the line that begins square at a place: up to `deepest_mm` deep. */
export function squareIn(here: Here, deepest_mm = 90): Point | undefined {
  if (!here.found) return undefined;
  const path = pathOf(here.found.edge);
  const [x, y] = path.pointAt(here.mm), [nx, ny] = path.normalAt(here.mm);
  const { ring } = shapeOf(here.found.piece);
  const SHALLOWEST_MM = 22, LEFT_MM = 8, STEP_MM = 4;
  let deep = deepest_mm;
  while (deep > SHALLOWEST_MM && !inside(ring, [x + nx * (deep + LEFT_MM), y + ny * (deep + LEFT_MM)])) deep -= STEP_MM;
  return [x + nx * deep, y + ny * deep];
}
