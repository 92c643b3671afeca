/**
 * Saying things of a photograph: shown at once, sent one after another, the newest word winning. Nothing waits
 * for a button, so a reload finds all that was said.
 */

import type { JobView, PhotographSaid, PhotographView } from '../../client/types.gen';
import type { Eke } from '../../core/eke';
import { t } from '../../core/language';
import type { Point } from '../../core/geometry-types';
import type { State } from '../../core/store';
import { withSaid } from './handles';
import { plainName } from './words';

interface Talk {
  waiting: PhotographSaid | null;
  /** Corners of outlines that were moved, by the outline's name. */
  corners: Map<string, [number, number][]>;
  going: Promise<void> | null;
}
const TALKS = new WeakMap<Eke, Map<string, Talk>>();

function talkOf(eke: Eke, id: string): Talk {
  const talks = TALKS.get(eke) ?? new Map<string, Talk>();
  TALKS.set(eke, talks);
  const talk = talks.get(id) ?? { waiting: null, corners: new Map(), going: null };
  talks.set(id, talk);
  return talk;
}

/** The photographs of the garment or of the shelf that hold this id. */
export function photographById(state: State, id: string | null): PhotographView | null {
  if (id === null) return null;
  const { photographs, shelfPhotographs } = state.doc;
  return photographs?.find((one) => one.id === id) ?? shelfPhotographs?.find((one) => one.id === id) ?? null;
}

/** Replace one photograph in the document. */
export function putPhotograph(eke: Eke, photo: PhotographView): void {
  const swap = (list: PhotographView[] | null) => list?.map((one) => (one.id === photo.id ? photo : one)) ?? null;
  const { photographs, shelfPhotographs } = eke.state.doc;
  eke.setDoc({ photographs: swap(photographs), shelfPhotographs: swap(shelfPhotographs) });
}

export function sayOf(eke: Eke, id: string, said: PhotographSaid): Promise<void> {
  const photo = photographById(eke.state, id);
  if (photo) {
    const stale = photo.state === 'found' || photo.state === 'refused';
    const matters = said.references !== undefined || said.touches !== undefined || said.strokes !== undefined || said.square_paper !== undefined || said.cloth !== undefined;
    putPhotograph(eke, { ...withSaid(photo, said), state: stale && matters ? 'changed' : photo.state });
  }
  const talk = talkOf(eke, id);
  talk.waiting = { ...talk.waiting, ...said };
  talk.going ??= send(eke, id, talk).finally(() => (talk.going = null));
  return talk.going;
}

/** Corners of a found outline as the maker put them, mm. */
export function putCornersOf(eke: Eke, id: string, which: string, corners: readonly Point[]): Promise<void> {
  const photo = photographById(eke.state, id);
  const put = corners.map(([x, y]): [number, number] => [x, y]);
  if (photo?.found) {
    const pieces = photo.found.pieces.map((piece) => (piece.which === which ? { ...piece, corners: put } : piece));
    putPhotograph(eke, { ...photo, found: { ...photo.found, pieces } });
  }
  const talk = talkOf(eke, id);
  talk.corners.set(which, put);
  talk.going ??= send(eke, id, talk).finally(() => (talk.going = null));
  return talk.going;
}

async function send(eke: Eke, id: string, talk: Talk): Promise<void> {
  for (;;) {
    const said = talk.waiting, [moved] = talk.corners;
    if (said === null && moved === undefined) return;
    try {
      let answer: PhotographView;
      if (said !== null) {
        talk.waiting = null;
        answer = await eke.api.patch<PhotographView>(`/api/photographs/${id}`, said);
      } else {
        const [which, corners] = moved as [string, [number, number][]];
        talk.corners.delete(which);
        answer = await eke.api.put<PhotographView>(`/api/photographs/${id}/outlines/${encodeURIComponent(which)}/corners`, { corners });
      }
      if (talk.waiting === null && talk.corners.size === 0) putPhotograph(eke, answer);
    } catch (trouble) {
      eke.trouble(trouble);
      await eke.load(eke.state.doc.photographs?.some((one) => one.id === id) ? 'photographs' : 'shelfPhotographs');
    }
  }
}

/** Wait until all that was said of a photograph has arrived. */
export async function allSaid(eke: Eke, id: string): Promise<void> {
  await talkOf(eke, id).going;
}

/** Trace it, once all that was said has arrived. */
export async function trace(eke: Eke, id: string): Promise<void> {
  await allSaid(eke, id);
  try {
    const job = await eke.api.post<JobView>(`/api/photographs/${id}/trace`);
    eke.began(job);
    const photo = photographById(eke.state, id);
    if (photo) putPhotograph(eke, { ...photo, state: 'tracing', job: job.id });
  } catch (trouble) {
    eke.trouble(trouble);
  }
}

/** Say at the foot what came of a tracing that has ended, and put it away: it is seen in this room. */
export function tellEnded(eke: Eke, id: string): void {
  const job = eke.state.jobs.find((one) => one.id === id);
  if (!job) return;
  const name = plainName(photographById(eke.state, job.subject)?.name ?? job.title);
  if (job.state === 'failed') eke.say(t('photograph.ended.refused', { name }), { tone: 'trouble' });
  else eke.say(t('photograph.ended', { name, what: job.sentence }));
  void eke.seenJob(id);
}

/** Take in files one after another; each stands on the table as soon as it is kept. The foot says what came of it. */
export async function takeIn(
  eke: Eke,
  subject: string,
  files: readonly File[],
  cloth: boolean,
  told: (done: number, of: number, name: string) => void,
): Promise<PhotographView[]> {
  const taken: PhotographView[] = [];
  let refused = 0;
  for (const [i, file] of files.entries()) {
    told(i, files.length, file.name);
    try {
      const photo = await eke.api.upload<PhotographView>(`/api/subjects/${subject}/photographs`, file, file.name, cloth ? { cloth: 'true' } : {});
      taken.push(photo);
      const part = subject === 'shelf' ? 'shelfPhotographs' : 'photographs';
      const there = eke.state.doc[part] ?? [];
      if (subject === 'shelf' || eke.state.view.garment === subject) {
        eke.setDoc({ [part]: [...there.filter((one) => one.id !== photo.id), photo] });
      }
    } catch (trouble) {
      refused += 1;
      eke.trouble(trouble);
    }
  }
  // what was refused is the newest thing that is to be read
  if (refused === 0) eke.say(t('photograph.taken-in', { n: taken.length, name: plainName(taken[0]?.name ?? '') }));
  told(files.length, files.length, '');
  return taken;
}
