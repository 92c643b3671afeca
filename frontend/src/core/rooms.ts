/** The rooms, in the order of the line. */

export const ROOMS = [
  'tracing', 'pattern', 'mock-ups', 'cloth', 'lay', 'paper', 'making', 'ledger', 'journal',
] as const;
export type Room = (typeof ROOMS)[number];
/** Where the maker is: in a room, or at the first screen. */
export type Place = Room | 'welcome';

export function isRoom(word: string | undefined): word is Room {
  return (ROOMS as readonly string[]).includes(word ?? '');
}

/** Rooms whose things belong to the workroom: what is done there is taken back in the workroom's history. */
const OF_THE_WORKROOM: readonly Place[] = ['welcome', 'cloth', 'ledger', 'journal'];

export function historyOf(place: Place): 'workroom' | 'garment' {
  return OF_THE_WORKROOM.includes(place) ? 'workroom' : 'garment';
}
