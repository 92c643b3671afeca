/** Layers of cloth that a garment is cut from. */

import type { GarmentView } from '../../client/types.gen';
import type { RoleWord } from '../../core/store';

const ORDER: readonly RoleWord[] = ['outer', 'lining', 'interlining', 'interfacing', 'mock-up'];

/** How long to look for a better lay, s. */
export const TIMES_S: readonly number[] = [5, 20, 60, 180];

/** The layers that something is cut from, and those that are chosen. */
export function rolesOf(garment: GarmentView | null, chosen: readonly RoleWord[]): RoleWord[] {
  const cut = new Set<RoleWord>(chosen);
  for (const piece of [...(garment?.pieces ?? []), ...(garment?.derived ?? [])]) for (const { role } of piece.cuts) cut.add(role);
  return ORDER.filter((role) => cut.has(role));
}
