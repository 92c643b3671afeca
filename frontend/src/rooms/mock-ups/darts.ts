/** How darts are called where one of several is meant. */

import type { PieceView } from '../../client/types.gen';
import { t } from '../../core/language';

/** "the dart at the side": by the edge that it opens in; numbered where that edge has several. */
export function dartWords(piece: Pick<PieceView, 'darts' | 'edges'>, id: string): string {
  const mouths = piece.darts.map((dart) => {
    const index = piece.edges.findIndex((edge) => edge.id === dart.first_leg);
    return { id: dart.id, edge: piece.edges.at(index - 1)?.called ?? '' };
  });
  const own = mouths.find((one) => one.id === id);
  const same = mouths.filter((one) => one.edge === own?.edge);
  return same.length > 1
    ? t('mock-ups.dart.numbered', { edge: own?.edge ?? '', n: same.findIndex((one) => one.id === id) + 1 })
    : t('mock-ups.dart.named', { edge: own?.edge ?? '' });
}
