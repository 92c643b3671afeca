/** Small lays for tests. */

import type { ClothView, CutPieceView, LayView } from '../../client/types.gen';
import { placed } from '../../core/geometry/rigid';
import type { Point } from '../../core/geometry-types';
import type { Copy } from './copies';

type Ring = [number, number][];

export function square(size: number, x = 0, y = 0): Ring {
  return [[x, y], [x + size, y], [x + size, y + size], [x, y + size]];
}

export const L_SHAPE: Ring = [[0, 0], [120, 0], [120, 40], [45, 40], [45, 150], [0, 150]];

export function aPiece(id: string, outline: Ring, more: Partial<CutPieceView> = {}): CutPieceView {
  return { id, piece: id, name: id, role: 'outer', copies: 1, outline, net: [], grain: 'along', turns_deg: [0, 180], tilt_deg: 0, may_mirror: false, hidden: false, least_quality: 3, ...more } as CutPieceView;
}

export function aCloth(id: string, outline: Ring, more: Partial<ClothView> = {}): ClothView {
  const xs = outline.map((p) => p[0]), ys = outline.map((p) => p[1]);
  const width_mm = Math.max(...xs) - Math.min(...xs), height_mm = Math.max(...ys) - Math.min(...ys);
  return {
    id, name: `cloth ${id}`, outline, holes: [], flaws: [], grain_deg: 90, same_face: false, nap: 'none', repeat_mm: [null, null],
    weight_gsm: null, shrink_warp_percent: 0, shrink_weft_percent: 0, price: null, origin: '', second_hand: true, washed: true,
    fibre: '', uncertainty_mm: 0, parent: null, photos: [], width_mm, height_mm, area_mm2: width_mm * height_mm, kept_for: [], advice: [], ...more,
  } as ClothView;
}

export function aLay(more: Partial<LayView> = {}): LayView {
  return {
    garment: 'g1', roles: ['outer'], cloths: [], cut_pieces: [], laid: [], missing: [], complete: false, sentence: 'Nothing lies yet.',
    proof: null, use_percent: null, stale: [], to_wash: [], faults: [], gap_pieces_mm: 2, gap_edge_mm: 0, gap_hole_mm: 3, cut: false,
    given_up: [], leftovers: [], seed: 0, made: 1, beside: null, ...more,
  } as LayView;
}

/** A copy that lies on the cloth `c`. */
export function anLaid(id: string, outline: Ring, at: Point, turn_deg = 0, cloth = 'c'): Copy {
  const piece = aPiece(id, outline);
  const there = placed(outline, { turnDeg: turn_deg, mirrored: false, xMm: at[0], yMm: at[1] }).map(([x, y]): [number, number] => [x, y]);
  return { id, piece, laid: { id, piece: id, name: id, cloth, x_mm: at[0], y_mm: at[1], turn_deg, mirrored: false, outline: there, locked: false } };
}
