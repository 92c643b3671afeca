/** Addresses after the `#`: `#/`, `#/shelf`, `#/g/<garment>/<room>`, `#/p/<project>/<ledger|journal>`. */

import { isRoom, type Place } from './rooms';

export interface Route {
  place: Place;
  garment: string | null;
  project: string | null;
}

export function readRoute(hash: string): Route {
  const [kind, id, room] = hash.replace(/^#\/?/, '').split('/').map(decodeURIComponent);
  if (kind === 'g' && id) return { place: isRoom(room) ? room : 'pattern', garment: id, project: null };
  if (kind === 'p' && id) return { place: isRoom(room) ? room : 'ledger', garment: null, project: id };
  if (kind === 'shelf') return { place: 'cloth', garment: null, project: null };
  return { place: 'welcome', garment: null, project: null };
}

export function writeRoute({ place, garment, project }: Route): string {
  if (place === 'welcome') return '#/';
  if (garment !== null) return `#/g/${encodeURIComponent(garment)}/${place}`;
  if (project !== null) return `#/p/${encodeURIComponent(project)}/${place}`;
  return place === 'cloth' ? '#/shelf' : '#/';
}
