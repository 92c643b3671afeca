/**
 * A tool is a small machine: a pure step from a state and an event to a state and effects. Effects are data;
 * `ToolHand` (hand.ts) carries them out. Positions are in mm of the table, y up.
 */

import type { Point } from '../geometry-types';
import type { Room } from '../rooms';
import type { Draft, Selection, State } from '../store';

/** What lies under the pointer: `data-kind` and `data-id` of the nearest drawn thing. */
export interface Hit {
  kind: string;
  id: string;
}
export interface Keys {
  shift: boolean;
  alt: boolean;
  /** Ctrl, or Command on a Mac. */
  ctrl: boolean;
}
export type ToolEvent =
  | { kind: 'press' | 'move' | 'release'; at: Point; on: Hit | null; keys: Keys; touch: boolean }
  | { kind: 'key'; key: string; keys: Keys }
  /** `cancel`: Esc, or another tool was taken; `blur`: pointer lost or window left. Both must end a gesture. */
  | { kind: 'cancel' | 'blur' };

export interface ToolContext {
  state: State;
  /** Hit distance in mm at the present camera: 8 px with a mouse, 20 px by touch. */
  tolerance_mm: number;
  mm_per_px: number;
}

export type Effect =
  /** Show an unfinished gesture, or clear it. */
  | { do: 'draft'; draft: Draft | null }
  /** Change the garment (kept by the server, one step to take back). */
  | { do: 'change'; kind: string; params: Record<string, unknown>; note?: string }
  | { do: 'change-workroom'; kind: string; params: Record<string, unknown>; note?: string }
  /** Run one of COMMANDS, for everything that is no change of a history. */
  | { do: 'command'; id: string; with?: unknown }
  | { do: 'select'; selection: Selection }
  | { do: 'say'; sentence: string }
  /** Keep the pointer until it is released, also outside of the table. */
  | { do: 'capture'; on: boolean }
  /** Take another tool; null: the room's resting tool. */
  | { do: 'tool'; id: string | null };

export interface Step<S> {
  state: S;
  effects?: readonly Effect[];
  /** A key that the tool has used is not used for anything else. */
  taken?: boolean;
}

export interface Tool<S = unknown> {
  id: string;
  room: Room;
  /** Word key of its name and of a sentence saying what it does: `<words>` and `<words>.how`. */
  words: string;
  /** A key that takes it in hand. */
  key?: string;
  /** The tool that a room rests in when none is taken; one a room. */
  resting?: boolean;
  /** A drag that begins on nothing belongs to the tool; otherwise it moves the table. */
  grabsEmpty?: boolean;
  cursor: string | ((state: S) => string);
  initial: S;
  step(state: S, event: ToolEvent, context: ToolContext): Step<S>;
}

/** A tool whose state type is forgotten, for tables. */
export type AnyTool = Tool<never> | Tool<unknown>;

export function defineTool<S>(tool: Tool<S>): Tool<unknown> {
  return tool as unknown as Tool<unknown>;
}
