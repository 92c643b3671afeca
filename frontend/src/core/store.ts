/**
 * The one store: what the server said (`doc`), the unfinished gesture (`draft`), how one looks at it (`view`),
 * long computations (`jobs`) and the last sentence (`said`). Views read through selectors; only commands write.
 */

import type {
  GarmentView, HistoryView, JobView, JournalView, LayView, LedgerView, MakingView, PegView, PhoneSaid, PhotographView,
  ShelfView, WorkroomView,
} from '../client/types.gen';
import type { Camera } from './camera';
import type { Place } from './rooms';
import type { Unit } from './units';

export type RoleWord = LayView['roles'][number];

/** A read-only copy of what the server holds; null: not loaded. */
export interface Doc {
  workroom: WorkroomView | null;
  garment: GarmentView | null;
  pegs: PegView[] | null;
  /** History of the garment. */
  history: HistoryView | null;
  shelf: ShelfView | null;
  /** Photographs of the garment. */
  photographs: PhotographView[] | null;
  /** Photographs of cloths. */
  shelfPhotographs: PhotographView[] | null;
  lay: LayView | null;
  making: MakingView | null;
  ledger: LedgerView | null;
  journal: JournalView | null;
}
export type Part = keyof Doc;

/** A gesture that is not finished: seen in this window only. `kind` says which tool's, `value` is the tool's own. */
export interface Draft {
  kind: string;
  value: unknown;
}

/** Ids that are chosen, by kind: `{ piece: ['…'], edge: ['…'] }`. */
export type Selection = Readonly<Record<string, readonly string[]>>;

export interface View {
  place: Place;
  garment: string | null;
  project: string | null;
  selection: Selection;
  /** Id of the tool in hand; null: the room's resting tool. */
  tool: string | null;
  unit: Unit;
  night: boolean;
  /** Camera by place (or by any name that a room gives to a table of its own). */
  cameras: Readonly<Record<string, Camera>>;
  /** Roles that the lay and its pages are about. */
  roles: readonly RoleWord[];
  help: boolean;
  /** The dialog for pictures from the phone: for a garment id or `shelf`; null: shut. */
  phone: PhoneSaid | null;
  /** What a room keeps for itself between visits; write with `eke.setOwn(room, {...})`. */
  own: Readonly<Record<string, Readonly<Record<string, unknown>>>>;
}

/** A history: the garment's, or the workroom's. */
export type Log = 'workroom' | 'garment';

/** The sentence at the foot. */
export interface Said {
  sentence: string;
  /** `trouble` hangs a rose mark before it; `elsewhere`: another window did it. */
  tone: 'done' | 'trouble' | 'elsewhere' | 'hint';
  /** Which history "Take it back" works on; null: there is nothing to take back. */
  back: Log | null;
  /** The history that the sentence is about; "Take it back" and "Do it again" work there until one goes elsewhere. */
  log: Log | null;
  /** Counts up, so that the same sentence said twice is noticed. */
  number: number;
}

export interface State {
  doc: Doc;
  draft: Draft | null;
  view: View;
  jobs: readonly JobView[];
  said: Said | null;
  /** `lost`: the server does not answer; `locked`: it does, and this window has no key to it any more. */
  line: 'connecting' | 'up' | 'lost' | 'locked';
  /** How many changes are on their way. */
  busy: number;
}

export const EMPTY_DOC: Doc = {
  workroom: null, garment: null, pegs: null, history: null, shelf: null, photographs: null, shelfPhotographs: null,
  lay: null, making: null, ledger: null, journal: null,
};

export function startState(unit: Unit = 'cm', night = false): State {
  return {
    doc: EMPTY_DOC,
    draft: null,
    view: {
      place: 'welcome', garment: null, project: null, selection: {}, tool: null, unit, night, cameras: {},
      roles: ['outer'], help: false, phone: null, own: {},
    },
    jobs: [],
    said: null,
    line: 'connecting',
    busy: 0,
  };
}

export type Selector<T> = (state: State) => T;

/** Equal by identity, or shallowly as lists or records: enough for selectors that build small objects. */
export function alike(a: unknown, b: unknown): boolean {
  if (Object.is(a, b)) return true;
  if (typeof a !== 'object' || typeof b !== 'object' || a === null || b === null) return false;
  if (Array.isArray(a) !== Array.isArray(b)) return false;
  const keys = Object.keys(a);
  return (
    keys.length === Object.keys(b).length &&
    keys.every((k) => Object.is((a as Record<string, unknown>)[k], (b as Record<string, unknown>)[k]))
  );
}

export class Store {
  private now: State;
  private readonly listeners = new Set<() => void>();

  constructor(start: State = startState()) {
    this.now = start;
  }

  get state(): State {
    return this.now;
  }

  select<T>(selector: Selector<T>): T {
    return selector(this.now);
  }

  /** Call `tell` with the value now and whenever it changes; returns how to stop. */
  subscribe<T>(selector: Selector<T>, tell: (value: T) => void, equal: (a: T, b: T) => boolean = alike): () => void {
    let last = selector(this.now);
    tell(last);
    const listener = () => {
      const next = selector(this.now);
      if (equal(last, next)) return;
      last = next;
      tell(next);
    };
    this.listeners.add(listener);
    return () => this.listeners.delete(listener);
  }

  /** Be told of every change; returns how to stop. */
  watch(listener: () => void): () => void {
    this.listeners.add(listener);
    return () => this.listeners.delete(listener);
  }

  /** For commands in `core` only. */
  write(change: (state: State) => State): void {
    const next = change(this.now);
    if (next === this.now) return;
    this.now = next;
    for (const listener of [...this.listeners]) listener();
  }
}

/** Ids chosen of one kind. */
export function chosen(state: State, kind: string): readonly string[] {
  return state.view.selection[kind] ?? NONE;
}
const NONE: readonly string[] = [];
