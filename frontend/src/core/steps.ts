/** What "Take it back" and "Do it again" would do now. */

import type { StepBack } from '../client/types.gen';
import { historyOf } from './rooms';
import type { Log, State } from './store';

const NONE: StepBack = { undo: null, redo: null };

/** The history that is worked on: that of what was just done here, otherwise that of the room. */
export function logOf(state: State): Log {
  return state.said?.log ?? historyOf(state.view.place);
}

export function stepsOf(state: State, log: Log = logOf(state)): StepBack {
  return (log === 'garment' ? state.doc.garment : state.doc.workroom)?.steps ?? NONE;
}
