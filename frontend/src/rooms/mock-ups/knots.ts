/** Where the knots of a plan stand on the drawing, and what a hand that moves one means. */

import type { GarmentView, RunPartView, SeamView } from '../../client/types.gen';
import type { Point } from '../../core/geometry-types';
import { lookup } from '../pieces/lookup';
import { alongOf, onEdge, placeOnRun, runLength, stretchOf } from '../pieces/run';
import { pathOf } from '../pieces/shape';
import { movedInwards, profileOf, type Knot } from './profile';

export interface KnotPlace {
  index: number;
  side: 'a' | 'b';
  piece: string;
  /** On the seam line as it is, frame of the piece. */
  on: Point;
  /** On the seam line as it would be. */
  at: Point;
}

export interface MovedEdge {
  piece: string;
  edge: string;
  points: Point[];
}

/** What part of an amount each side goes inwards; below 0 outwards, and 0 where it stays. */
export type Shares = readonly [number, number];

function sides(seam: SeamView, shares: Shares): { side: 'a' | 'b'; run: readonly RunPartView[]; share: number }[] {
  const one = { side: 'a' as const, run: seam.a, share: shares[0] };
  // an edge that is sewn to its own mirror image is drawn once
  return seam.b_mirrored ? [one] : [one, { side: 'b', run: seam.b, share: shares[1] }];
}

/** mm along side one ↔ mm along the run of a side: the shorter side is stretched over the longer. */
function scaleOf(garment: GarmentView, seam: SeamView, run: readonly RunPartView[]): number {
  const own = runLength(garment, run);
  return own > 0 ? runLength(garment, seam.a) / own : 1;
}

/** The edges of a seam as they would be moved, without asking the server. */
export function movedEdges(garment: GarmentView, seam: SeamView, knots: readonly Knot[], shares: Shares): MovedEdge[] {
  const profile = profileOf(knots);
  return sides(seam, shares).flatMap(({ run, share }) => {
    if (share === 0) return [];
    const scale = scaleOf(garment, seam, run);
    return run.flatMap((part) => {
      const found = lookup(garment).edges.get(part.edge);
      const stretch = stretchOf(garment, run, part.edge);
      if (!found || !stretch) return [];
      const points = movedInwards(pathOf(found.edge), (mm) => share * profile(alongOf(stretch, mm) * scale));
      return [{ piece: found.piece.id, edge: part.edge, points }];
    });
  });
}

export function knotPlaces(garment: GarmentView, seam: SeamView, knots: readonly Knot[], shares: Shares): KnotPlace[] {
  return sides(seam, shares).flatMap(({ side, run, share }) => {
    if (share === 0) return [];
    const scale = scaleOf(garment, seam, run);
    return knots.flatMap((knot, index) => {
      const place = placeOnRun(garment, run, knot[0] / scale);
      const found = place && lookup(garment).edges.get(place.edge);
      if (!place || !found) return [];
      const path = pathOf(found.edge);
      const on = path.pointAt(place.mm), [nx, ny] = path.normalAt(place.mm), by = share * knot[1];
      return [{ index, side, piece: found.piece.id, on, at: [on[0] + nx * by, on[1] + ny * by] as Point }];
    });
  });
}

/** Amounts are told to half a millimetre: finer is nothing that a needle knows. */
const STEP_MM = 0.5;

/**
 * What a point of a piece means for a knot of one side, which takes `share` of an amount inwards: how far along side one, and how much in all.
 * None: the side does not run over that piece.
 */
export function knotAt(garment: GarmentView, seam: SeamView, side: 'a' | 'b', share: number, piece: string, at: Point): Knot | null {
  const run = side === 'a' ? seam.a : seam.b;
  const scale = scaleOf(garment, seam, run);
  let best: { knot: Knot; away: number } | null = null;
  for (const part of run) {
    const found = lookup(garment).edges.get(part.edge);
    const stretch = stretchOf(garment, run, part.edge);
    if (!found || !stretch || found.piece.id !== piece || share === 0) continue;
    const path = pathOf(found.edge);
    const near = path.nearest(at);
    const [nx, ny] = path.normalAt(near.atMm);
    const inwards = (at[0] - near.point[0]) * nx + (at[1] - near.point[1]) * ny;
    const amount = Math.round(inwards / share / STEP_MM) * STEP_MM;
    if (best === null || near.distanceMm < best.away) {
      best = { knot: [alongOf(stretch, near.atMm) * scale, amount === 0 ? 0 : amount], away: near.distanceMm };
    }
  }
  return best?.knot ?? null;
}

export { onEdge };
