/** The rooms' views, each fetched when it is first visited. */

import type { Component } from 'svelte';
import type { Room } from '../core/rooms';

export const ROOM_VIEWS: Record<Room, () => Promise<{ default: Component }>> = {
  tracing: () => import('../rooms/tracing/Room.svelte'),
  pattern: () => import('../rooms/pattern/Room.svelte'),
  'mock-ups': () => import('../rooms/mock-ups/Room.svelte'),
  cloth: () => import('../rooms/cloth/Room.svelte'),
  lay: () => import('../rooms/lay/Room.svelte'),
  paper: () => import('../rooms/paper/Room.svelte'),
  making: () => import('../rooms/making/Room.svelte'),
  ledger: () => import('../rooms/ledger/Room.svelte'),
  journal: () => import('../rooms/journal/Room.svelte'),
};
