/**
 * Everything that forbids a place on a cloth, as one idea: the edge, holes, flaws and the pieces that lie there
 * are rings of sides with a gap to keep. A grid over the cloth finds the sides near a box.
 */

import { boundsOf, counterClockwise } from './polygon';
import type { BoxMm, Mm, PointMm, RingMm } from './units';

export type HazardKind = 'edge' | 'hole' | 'flaw' | 'piece';

/** A cloth in its own frame. */
export interface ClothShape {
  /** None: a table without an end. */
  readonly outline: RingMm | null;
  readonly holes: readonly RingMm[];
  readonly flaws: readonly FlawShape[];
}

export interface FlawShape {
  readonly id: string;
  readonly polygon: RingMm;
  /** What is good enough for it lies on it: 0 nothing, 1 what is hidden, 2 what is hardly seen. */
  readonly quality: number;
}

/** Distances that are kept. */
export interface GapsMm {
  readonly piecesMm: Mm;
  readonly edgeMm: Mm;
  readonly holeMm: Mm;
}

/** A piece that lies on the cloth: its cut line in the frame of the cloth. */
export interface LaidShape {
  readonly id: string;
  readonly outline: RingMm;
}

/** One ring that forbids a place. */
export interface Hazard {
  readonly kind: HazardKind;
  readonly id: string;
  /** Counter-clockwise. */
  readonly ring: RingMm;
  readonly box: BoxMm;
  readonly gapMm: Mm;
  /** Only for a flaw: pieces that need better cloth than this may not lie on it. */
  readonly quality: number;
  /** A point well inside of the ring. */
  readonly inner: PointMm;
}

const CELL_MM: Mm = 40;
/** Cells along one side at most, however large the table. */
const MOST_CELLS = 160;

function hazard(kind: HazardKind, id: string, ring: RingMm, gapMm: Mm, quality = 0): Hazard {
  const turned = counterClockwise(ring);
  return { kind, id, ring: turned, box: boundsOf(turned), gapMm, quality, inner: innerPoint(turned) };
}

/** The hazards of a lay: `edge` first where the cloth has one. */
export function hazardsOf(cloth: ClothShape, gaps: GapsMm, laid: readonly LaidShape[]): Hazard[] {
  return [
    ...(cloth.outline === null ? [] : [hazard('edge', 'edge', cloth.outline, gaps.edgeMm)]),
    ...cloth.holes.map((ring, i) => hazard('hole', `hole ${i + 1}`, ring, gaps.holeMm)),
    ...cloth.flaws.map((flaw) => hazard('flaw', flaw.id, flaw.polygon, 0, flaw.quality)),
    ...laid.map((one) => hazard('piece', one.id, one.outline, gaps.piecesMm)),
  ];
}

/** A point inside a ring, in the middle of the widest stretch of one of some level lines. */
export function innerPoint(ring: RingMm): PointMm {
  const [, bottom, , top] = boundsOf(ring);
  let best: PointMm = ring[0] ?? [0, 0];
  let widest = 0;
  // no round shares: level sides and corners of drawn shapes lie at round heights
  for (const share of [0.4837, 0.2713, 0.7391, 0.6229, 0.3719, 0.1307, 0.8713, 0.0571, 0.9453]) {
    const y = bottom + share * (top - bottom);
    const crossings: number[] = [];
    let p = ring[ring.length - 1] as PointMm;
    for (const q of ring) {
      if (p[1] > y !== q[1] > y) crossings.push(p[0] + ((y - p[1]) / (q[1] - p[1])) * (q[0] - p[0]));
      p = q;
    }
    crossings.sort((a, b) => a - b);
    for (let i = 0; i + 1 < crossings.length; i += 2) {
      const [a, b] = [crossings[i] as number, crossings[i + 1] as number];
      if (b - a > widest) {
        widest = b - a;
        best = [(a + b) / 2, y];
      }
    }
  }
  return best;
}

/** The sides of all hazards in flat arrays, and a grid that finds those near a box. */
export class SideGrid {
  readonly x0: Float64Array;
  readonly y0: Float64Array;
  readonly x1: Float64Array;
  readonly y1: Float64Array;
  /** Index of the hazard that a side belongs to. */
  readonly owner: Int32Array;
  /** What `gather` found: the first `n` entries. */
  readonly found: Int32Array;
  readonly #left: Mm;
  readonly #bottom: Mm;
  readonly #cell: Mm;
  readonly #columns: number;
  readonly #rows: number;
  readonly #first: Int32Array;
  readonly #listed: Int32Array;
  readonly #stamp: Int32Array;
  #now = 0;

  constructor(rings: readonly RingMm[]) {
    const count = rings.reduce((sum, ring) => sum + ring.length, 0);
    this.x0 = new Float64Array(count);
    this.y0 = new Float64Array(count);
    this.x1 = new Float64Array(count);
    this.y1 = new Float64Array(count);
    this.owner = new Int32Array(count);
    this.found = new Int32Array(count);
    this.#stamp = new Int32Array(count);
    let k = 0;
    rings.forEach((ring, o) => {
      ring.forEach((p, i) => {
        const q = ring[(i + 1) % ring.length] as PointMm;
        this.x0[k] = p[0];
        this.y0[k] = p[1];
        this.x1[k] = q[0];
        this.y1[k] = q[1];
        this.owner[k++] = o;
      });
    });
    const [left, bottom, right, top] = count > 0 ? boundsOf(rings.flat()) : [0, 0, 0, 0];
    this.#left = left;
    this.#bottom = bottom;
    this.#cell = Math.max(CELL_MM, (right - left) / MOST_CELLS, (top - bottom) / MOST_CELLS);
    this.#columns = Math.floor((right - left) / this.#cell) + 1;
    this.#rows = Math.floor((top - bottom) / this.#cell) + 1;
    this.#first = new Int32Array(this.#columns * this.#rows + 1);
    // twice over the sides: count what each cell holds, then list it
    for (let s = 0; s < count; s++) this.#eachCell(s, (cell) => void this.#first[cell + 1]!++);
    for (let c = 1; c < this.#first.length; c++) this.#first[c]! += this.#first[c - 1]!;
    this.#listed = new Int32Array(this.#first[this.#first.length - 1]!);
    const next = this.#first.slice();
    for (let s = 0; s < count; s++) this.#eachCell(s, (cell) => void (this.#listed[next[cell]!++] = s));
  }

  #column(x: Mm): number {
    return Math.min(Math.max(Math.floor((x - this.#left) / this.#cell), 0), this.#columns - 1);
  }

  #row(y: Mm): number {
    return Math.min(Math.max(Math.floor((y - this.#bottom) / this.#cell), 0), this.#rows - 1);
  }

  /** Calls `each` with the cells that a side passes through. */
  #eachCell(s: number, each: (cell: number) => void): void {
    const [x0, y0, x1, y1] = [this.x0[s]!, this.y0[s]!, this.x1[s]!, this.y1[s]!];
    const low = this.#row(Math.min(y0, y1));
    const high = this.#row(Math.max(y0, y1));
    for (let row = low; row <= high; row++) {
      let [a, b] = [x0, x1];
      if (low !== high) {
        // only what lies in this row, with a hair to spare
        const from = this.#bottom + row * this.#cell - 1e-6;
        const to = from + this.#cell + 2e-6;
        const at = (y: Mm): Mm => x0 + Math.min(Math.max((y - y0) / (y1 - y0), 0), 1) * (x1 - x0);
        a = at(from);
        b = at(to);
      }
      const last = this.#column(Math.max(a, b) + 1e-6);
      for (let column = this.#column(Math.min(a, b) - 1e-6); column <= last; column++) each(row * this.#columns + column);
    }
  }

  /** Put the sides of cells that a box touches into `found`, each once; returns how many. */
  gather(left: Mm, bottom: Mm, right: Mm, top: Mm, active: Uint8Array): number {
    const stamp = ++this.#now;
    let n = 0;
    const lastRow = this.#row(top);
    const firstColumn = this.#column(left);
    const lastColumn = this.#column(right);
    for (let row = this.#row(bottom); row <= lastRow; row++) {
      const from = this.#first[row * this.#columns + firstColumn]!;
      const to = this.#first[row * this.#columns + lastColumn + 1]!;
      for (let i = from; i < to; i++) {
        const s = this.#listed[i]!;
        if (this.#stamp[s] === stamp) continue;
        this.#stamp[s] = stamp;
        if (active[this.owner[s]!] === 0) continue;
        const [x0, x1] = [this.x0[s]!, this.x1[s]!];
        if ((x0 < left && x1 < left) || (x0 > right && x1 > right)) continue;
        const [y0, y1] = [this.y0[s]!, this.y1[s]!];
        if ((y0 < bottom && y1 < bottom) || (y0 > top && y1 > top)) continue;
        this.found[n++] = s;
      }
    }
    return n;
  }
}
