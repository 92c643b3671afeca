/** How the pieces lie on the table: as they are sewn, derived ones in a row below, and what was pushed aside. */

import type { GarmentView, PieceView } from '../../client/types.gen';
import { arrange } from '../../core/geometry/arrange';
import { boxOf, type Box, type Point } from '../../core/geometry-types';
import { apply, applyVector, composed, inverse, shift, type Move } from '../../core/geometry/rigid';
import type { Eke } from '../../core/eke';
import type { State } from '../../core/store';
import { shapeOf } from './shape';
import { isDerived } from './lookup';

export type Layout = ReadonlyMap<string, Move>;
export type Aside = Readonly<Record<string, Point>>;

/** Between net lines: two allowances and a hem have room. */
const GAP_MM = 60;
/** Width over height that a table of pieces should have: a screen lying on its side. */
const ASPECT = 1.5;

/** Where pieces lie, before anything was pushed aside: derived ones below, or beside where there is width for it. */
function arrangedAnew(garment: GarmentView, tall: boolean): Layout {
  const { moves, box, rows } = arrange(garment.pieces, garment.derived, garment.seams, { gapMm: GAP_MM, leastWidthMm: 0 });
  const foot = Math.min(box[1], ...rows.map((row) => row.box[1]));
  const high = box[3] - foot, wide = Math.max(box[2], ...rows.map((row) => row.box[2])) - box[0];
  if (tall || rows.length === 0 || wide / high >= ASPECT) return moves;
  const highest = Math.max(...rows.map((row) => row.box[3]));
  const aside = shift(box[2] - box[0] + 2 * GAP_MM, box[3] - highest);
  const derived = new Set(rows.flatMap((row) => row.pieces));
  return new Map([...moves].map(([id, move]) => [id, derived.has(id) ? composed(move, aside) : move]));
}

interface Known {
  wide?: Layout;
  tall?: Layout;
  last?: { aside: Aside; tall: boolean; layout: Layout };
}
const KNOWN = new WeakMap<GarmentView, Known>();
const NOT_ASIDE: Aside = {};

/** The layout of a garment, worked out once for each state of it. */
export function layoutOf(garment: GarmentView, aside: Aside = NOT_ASIDE, tall = false): Layout {
  const known = KNOWN.get(garment) ?? {};
  KNOWN.set(garment, known);
  const arranged = (known[tall ? 'tall' : 'wide'] ??= arrangedAnew(garment, tall));
  if (aside === NOT_ASIDE) return arranged;
  if (known.last?.aside === aside && known.last.tall === tall) return known.last.layout;
  const layout = new Map([...arranged].map(([id, move]) => {
    const by = aside[id];
    return [id, by ? composed(move, shift(by[0], by[1])) : move] as const;
  }));
  known.last = { aside, tall, layout };
  return layout;
}

/** What was pushed aside in this garment (kept in this window only). */
export function asideOf(state: State): Aside {
  const own = state.view.own['pattern'];
  return own?.['asideIn'] === state.view.garment ? ((own?.['aside'] as Aside | undefined) ?? NOT_ASIDE) : NOT_ASIDE;
}

/** Whether the screen stands upright: derived pieces then lie below. Rooms keep it by `keepTall`. */
export function tallOf(state: State): boolean {
  return state.view.own['pieces']?.['tall'] === true;
}

/** Follow the way the screen stands; returns how to stop. */
export function keepTall(eke: Eke): () => void {
  const asked = matchMedia('(max-aspect-ratio: 1/1)');
  const keep = () => eke.setOwn('pieces', { tall: asked.matches });
  keep();
  asked.addEventListener('change', keep);
  return () => asked.removeEventListener('change', keep);
}

/** Where pieces lie in the room Pattern. */
export function layoutNow(state: State): Layout {
  return state.doc.garment ? layoutOf(state.doc.garment, asideOf(state), tallOf(state)) : new Map();
}

/** Where pieces lie when nothing is pushed aside. */
export function arrangedNow(state: State): Layout {
  return state.doc.garment ? layoutOf(state.doc.garment, NOT_ASIDE, tallOf(state)) : new Map();
}

/** A place of the table in the frame of a piece. */
export function inPiece(layout: Layout, piece: string, at: Point): Point {
  const move = layout.get(piece);
  return move ? apply(inverse(move), at) : at;
}

export function onTable(layout: Layout, piece: string, at: Point): Point {
  const move = layout.get(piece);
  return move ? apply(move, at) : at;
}

/** A shift on the table as it is in the frame of a piece, which may lie turned or turned over. */
export function directionInPiece(layout: Layout, piece: string, direction: Point): Point {
  const move = layout.get(piece);
  return move ? applyVector(inverse(move), direction) : direction;
}

export function directionOnTable(layout: Layout, piece: string, direction: Point): Point {
  const move = layout.get(piece);
  return move ? applyVector(move, direction) : direction;
}

export function boxOfLayout(pieces: readonly PieceView[], layout: Layout): Box | null {
  return boxOf(pieces.flatMap((piece) => {
    const move = layout.get(piece.id);
    if (!move) return [];
    const { box } = shapeOf(piece);
    const corners: Point[] = [[box.left, box.bottom], [box.left + box.width, box.bottom], [box.left, box.bottom + box.height], [box.left + box.width, box.bottom + box.height]];
    return corners.map((p) => apply(move, p));
  }));
}

export function boxOfGarment(garment: GarmentView, layout: Layout): Box | null {
  return boxOfLayout([...garment.pieces, ...garment.derived], layout);
}

export { isDerived };
