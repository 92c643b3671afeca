/** How the story is laid out: changes garment by garment, prints a little askew. */

export interface Chapter {
  /** The garment, or nothing when a sentence is about none. */
  garment: string;
  sentences: string[];
}

/** Sentences such as "Pinafore: Took in the side" under their garments, in their order. */
export function chapters(changes: readonly string[], garments: readonly string[]): Chapter[] {
  const found: Chapter[] = [];
  for (const change of changes) {
    const garment = garments.find((name) => change.startsWith(`${name}: `)) ?? '';
    const sentence = garment === '' ? change : change.slice(garment.length + 2);
    const last = found.find((chapter) => chapter.garment === garment);
    if (last) last.sentences.push(sentence);
    else found.push({ garment, sentences: [sentence] });
  }
  return found;
}

/** How far a print is turned: the same print always the same way, never more than 2°. */
export function askewDeg(i: number): number {
  return [-1.6, 1.1, -0.5, 1.8, -1.1, 0.6][i % 6] ?? 0;
}
