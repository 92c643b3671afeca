/** What this browser remembers for the maker: unit, night table. */

import { UNITS, type Unit } from './units';

/** A place to keep a few words; the browser's localStorage, or a Map in tests. */
export interface Keep {
  get(name: string): string | null;
  set(name: string, value: string): void;
}

export interface Preferences {
  unit: Unit;
  night: boolean;
}

export function readPreferences(keep: Keep, darkSystem = false): Preferences {
  const unit = keep.get('eke.unit');
  const night = keep.get('eke.night');
  return {
    unit: UNITS.find((u) => u === unit) ?? 'cm',
    night: night === null ? darkSystem : night === 'yes',
  };
}

export function keepPreferences(keep: Keep, preferences: Preferences): void {
  keep.set('eke.unit', preferences.unit);
  keep.set('eke.night', preferences.night ? 'yes' : 'no');
}

export function inMemory(): Keep {
  const kept = new Map<string, string>();
  return { get: (name) => kept.get(name) ?? null, set: (name, value) => void kept.set(name, value) };
}
