/** Cloths lying side by side in proportion, in rows, as on a shelf seen from above. */

import type { ClothView } from '../../client/types.gen';
import { boxOf, type Box, type Point } from '../../core/geometry-types';

export interface Lying {
  cloth: ClothView;
  /** Where the cloth's own origin lies on the shelf, mm. */
  at: Point;
  /** Its box on the shelf. */
  box: Box;
  /** Width that its name may take, mm. */
  room_mm: number;
}
export interface Shelf {
  lying: readonly Lying[];
  /** All of it, with the names. */
  box: Box | null;
  /** px per mm at which the names have just room enough. */
  scale: number;
  /** Whether there is room for names. */
  named: boolean;
}
/** A name takes two lines of the screen, and is at least so wide. */
const NAME_PX = 54, NAME_WIDE_PX = 120, GAP_PX = 22;
/** What a Table leaves free round its box, and at its foot. */
const MARGIN_PX = 32, FOOT_PX = 40;

/**
 * Lay cloths out for a window of so many px: as large as may be, with room for their names; without names where
 * these would leave the cloths hardly any room.
 */
export function shelfFor(cloths: readonly ClothView[], width_px: number, height_px: number): Shelf {
  const named = largest(cloths, width_px, height_px, { high: NAME_PX, wide: NAME_WIDE_PX });
  const bare = largest(cloths, width_px, height_px, { high: 0, wide: 0 });
  return named.scale >= bare.scale * WORTH_SHARE ? { ...named, named: true } : { ...bare, named: false };
}

/** Names are worth this much of the size that the cloths would have without them. */
const WORTH_SHARE = 0.45;
interface Label {
  high: number;
  wide: number;
}

function largest(cloths: readonly ClothView[], width_px: number, height_px: number, label: Label): Omit<Shelf, 'named'> {
  const wide = Math.max(width_px - 2 * MARGIN_PX, 120), high = Math.max(height_px - 2 * MARGIN_PX - FOOT_PX, 100);
  let best: Omit<Shelf, 'named'> = { lying: [], box: null, scale: 0 };
  for (let columns = 1; columns <= Math.max(1, cloths.length); columns += 1) {
    // the greatest scale at which rows of so many, with their names, still fit: halved to within a hundredth
    let low = 0.001, top = 2;
    const fits = (scale: number) => {
      const { box } = inRows(cloths, columns, scale, label);
      return box !== null && box.width * scale <= wide && box.height * scale <= high;
    };
    if (!fits(low)) continue;
    while (top / low > 1.01) {
      const middle = Math.sqrt(low * top);
      if (fits(middle)) low = middle;
      else top = middle;
    }
    if (low > best.scale) best = { ...inRows(cloths, columns, low, label), scale: low };
  }
  return best;
}

function inRows(cloths: readonly ClothView[], columns: number, scale: number, label: Label): { lying: Lying[]; box: Box | null } {
  const boxes = cloths.map((cloth) => boxOf(cloth.outline) ?? { left: 0, bottom: 0, width: 100, height: 100 });
  const gap = GAP_PX / scale, name = label.high / scale;
  const order = cloths.map((_, i) => i).sort((a, b) => (boxes[b]?.height ?? 0) - (boxes[a]?.height ?? 0));
  const lying: Lying[] = [];
  let top = 0;
  for (let from = 0; from < order.length; from += columns) {
    let x = 0, deep = 0;
    for (const i of order.slice(from, from + columns)) {
      const box = boxes[i], cloth = cloths[i];
      if (!box || !cloth) continue;
      const room = Math.max(box.width, label.wide / scale);
      const left = x + (room - box.width) / 2, bottom = top - box.height;
      lying.push({ cloth, at: [left - box.left, bottom - box.bottom], box: { left, bottom, width: box.width, height: box.height }, room_mm: room });
      x += room + gap;
      deep = Math.max(deep, box.height);
    }
    top -= deep + name + gap;
  }
  const all = boxOf(lying.flatMap(({ box, room_mm }) => {
    const middle = box.left + box.width / 2;
    return [[middle - room_mm / 2, box.bottom - name], [middle + room_mm / 2, box.bottom + box.height]];
  }));
  return { lying, box: all };
}
