/** All tools and commands of the app: TOOLS and COMMANDS feed buttons, keys and the help page. */

import { GENERAL } from './core/commands/general';
import type { Command } from './core/commands/command';
import type { Tables } from './core/tables';
import type { Tool } from './core/tools/machine';
import * as cloth from './rooms/cloth/parts';
import * as journal from './rooms/journal/parts';
import * as lay from './rooms/lay/parts';
import * as ledger from './rooms/ledger/parts';
import * as making from './rooms/making/parts';
import * as mockUps from './rooms/mock-ups/parts';
import * as paper from './rooms/paper/parts';
import * as pattern from './rooms/pattern/parts';
import * as tracing from './rooms/tracing/parts';

const ROOM_PARTS = [tracing, pattern, mockUps, cloth, lay, paper, making, ledger, journal];

export const TOOLS: readonly Tool[] = ROOM_PARTS.flatMap((room) => room.tools);
export const COMMANDS: readonly Command[] = [...ROOM_PARTS.flatMap((room) => room.commands), ...GENERAL];
export const TABLES: Tables = { tools: TOOLS, commands: COMMANDS };
