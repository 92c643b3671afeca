/** The unfinished gestures of this room, as drafts of the store. */

import type { Point } from '../../core/geometry-types';
import type { Draft } from '../../core/store';

export interface Drafts {
  /** A corner under the hand, in the frame of its piece; named by the edge that starts there. */
  'pattern.corner': { edge: string; to: Point };
  /** A piece pushed aside, by mm of the table. */
  'pattern.aside': { piece: string; by: Point };
  /** A notch that would be set, or slides along its edge. */
  'pattern.notch': { edge: string; mm: number; mate: string | null; both: boolean; id: string | null };
  /** A corner that would be put on an edge. */
  'pattern.split': { edge: string; mm: number };
  /** Points of a mark under the hand, in the frame of its piece. */
  'pattern.mark': { piece: string; id: string | null; kind: string; points: readonly Point[] };
  /** A grain line under the hand, in the frame of its piece. */
  'pattern.grain': { piece: string; along: readonly [Point, Point] };
}

export function draftOf<K extends keyof Drafts>(draft: Draft | null, kind: K): Drafts[K] | null {
  return draft?.kind === kind ? (draft.value as Drafts[K]) : null;
}

export function drafted<K extends keyof Drafts>(kind: K, value: Drafts[K]): Draft {
  return { kind, value };
}
