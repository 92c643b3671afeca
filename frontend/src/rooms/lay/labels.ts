/** Names of pieces on the table: on up to three lines, where they fit into the piece. */

/** px a letter and a line take at 16 px, roughly. */
const LETTER_PX = 8.3;
const LINE_PX = 19;
const MOST_LINES = 3;

/** Break a name into lines that fit into so much room, in px; null: it does not fit. */
export function labelLines(name: string, width_px: number, height_px: number): string[] | null {
  const most = Math.min(MOST_LINES, Math.floor(height_px / LINE_PX));
  const letters = Math.floor(width_px / LETTER_PX);
  if (most < 1 || letters < 3) return null;
  const lines: string[] = [];
  for (const word of name.split(/\s+/)) {
    const last = lines.at(-1);
    if (last !== undefined && last.length + 1 + word.length <= letters) lines[lines.length - 1] = `${last} ${word}`;
    else lines.push(word);
  }
  return lines.length <= most && lines.every((line) => line.length <= letters) ? lines : null;
}

/** Place of line `i` of so many, px below the middle. */
export function lineAt(i: number, lines: number): number {
  return (i - (lines - 1) / 2) * LINE_PX + 5;
}
