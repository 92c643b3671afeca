/** How each part of `doc` is fetched, and which log makes it old. */

import type { Api } from './api';
import type { Doc, Part, State } from './store';

interface Loader<P extends Part> {
  /** A change to this log makes the part old. */
  log: 'garment' | 'workroom' | 'both';
  /** Fetch it; null: there is nothing to fetch (no garment open). */
  fetch(api: Api, state: State, signal?: AbortSignal): Promise<Doc[P]> | null;
}

const garment = <T>(api: Api, s: State, tail: string, signal?: AbortSignal): Promise<T> | null =>
  s.view.garment === null ? null : api.get<T>(`/api/garments/${s.view.garment}${tail}`, { signal });
const project = <T>(api: Api, s: State, tail: string, signal?: AbortSignal): Promise<T> | null => {
  const id = projectOf(s);
  return id === null ? null : api.get<T>(`/api/projects/${id}${tail}`, { signal });
};

/** The project that is open, by itself or through its garment. */
export function projectOf(s: State): string | null {
  return s.view.project ?? s.doc.garment?.project ?? projectOfGarment(s);
}

function projectOfGarment(s: State): string | null {
  const id = s.view.garment;
  return s.doc.workroom?.projects.find((p) => p.garments.some((g) => g.id === id))?.id ?? null;
}

export const LOADERS: { [P in Part]: Loader<P> } = {
  workroom: { log: 'both', fetch: (api, _s, signal) => api.get('/api/workroom', { signal }) },
  garment: { log: 'garment', fetch: (api, s, signal) => garment(api, s, '', signal) },
  pegs: { log: 'both', fetch: (api, s, signal) => garment(api, s, '/pegs', signal) },
  history: { log: 'garment', fetch: (api, s, signal) => garment(api, s, '/history?pictures=true', signal) },
  shelf: { log: 'workroom', fetch: (api, _s, signal) => api.get('/api/shelf', { signal }) },
  photographs: {
    log: 'garment',
    fetch: (api, s, signal) => (s.view.garment === null ? null : api.get(`/api/subjects/${s.view.garment}/photographs`, { signal })),
  },
  shelfPhotographs: { log: 'workroom', fetch: (api, _s, signal) => api.get('/api/subjects/shelf/photographs', { signal }) },
  lay: {
    log: 'both',
    fetch: (api, s, signal) =>
      s.view.garment === null ? null : api.get(`/api/garments/${s.view.garment}/lay`, { query: { roles: s.view.roles }, signal }),
  },
  making: { log: 'both', fetch: (api, s, signal) => garment(api, s, '/making', signal) },
  ledger: { log: 'workroom', fetch: (api, s, signal) => project(api, s, '/ledger', signal) },
  journal: { log: 'both', fetch: (api, s, signal) => project(api, s, '/journal', signal) },
};

/** Parts that go when another garment is opened. */
export const OF_A_GARMENT: readonly Part[] = ['garment', 'pegs', 'history', 'photographs', 'lay', 'making', 'ledger', 'journal'];
