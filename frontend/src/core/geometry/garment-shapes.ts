/** What geometry needs to know of a garment: parts of the server's views, so that those fit without conversion. */

import { Path } from './path';
import type { Mm, PointMm } from './units';

export type End = 'start' | 'end';

export interface EdgeShape {
  readonly id: string;
  readonly kind: string;
  readonly shape: string;
  readonly segments: readonly { readonly points: readonly PointMm[] }[];
}

export interface NotchShape {
  readonly id: string;
  readonly edge: string;
  /** From the start of the edge. */
  readonly mm: Mm;
  readonly count: number;
}

export interface PieceShape {
  readonly id: string;
  readonly edges: readonly EdgeShape[];
  readonly notches: readonly NotchShape[];
  readonly fold: string | null;
  readonly cuts: readonly { readonly role: string; readonly count: number; readonly pairs: boolean }[];
}

export interface RunPart {
  readonly piece: string;
  readonly edge: string;
  readonly reverse: boolean;
}

export interface SeamShape {
  readonly id: string;
  readonly a: readonly RunPart[];
  readonly b: readonly RunPart[];
  /** How much longer run A is on purpose. */
  readonly ease_mm: Mm;
  readonly b_mirrored: boolean;
  /** The two notches between which the ease lies; none: over the whole seam. */
  readonly ease_between?: readonly [string, string] | null;
}

const PATHS = new WeakMap<EdgeShape, Path>();

/** The path of an edge, made once for each edge that the server sent. */
export function pathOf(edge: EdgeShape): Path {
  let path = PATHS.get(edge);
  if (path === undefined) {
    path = Path.of(edge.segments);
    PATHS.set(edge, path);
  }
  return path;
}

export function edgeOf(piece: PieceShape, id: string): EdgeShape {
  const edge = piece.edges.find((one) => one.id === id);
  if (edge === undefined) throw new RangeError(`The piece has no edge “${id}”.`);
  return edge;
}

/** The edge that adjoins another at its end. */
export function neighbourOf(piece: PieceShape, id: string, end: End): EdgeShape {
  const at = piece.edges.indexOf(edgeOf(piece, id));
  const count = piece.edges.length;
  return piece.edges[(at + (end === 'end' ? 1 : count - 1)) % count] as EdgeShape;
}

/** The net outline, flattened, counter-clockwise. */
export function netRing(piece: PieceShape, toleranceMm?: Mm): PointMm[] {
  return piece.edges.flatMap((edge) => pathOf(edge).flatten(toleranceMm).slice(0, -1));
}
