/** The tools and commands of this room. */

import type { Tool } from '../../core/tools/machine';
import { layTool } from './tool';

export { commands } from './commands';
export const tools: readonly Tool[] = [layTool];
