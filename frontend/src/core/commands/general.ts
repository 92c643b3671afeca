/** Commands of every room. */

import { ROOMS } from '../rooms';
import { stepsOf } from '../steps';
import type { PhoneSaid } from '../../client/types.gen';
import type { State } from '../store';
import type { Command } from './command';

export const GENERAL: readonly Command[] = [
  {
    id: 'take-back',
    words: 'do.take-back',
    keys: ['ctrl+z'],
    available: (s) => stepsOf(s).undo !== null,
    run: (eke) => eke.undo(),
  },
  {
    id: 'do-again',
    words: 'do.do-again',
    keys: ['ctrl+shift+z', 'ctrl+y'],
    available: (s) => stepsOf(s).redo !== null,
    run: (eke) => eke.redo(),
  },
  { id: 'help', words: 'do.help', keys: ['?', 'f1'], run: (eke) => eke.setHelp(!eke.state.view.help) },
  {
    id: 'put-down',
    words: 'do.put-down',
    keys: ['escape'],
    run: (eke) => {
      if (eke.state.view.tool !== null) eke.take(null);
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
  {
    id: 'from-phone',
    words: 'phone.open',
    available: (s) => s.view.place !== 'welcome' && s.view.place !== 'ledger' && s.view.place !== 'journal',
    run: (eke, said) => eke.askPhone((said as PhoneSaid | undefined) ?? phoneSubject(eke.state)),
  },
  { id: 'night', words: 'do.night', keys: ['shift+n'], run: (eke) => eke.setNight(!eke.state.view.night) },
];

/** Whom pictures from the phone are for in this room: the shelf among cloths, otherwise the garment. */
export function phoneSubject(state: State): PhoneSaid {
  const shelf = state.view.place === 'cloth' || state.view.garment === null;
  return shelf ? { subject: 'shelf', cloth: true } : { subject: state.view.garment ?? 'shelf', cloth: false };
}

function neighbour(eke: import('../eke').Eke, by: 1 | -1): Promise<void> | void {
  const at = (ROOMS as readonly string[]).indexOf(eke.state.view.place);
  const room = ROOMS[at + by];
  if (room) return eke.go(room);
}
