/** A quick look at a photograph, asked for once: is it worth going on, and what is better done again. */

import type { GlanceView, PhotographView } from '../../client/types.gen';
import type { Eke } from '../../core/eke';
import { photographById, putPhotograph } from './saying';

const ASKED = new WeakMap<Eke, Set<string>>();
const WAITING = new WeakMap<Eke, Promise<void>>();

/** Ask for it, unless it is there or has been asked for; one after another. Nothing is lost when there is no answer. */
export function lookAt(eke: Eke, photo: PhotographView): Promise<void> {
  const asked = ASKED.get(eke) ?? new Set<string>();
  ASKED.set(eke, asked);
  const which = `${photo.id} ${photo.cloth}`;
  if (photo.glance || asked.has(which)) return WAITING.get(eke) ?? Promise.resolve();
  asked.add(which);
  const after = (WAITING.get(eke) ?? Promise.resolve()).then(() => look(eke, photo.id));
  WAITING.set(eke, after);
  return after;
}

async function look(eke: Eke, id: string): Promise<void> {
  try {
    const { glance } = await eke.api.post<PhotographView>(`/api/photographs/${id}/glance`);
    const now = photographById(eke.state, id);
    if (now) putPhotograph(eke, { ...now, glance: glance ?? NOTHING });
  } catch {
    // the photograph can be traced all the same, and its own trouble is told then
    const now = photographById(eke.state, id);
    if (now) putPhotograph(eke, { ...now, glance: NOTHING });
  }
}

/** Nobody could look: nothing is said. */
export const NOTHING: GlanceView = { good: true, sentence: '', findings: [], reference: null, tilt_deg: null };
