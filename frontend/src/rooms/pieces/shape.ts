/** The drawn shape of a piece, worked out once for each piece as the server sent it. */

import type { CutView, DartView, EdgeView, NotchView, PieceView } from '../../client/types.gen';
import { boxOf, type Box, type Point } from '../../core/geometry-types';
import { pathOf } from '../../core/geometry/garment-shapes';
import { apply, applyVector, type Move } from '../../core/geometry/rigid';
import { ringPath, segmentsPath } from '../../core/paths';

export { pathOf };

export interface EdgeShape {
  id: string;
  name: string;
  kind: EdgeView['kind'];
  /** `d` of the edge in the piece's frame. */
  d: string;
  /** A leg of a dart, or across a pleat: folded away. */
  dart: boolean;
}

export interface PieceShape {
  /** `d` of the net outline. */
  net: string;
  /** `d` of the outline with allowances. */
  cut: string;
  /** `d` of the line that is cut: the same without the stretch along a fold. */
  cutLine: string;
  /** `d` of the fold, from cut edge to cut edge. */
  foldLine: string;
  edges: readonly EdgeShape[];
  box: Box;
  /** A place well inside, for the name. */
  heart: Point;
  /** Points of the net outline, flattened. */
  ring: readonly Point[];
}

const SHAPES = new WeakMap<PieceView, PieceShape>();
const NOWHERE: Box = { left: 0, bottom: 0, width: 1, height: 1 };
/** Words lie well on a ring of this chord error; lines are drawn from the true segments. */
const ROUGH_MM = 0.5;

export function shapeOf(piece: PieceView): PieceShape {
  let shape = SHAPES.get(piece);
  if (shape === undefined) {
    shape = drawn(piece);
    SHAPES.set(piece, shape);
  }
  return shape;
}

function drawn(piece: PieceView): PieceShape {
  const legs = new Set([...piece.darts.flatMap((dart) => [dart.first_leg, dart.second_leg]), ...piece.pleats.flatMap((pleat) => pleat.mouths.flat())]);
  const edges = piece.edges.map((edge) => ({
    id: edge.id, name: edge.name, kind: edge.kind, d: segmentsPath(edge.segments), dart: legs.has(edge.id),
  }));
  const ring = piece.edges.flatMap((edge) => pathOf(edge).flatten(ROUGH_MM).slice(0, -1));
  return {
    net: segmentsPath(piece.edges.flatMap((edge) => edge.segments), true),
    cut: ringPath(piece.cut_outline),
    ...byTheFold(piece),
    edges,
    box: boxOf([...ring, ...piece.cut_outline]) ?? NOWHERE,
    heart: heartOf(ring),
    ring,
  };
}

/** So near to the fold a cut line runs along it. */
const ON_FOLD_MM = 0.05;

/** The cut outline as a line that stops at the fold, where no cloth is cut, and what lies along the fold. */
function byTheFold(piece: PieceView): { cutLine: string; foldLine: string } {
  const fold = piece.edges.find((edge) => edge.id === piece.fold);
  if (!fold) return { cutLine: ringPath(piece.cut_outline), foldLine: '' };
  const { start: [x, y], end } = pathOf(fold);
  const long = Math.hypot(end[0] - x, end[1] - y) || 1;
  const along = [(end[0] - x) / long, (end[1] - y) / long] as const;
  const on = (p: readonly number[]) => Math.abs(((p[0] ?? 0) - x) * along[1] - ((p[1] ?? 0) - y) * along[0]) <= ON_FOLD_MM;
  const lines = { cutLine: '', foldLine: '' };
  piece.cut_outline.forEach((p, i) => {
    const q = piece.cut_outline[(i + 1) % piece.cut_outline.length] ?? p;
    lines[on(p) && on(q) ? 'foldLine' : 'cutLine'] += `M${p[0]} ${p[1]}L${q[0]} ${q[1]}`;
  });
  return lines;
}

/**
 * A place inside a ring that is far from its border: the best of the middles of level chords at some heights.
 * A name stands there wherever the outline is hollow.
 */
export function heartOf(ring: readonly Point[]): Point {
  const box = boxOf(ring);
  if (box === null) return [0, 0];
  const middle = box.bottom + box.height / 2;
  let best: { at: Point; worth: number } = { at: [box.left + box.width / 2, middle], worth: -Infinity };
  for (let i = 1; i < 12; i++) {
    const y = box.bottom + (box.height * i) / 12;
    const crossings = levelCrossings(ring, y);
    for (let k = 0; k + 1 < crossings.length; k += 2) {
      const from = crossings[k] ?? 0, to = crossings[k + 1] ?? 0;
      // wide, and not too far from the middle
      const worth = to - from - 0.5 * Math.abs(y - middle);
      if (worth > best.worth) best = { at: [(from + to) / 2, y], worth };
    }
  }
  return best.at;
}

/** Where a ring crosses a level, from left to right. */
export function levelCrossings(ring: readonly Point[], y: number): number[] {
  const found: number[] = [];
  ring.forEach((p, i) => {
    const q = ring[(i + 1) % ring.length] ?? p;
    if (p[1] > y !== q[1] > y) found.push(p[0] + ((y - p[1]) / (q[1] - p[1])) * (q[0] - p[0]));
  });
  return found.sort((a, b) => a - b);
}

/** Whether a point lies inside a ring. */
export function inside(ring: readonly Point[], at: Point): boolean {
  return levelCrossings(ring, at[1]).filter((x) => x < at[0]).length % 2 === 1;
}

/** The strokes of a notch, across the seam line: one, two or three side by side. */
export function notchStrokes(notch: NotchView, in_mm: number, out_mm: number, apart_mm: number): [Point, Point][] {
  const rad = (notch.out_deg * Math.PI) / 180;
  const out: Point = [Math.cos(rad), Math.sin(rad)];
  const along: Point = [-out[1], out[0]];
  return Array.from({ length: Math.max(notch.count, 1) }, (_, i) => {
    const aside = (i - (Math.max(notch.count, 1) - 1) / 2) * apart_mm;
    const x = notch.at[0] + along[0] * aside, y = notch.at[1] + along[1] * aside;
    return [[x - out[0] * in_mm, y - out[1] * in_mm], [x + out[0] * out_mm, y + out[1] * out_mm]];
  });
}

/** The middle of a dart's mouth, where its middle line begins. */
export function mouthOf(piece: PieceView, dart: DartView): Point | null {
  const first = piece.edges.find((edge) => edge.id === dart.first_leg);
  const second = piece.edges.find((edge) => edge.id === dart.second_leg);
  if (!first || !second) return null;
  const p = pathOf(first).start, q = pathOf(second).end;
  return [(p[0] + q[0]) / 2, (p[1] + q[1]) / 2];
}

/** A place on an edge (share of its length), and the direction that points out of the piece there. */
export function spotOf(edge: EdgeView, share = 0.5): { at: Point; out: Point; along: Point } {
  const path = pathOf(edge);
  const mm = path.lengthMm * share;
  const [x, y] = path.normalAt(mm);
  return { at: path.pointAt(mm), out: [-x, -y], along: path.tangentAt(mm) };
}

/** The move as an SVG transform. */
export function transformOfMove(move: Move): string {
  return `matrix(${move.a} ${move.c} ${move.b} ${move.d} ${move.tx} ${move.ty})`;
}

export function movedPoint(move: Move, at: Point): Point {
  return apply(move, at);
}

export function movedDirection(move: Move, direction: Point): Point {
  return applyVector(move, direction);
}

/** The box of a piece where it lies. */
export function boxAt(piece: PieceView, move: Move): Box {
  return boxOf(shapeOf(piece).ring.map((p) => apply(move, p))) ?? NOWHERE;
}

const TINTS = 6;
/** The pale tint of a garment part; what is derived from it has the same. */
export function tintOf(pieces: readonly PieceView[], id: string): string {
  const at = pieces.findIndex((piece) => piece.id === id || id.endsWith(`/${piece.id}`));
  return `var(--tint-${(at < 0 ? TINTS - 1 : at) % TINTS})`;
}

/** The hatch of the first role that a piece is cut from; outer cloth is plain. */
export function hatchOf(cuts: readonly CutView[]): string | null {
  const role = cuts[0]?.role ?? 'outer';
  return role === 'outer' ? null : `url(#hatch-${role})`;
}
