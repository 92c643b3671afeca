/** The tools and commands of this room. */

export { commands } from './actions';
export { tools } from './tools';
