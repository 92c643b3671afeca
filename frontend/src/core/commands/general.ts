/** Commands of every room. */

import { ROOMS, historyOf } from '../rooms';
import type { Command } from './command';

export const GENERAL: readonly Command[] = [
  {
    id: 'take-back',
    words: 'do.take-back',
    keys: ['ctrl+z'],
    available: (s) => stepsHere(s).undo !== null,
    run: (eke) => eke.undo(),
  },
  {
    id: 'do-again',
    words: 'do.do-again',
    keys: ['ctrl+shift+z', 'ctrl+y'],
    available: (s) => stepsHere(s).redo !== null,
    run: (eke) => eke.redo(),
  },
  { id: 'help', words: 'do.help', keys: ['?', 'f1'], run: (eke) => eke.setHelp(!eke.state.view.help) },
  {
    id: 'put-down',
    words: 'do.put-down',
    keys: ['escape'],
    run: (eke) => {
      if (eke.state.view.help) eke.setHelp(false);
      else if (eke.state.view.tool !== null) eke.take(null);
      else eke.select({});
    },
  },
  {
    id: 'next-room',
    words: 'do.next-room',
    keys: ['alt+arrowright'],
    available: (s) => s.view.garment !== null,
    run: (eke) => neighbour(eke, 1),
  },
  {
    id: 'previous-room',
    words: 'do.previous-room',
    keys: ['alt+arrowleft'],
    available: (s) => s.view.garment !== null,
    run: (eke) => neighbour(eke, -1),
  },
  { id: 'night', words: 'do.night', keys: ['shift+n'], run: (eke) => eke.setNight(!eke.state.view.night) },
];

function stepsHere(s: import('../store').State): { undo: string | null; redo: string | null } {
  const of = historyOf(s.view.place) === 'garment' ? s.doc.garment : s.doc.workroom;
  return of?.steps ?? { undo: null, redo: null };
}

function neighbour(eke: import('../eke').Eke, by: 1 | -1): Promise<void> | void {
  const at = (ROOMS as readonly string[]).indexOf(eke.state.view.place);
  const room = ROOMS[at + by];
  if (room) return eke.go(room);
}
