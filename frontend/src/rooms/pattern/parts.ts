/** The tools and commands of this room. */

import { commands as actions } from './actions';
import { commands as halves } from './halves';
import { commands as held } from './held';
import { commands as shut } from './shut';
import { commands as twice } from './twice';

export const commands = [...actions, ...shut, ...twice, ...halves, ...held];
export { tools } from './tools';
