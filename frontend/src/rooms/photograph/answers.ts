/** What may be said of a photograph to settle what is doubtful or missing: a press says it, and it is traced again. */

import type { PhotographSaid } from '../../client/types.gen';
import { t } from '../../core/language';
import type { Eke } from '../../core/eke';
import { sayOf, trace } from './saying';
import { referenceWords } from './words';

/** An answer without what it leaves open. */
export function saidBy(answer: PhotographSaid): PhotographSaid {
  return Object.fromEntries(Object.entries(answer).filter(([, value]) => value != null)) as PhotographSaid;
}

export function answerWords(answer: PhotographSaid): string {
  if (answer.references != null) return referenceWords(answer.references.map((one) => one.kind).join('+'));
  if (answer.square_paper != null) return t(answer.square_paper ? 'photograph.answer.square' : 'photograph.answer.not-square');
  return t('photograph.answer.other');
}

/** Say it, and trace the photograph again with it. */
export async function settle(eke: Eke, id: string, answer: PhotographSaid): Promise<void> {
  void sayOf(eke, id, saidBy(answer));
  await trace(eke, id);
}
