/** The cutting list as it is read: by cloth, and under each cloth by piece. */

import type { CutLineView } from '../../client/types.gen';

export interface CutRow {
  number: string;
  name: string;
  /** How often, one for each way up: "cut 1", "cut 1, face down". */
  cuts: string[];
  notes: string[];
}

export interface CutCloth {
  cloth: string;
  rows: CutRow[];
}

export function byCloth(lines: readonly CutLineView[]): CutCloth[] {
  const cloths = new Map<string, Map<string, CutLineView[]>>();
  for (const line of lines) {
    const pieces = cloths.get(line.cloth) ?? new Map<string, CutLineView[]>();
    cloths.set(line.cloth, pieces);
    pieces.set(line.piece, [...(pieces.get(line.piece) ?? []), line]);
  }
  return [...cloths].map(([cloth, pieces]) => ({
    cloth,
    rows: [...pieces.values()].map((same) => ({
      number: same[0]?.number ?? '',
      name: commonName(same.map((line) => line.name)),
      cuts: same.map((line) => line.cut),
      notes: [...new Set(same.map((line) => line.notes).filter((note) => note !== ''))],
    })),
  }));
}

/** What the names have in common, whole parts between commas: "sleeve, as drawn", "sleeve, mirrored" → "sleeve". */
export function commonName(names: readonly string[]): string {
  const [first = '', ...others] = names.map((name) => name.split(', '));
  if (typeof first === 'string' || others.length === 0) return names[0] ?? '';
  let n = 0;
  while (n < first.length && others.every((other) => other[n] === first[n])) n += 1;
  return n === 0 ? (names[0] ?? '') : first.slice(0, n).join(', ');
}
