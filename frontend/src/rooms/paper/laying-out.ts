/** Pages as they lie on the table: those that are joined in their places, the others one after the other. */

import type { PageView } from '../../client/types.gen';

export interface Lying {
  index: number;
  /** From 1; null: where there is room. */
  column: number | null;
  row: number | null;
}
export interface Laid {
  /** Pages that stand before the joined ones: what to do first. */
  before: Lying[];
  /** Pages in their places, or one after the other. */
  pages: Lying[];
  /** Of the joined pages; null: they are not joined. */
  columns: number | null;
}

/** Columns have letters from the left, rows have numbers from the top: page B3 is second from the left in the third row. */
const PLACE = /^([A-Z]{1,2})([1-9]\d?)$/;
/** Fewer pages than this have no places that are worth keeping. */
const LEAST_JOINED = 2;

export function layOut(pages: readonly Pick<PageView, 'title'>[]): Laid {
  const lying = pages.map(({ title }, index): Lying => {
    const found = PLACE.exec(title);
    return found ? { index, column: columnOf(found[1] ?? ''), row: Number(found[2]) } : { index, column: null, row: null };
  });
  const joined = lying.filter((one) => one.column !== null);
  if (joined.length < LEAST_JOINED) return { before: [], pages: lying.map((one) => ({ ...one, column: null, row: null })), columns: null };
  return { before: lying.filter((one) => one.column === null), pages: joined, columns: Math.max(...joined.map((one) => one.column ?? 1)) };
}

/** A is 1, Z is 26, AA is 27. */
export function columnOf(letters: string): number {
  return [...letters].reduce((sum, letter) => 26 * sum + letter.charCodeAt(0) - 64, 0);
}
