/** Seams walked: where a place of an edge lies along its seam, and where a notch wants to be. */

import type { GarmentView, RunPartView, SeamView } from '../../client/types.gen';
import { lookup } from './lookup';

export interface Along {
  /** mm from the seam's start. */
  from_mm: number;
  length_mm: number;
  reverse: boolean;
}

/** Where an edge lies on a run; null: it is not part of it. */
export function stretchOf(garment: GarmentView, run: readonly RunPartView[], edge: string): Along | null {
  const edges = lookup(garment).edges;
  let from_mm = 0;
  for (const part of run) {
    const length_mm = edges.get(part.edge)?.edge.length_mm ?? 0;
    if (part.edge === edge) return { from_mm, length_mm, reverse: part.reverse ?? false };
    from_mm += length_mm;
  }
  return null;
}

export function runLength(garment: GarmentView, run: readonly RunPartView[]): number {
  const edges = lookup(garment).edges;
  return run.reduce((sum, part) => sum + (edges.get(part.edge)?.edge.length_mm ?? 0), 0);
}

/** mm along the seam of a place on an edge (mm from the edge's own start), and back. */
export function alongOf(stretch: Along, mm: number): number {
  return stretch.from_mm + (stretch.reverse ? stretch.length_mm - mm : mm);
}

export function onEdge(stretch: Along, along_mm: number): number {
  const off = along_mm - stretch.from_mm;
  return stretch.reverse ? stretch.length_mm - off : off;
}

/** The edge of a run at a place along it, with mm from the edge's start. */
export function placeOnRun(garment: GarmentView, run: readonly RunPartView[], along_mm: number): { edge: string; mm: number } | null {
  for (const part of run) {
    const stretch = stretchOf(garment, run, part.edge);
    if (stretch && along_mm >= stretch.from_mm - 1e-6 && along_mm <= stretch.from_mm + stretch.length_mm + 1e-6) {
      return { edge: part.edge, mm: Math.min(Math.max(onEdge(stretch, along_mm), 0), stretch.length_mm) };
    }
  }
  return null;
}

/** Notches of a run with their distances along it. */
export function notchesAlong(garment: GarmentView, run: readonly RunPartView[]): { id: string; along_mm: number; count: number }[] {
  const { edges } = lookup(garment);
  return run.flatMap((part) => {
    const stretch = stretchOf(garment, run, part.edge);
    const piece = edges.get(part.edge)?.piece;
    if (!stretch || !piece) return [];
    return piece.notches
      .filter((notch) => notch.edge === part.edge)
      .map((notch) => ({ id: notch.id, along_mm: alongOf(stretch, notch.mm), count: notch.count }));
  });
}

export interface Snap {
  /** mm from the edge's start. */
  mm: number;
  /** The notch that it meets. */
  mate: string | null;
}

/** Where a notch on an edge goes: to the distance of a notch of the other side, if one is near. */
export function snapped(garment: GarmentView, edge: string, mm: number, tolerance_mm: number, but: string | null = null): Snap {
  let best: Snap = { mm, mate: null };
  let least = tolerance_mm;
  for (const seam of garment.seams) {
    for (const [own, other] of [[seam.a, seam.b], [seam.b, seam.a]] as const) {
      const stretch = stretchOf(garment, own, edge);
      if (!stretch) continue;
      for (const notch of notchesAlong(garment, other)) {
        if (notch.id === but) continue;
        const at = onEdge(stretch, notch.along_mm);
        if (at < 0 || at > stretch.length_mm || Math.abs(at - mm) > least) continue;
        least = Math.abs(at - mm);
        best = { mm: at, mate: notch.id };
      }
    }
  }
  return best;
}

/** mm along run A of a place on an edge of either side: what a seam's own measures are counted along. */
export function alongA(garment: GarmentView, seam: SeamView, edge: string, mm: number): number | null {
  const a = stretchOf(garment, seam.a, edge);
  if (a) return alongOf(a, mm);
  const b = stretchOf(garment, seam.b, edge);
  if (!b) return null;
  const whole = runLength(garment, seam.b);
  return whole > 0 ? (alongOf(b, mm) * runLength(garment, seam.a)) / whole : null;
}
