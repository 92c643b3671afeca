/**
 * Where things lie on the table of this room: cloths side by side, true to scale, and a tray with the pieces that
 * have no place yet. All in mm of the table; a cloth is only shifted, never turned.
 */

import type { ClothView } from '../../client/types.gen';
import { boundsOf } from '../../core/geometry/polygon';
import type { Placement } from '../../core/geometry/rigid';
import type { Box, Point } from '../../core/geometry-types';
import type { Copy } from './copies';

export interface Arranged {
  /** What to add to a point of a cloth, by cloth. */
  cloths: ReadonlyMap<string, Point>;
  /** Where the tray lies; none: everything has its place. */
  tray: Box | null;
  /** How each copy without a place lies in the tray. */
  slots: ReadonlyMap<string, Placement>;
  /** Clear above the tray, for its name, mm. */
  above_mm: number;
  /** All of it. */
  box: Box;
}

/** Between two cloths, as a share of the largest: beside each other, and below each other, where their names stand. */
const BESIDE = 0.06;
const BELOW = 0.13;
/** A letter and the arrow of the grain take so much of the screen over a cloth, px. */
const SIGN_WIDE_PX = 56;
const SIGN_HIGH_PX = 38;
/** What the table leaves free round what lies on it, as a share. */
const FILLED = 0.9;
/** Signs make the table larger and so the scale smaller; after so many rounds nothing moves any more. */
const ROUNDS = 4;
/** Between two pieces in the tray, mm. */
const APART_MM = 18;
const TRAY_MARGIN_MM = 30;
/** An empty tray of so much is offered where nothing else lies on the table. */
const LEAST_TRAY_MM = 200;

interface Gaps {
  beside: number;
  below: number;
}
interface Block {
  width: number;
  height: number;
}

/** Lay cloths in rows, and the tray beside or below them, so that the whole is as large as it can be on a table of
 * such a width and height on the screen, with room for the sign of every cloth. */
export function arrange(cloths: readonly ClothView[], trayed: readonly Copy[], table_px: readonly [number, number]): Arranged {
  let mm_per_px = 0;
  let arranged = arrangedFor(cloths, trayed, table_px, mm_per_px);
  for (let round = 1; round < ROUNDS; round++) {
    const needed = Math.max(arranged.box.width / table_px[0], arranged.box.height / table_px[1]) / FILLED;
    if (needed <= mm_per_px * 1.01) break;
    mm_per_px = needed;
    arranged = arrangedFor(cloths, trayed, table_px, mm_per_px);
  }
  return arranged;
}

function arrangedFor(cloths: readonly ClothView[], trayed: readonly Copy[], table_px: readonly [number, number], mm_per_px: number): Arranged {
  const aspect = table_px[0] / table_px[1];
  const boxes = cloths.map((cloth) => boundsOf(cloth.outline));
  const blocks = boxes.map(([left, bottom, right, top]) => ({ width: right - left, height: top - bottom }));
  const largest = Math.max(LEAST_TRAY_MM, ...blocks.map((b) => Math.max(b.width, b.height)));
  // a small offcut has a name too
  for (const block of blocks) block.width = Math.max(block.width, SIGN_WIDE_PX * mm_per_px);
  const gaps: Gaps = { beside: BESIDE * largest, below: Math.max(BELOW * largest, SIGN_HIGH_PX * mm_per_px) };
  let best: { loss: number; rows: Rows; tray: Tray | null; beside: boolean } | null = null;
  for (const most of widths(blocks, gaps.beside)) {
    const rows = inRows(blocks, most, gaps);
    for (const beside of [true, false]) {
      const tray = trayed.length > 0 ? fillTray(trayed, beside ? null : Math.max(rows.width, LEAST_TRAY_MM), rows.height) : null;
      const gap = tray && cloths.length > 0 ? (beside ? gaps.beside : gaps.below) : 0;
      const width = beside ? rows.width + gap + (tray?.width ?? 0) : Math.max(rows.width, tray?.width ?? 0);
      const height = beside ? Math.max(rows.height, tray?.height ?? 0) : rows.height + gap + (tray?.height ?? 0);
      const loss = Math.max(width / aspect, height);
      if (best === null || loss < best.loss - 1) best = { loss, rows, tray, beside };
    }
  }
  const chosen = best ?? { rows: inRows([], 0, gaps), tray: null, beside: true };
  const places = new Map<string, Point>();
  cloths.forEach((cloth, i) => {
    const [left = 0, , , top = 0] = boxes[i] ?? [];
    const [x, y] = chosen.rows.at[i] ?? [0, 0];
    places.set(cloth.id, [x - left, -y - top]);
  });
  const slots = new Map<string, Placement>();
  let tray: Box | null = null;
  if (chosen.tray) {
    const { width, height, at } = chosen.tray;
    const left = chosen.beside && cloths.length > 0 ? chosen.rows.width + gaps.beside : 0;
    const top = chosen.beside || cloths.length === 0 ? 0 : -chosen.rows.height - gaps.below;
    tray = { left, bottom: top - height, width, height };
    for (const [id, [x, y]] of at) slots.set(id, { xMm: left + x, yMm: top - y, turnDeg: 0, mirrored: false });
  }
  const right = Math.max(chosen.rows.width, tray ? tray.left + tray.width : 0, 1);
  const bottom = Math.min(-chosen.rows.height, tray ? tray.bottom : 0, -1);
  const above_mm = chosen.beside ? Infinity : gaps.below;
  return { cloths: places, tray, slots, above_mm, box: { left: 0, bottom: bottom - 10, width: right, height: -bottom + 10 + 0.8 * gaps.below } };
}

interface Rows extends Block {
  at: Point[];
}

/** Row widths worth trying: those at which so many blocks, from the first, just fit. */
function widths(blocks: readonly Block[], gap: number): number[] {
  if (blocks.length === 0) return [0];
  let sum = -gap;
  const widest = Math.max(...blocks.map((b) => b.width));
  return blocks.map((b) => Math.max(widest, (sum += b.width + gap)));
}

/** Blocks in rows no wider than `most`, in their order; places are of the upper left corner, y down. */
function inRows(blocks: readonly Block[], most: number, gaps: Gaps): Rows {
  let [x, y, high, width] = [0, 0, 0, 0];
  const at = blocks.map((block): Point => {
    if (x > 0 && x + block.width > most + 1e-6) [x, y, high] = [0, y + high + gaps.below, 0];
    const here: Point = [x, y];
    x += block.width + gaps.beside;
    high = Math.max(high, block.height);
    width = Math.max(width, here[0] + block.width);
    return here;
  });
  return { at, width, height: y + high };
}

interface Tray extends Block {
  /** Where the origin of each piece lies, from the upper left corner of the tray, y down. */
  at: Map<string, Point>;
}

/** Pieces upright in rows, the highest first; `width`: of the tray, or null: as fits beside so high a table. */
function fillTray(trayed: readonly Copy[], width: number | null, height: number): Tray {
  const items = trayed
    .map((copy) => ({ id: copy.id, box: boundsOf(copy.piece.outline) }))
    .map(({ id, box }) => ({ id, box, width: box[2] - box[0], height: box[3] - box[1] }))
    .sort((a, b) => b.height - a.height || a.id.localeCompare(b.id));
  const widest = Math.max(...items.map((i) => i.width));
  const filled = (inner: number) => inRows(items, Math.max(inner, widest), { beside: APART_MM, below: APART_MM });
  let rows: Rows;
  if (width !== null) rows = filled(width - 2 * TRAY_MARGIN_MM);
  else {
    const aim = Math.max(height - 2 * TRAY_MARGIN_MM, LEAST_TRAY_MM);
    let inner = widest;
    rows = filled(inner);
    while (rows.height > aim && inner < 20 * widest) rows = filled((inner *= 1.25));
  }
  const at = new Map<string, Point>();
  items.forEach((item, i) => {
    const [x, y] = rows.at[i] ?? [0, 0];
    at.set(item.id, [TRAY_MARGIN_MM + x - item.box[0], TRAY_MARGIN_MM + y + item.box[3]]);
  });
  return { at, width: rows.width + 2 * TRAY_MARGIN_MM, height: rows.height + 2 * TRAY_MARGIN_MM };
}
