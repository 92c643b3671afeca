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
