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
}
/** A name takes two lines of the screen, and is at least so wide. */
const NAME_PX = 54, NAME_WIDE_PX = 150, GAP_PX = 22;
const MARGIN_PX = 40;

/** Lay cloths out for a window of so many px: as large as may be, with room for their names. */
export function shelfFor(cloths: readonly ClothView[], width_px: number, height_px: number): Shelf {
  const wide = Math.max(width_px - 2 * MARGIN_PX, 120), high = Math.max(height_px - 2 * MARGIN_PX, 120);
  let best: Shelf = { lying: [], box: null, scale: 0 };
  // rows of every length that makes a difference, at the scale that then fits; the names' room depends on it
  for (let columns = 1; columns <= Math.max(1, cloths.length); columns += 1) {
    let scale = 0.2;
    let now = inRows(cloths, columns, scale);
    for (let turn = 0; turn < 8; turn += 1) {
      if (!now.box) break;
      scale = Math.min(wide / now.box.width, high / now.box.height);
      now = inRows(cloths, columns, scale);
    }
    if (now.box && scale > best.scale && now.box.width * scale <= wide * 1.05 && now.box.height * scale <= high * 1.05) best = { ...now, scale };
  }
  if (best.box || cloths.length === 0) return best;
  // more than the window holds: as many in a row as have room, and one looks along the shelf
  const columns = Math.max(1, Math.floor(wide / (NAME_WIDE_PX + GAP_PX)));
  const scale = wide / (columns * 1600);
  return { ...inRows(cloths, columns, scale), scale };
}

function inRows(cloths: readonly ClothView[], columns: number, scale: number): { lying: Lying[]; box: Box | null } {
  const boxes = cloths.map((cloth) => boxOf(cloth.outline) ?? { left: 0, bottom: 0, width: 100, height: 100 });
  const gap = GAP_PX / scale, name = NAME_PX / scale;
  const order = cloths.map((_, i) => i).sort((a, b) => (boxes[b]?.height ?? 0) - (boxes[a]?.height ?? 0));
  const lying: Lying[] = [];
  let top = 0;
  for (let from = 0; from < order.length; from += columns) {
    let x = 0, deep = 0;
    for (const i of order.slice(from, from + columns)) {
      const box = boxes[i], cloth = cloths[i];
      if (!box || !cloth) continue;
      const room = Math.max(box.width, NAME_WIDE_PX / scale);
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
