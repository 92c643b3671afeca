/** The tools and commands of this room. */

import type { Command } from '../../core/commands/command';
import type { Eke } from '../../core/eke';
import type { State } from '../../core/store';
import type { Tool } from '../../core/tools/machine';
import { ownOf } from './asking';

const ROOM = ['paper'] as const;

export const tools: readonly Tool[] = [];
export const commands: readonly Command[] = [
  {
    id: 'paper.print', words: 'paper.print', keys: ['ctrl+p'], rooms: ROOM, available: (s) => ownOf(s).pdf !== null,
    run: (eke) => {
      globalThis.open(ownOf(eke.state).pdf ?? '', '_blank');
    },
  },
  { id: 'paper.next', words: 'paper.next', keys: ['arrowright', 'pagedown'], rooms: ROOM, available: closely, run: (eke) => turn(eke, 1) },
  { id: 'paper.previous', words: 'paper.previous', keys: ['arrowleft', 'pageup'], rooms: ROOM, available: closely, run: (eke) => turn(eke, -1) },
  { id: 'paper.close', words: 'paper.close', keys: ['escape'], rooms: ROOM, available: closely, run: (eke) => eke.setOwn('paper', { page: null }) },
];

function closely(state: State): boolean {
  return ownOf(state).page !== null;
}

function turn(eke: Eke, by: 1 | -1): void {
  const { page } = ownOf(eke.state);
  const pages = Number((eke.state.view.own['paper'] as { pages?: number } | undefined)?.pages ?? 0);
  if (page !== null) eke.setOwn('paper', { page: Math.min(pages - 1, Math.max(0, page + by)) });
}
