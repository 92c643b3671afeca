/** How the pieces lie on the table: as they are sewn, derived ones in a row below, and what was pushed aside. */

import type { GarmentView, PieceView } from '../../client/types.gen';
import { boxOf, type Box, type Point } from '../../core/geometry-types';
import { inverse, apply, applyVector, followedBy, shift, type Move } from '../../core/geometry/rigid';
import type { State } from '../../core/store';
import { shapeOf } from './shape';
import { isDerived } from './lookup';

export type Layout = ReadonlyMap<string, Move>;
export type Aside = Readonly<Record<string, Point>>;

const GAP_MM = 60;
/** Width over height that a table of pieces should have: a screen lying on its side. */
const ASPECT = 1.7;
/** Rows are never quite full. */
const LOOSE = 1.5;

/** Where pieces lie, before anything was pushed aside. */
function arrangedAnew(garment: GarmentView): Map<string, Move> {
  const all = [...garment.pieces, ...garment.derived].reduce((sum, piece) => {
    const { box } = shapeOf(piece);
    return sum + (box.width + GAP_MM) * (box.height + GAP_MM);
  }, 0);
  const row_mm = Math.sqrt(all * LOOSE * ASPECT);
  const own = inRows(garment.pieces, 0, row_mm);
  const above = boxOfLayout(garment.pieces, own.moves);
  const below = inRows(garment.derived, above ? above.bottom - GAP_MM : 0, Math.max(above?.width ?? 0, row_mm), above?.left ?? 0);
  return new Map([...own.moves, ...below.moves]);
}

/** Pieces beside one another, in as many rows as the width asks for; `top` is the height of the first row's top. */
export function inRows(pieces: readonly PieceView[], top: number, width_mm: number, left = 0): { moves: Map<string, Move>; bottom: number } {
  const moves = new Map<string, Move>();
  let x = left, y = top, deepest = 0;
  for (const piece of pieces) {
    const { box } = shapeOf(piece);
    if (x > left && x + box.width > left + width_mm) {
      x = left;
      y -= deepest + GAP_MM;
      deepest = 0;
    }
    moves.set(piece.id, shift(x - box.left, y - box.bottom - box.height));
    x += box.width + GAP_MM;
    deepest = Math.max(deepest, box.height);
  }
  return { moves, bottom: y - deepest };
}

const LAYOUTS = new WeakMap<GarmentView, { aside: Aside; layout: Layout }>();
const ARRANGED = new WeakMap<GarmentView, Map<string, Move>>();
const NOT_ASIDE: Aside = {};

export function layoutOf(garment: GarmentView, aside: Aside = NOT_ASIDE): Layout {
  const known = LAYOUTS.get(garment);
  if (known && known.aside === aside) return known.layout;
  let arranged = ARRANGED.get(garment);
  if (!arranged) {
    arranged = arrangedAnew(garment);
    ARRANGED.set(garment, arranged);
  }
  if (aside === NOT_ASIDE) return arranged;
  const layout = new Map([...arranged].map(([id, move]) => {
    const by = aside[id];
    return [id, by ? followedBy(move, shift(by[0], by[1])) : move] as const;
  }));
  LAYOUTS.set(garment, { aside, layout });
  return layout;
}

/** What was pushed aside in this garment (kept in this window only). */
export function asideOf(state: State): Aside {
  const own = state.view.own['pattern'];
  return own?.['asideIn'] === state.view.garment ? ((own?.['aside'] as Aside | undefined) ?? NOT_ASIDE) : NOT_ASIDE;
}

export function layoutNow(state: State): Layout {
  return state.doc.garment ? layoutOf(state.doc.garment, asideOf(state)) : new Map();
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
