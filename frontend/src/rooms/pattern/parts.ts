/** The tools and commands of this room. */

import { commands as actions } from './actions';
import { commands as twice } from './twice';

export const commands = [...actions, ...twice];
export { tools } from './tools';
