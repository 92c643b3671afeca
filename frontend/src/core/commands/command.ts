/** A command: one thing to do, with its words, keys and when it can be done. Buttons, keys and help come from it. */

import type { Eke } from '../eke';
import type { Room } from '../rooms';
import type { State } from '../store';
import type { Tables } from '../tables';

export interface Command {
  id: string;
  /** Word key of its name; a sentence may stand under `<words>.how`. */
  words: string;
  /** Keys such as `ctrl+z`, `n`, `shift+arrowleft`, `?`. `ctrl` is Command on a Mac. */
  keys?: readonly string[];
  /** Rooms in which it can be done; left out: everywhere. */
  rooms?: readonly Room[];
  available?(state: State): boolean;
  run(eke: Eke, said?: unknown): void | Promise<unknown>;
}

export function canRun(command: Command, state: State): boolean {
  const here = command.rooms === undefined || (command.rooms as readonly string[]).includes(state.view.place);
  return here && (command.available?.(state) ?? true);
}

/** Run a command by id if it can be run now; says whether it was. */
export function runCommand(eke: Eke, tables: Tables, id: string, said?: unknown): boolean {
  const command = tables.commands.find((one) => one.id === id);
  if (!command || !canRun(command, eke.state)) return false;
  const running = command.run(eke, said);
  if (running) running.catch((trouble: unknown) => eke.trouble(trouble));
  return true;
}

export interface KeyPress {
  key: string;
  shiftKey: boolean;
  altKey: boolean;
  ctrlKey: boolean;
  metaKey: boolean;
}

/** A key press as the table writes it: `ctrl+shift+z`, `arrowleft`, `?`. */
export function keyName(press: KeyPress): string {
  const key = press.key === ' ' ? 'space' : press.key.toLowerCase();
  const typed = key.length === 1 && key !== key.toUpperCase() ? false : key.length === 1;
  const parts = [];
  if (press.ctrlKey || press.metaKey) parts.push('ctrl');
  if (press.altKey) parts.push('alt');
  if (press.shiftKey && !typed) parts.push('shift'); // "?" and "+" already say that shift was held
  return [...parts, key].join('+');
}

/** Run what a key means here: a command, or taking a tool. Says whether it meant anything. */
export function runKey(eke: Eke, tables: Tables, press: KeyPress): boolean {
  const name = keyName(press);
  const command = tables.commands.find((one) => one.keys?.includes(name) && canRun(one, eke.state));
  if (command) return runCommand(eke, tables, command.id);
  const tool = tables.tools.find((one) => one.key === name && one.room === eke.state.view.place);
  if (!tool) return false;
  eke.take(tool.id);
  return true;
}
