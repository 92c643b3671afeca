/**
 * Everything that the app can do, in one object: the store, the way to the server, and the only functions that
 * write. Views get it by `useEke()`; tests build one with a `fetch` of their own.
 */

import type { ChangeSaid, DoneView, JobView, PhoneSaid, PhoneView, RevisionEvent, StepBack } from '../client/types.gen';
import { Api, isTrouble, Trouble, type Fetch } from './api';
import type { Camera } from './camera';
import type { Listen, Listening } from './events';
import { t } from './language';
import { LOADERS, OF_A_GARMENT } from './loading';
import { inMemory, keepPreferences, readPreferences, type Keep } from './preferences';
import type { Place } from './rooms';
import { logOf, stepsOf } from './steps';
import { EMPTY_DOC, startState, Store, type Doc, type Draft, type Log, type Part, type RoleWord, type Said, type Selection, type State, type View } from './store';
import type { Unit } from './units';

export interface Outside {
  fetch: Fetch;
  listen?: Listen;
  keep?: Keep;
  /** Whether the system asks for a dark screen. */
  dark?: boolean;
}

/** What grows old when something kept beside a history has changed. */
const BESIDE: Partial<Record<NonNullable<RevisionEvent['about']>, readonly Part[]>> = {
  ticks: ['making', 'pegs'],
  photographs: ['photographs', 'shelfPhotographs', 'journal', 'workroom', 'pegs'],
};

/** Parts that every place shows. */
const ALWAYS: readonly Part[] = ['workroom', 'garment', 'pegs'];

export class Eke {
  readonly store: Store;
  readonly api: Api;
  /** Words that this browser remembers for the maker. */
  readonly keep: Keep;
  private readonly listen: Listen | undefined;
  /** Parts that somebody looks at, kept fresh. */
  private needed = new Set<Part>(ALWAYS);
  private readonly fetching = new Map<Part, AbortController>();
  /** Events that came while a change of ours was on its way. */
  private waiting: RevisionEvent[] = [];
  /** The last change of each history that is still under way, with the revision that comes of it. */
  private readonly turns = new Map<string, Promise<number | null>>();
  private readonly phoneListeners = new Set<(phone: PhoneView) => void>();

  constructor(outside: Outside) {
    this.api = new Api(outside.fetch);
    this.keep = outside.keep ?? inMemory();
    this.listen = outside.listen;
    const { unit, night } = readPreferences(this.keep, outside.dark);
    this.store = new Store(startState(unit, night));
  }

  get state(): State {
    return this.store.state;
  }

  // ---- loading ------------------------------------------------------------------------------------------

  /** Listen to the server and load the first screen; returns how to stop. */
  start(): () => void {
    void this.load('workroom');
    void this.loadJobs();
    return this.listen?.(this.listening()) ?? (() => undefined);
  }

  /**
   * Load parts and keep them fresh while the maker stays in this room; call it while the room is being made.
   * A part that is there already is not fetched again.
   */
  async need(...parts: Part[]): Promise<void> {
    for (const part of parts) this.needed.add(part);
    await Promise.all(parts.filter((part) => this.state.doc[part] === null).map((part) => this.load(part)));
  }

  /** Fetch one part anew. Trouble is said at the foot, and the old copy stays. */
  async load<P extends Part>(part: P): Promise<void> {
    this.fetching.get(part)?.abort();
    const control = new AbortController();
    const asked = LOADERS[part].fetch(this.api, this.state, control.signal);
    if (asked === null) return;
    this.fetching.set(part, control);
    try {
      const answer = await asked;
      if (!control.signal.aborted) {
        this.setDoc({ [part]: answer } as Partial<Doc>);
        if (part === 'workroom' || part === 'garment') this.loadWhatWaited();
      }
    } catch (trouble) {
      // Pegs are looked at from the side: what is wrong there is said by the room itself.
      if (control.signal.aborted || (part === 'pegs' && isTrouble(trouble) && trouble.code !== 'lost')) return;
      // an old address of a garment that is gone: back to where the others are, with what was said
      if (part === 'garment' && isTrouble(trouble) && trouble.code === 'not-found') void this.go('welcome', { garment: null, project: null });
      this.trouble(trouble);
    } finally {
      if (this.fetching.get(part) === control) this.fetching.delete(part);
    }
  }

  /** The garment says which project it belongs to: what is of the project can be fetched only then. */
  private loadWhatWaited(): void {
    for (const part of this.needed) if (this.state.doc[part] === null && !this.fetching.has(part)) void this.load(part);
  }

  /** Fetch anew whatever of a log (garment id, or `workroom`) is being looked at. */
  async refresh(log: string): Promise<void> {
    const mine: Log | null = log === 'workroom' ? 'workroom' : log === this.state.view.garment ? 'garment' : null;
    const stale = [...this.needed].filter((part) => {
      const of = LOADERS[part].log;
      return mine === null ? part === 'workroom' : of === 'both' || of === mine;
    });
    const unseen = (Object.keys(LOADERS) as Part[]).filter((part) => {
      const of = LOADERS[part].log;
      return !this.needed.has(part) && this.state.doc[part] !== null && (of === 'both' || of === mine);
    });
    if (unseen.length > 0) this.setDoc(pick(EMPTY_DOC, unseen)); // fetched anew when a room needs it again
    await Promise.all(stale.map((part) => this.load(part)));
  }

  /** Go to a place. With another garment, everything of the old one is let go. */
  async go(place: Place, where: { garment?: string | null; project?: string | null } = {}): Promise<void> {
    const { view } = this.state;
    const garment = where.garment === undefined ? view.garment : where.garment;
    const project = where.project === undefined ? view.project : where.project;
    const other = garment !== view.garment || project !== view.project;
    const elsewhere = other || place !== view.place;
    if (place !== view.place) this.needed = new Set(ALWAYS); // the new room says what it needs
    this.store.write((s) => ({
      ...s,
      doc: other ? { ...s.doc, ...pick(EMPTY_DOC, OF_A_GARMENT) } : s.doc,
      draft: elsewhere ? null : s.draft,
      // The sentence stays; what can be taken back is that of the new place.
      said: elsewhere && s.said ? { ...s.said, back: null, log: null } : s.said,
      view: { ...s.view, place, garment, project, ...(elsewhere ? { selection: {}, tool: null } : {}) },
    }));
    if (other) for (const part of OF_A_GARMENT) this.fetching.get(part)?.abort();
    await Promise.all([...this.needed].filter((p) => this.state.doc[p] === null).map((p) => this.load(p)));
  }

  // ---- changing -----------------------------------------------------------------------------------------

  /**
   * Change the garment: the one way. Sends the revision that the maker was looking at, sets the sentence at the
   * foot, fetches anew. Returns null when it did not happen (the trouble is said already).
   */
  change(kind: string, params: Record<string, unknown>, note = ''): Promise<DoneView | null> {
    const { garment } = this.state.doc;
    if (garment === null) return Promise.resolve(null);
    return this.did('garment', (expected) => this.api.post<DoneView>(`/api/garments/${garment.id}/changes`, { kind, params, note, expected } satisfies ChangeSaid));
  }

  /** Change the workroom (shelf, ledger, projects). */
  changeWorkroom(kind: string, params: Record<string, unknown>, note = ''): Promise<DoneView | null> {
    return this.did('workroom', (expected) => this.api.post<DoneView>('/api/workroom/changes', { kind, params, note, expected } satisfies ChangeSaid));
  }

  /**
   * Do anything else that answers with a sentence, the same way:
   * `eke.did('workroom', () => eke.api.post<DoneView>('/api/cloths', said))`.
   *
   * What is done quickly, one after the other, is asked in turn. `expected` is the revision that the maker was looking
   * at; after a change of one's own that had not been fetched yet, the revision of that change.
   */
  async did<T extends { sentence: string; revision?: number }>(log: Log, ask: (expected: number | null) => Promise<T>): Promise<T | null> {
    this.store.write((s) => ({ ...s, busy: s.busy + 1 }));
    const key = this.logId(log);
    const seen = (log === 'garment' ? this.state.doc.garment : this.state.doc.workroom)?.revision ?? null;
    const before = this.turns.get(key) ?? Promise.resolve(null);
    const asked = before.then((own) => ask(own ?? seen));
    const turn = asked.then((done) => done.revision ?? null, () => null);
    this.turns.set(key, turn);
    try {
      const { draft } = this.state;
      const done = await asked;
      this.say(done.sentence, { tone: 'done', back: log, log });
      await this.refresh(this.logId(log));
      // What was drafted is in the document now; a gesture that has begun meanwhile goes on.
      this.store.write((s) => (s.draft === draft ? { ...s, draft: null } : s));
      return done;
    } catch (trouble) {
      if (isTrouble(trouble) && trouble.code === 'changed-elsewhere') {
        await this.refresh(this.logId(log));
        this.say(t('trouble.changed-elsewhere'), { tone: 'elsewhere' });
      } else {
        this.trouble(trouble);
      }
      return null;
    } finally {
      if (this.turns.get(key) === turn) this.turns.delete(key);
      this.store.write((s) => ({ ...s, busy: s.busy - 1 }));
      if (this.state.busy === 0) {
        const held = this.waiting;
        this.waiting = [];
        for (const event of held) this.heard(event);
      }
    }
  }

  /** Take back the last step of the history that this room belongs to. */
  undo(log: Log = logOf(this.state)): Promise<DoneView | null> {
    return this.step(log, 'undo');
  }

  /** Do again what was taken back last. */
  redo(log: Log = logOf(this.state)): Promise<DoneView | null> {
    return this.step(log, 'redo');
  }

  private step(log: Log, way: 'undo' | 'redo'): Promise<DoneView | null> {
    const path = log === 'garment' ? `/api/garments/${this.state.view.garment}` : '/api/workroom';
    return this.did(log, (expected) => this.api.post<DoneView>(`${path}/${way}`, { expected }));
  }

  /** What undo and redo would do now, in this room; null: nothing. */
  steps(log: Log = logOf(this.state)): StepBack {
    return stepsOf(this.state, log);
  }

  private logId(log: Log): string {
    return log === 'workroom' ? 'workroom' : (this.state.view.garment ?? 'workroom');
  }

  // ---- saying -------------------------------------------------------------------------------------------

  /** Put a sentence at the foot. */
  say(sentence: string, how: { tone?: Said['tone']; back?: Said['back']; log?: Said['log'] } = {}): void {
    this.store.write((s) => ({
      ...s,
      said: { sentence, tone: how.tone ?? 'hint', back: how.back ?? null, log: how.log ?? s.said?.log ?? null, number: (s.said?.number ?? 0) + 1 },
    }));
  }

  /** Say what went wrong; a lost server is shown as a banner instead. Anything that is no Trouble is thrown on. */
  trouble(what: unknown): void {
    if (!(what instanceof Trouble)) throw what;
    if (what.code === 'lost') this.store.write((s) => ({ ...s, line: 'lost' }));
    else this.say(what.sentence, { tone: 'trouble' });
  }

  // ---- view ---------------------------------------------------------------------------------------------

  /** Choose things: `eke.select({ piece: [id] })`; nothing: `eke.select({})`. */
  select(selection: Selection): void {
    this.setView({ selection });
  }

  /** Take a tool in hand; null: the room's resting tool. */
  take(tool: string | null): void {
    this.setView({ tool });
  }

  setDraft(draft: Draft | null): void {
    this.store.write((s) => ({ ...s, draft }));
  }

  setCamera(name: string, camera: Camera): void {
    this.setView({ cameras: { ...this.state.view.cameras, [name]: camera } });
  }

  setUnit(unit: Unit): void {
    this.setView({ unit });
    this.keepAll();
  }

  setNight(night: boolean): void {
    this.setView({ night });
    this.keepAll();
  }

  /** Choose the roles that the lay is about, and load that lay. */
  async setRoles(roles: readonly RoleWord[]): Promise<void> {
    this.setView({ roles });
    this.setDoc({ lay: null });
    await this.need('lay');
  }

  setHelp(help: boolean): void {
    this.setView({ help });
  }

  /** Open the dialog for pictures from the phone, for a garment or the shelf; null: it is shut. */
  askPhone(phone: PhoneSaid | null): void {
    this.setView({ phone });
  }

  /** Keep something of a room's own between visits. */
  setOwn(room: string, own: Record<string, unknown>): void {
    this.setView({ own: { ...this.state.view.own, [room]: { ...this.state.view.own[room], ...own } } });
  }

  /** Replace parts of the document by an answer that is newer (an upload's, a tick's). */
  setDoc(parts: Partial<Doc>): void {
    this.store.write((s) => ({ ...s, doc: { ...s.doc, ...parts } }));
  }

  private setView(view: Partial<View>): void {
    this.store.write((s) => ({ ...s, view: { ...s.view, ...view } }));
  }

  private keepAll(): void {
    const { unit, night } = this.state.view;
    keepPreferences(this.keep, { unit, night });
  }

  // ---- jobs and events ------------------------------------------------------------------------------------

  async loadJobs(): Promise<void> {
    try {
      const jobs = await this.api.get<JobView[]>('/api/jobs');
      this.store.write((s) => ({ ...s, jobs }));
    } catch (trouble) {
      this.trouble(trouble);
    }
  }

  /** Take in a job that was just begun, before its first event comes. */
  began(job: JobView): void {
    this.store.write((s) => ({ ...s, jobs: withJob(s.jobs, job) }));
  }

  async stopJob(id: string): Promise<void> {
    try {
      this.began(await this.api.post<JobView>(`/api/jobs/${id}/stop`));
    } catch (trouble) {
      this.trouble(trouble);
    }
  }

  /** Put away a job that has ended. */
  async seenJob(id: string): Promise<void> {
    this.store.write((s) => ({ ...s, jobs: s.jobs.filter((job) => job.id !== id) }));
    await this.api.post(`/api/jobs/${id}/seen`).catch(() => undefined);
  }

  /** Be told when the phone's page changes; returns how to stop. */
  onPhone(tell: (phone: PhoneView) => void): () => void {
    this.phoneListeners.add(tell);
    return () => this.phoneListeners.delete(tell);
  }

  /** What to do with events: public for tests. */
  listening(): Listening {
    return {
      // After a break, `hello` says that the server is there again.
      up: () => this.store.write((s) => (s.line === 'connecting' ? { ...s, line: 'up' } : s)),
      lost: () => void this.lost(),
      event: (name, data) => {
        if (name === 'hello') void this.again();
        else if (name === 'revision') this.heard(data as RevisionEvent);
        else if (name === 'job') this.heardJob(data as JobView);
        else for (const tell of this.phoneListeners) tell(data as PhoneView);
      },
    };
  }

  /** The line broke: the server is gone, or it was started anew and has another key. */
  private async lost(): Promise<void> {
    if (this.state.line === 'up' || this.state.line === 'connecting') this.store.write((s) => ({ ...s, line: 'lost' }));
    try {
      await this.api.get('/api/jobs');
    } catch (trouble) {
      if (!isTrouble(trouble)) throw trouble;
      const line = trouble.status === 401 || trouble.status === 403 ? 'locked' : 'lost';
      this.store.write((s) => (s.line === 'up' || s.line === line ? s : { ...s, line }));
    }
  }

  /** The server is there, perhaps again: fetch everything that is looked at anew. */
  private async again(): Promise<void> {
    const wasLost = this.state.line === 'lost' || this.state.line === 'locked';
    this.store.write((s) => ({ ...s, line: 'up' }));
    if (wasLost) this.say(t('trouble.found-again'));
    await Promise.all([this.loadJobs(), ...[...this.needed].map((part) => this.load(part))]);
  }

  private heard(event: RevisionEvent): void {
    if (this.state.busy > 0) {
      this.waiting.push(event);
      return;
    }
    const { garment, workroom } = this.state.doc;
    const ours = event.log === 'workroom' ? workroom : event.log === garment?.id ? garment : null;
    const known = event.about === 'history' && ours !== null && ours.revision >= event.revision;
    if (known) return;
    const about = BESIDE[event.about ?? 'history'];
    const anew = about ? this.reload(about) : this.refresh(event.log);
    void anew.then(() => {
      if (event.about === 'history' && ours !== null && event.sentence !== '') {
        this.say(t('elsewhere', { sentence: event.sentence }), { tone: 'elsewhere' });
      }
    });
  }

  /** Fetch anew those of some parts that are looked at. */
  private async reload(parts: readonly Part[]): Promise<void> {
    await Promise.all(parts.filter((part) => this.needed.has(part)).map((part) => this.load(part)));
    const unseen = parts.filter((part) => !this.needed.has(part) && this.state.doc[part] !== null);
    if (unseen.length > 0) this.setDoc(pick(EMPTY_DOC, unseen));
  }

  private heardJob(job: JobView): void {
    this.began(job);
    const { doc } = this.state;
    if (job.what === 'lay' && job.subject === doc.lay?.garment && isLay(job.result) && job.state === 'running') {
      this.setDoc({ lay: job.result });
    }
    if (job.state !== 'running' && job.state !== 'waiting') {
      if (job.what === 'lay') void this.refresh(job.subject);
      if (job.what === 'trace') {
        for (const part of ['photographs', 'shelfPhotographs', 'pegs'] as const) if (this.needed.has(part)) void this.load(part);
      }
    }
  }
}

function isLay(result: unknown): result is Doc['lay'] & object {
  return typeof result === 'object' && result !== null && 'laid' in result && 'cut_pieces' in result;
}

function withJob(jobs: readonly JobView[], job: JobView): JobView[] {
  const found = jobs.some((one) => one.id === job.id);
  return found ? jobs.map((one) => (one.id === job.id ? job : one)) : [...jobs, job];
}

function pick(doc: Doc, parts: readonly Part[]): Partial<Doc> {
  return Object.fromEntries(parts.map((part) => [part, doc[part]])) as Partial<Doc>;
}
