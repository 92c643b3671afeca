/** Cloths lying side by side in proportion, in rows, as on a shelf seen from above. */

import type { ClothView } from '../../client/types.gen';
import { boxOf, type Box, type Point } from '../../core/geometry-types';

export interface Lying {
  cloth: ClothView;
  /** Where the cloth's own origin lies on the shelf, mm. */
  at: Point;
  /** Its box on the shelf. */
  box: Box;
}
/** Room between cloths, and under each for its name, as shares of the greatest side. */
const GAP = 0.07, NAME = 0.16;

export function lyingOn(cloths: readonly ClothView[], proportion: number): Lying[] {
  const boxes = cloths.map((cloth) => boxOf(cloth.outline) ?? { left: 0, bottom: 0, width: 100, height: 100 });
  const most = Math.max(100, ...boxes.map((box) => Math.max(box.width, box.height)));
  const gap = most * GAP, name = most * NAME;
  // rows as long as make the whole about as wide as the window
  const all = boxes.reduce((sum, box) => sum + (box.width + gap) * (box.height + gap + name), 0);
  const wide = Math.max(Math.sqrt(all * Math.max(proportion, 0.3)) * 1.05, ...boxes.map((box) => box.width));
  const order = cloths.map((_, i) => i).sort((a, b) => (boxes[b]?.height ?? 0) - (boxes[a]?.height ?? 0));
  const lying: Lying[] = [];
  let x = 0, y = 0, high = 0;
  for (const i of order) {
    const box = boxes[i], cloth = cloths[i];
    if (!box || !cloth) continue;
    const room = Math.max(box.width, most * 0.22);
    if (x > 0 && x + room > wide) {
      y -= high + gap + name;
      x = 0;
      high = 0;
    }
    const left = x + (room - box.width) / 2, bottom = y - box.height;
    lying.push({ cloth, at: [left - box.left, bottom - box.bottom], box: { left, bottom, width: box.width, height: box.height } });
    x += room + gap;
    high = Math.max(high, box.height);
  }
  return lying;
}

/** The box of all, with their names. */
export function shelfBox(lying: readonly Lying[]): Box | null {
  const box = boxOf(lying.flatMap(({ box: one }) => [[one.left, one.bottom], [one.left + one.width, one.bottom + one.height]]));
  if (!box) return null;
  const name = Math.max(box.width, box.height) * 0.1;
  return { ...box, bottom: box.bottom - name, height: box.height + name };
}
