/** Steps of a garment's history: switched off or on, or given other numbers. */

import type { DoneView } from '../../client/types.gen';
import type { Eke } from '../../core/eke';
import { t } from '../../core/language';

/** Switch a step off or on, or give it other numbers. */
export async function alter(eke: Eke, step: string, way: 'switch' | 'amend', said: Record<string, unknown>): Promise<void> {
  const { garment } = eke.state.doc;
  if (!garment) return;
  const done = await eke.did('garment', (expected) =>
    eke.api.post<DoneView>(`/api/garments/${garment.id}/history/${step}/${way}`, { ...said, expected }),
  );
  // steps that found nothing to work on any more
  const lost = done?.unsettled?.length ?? 0;
  if (done && lost > 0) eke.say(t('mock-ups.unsettled', { sentence: done.sentence, n: lost }), { tone: 'done', back: 'garment' });
}
