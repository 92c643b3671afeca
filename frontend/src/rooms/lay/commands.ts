/** What can be done on this table, by button and by key. */

import type { DoneView, JobView, LaySaid, LayView, PlacementSaid } from '../../client/types.gen';
import type { Command } from '../../core/commands/command';

import type { Eke } from '../../core/eke';
import { t, type Key } from '../../core/language';
import type { State } from '../../core/store';
import { told } from '../../core/told';
import { asPut, copiesOf, copyOf, saidOf, withCopy, type Copy } from './copies';
import { Grip, type Held } from './grip';
import {
  arrangedOf, besideOf, canExchange, chosenCopy, givenUp, HELD, heldIn, layJob, layOf, layState, matching, ownOf, stepsAgain, stepsBack, stepsKey, tickedCloths,
  trayedCopies, type Own, type Step,
} from './own';

/** Moved by keys: one step and ten, or 1/16 and 1/2 inch. */
const STEPS_MM = { cm: [1, 10], mm: [1, 10], in: [25.4 / 16, 12.7] } as const;
/** A piece that may lie in any direction is turned by so much. */
const FREE_DEG = 15;
const FINE_DEG = 0.5;
/** A run of key presses is handed over when none has come for so long. */
const PAUSE_MS = 450;
/** So many steps by hand can be taken back. */
const MOST_STEPS = 50;

const ROOM = ['lay'] as const;

export const commands: readonly Command[] = [
  { id: 'lay.start', words: 'lay.start', keys: ['g'], rooms: ROOM, available: canStart, run: (eke) => start(eke, {}) },
  {
    id: 'lay.rest', words: 'lay.rest', keys: ['shift+g'], rooms: ROOM,
    available: (s) => canStart(s) && (layOf(s)?.laid.some((one) => one.locked) ?? false) && layState(s) !== 'stale',
    run: (eke) => start(eke, { keep: true }),
  },
  {
    id: 'lay.go-on', words: 'lay.go-on', rooms: ROOM,
    available: (s) => canStart(s) && (layOf(s)?.laid.length ?? 0) > 0,
    run: (eke) => start(eke, { from: true }),
  },
  { id: 'lay.other', words: 'lay.other', rooms: ROOM, available: canStart, run: (eke) => start(eke, { other: true }) },
  {
    id: 'lay.stop', words: 'lay.stop', keys: ['s'], rooms: ROOM, available: (s) => layJob(s) !== null,
    run: (eke) => {
      const job = layJob(eke.state);
      if (job) return eke.stopJob(job.id);
    },
  },
  {
    id: 'lay.with-stints', words: 'lay.with-stints', rooms: ROOM,
    available: (s) => canStart(s) && ownOf(s).stints !== null,
    run: (eke) => start(eke, {}),
  },
  {
    id: 'lay.without-stints', words: 'lay.without-stints', rooms: ROOM,
    available: (s) => canStart(s) && (layOf(s)?.given_up?.length ?? 0) > 0,
    run: (eke) => {
      eke.setOwn('lay', { stints: [] });
      return start(eke, {});
    },
  },
  { id: 'lay.cut', words: 'lay.cut', rooms: ROOM, available: (s) => layState(s) === 'good' && layOf(s)?.to_wash.length === 0 && ownOf(s).mine === null, run: confirmCut },
  {
    id: 'lay.washed', words: 'lay.washed', rooms: ROOM, available: (s) => (layOf(s)?.to_wash.length ?? 0) > 0,
    run: (eke, said) => eke.did('workroom', () => eke.api.post<DoneView>(`/api/cloths/${String(said)}/wash`)),
  },
  { id: 'lay.drop', words: 'lay.drop', rooms: ROOM, run: (eke, said) => drop(eke, said as Held) },

  ...(['left', 'right', 'up', 'down'] as const).flatMap((way): Command[] => [
    { id: `lay.${way}`, words: `lay.${way}`, keys: [`arrow${way}`], rooms: ROOM, available: onCloth, run: (eke) => nudge(eke, way, 0) },
    { id: `lay.${way}-far`, words: `lay.${way}-far`, keys: [`shift+arrow${way}`], rooms: ROOM, available: onCloth, run: (eke) => nudge(eke, way, 1) },
  ]),
  { id: 'lay.turn-left', words: 'lay.turn-left', keys: ['['], rooms: ROOM, available: onCloth, run: (eke) => handle(eke, (grip, now) => grip.step(now, 1, FREE_DEG), 'lay.turned') },
  { id: 'lay.turn-right', words: 'lay.turn-right', keys: [']'], rooms: ROOM, available: onCloth, run: (eke) => handle(eke, (grip, now) => grip.step(now, -1, FREE_DEG), 'lay.turned') },
  { id: 'lay.tilt-left', words: 'lay.tilt-left', keys: ['{'], rooms: ROOM, available: mayTilt, run: (eke) => handle(eke, (grip, now) => grip.tilt(now, FINE_DEG), 'lay.turned', true) },
  { id: 'lay.tilt-right', words: 'lay.tilt-right', keys: ['}'], rooms: ROOM, available: mayTilt, run: (eke) => handle(eke, (grip, now) => grip.tilt(now, -FINE_DEG), 'lay.turned', true) },
  { id: 'lay.over', words: 'lay.over', keys: ['o'], rooms: ROOM, available: mayFlip, run: (eke) => handle(eke, (grip, now) => grip.turnOver(now), 'lay.turned-over') },
  { id: 'lay.pin', words: 'lay.pin', keys: ['l'], rooms: ROOM, available: onCloth, run: pin },
  { id: 'lay.unpin-all', words: 'lay.unpin-all', rooms: ROOM, available: (s) => movable(s) && (layOf(s)?.laid.some((one) => one.locked) ?? false), run: unpinAll },
  {
    id: 'lay.off', words: 'lay.off', keys: ['delete', 'backspace'], rooms: ROOM, available: onCloth,
    run: (eke) => {
      const copy = copyChosen(eke.state);
      if (copy) return drop(eke, { id: copy.id, cloth: null, at: { turnDeg: 0, xMm: 0, yMm: 0, mirrored: false }, hits: [] });
    },
  },
  { id: 'lay.all-off', words: 'lay.all-off', rooms: ROOM, available: (s) => movable(s) && (layOf(s)?.laid.length ?? 0) > 0, run: (eke) => put(eke, [], t('lay.all-off.done')) },
  { id: 'lay.put-on', words: 'lay.put-on', keys: ['m'], rooms: ROOM, available: (s) => movable(s) && chosenCopy(s) !== null, run: putOn },
  { id: 'lay.next', words: 'lay.next', keys: ['.'], rooms: ROOM, available: (s) => layOf(s) !== null, run: (eke) => choose(eke, 1) },
  { id: 'lay.previous', words: 'lay.previous', keys: [','], rooms: ROOM, available: (s) => layOf(s) !== null, run: (eke) => choose(eke, -1) },
  { id: 'lay.back', words: 'lay.back', keys: ['ctrl+z'], rooms: ROOM, available: (s) => movable(s) && stepsBack(s).length > 0 && byHandLast(s), run: (eke) => travel(eke, 'back') },
  { id: 'lay.again', words: 'lay.again', keys: ['ctrl+shift+z', 'ctrl+y'], rooms: ROOM, available: (s) => movable(s) && stepsAgain(s).length > 0 && byHandLast(s), run: (eke) => travel(eke, 'again') },
  { id: 'lay.exchange', words: 'lay.exchange', keys: ['x'], rooms: ROOM, available: canExchange, run: exchange },
  // Where no step by hand is left, what is taken back is the search.
  { id: 'lay.before', words: 'lay.before', keys: ['ctrl+z'], rooms: ROOM, available: (s) => canTurn(s) && stepsBack(s).length === 0 && later(s) < 0, run: exchange },
  { id: 'lay.after', words: 'lay.after', keys: ['ctrl+shift+z', 'ctrl+y'], rooms: ROOM, available: (s) => canTurn(s) && stepsAgain(s).length === 0 && later(s) > 0, run: exchange },
  {
    id: 'lay.on-paper', words: 'lay.on-paper', rooms: ROOM, available: (s) => layState(s) === 'good' || layState(s) === 'short' || layState(s) === 'cut',
    run: (eke) => {
      eke.setOwn('paper', { what: 'lay' });
      return eke.go('paper');
    },
  },
];

// ---- when -------------------------------------------------------------------------------------------------

function canStart(s: State): boolean {
  const lay = layOf(s);
  if (!lay || layState(s) === 'nothing' || layState(s) === 'running' || lay.cut || ownOf(s).mine !== null) return false;
  return lay.cut_pieces.length > 0 && tickedCloths(lay, ownOf(s)).length > 0;
}

function movable(s: State): boolean {
  const now = layState(s);
  return now === 'empty' || now === 'short' || now === 'good';
}

/** What was done last is no step of a history: that would be taken back first. */
function byHandLast(s: State): boolean {
  return s.said?.log == null || s.said.number === ownOf(s).told;
}

function canTurn(s: State): boolean {
  return movable(s) && canExchange(s) && byHandLast(s);
}

/** Whether the lay beside was made after the one on the table (above 0), or before it. */
function later(s: State): number {
  return (besideOf(s)?.made ?? 0) - (layOf(s)?.made ?? 0);
}

function copyChosen(s: State): Copy | null {
  const id = chosenCopy(s);
  const lay = layOf(s);
  return lay && id !== null ? copyOf(lay, id) : null;
}

function onCloth(s: State): boolean {
  return movable(s) && copyChosen(s)?.laid != null;
}

function mayFlip(s: State): boolean {
  const copy = copyChosen(s);
  const cloth = layOf(s)?.cloths.find((one) => one.id === copy?.laid?.cloth);
  return onCloth(s) && copy !== null && cloth !== undefined && copy.piece.may_mirror && cloth.same_face;
}

function mayTilt(s: State): boolean {
  const piece = copyChosen(s)?.piece;
  return onCloth(s) && piece !== undefined && (piece.tilt_deg > 0 || piece.turns_deg === null || piece.grain === 'any');
}

// ---- the search --------------------------------------------------------------------------------------------

async function start(eke: Eke, how: { keep?: boolean; other?: boolean; from?: boolean }): Promise<void> {
  const lay = layOf(eke.state);
  const { garment, roles } = eke.state.view;
  if (!lay || garment === null) return;
  const own = ownOf(eke.state);
  const seed = how.other ? Math.max(own.seed, lay.seed ?? 0) + 1 : own.seed;
  const ticked = tickedCloths(lay, own).map((cloth) => cloth.id);
  const said: LaySaid = {
    roles: [...roles],
    cloths: own.cloths === null ? null : ticked,
    seconds: own.seconds,
    seed,
    stints: [...givenUp(lay, own)],
    match_stripes: matching(lay, own),
    keep: lay.laid.filter((one) => how.from || (how.keep && one.locked)).map(saidOf),
  };
  // everything keeps its place in the tray until the search has ended
  eke.setOwn('lay', { seed, trayed: trayedCopies(lay, own).map((copy) => copy.id), stints: null } satisfies Partial<Own>);
  eke.select({});
  try {
    eke.began(await eke.api.post<JobView>(`/api/garments/${garment}/lay`, said));
  } catch (trouble) {
    eke.trouble(trouble);
  }
}

async function confirmCut(eke: Eke): Promise<void> {
  const { garment, roles } = eke.state.view;
  eke.select({});
  const done = await eke.did('workroom', () => eke.api.post<DoneView>(`/api/garments/${garment}/lay/confirm`, { roles: [...roles] }));
  if (done) await Promise.all([eke.load('lay'), eke.load('pegs')]);
}

/** Put the lay that is kept beside on the table; the one that was there lies beside then. */
async function exchange(eke: Eke): Promise<void> {
  const key = stepsKey(eke.state);
  const { garment, roles } = eke.state.view;
  eke.select({});
  try {
    const lay = await eke.api.post<LayView>(`/api/garments/${garment}/lay/exchange`, { roles: [...roles] });
    if (key !== stepsKey(eke.state)) return;
    eke.setDoc({ lay });
    eke.setOwn('lay', { trayed: [], stints: null });
    tell(eke, t('lay.exchanged', { sentence: told(lay.sentence, eke.state.view.unit) }));
  } catch (trouble) {
    eke.trouble(trouble);
  }
}

/** Say what was done on this table. */
function tell(eke: Eke, sentence: string): void {
  eke.say(sentence, { tone: 'done' });
  eke.setOwn('lay', { told: eke.state.said?.number ?? -1 });
}

// ---- by hand -----------------------------------------------------------------------------------------------

const waiting = new WeakMap<Eke, ReturnType<typeof setTimeout>>();

/** Hand over where a piece was put: onto a cloth, or back into the tray. */
function drop(eke: Eke, held: Held): void {
  clearTimeout(waiting.get(eke));
  const lay = layOf(eke.state);
  const copy = lay && copyOf(lay, held.id);
  if (!lay || !copy) return eke.setDraft(null);
  if (held.hits.length > 0) {
    eke.setDraft(null);
    return eke.say(noRoom(lay, copy, held));
  }
  if (held.cloth === null && copy.laid === null) return eke.setDraft(null);
  const cloth = lay.cloths.find((one) => one.id === held.cloth);
  const sentence = cloth
    ? t(copy.laid?.cloth !== cloth.id ? 'lay.put' : copy.laid.turn_deg !== held.at.turnDeg ? 'lay.turned' : 'lay.moved', { name: copy.piece.name, cloth: cloth.name })
    : t('lay.taken-off', { name: copy.piece.name });
  put(eke, withCopy(lay, copy, held.cloth, held.at), sentence);
}

/** Why a piece cannot lie there. */
export function noRoom(lay: LayView, copy: Copy, held: Held, words: 'lay.no-room' | 'lay.no-room.now' = 'lay.no-room'): string {
  const names = held.hits.map((hit) => {
    if (hit === 'edge' || hit === 'hole' || hit === 'flaw') return t(`lay.hit.${hit}`);
    return t('lay.hit.piece', { name: copyOf(lay, hit)?.piece.name ?? '' });
  });
  return t(words, { name: copy.piece.name, what: [...new Set(names)].slice(0, 3).join(t('lay.and')) });
}

/** What is to be put next, while something is on its way to the server. */
const onTheWay = new WeakMap<Eke, { next: readonly PlacementSaid[] | null; of: string; sending: Promise<void> | null }>();

/** Show a lay made by hand at once, and let the server check it exactly and keep it. */
function put(eke: Eke, placements: readonly PlacementSaid[], sentence: string, keepSteps = false): void {
  const lay = layOf(eke.state);
  if (!lay || eke.state.view.garment === null) return;
  const before: Step = { of: stepsKey(eke.state), placements: lay.laid.map(saidOf), sentence };
  const own = ownOf(eke.state);
  const steps = keepSteps ? {} : { back: [...own.back, before].slice(-MOST_STEPS), again: [] };
  eke.setOwn('lay', { mine: asPut(lay, placements), trayed: trayedCopies(lay, own).map((copy) => copy.id), ...steps });
  eke.setDraft(null);
  tell(eke, sentence);
  const way = onTheWay.get(eke) ?? { next: null, of: '', sending: null };
  onTheWay.set(eke, way);
  way.next = placements;
  way.of = stepsKey(eke.state);
  way.sending ??= send(eke, way).finally(() => (way.sending = null));
}

/** Send what is to be put, one after the other; of several that wait only the last counts. */
async function send(eke: Eke, way: { next: readonly PlacementSaid[] | null; of: string }): Promise<void> {
  while (way.next !== null) {
    const placements = way.next;
    const { of } = way;
    way.next = null;
    const { garment, roles } = eke.state.view;
    if (of !== stepsKey(eke.state)) return;
    try {
      const kept = await eke.api.put<LayView>(`/api/garments/${garment}/lay`, { roles: [...roles], placements });
      if (way.next !== null) continue;
      if (of === stepsKey(eke.state)) eke.setDoc({ lay: kept });
      eke.setOwn('lay', { mine: null });
    } catch (trouble) {
      way.next = null;
      const own = ownOf(eke.state);
      eke.setOwn('lay', { mine: null, back: own.back.slice(0, -1) });
      eke.trouble(trouble);
    }
  }
}

function travel(eke: Eke, way: 'back' | 'again'): void {
  const lay = layOf(eke.state);
  const steps = way === 'back' ? stepsBack(eke.state) : stepsAgain(eke.state);
  const step = steps.at(-1);
  if (!lay || !step) return;
  const now: Step = { ...step, placements: lay.laid.map(saidOf) };
  const own = ownOf(eke.state);
  const [from, to] = way === 'back' ? (['back', 'again'] as const) : (['again', 'back'] as const);
  eke.setOwn('lay', { [from]: own[from].filter((one) => one !== step), [to]: [...own[to], now] });
  put(eke, step.placements, t(way === 'back' ? 'lay.back.done' : 'lay.again.done', { sentence: step.sentence }), true);
}

/** Do something with the chosen piece, show it at once, and hand it over: at once, or after a run of keys. */
function handle(eke: Eke, move: (grip: Grip, now: Held) => Held, words: Key, later = false): void {
  const lay = layOf(eke.state);
  const id = chosenCopy(eke.state);
  const grip = lay && id !== null ? Grip.of(lay, arrangedOf(lay, ownOf(eke.state)), id) : null;
  if (!lay || !grip) return;
  const draft = heldIn(eke.state.draft);
  const now = draft?.id === id ? draft : grip.start;
  const held = move(grip, now);
  if (held.hits.length > 0) return eke.say(t('lay.no-turn', { name: grip.copy.piece.name }));
  if (held === now || held.cloth === null) return;
  eke.setDraft({ kind: HELD, value: held });
  const hand = () => {
    const now = layOf(eke.state);
    // given back by Esc meanwhile, or another garment lies here
    if (now?.garment !== lay.garment || heldIn(eke.state.draft) !== held) return;
    put(eke, withCopy(now, grip.copy, held.cloth, held.at), t(words, { name: grip.copy.piece.name }));
  };
  clearTimeout(waiting.get(eke));
  if (!later) return hand();
  waiting.set(eke, setTimeout(hand, PAUSE_MS));
}

function nudge(eke: Eke, way: 'left' | 'right' | 'up' | 'down', far: 0 | 1): void {
  const step = STEPS_MM[eke.state.view.unit][far];
  const [dx, dy] = { left: [-1, 0], right: [1, 0], up: [0, 1], down: [0, -1] }[way] as [number, number];
  handle(eke, (grip, now) => grip.nudge(now, dx * step, dy * step), 'lay.moved-by-keys', true);
}

function pin(eke: Eke): void {
  const lay = layOf(eke.state);
  const copy = copyChosen(eke.state);
  if (!lay || !copy?.laid) return;
  const locked = !copy.laid.locked;
  const placements = lay.laid.map((one) => ({ ...saidOf(one), locked: one.id === copy.id ? locked : (one.locked ?? false) }));
  put(eke, placements, t(locked ? 'lay.pinned' : 'lay.unpinned', { name: copy.piece.name }));
}

function unpinAll(eke: Eke): void {
  const lay = layOf(eke.state);
  if (lay) put(eke, lay.laid.map((one) => ({ ...saidOf(one), locked: false })), t('lay.unpin-all.done'));
}

/** Put the chosen piece where there is room: on the cloth that is said, or on the first one that takes it. */
function putOn(eke: Eke, said?: unknown): void {
  const lay = layOf(eke.state);
  const copy = copyChosen(eke.state);
  if (!lay || !copy) return;
  const own = ownOf(eke.state);
  const grip = Grip.of(lay, arrangedOf(lay, own), copy.id);
  const ids = typeof said === 'string' ? [said] : tickedCloths(lay, own).map((cloth) => cloth.id).filter((id) => id !== copy.laid?.cloth);
  for (const id of ids) {
    const held = grip?.placeOn(id);
    if (held) return drop(eke, held);
  }
  eke.say(t('lay.no-place', { name: copy.piece.name }));
}

function choose(eke: Eke, by: 1 | -1): void {
  const lay = layOf(eke.state);
  const all = lay ? copiesOf(lay) : [];
  if (all.length === 0) return;
  const at = all.findIndex((copy) => copy.id === chosenCopy(eke.state));
  const next = all[at < 0 ? (by > 0 ? 0 : all.length - 1) : (at + by + all.length) % all.length];
  if (next) eke.select({ laid: [next.id] });
}

