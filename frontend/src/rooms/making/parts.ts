/** The tools and commands of this room. */

import type { Command } from '../../core/commands/command';
import type { Tool } from '../../core/tools/machine';

export const tools: readonly Tool[] = [];
export const commands: readonly Command[] = [];
