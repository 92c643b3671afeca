/** How a change of a seam is shared between its sides. */

import type { SeamView } from '../../client/types.gen';
import { t } from '../../core/language';

export const SHARES: readonly number[] = [0.5, 1, 0];

export function readShare(share_a: number, seam: SeamView): string {
  if (share_a === 1) return t('mock-ups.share.only', { side: seam.words_a });
  if (share_a === 0) return t('mock-ups.share.only', { side: seam.words_b });
  return t('mock-ups.share.halves');
}
