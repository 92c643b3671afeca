/** A piece in words. */

import type { CutView, PieceView } from '../../client/types.gen';
import { t } from '../../core/language';

/** "cut 2 pairs", "cut 1 of lining"; on the fold said too. */
export function cutWords(piece: PieceView): string {
  const cuts = piece.cuts.map(oneCut).join(', ');
  return piece.fold ? t('pattern.cut.on-fold', { cuts }) : cuts;
}

export function oneCut(cut: CutView): string {
  const times = cut.pairs ? t('pattern.cut.pairs', { n: cut.count }) : t('pattern.cut.times', { n: cut.count });
  return cut.role === 'outer' ? times : t('pattern.cut.of', { times, role: roleWords(cut.role) });
}

export function roleWords(role: CutView['role']): string {
  return t(`pattern.role.${role}`);
}

/** Width of a letter and height of a line of the words on the drawing, in px: near enough to see whether they fit. */
export const LETTER_PX = 8.6;
export const LINE_PX = 19;

/** A name in as many lines as its room asks for. */
export function wrapped(name: string, room_px: number): string[] {
  const lines: string[] = [];
  for (const word of name.split(' ')) {
    const last = lines.at(-1);
    if (last !== undefined && (last.length + 1 + word.length) * LETTER_PX <= Math.max(room_px, 60)) lines[lines.length - 1] = `${last} ${word}`;
    else lines.push(word);
  }
  return lines;
}
