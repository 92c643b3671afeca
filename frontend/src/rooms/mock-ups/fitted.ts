/** A traced mock-up piece on the piece it was cut from: what is chosen so far, and what is asked of the server. */

import type { FittedEdgeView, GarmentView, PieceView } from '../../client/types.gen';
import type { State } from '../../core/store';

/** Whether the piece sewn there moves too. */
export type Sides = 'this' | 'both';

export interface Fitting {
  traced: string | null;
  piece: string | null;
  /** Edges that are ticked. */
  edges: Readonly<Record<string, Sides | null>>;
}

export const LEAVE: Fitting = { traced: null, piece: null, edges: {} };

/** What is chosen so far; kept in this window. A piece that is gone is not chosen. */
export function fittingOf(state: State): Fitting {
  const said = { ...LEAVE, ...(state.view.own['mock-ups']?.['fitted'] as Partial<Fitting> | undefined) };
  const there = (id: string | null) => state.doc.garment?.pieces.some((piece) => piece.id === id) ?? false;
  return { ...said, traced: there(said.traced) ? said.traced : null, piece: there(said.piece) ? said.piece : null };
}

const sewn = (piece: PieceView) => piece.edges.some((edge) => edge.seams.length > 0);

/** Pieces that may be a traced mock-up piece: sewn to nothing; and those it may have been cut from. */
export function choicesFor(garment: GarmentView): { traced: PieceView[]; pieces: PieceView[] } {
  return { traced: garment.pieces.filter((piece) => !sewn(piece)), pieces: garment.pieces.filter(sewn) };
}

/** Where the comparison is asked for; null: something is still to be chosen. */
export function addressOf(garment: GarmentView, fitting: Fitting): string | null {
  if (fitting.traced === null || fitting.piece === null) return null;
  const both = Object.keys(fitting.edges).filter((edge) => fitting.edges[edge] === 'both');
  const query = both.map((edge) => `both=${encodeURIComponent(edge)}`).join('&');
  const path = `/api/garments/${garment.id}/pieces/${encodeURIComponent(fitting.piece)}/fitted/${encodeURIComponent(fitting.traced)}`;
  return query ? `${path}?${query}` : path;
}

/** The ticked edges for which there is a change, by how they are carried over. */
export function carried(fitting: Fitting, moved: readonly FittedEdgeView[]): { this: string[]; both: string[] } {
  const ids = moved.filter((edge) => edge.kind !== null).map((edge) => edge.edge);
  const of = (sides: Sides) => ids.filter((edge) => fitting.edges[edge] === sides);
  return { this: of('this'), both: of('both') };
}
