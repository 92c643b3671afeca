/** What this room keeps for itself, and what it reads from the state. */

import type { BesideView, ClothView, JobView, LayView, PlacementSaid } from '../../client/types.gen';
import type { Draft, State } from '../../core/store';
import { chosen } from '../../core/store';
import { arrange, type Arranged } from './arrange';
import { copiesOf, type Copy } from './copies';
import type { Held } from './grip';

/** How one stands before the table: not on the server, for nothing of it is an answer. */
export interface Own {
  /** Cloths to lay on; null: all that are kept for the project. */
  cloths: readonly string[] | null;
  /** How long to look for a better lay, s. */
  seconds: number;
  /** Where the search begins; another number, another search. */
  seed: number;
  /** Ids of what is given up in the next lay; null: what was given up for the last. */
  stints: readonly string[] | null;
  /** Whether stripes are to meet in the next lay; null: as in the last. */
  stripes: boolean | null;
  /** Copies whose places in the tray are kept while others go, so that nothing jumps. */
  trayed: readonly string[];
  /** Steps by hand to take back and to do again: what lay where before each. */
  back: readonly Step[];
  again: readonly Step[];
  /** Width and height of the table on the screen, px. */
  table_px: readonly [number, number];
  /** The lay as it was put by hand just now, until the server has checked and kept it. */
  mine: LayView | null;
  /** Number of the sentence that told of the last step on this table: nothing else was done since. */
  told: number;
}
export interface Step {
  /** Of which lay. */
  of: string;
  placements: readonly PlacementSaid[];
  sentence: string;
}

export const OWN: Own = { cloths: null, seconds: 20, seed: 0, stints: null, stripes: null, trayed: [], back: [], again: [], table_px: [960, 600], mine: null, told: -1 };

export function ownOf(state: State): Own {
  return { ...OWN, ...(state.view.own['lay'] as Partial<Own> | undefined) };
}

/** The lay that is on the table: the maker's own that is on its way to the server, or the one that is kept. */
export function layOf(state: State): LayView | null {
  const { mine } = ownOf(state);
  return mine?.garment === state.view.garment && mine.roles.join() === state.view.roles.join() ? mine : state.doc.lay;
}

/** The piece in the hand, as a draft. */
export const HELD = 'lay.held';

export function heldIn(draft: Draft | null): Held | null {
  return draft?.kind === HELD ? (draft.value as Held) : null;
}

/** The copy that is chosen. */
export function chosenCopy(state: State): string | null {
  return chosen(state, 'laid')[0] ?? null;
}

/** The cloths with their letters, the largest first. */
export function letteredCloths(lay: LayView): { letter: string; cloth: ClothView }[] {
  return [...lay.cloths]
    .sort((a, b) => b.area_mm2 - a.area_mm2 || a.name.localeCompare(b.name))
    .map((cloth, i) => ({ letter: letterOf(i), cloth }));
}

/** A … Z, then AA, AB … */
function letterOf(i: number): string {
  const here = String.fromCharCode(65 + (i % 26));
  return i < 26 ? here : letterOf(Math.floor(i / 26) - 1) + here;
}

/** The cloths that are ticked. */
export function tickedCloths(lay: LayView, own: Own): ClothView[] {
  return byArea(lay).filter((cloth) => own.cloths === null || own.cloths.includes(cloth.id));
}

/** The cloths on the table: those that are ticked, and those that something lies on. */
export function shownCloths(lay: LayView, own: Own): ClothView[] {
  const used = new Set(lay.laid.map((one) => one.cloth));
  return byArea(lay).filter((cloth) => used.has(cloth.id) || own.cloths === null || own.cloths.includes(cloth.id));
}

function byArea(lay: LayView): ClothView[] {
  return letteredCloths(lay).map(({ cloth }) => cloth);
}

/** Copies that have a place in the tray: those without one on a cloth that is there, and those whose place is kept. */
export function trayedCopies(lay: LayView, own: Own): Copy[] {
  const there = new Set(lay.cloths.map((cloth) => cloth.id));
  return copiesOf(lay).filter((copy) => copy.laid === null || !there.has(copy.laid.cloth) || own.trayed.includes(copy.id));
}

let last: { lay: LayView; own: string; arranged: Arranged } | null = null;

/** Where cloths and tray lie. The same as long as nothing that it depends on changes. */
export function arrangedOf(lay: LayView, own: Own): Arranged {
  const cloths = shownCloths(lay, own);
  const trayed = trayedCopies(lay, own);
  const key = [own.table_px.join('x'), ...cloths.map((c) => `${c.id}${c.width_mm}`), '|', ...trayed.map((c) => c.id)].join(' ');
  if (last?.own === key && last.lay.cut_pieces === lay.cut_pieces) return last.arranged;
  const arranged = arrange(cloths, trayed, own.table_px);
  last = { lay, own: key, arranged };
  return arranged;
}

/** The search that is running for the open garment. */
export function layJob(state: State): JobView | null {
  const id = state.view.garment;
  return state.jobs.find((job) => job.what === 'lay' && job.subject === id && (job.state === 'running' || job.state === 'waiting')) ?? null;
}

/** Whose steps by hand these are: of two lays each keeps its own. */
export function stepsKey(state: State): string {
  return `${state.view.garment}:${[...state.view.roles].sort().join('+')}:${layOf(state)?.made ?? 0}`;
}

/** The lay that is kept beside, when it can be put on the table: not where one of the two has been cut. */
export function besideOf(state: State): BesideView | null {
  const lay = layOf(state);
  const now = layState(state);
  if (!lay?.beside || lay.cut || lay.beside.cut || now === 'running' || now === 'nothing') return null;
  return lay.beside;
}

export function canExchange(state: State): boolean {
  return besideOf(state)?.stale.length === 0 && ownOf(state).mine === null;
}

export function stepsBack(state: State): readonly Step[] {
  const key = stepsKey(state);
  return ownOf(state).back.filter((step) => step.of === key);
}

export function stepsAgain(state: State): readonly Step[] {
  const key = stepsKey(state);
  return ownOf(state).again.filter((step) => step.of === key);
}

/** How a plan stands, for what can be done with it. */
export type LayState = 'nothing' | 'empty' | 'stale' | 'cut' | 'running' | 'short' | 'good';

export function layState(state: State): LayState {
  const lay = layOf(state);
  if (lay === null || lay.cut_pieces.length === 0 || lay.cloths.length === 0) return lay?.cut ? 'cut' : 'nothing';
  if (layJob(state)) return 'running';
  if (lay.cut) return 'cut';
  if (lay.use_percent === null && lay.stale.length === 0) return 'empty'; // nobody has laid it yet
  if (lay.stale.length > 0) return 'stale';
  return lay.complete ? 'good' : 'short';
}

/** The balance lines at which stripes could meet on the cloths that are ticked: none on plain cloth. */
export function stripeLines(lay: LayView, own: Own): readonly string[] {
  return tickedCloths(lay, own).some((cloth) => cloth.repeat_mm[0] !== null) ? (lay.stripe_lines ?? []) : [];
}

/** Whether stripes are to meet in the next lay. */
export function matching(lay: LayView, own: Own): boolean {
  return stripeLines(lay, own).length > 0 && (own.stripes ?? lay.match_stripes ?? false);
}

/** Ids of what is given up in the next lay. */
export function givenUp(lay: LayView, own: Own): readonly string[] {
  return own.stints ?? (lay.given_up ?? []).map((one) => one.id);
}
