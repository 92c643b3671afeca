/** What is to be printed, as a question to the server. */

import type { PieceView } from '../../client/types.gen';
import type { Ask } from '../../core/api';
import { projectOf } from '../../core/loading';
import type { RoleWord, State } from '../../core/store';

export const WHATS = ['pattern', 'whole', 'lay', 'cutting', 'order', 'ruler', 'sheet', 'ledger', 'journal'] as const;
export type What = (typeof WHATS)[number];
export const PAPERS = ['a4', 'letter', 'a3', 'tabloid'] as const;
export type Paper = (typeof PAPERS)[number];
/** The reference sheet lies across a page that every home printer takes. */
const SHEET_PAPERS: readonly Paper[] = ['a4', 'letter'];
/** Numbers that a reference sheet can have, so that each has marks of its own. */
export const LAST_SHEET = 65;

/** How one stands in this room. Another room may send somebody here: `eke.setOwn('paper', { what, change })`. */
export interface Own {
  what: What;
  paper: Paper;
  /** Ids of the pieces to print; null: all. */
  pieces: readonly string[] | null;
  /** The fit change whose ruler steps are printed; null: the last that can be drawn with a ruler. */
  change: string | null;
  /** Of the reference sheet. */
  number: number;
  /** The layer whose lay plan is printed; null: all that hold. */
  role: RoleWord | null;
  /** The page that is looked at closely. */
  page: number | null;
  /** Where the pages that are shown can be fetched as a file. */
  pdf: string | null;
}

export const OWN: Own = { what: 'pattern', paper: 'a4', pieces: null, change: null, number: 0, role: null, page: null, pdf: null };

export function ownOf(state: State): Own {
  return { ...OWN, ...(state.view.own['paper'] as Partial<Own> | undefined) };
}

/** The papers that this can be printed on. */
export function papersOf(what: What): readonly Paper[] {
  return what === 'sheet' ? SHEET_PAPERS : PAPERS;
}

/** The paper it is printed on: the one that was chosen, or its smaller fellow where that is too large. */
export function paperOf({ what, paper }: Own): Paper {
  if (papersOf(what).includes(paper)) return paper;
  return paper === 'tabloid' ? 'letter' : 'a4';
}

/** Pieces that can be printed. */
export function piecesOf(state: State): readonly PieceView[] {
  const { garment } = state.doc;
  return garment ? [...garment.pieces, ...garment.derived] : [];
}

/** Fit changes that hold, the newest first. */
export function fitChanges(state: State): { id: string; sentence: string }[] {
  const lines = state.doc.history?.lines ?? [];
  return lines.filter((line) => line.kind.startsWith('fit.') && line.on && !line.undone && !line.set_aside).reverse();
}

export interface Question {
  path: string;
  query: NonNullable<Ask['query']>;
}

/** Where the chosen pages are asked for: the first of these that can be drawn is shown. Empty: there is nothing to ask for. */
export function questions(state: State): Question[] {
  const own = ownOf(state);
  const changes = own.what === 'ruler' && own.change === null ? fitChanges(state).map(({ id }) => id) : [own.change];
  return changes.flatMap((change) => question(state, { ...own, change }) ?? []);
}

/** The fit change whose ruler steps are shown. */
export function shownChange(state: State): string | null {
  const shown = (state.view.own['paper'] as { shown?: string | null } | undefined)?.shown ?? '';
  return ownOf(state).change ?? fitChanges(state).find(({ id }) => shown.endsWith(`/ruler/${id}`))?.id ?? null;
}

function question(state: State, own: Own): Question | null {
  const { garment } = state.view;
  const query: Question['query'] = { paper: paperOf(own) };
  const unit = state.view.unit === 'in' ? 'inch' : state.view.unit;
  if (own.what === 'ledger' || own.what === 'journal') {
    const project = projectOf(state);
    return project === null ? null : { path: `/api/projects/${project}/paper/${own.what}`, query };
  }
  if (garment === null) return null;
  const path = `/api/garments/${garment}/paper/${own.what}`;
  switch (own.what) {
    case 'pattern':
    case 'whole': {
      const there = piecesOf(state).map((piece) => piece.id);
      if (there.length === 0) return null;
      const chosen = own.pieces === null ? null : there.filter((id) => own.pieces?.includes(id));
      if (chosen?.length === 0) return null;
      return { path, query: { ...query, unit, ...(chosen ? { pieces: chosen } : {}) } };
    }
    case 'lay':
      return { path, query: { ...query, unit, ...(own.role ? { roles: [own.role] } : {}) } };
    case 'ruler': {
      return own.change === null ? null : { path: `${path}/${encodeURIComponent(own.change)}`, query: { ...query, unit } };
    }
    case 'sheet':
      return { path, query: { ...query, number: own.number } };
    default:
      return { path, query };
  }
}
