/** What a room brings: tools and commands. `src/tables.ts` puts all rooms' together. */

import type { Command } from './commands/command';
import type { Tool } from './tools/machine';

export interface Tables {
  tools: readonly Tool[];
  commands: readonly Command[];
}
