/** The tools and commands of this room. */

import type { Command } from '../../core/commands/command';
import { commands as actions } from './actions';
import { commands as stages } from './stages';

export const commands: readonly Command[] = [...actions, ...stages];
export { tools } from './tools';
