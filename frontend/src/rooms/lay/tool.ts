/**
 * The hand that moves pieces on cloth: press one to choose it, drag to carry it, drag its handle to turn it. What
 * is shown meanwhile is a draft; on release one command hands it over.
 */

import type { State } from '../../core/store';
import type { Point } from '../../core/geometry-types';
import { defineTool, type Effect } from '../../core/tools/machine';
import { arrangedOf, chosenCopy, HELD, heldIn, layOf, layState, ownOf } from './own';
import { Grip, type Held } from './grip';

type Hand =
  | null
  /** Pressed, not moved yet. */
  | { do: 'pressed'; id: string; from: Point; turns: boolean }
  | { do: 'carry'; grip: Grip; held: Held; hold: Point }
  /** `fromDeg`: direction from the middle of the piece to the hand at the start. */
  | { do: 'turn'; grip: Grip; held: Held; fromDeg: number; turnDeg: number };

/** A press that moves less is a click. */
const STILL_PX = 4;
/** The hand may be so far outside of a cloth before the piece leaves it. */
const LEAVE_PX = 48;
/** A piece that comes so near to another or to the edge touches it. */
const SNAP_PX = 7;

/** Keys of the hand and the commands that they are, while the table has the keyboard. */
const KEYS: Readonly<Record<string, string>> = {
  arrowleft: 'lay.left', arrowright: 'lay.right', arrowup: 'lay.up', arrowdown: 'lay.down',
  'shift+arrowleft': 'lay.left-far', 'shift+arrowright': 'lay.right-far', 'shift+arrowup': 'lay.up-far', 'shift+arrowdown': 'lay.down-far',
};

export const layTool = defineTool<Hand>({
  id: 'lay-hand',
  room: 'lay',
  words: 'lay.hand',
  resting: true,
  cursor: (hand) => (hand === null ? 'default' : 'grabbing'),
  initial: null,
  step(hand, event, { state, mm_per_px }) {
    switch (event.kind) {
      case 'press': {
        const on = event.on?.kind;
        if (!event.on || (on !== 'laid' && on !== 'lay-turn')) return { state: null, effects: [{ do: 'select', selection: {} }] };
        const effects: Effect[] = [{ do: 'select', selection: { laid: [event.on.id] } }];
        if (!canMove(state)) return { state: null, effects };
        return { state: { do: 'pressed', id: event.on.id, from: event.at, turns: on === 'lay-turn' }, effects: [...effects, { do: 'capture', on: true }] };
      }
      case 'move': {
        if (hand === null) return { state: null };
        if (hand.do === 'pressed') {
          if (Math.hypot(event.at[0] - hand.from[0], event.at[1] - hand.from[1]) < STILL_PX * mm_per_px) return { state: hand };
          const begun = begin(state, hand);
          return begun === null ? { state: null } : moved(begun, event.at, mm_per_px);
        }
        return moved(hand, event.at, mm_per_px);
      }
      case 'release': {
        const done: Effect = { do: 'capture', on: false };
        if (hand === null || hand.do === 'pressed') return { state: null, effects: [done] };
        return { state: null, effects: [done, { do: 'command', id: 'lay.drop', with: hand.held }] };
      }
      case 'key': {
        const command = KEYS[`${event.keys.shift ? 'shift+' : ''}${event.key}`];
        if (command === undefined || event.keys.ctrl || event.keys.alt || chosenCopy(state) === null) return { state: hand };
        return { state: hand, effects: [{ do: 'command', id: command }], taken: true };
      }
      case 'cancel':
      case 'blur':
        return { state: null, effects: [{ do: 'draft', draft: null }, { do: 'capture', on: false }] };
    }
  },
});

/** Pieces move while nothing is being searched and nothing is cut; of an old plan they do not. */
function canMove(state: State): boolean {
  const now = layState(state);
  return now === 'empty' || now === 'short' || now === 'good';
}

function begin(state: State, hand: { id: string; from: Point; turns: boolean }): Hand {
  const lay = layOf(state);
  const grip = lay && Grip.of(lay, arrangedOf(lay, ownOf(state)), hand.id);
  if (!grip) return null;
  // a nudge by keys may be on its way
  const draft = heldIn(state.draft);
  const held = draft?.id === hand.id ? draft : grip.start;
  if (!hand.turns) return { do: 'carry', grip, held, hold: grip.pointUnder(held, hand.from) };
  return { do: 'turn', grip, held, fromDeg: direction(grip.middleOnTable(held), hand.from), turnDeg: held.at.turnDeg };
}

function moved(hand: Hand, at: Point, mm_per_px: number): { state: Hand; effects: Effect[] } {
  if (hand === null || hand.do === 'pressed') return { state: hand, effects: [] };
  if (hand.do === 'carry') {
    const held = hand.grip.carry(hand.held, hand.hold, at, LEAVE_PX * mm_per_px, SNAP_PX * mm_per_px);
    return { state: { ...hand, held }, effects: [show(held)] };
  }
  const byDeg = direction(hand.grip.middleOnTable(hand.grip.start), at) - hand.fromDeg;
  const held = hand.grip.turn({ ...hand.grip.start, hits: [] }, hand.turnDeg + byDeg);
  return { state: { ...hand, held }, effects: [show(held)] };
}

function show(held: Held): Effect {
  return { do: 'draft', draft: { kind: HELD, value: held } };
}

function direction(from: Point, to: Point): number {
  return (Math.atan2(to[1] - from[1], to[0] - from[0]) * 180) / Math.PI;
}
