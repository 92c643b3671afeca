/**
 * True collision while a piece is moved by hand: what it runs into, how it slides along, where it finds room.
 *
 * The verdict agrees with the exact check of a lay (`eke.cutting.check_lay`, goldens in `tests/shared/lays.json`):
 * what is free here passes there. A lay is prepared once (`LayHazards`), a piece in the hand once for each turn
 * (`Carried`); each step of the hand is then a small computation.
 *
 * Shifting is exact: two outlines first meet where a corner of the one comes within the gap of a side of the other,
 * so the shortest of all such ways is how far the piece goes.
 */

import { SideGrid, hazardsOf, innerPoint } from './hazards';
import type { ClothShape, GapsMm, Hazard, HazardKind, LaidShape } from './hazards';
import { nearestEnd, overlap, TOUCH_MM, touchesDeeply, type Touches } from './overlap';
import { boundsOf, boxesMeet, contains, counterClockwise } from './polygon';
import { placed, turnedTo, type Placement } from './rigid';
import { meetSide, sides2, type Meeting } from './sweep';
import { distanceMm, type BoxMm, type Deg, type Mm, type PointMm, type RingMm } from './units';

export type { ClothShape, FlawShape, GapsMm, HazardKind, LaidShape } from './hazards';

/** A piece that is moved: its cut line in its own frame, grain along +y. */
export interface Mover {
  /** Of the copy: where it lies already is no hindrance to it. */
  readonly id: string;
  readonly outline: RingMm;
  /** The poorest cloth that is good enough: 3 where only sound cloth is. */
  readonly leastQuality?: number;
}

/** What a piece runs into. */
export interface Hit {
  readonly kind: HazardKind;
  /** Of the piece or flaw; `edge`; `hole 1` and so on. */
  readonly id: string;
  /** How far it reaches in, the gap counted: it must be moved by at least so much. */
  readonly depthMm: Mm;
  /** Where, on the cloth. */
  readonly at: PointMm;
}

/** Where a piece comes to lie that was moved towards a place. */
export interface Slide {
  readonly at: PointMm;
  /** Whether it came to where it was wanted. */
  readonly arrived: boolean;
  /** What it lies against, in the order met. */
  readonly against: readonly { readonly kind: HazardKind; readonly id: string }[];
}

/** What came of turning a piece. */
export interface Turned {
  /** As wanted, shifted a little where that made room, or as it was. */
  readonly placement: Placement;
  readonly done: boolean;
  readonly shiftedMm: Mm;
  /** What was in the way, when it was not done. */
  readonly hits: readonly Hit[];
}

const SOUND = 3;
/** The exact check lets a gap fall short by 0.02 mm, for rounding; less is let pass here. */
const SLACK_MM: Mm = 0.015;
/** Kept beyond the gap by a piece that slides, so that rounding never takes the gap away. */
const SKIN_MM: Mm = 0.005;
/** What is left of a way and is not worth going. */
const ARRIVED_MM: Mm = 1e-3;
/** A piece that stands a little within a gap finds its way out by so much before it slides. */
const STUCK_MM: Mm = 1;
/** Bends of one slide at most: sides of curved outlines that it passes. */
const MOST_BENDS = 32;
/** A long way is gone in parts, so that only what lies near is looked at. */
const PART_MM: Mm = 60;
/** Distances and directions in which room is looked for round a place, nearest first. */
const RINGS_MM: readonly Mm[] = [0.02, 0.2, 1, 3, 7, 14, 25, 40, 60, 85, 115, 150, 200, 260, 340];
const WAYS = 24;

/**
 * Looking for room, and sliding, end when so many pairs of sides have been tested, so that the hand never waits: some
 * milliseconds on a slow laptop. `collide.test.ts` counts what a step of the hand tests (80 closely laid pieces of 120
 * points: 15,000 pairs at the most, 350 for a step of a centimetre) and holds it below `STEP_PAIRS`.
 */
const ROOM_PAIRS = 60_000;
const SLIDE_PAIRS = 20_000;
export const STEP_PAIRS = 100_000;
/** Directions in which something to touch is looked for. */
const FEELERS = 12;

/** Everything that forbids a place on one cloth, prepared once for a lay. */
export class LayHazards {
  /** Pairs of sides that have been tested so far. */
  tested = 0;
  readonly hazards: readonly Hazard[];
  readonly grid: SideGrid;
  readonly widestGapMm: Mm;

  constructor(cloth: ClothShape, gaps: GapsMm, laid: readonly LaidShape[]) {
    this.hazards = hazardsOf(cloth, gaps, laid);
    this.grid = new SideGrid(this.hazards.map((one) => one.ring));
    this.widestGapMm = Math.max(0, ...this.hazards.map((one) => one.gapMm));
  }

  /** Take a piece in the hand at a turn, to be shifted; where the placement has it is left aside. */
  carry(mover: Mover, turn: Pick<Placement, 'turnDeg' | 'mirrored'>): Carried {
    return new Carried(this, mover, turn);
  }

  hits(mover: Mover, placement: Placement): Hit[] {
    return this.carry(mover, placement).hits([placement.xMm, placement.yMm]);
  }

  isFree(mover: Mover, placement: Placement): boolean {
    return this.carry(mover, placement).isFree([placement.xMm, placement.yMm]);
  }

  /** Move a piece towards a place with its turn kept; see `Carried.slide`. */
  slideTo(mover: Mover, from: Placement, wanted: PointMm): Slide & { readonly placement: Placement } {
    const slide = this.carry(mover, from).slide([from.xMm, from.yMm], wanted);
    return { ...slide, placement: { ...from, xMm: slide.at[0], yMm: slide.at[1] } };
  }

  /**
   * Turn a piece about a point of the cloth. Where it has no room then, it is shifted by up to `shiftMm`; where that
   * does not help it stays as it was.
   */
  turn(mover: Mover, from: Placement, turnDeg: Deg, about: PointMm, shiftMm: Mm): Turned {
    const wanted = turnedTo(from, turnDeg, about);
    const carried = this.carry(mover, wanted);
    const at: PointMm = [wanted.xMm, wanted.yMm];
    const found = carried.near(at, shiftMm);
    if (found === null) return { placement: from, done: false, shiftedMm: 0, hits: carried.hits(at) };
    const placement = { ...wanted, xMm: found[0], yMm: found[1] };
    return { placement, done: true, shiftedMm: distanceMm(found, at), hits: [] };
  }
}

/** A piece in the hand at one turn: it is only shifted. Places are those of its origin on the cloth. */
export class Carried {
  readonly #lay: LayHazards;
  /** The outline with the origin of the piece at 0, 0; counter-clockwise. */
  readonly #ring: RingMm;
  readonly #box: BoxMm;
  readonly #inner: PointMm;
  /** Which hazards count for this piece. */
  readonly #active: Uint8Array;

  constructor(lay: LayHazards, mover: Mover, turn: Pick<Placement, 'turnDeg' | 'mirrored'>) {
    this.#lay = lay;
    this.#ring = counterClockwise(placed(mover.outline, { ...turn, xMm: 0, yMm: 0 }));
    this.#box = boundsOf(this.#ring);
    this.#inner = innerPoint(this.#ring);
    const least = mover.leastQuality ?? SOUND;
    this.#active = Uint8Array.from(lay.hazards, (one) =>
      (one.kind === 'piece' && one.id === mover.id) || (one.kind === 'flaw' && one.quality >= least) ? 0 : 1,
    );
  }

  /** The outline with the piece at a place. */
  outlineAt(at: PointMm): PointMm[] {
    return this.#ring.map(([x, y]): PointMm => [x + at[0], y + at[1]]);
  }

  isFree(at: PointMm): boolean {
    return this.#caught(at, true).size === 0;
  }

  /** What the piece runs into at a place, deepest first; empty: it can lie there. */
  hits(at: PointMm): Hit[] {
    const ring = this.outlineAt(at);
    const found: Hit[] = [];
    for (const [index, near] of this.#caught(at, false)) {
      const one = this.#lay.hazards[index] as Hazard;
      const over = near.mm > 0 ? { depthMm: -near.mm, at: near.at } : overlap(ring, one);
      found.push({ kind: one.kind, id: one.id, depthMm: one.gapMm + over.depthMm, at: over.at });
    }
    return found.sort((a, b) => b.depthMm - a.depthMm);
  }

  /** What is in the way at a place, without how deep: cheap enough for every step of the hand. */
  inTheWay(at: PointMm): { readonly kind: HazardKind; readonly id: string }[] {
    return [...this.#caught(at, false).keys()].map((index) => this.#lay.hazards[index] as Hazard);
  }

  /** Indices of the hazards that forbid a place, with how near they are, and where. */
  #caught(at: PointMm, onlyOne: boolean): Map<number, Near> {
    const { hazards, grid, widestGapMm } = this.#lay;
    const caught = new Map<number, Near>();
    const touching = new Map<number, Touches>();
    const ring = this.#ring;
    const [ox, oy] = at;
    let p = ring[ring.length - 1] as PointMm;
    for (let i = 0; i < ring.length; i++) {
      const q = ring[i] as PointMm;
      const [ax, ay, bx, by] = [p[0] + ox, p[1] + oy, q[0] + ox, q[1] + oy];
      p = q;
      const reach = widestGapMm + TOUCH_MM;
      const n = grid.gather(
        Math.min(ax, bx) - reach, Math.min(ay, by) - reach, Math.max(ax, bx) + reach, Math.max(ay, by) + reach,
        this.#active,
      );
      this.#lay.tested += n;
      for (let k = 0; k < n; k++) {
        const s = grid.found[k]!;
        const owner = grid.owner[s]!;
        const gap = Math.max((hazards[owner] as Hazard).gapMm - SLACK_MM, 0);
        const [cx, cy, dx, dy] = [grid.x0[s]!, grid.y0[s]!, grid.x1[s]!, grid.y1[s]!];
        const apart2 = sides2(ax, ay, bx, by, cx, cy, dx, dy, TOUCH_MM);
        if (apart2 < 0 || (gap > 0 && apart2 < gap * gap)) {
          if (onlyOne) return caught.set(owner, OVER);
          const mm = apart2 > 0 ? Math.sqrt(apart2) : 0;
          if (mm < (caught.get(owner)?.mm ?? Infinity)) {
            caught.set(owner, mm > 0 ? { mm, at: nearestEnd([[ax, ay], [bx, by]], [[cx, cy], [dx, dy]]) } : OVER);
          }
        } else if (gap === 0 && apart2 <= TOUCH_MM * TOUCH_MM) {
          const touch = touching.get(owner) ?? { mine: new Set<number>(), theirs: new Set<number>() };
          touch.mine.add(i);
          touch.theirs.add(s);
          touching.set(owner, touch);
        }
      }
    }
    for (let o = 0; o < hazards.length; o++) {
      if (this.#active[o] === 0 || caught.get(o) === OVER) continue;
      if (this.#covers(hazards[o] as Hazard, at, touching.get(o))) caught.set(o, OVER);
      if (onlyOne && caught.size > 0) return caught;
    }
    return caught;
  }

  /** Whether the piece lies over a hazard (or beyond the edge of the cloth) where no sides pass through each other. */
  #covers(one: Hazard, at: PointMm, touch: Touches | undefined): boolean {
    const around = one.kind === 'edge';
    if (!boxesMeet(shifted(this.#box, at), one.box)) return around;
    const inner: PointMm = [this.#inner[0] + at[0], this.#inner[1] + at[1]];
    if (contains(one.ring, inner) !== around) return true;
    const outline = this.outlineAt(at);
    if (touch === undefined) return contains(outline, around ? (one.ring[0] as PointMm) : one.inner);
    if (!around && contains(outline, one.inner)) return true;
    return touchesDeeply(outline, one.ring, around, touch, this.#lay.grid);
  }

  /**
   * Go from a place towards another as far as there is room, along whatever is in the way: at the end no step
   * along what it lies against brings it nearer to where it is wanted. Ends at `from` when there is no room even
   * there and none close by.
   */
  slide(from: PointMm, wanted: PointMm): Slide {
    const start = this.isFree(from) ? from : this.near(from, STUCK_MM);
    if (start === null) return { at: from, arrived: false, against: [] };
    const met = new Map<number, Meeting>();
    const passed: PointMm[] = [start];
    let here = start;
    let walls: Meeting[] = [];
    const enough = this.#lay.tested + SLIDE_PAIRS;
    for (let bend = 0; bend < MOST_BENDS && this.#lay.tested < enough; bend++) {
      const way = along([wanted[0] - here[0], wanted[1] - here[1]], walls);
      if (way === null) break;
      const [dx, dy] = way;
      if (Math.hypot(dx, dy) < ARRIVED_MM) break;
      const first = this.#sweep(here, dx, dy);
      const t = Math.min(first.t, 1);
      here = [here[0] + t * dx, here[1] + t * dy];
      passed.push(here);
      if (t * Math.hypot(dx, dy) > ARRIVED_MM) {
        walls = [];
        met.clear();
      }
      if (first.owner >= 0) {
        walls.push(first);
        met.set(first.owner, first);
      } else if (distanceMm(here, wanted) < ARRIVED_MM) {
        break;
      }
    }
    // rounding has the last word: the last place that is surely free
    while (passed.length > 1 && !this.isFree(here)) {
      passed.pop();
      here = passed[passed.length - 1] as PointMm;
    }
    const arrived = distanceMm(here, wanted) <= ARRIVED_MM;
    const against = [...met.keys()].map((o) => this.#lay.hazards[o] as Hazard);
    return { at: here, arrived, against: arrived ? [] : against.map(({ kind, id }) => ({ kind, id })) };
  }

  /** A free place as near as can be found to another one, or null when none is found within a distance. */
  near(wanted: PointMm, withinMm: Mm): PointMm | null {
    if (this.isFree(wanted)) return wanted;
    const enough = this.#lay.tested + ROOM_PAIRS;
    for (const radius of RINGS_MM) {
      if (radius > withinMm) break;
      let best: PointMm | null = null;
      let least = withinMm;
      for (let i = 0; i < WAYS && this.#lay.tested < enough; i++) {
        const rad = (2 * Math.PI * i) / WAYS;
        const spot: PointMm = [wanted[0] + radius * Math.cos(rad), wanted[1] + radius * Math.sin(rad)];
        if (!this.isFree(spot)) continue;
        const close = this.slide(spot, wanted).at;
        const away = distanceMm(close, wanted);
        if (away < least) [best, least] = [close, away];
      }
      if (best !== null) return best;
    }
    return null;
  }

  /**
   * From a free place to the nearest one at which the piece touches something, and on along that into a corner, each
   * within a distance; the place itself where nothing is so near.
   */
  touch(at: PointMm, withinMm: Mm): PointMm {
    const first = this.#feel(at, withinMm, null);
    if (first === null) return at;
    const second = this.#feel(first.at, withinMm, first.wall);
    return [second?.at, first.at].find((one) => one !== undefined && this.isFree(one)) ?? at;
  }

  /** What is touched first: all round, or along a wall that is touched already. */
  #feel(at: PointMm, withinMm: Mm, wall: Meeting | null): { at: PointMm; wall: Meeting } | null {
    const ways = wall
      ? [[-wall.ny, wall.nx], [wall.ny, -wall.nx]]
      : Array.from({ length: FEELERS }, (_, i) => [Math.cos((2 * Math.PI * i) / FEELERS), Math.sin((2 * Math.PI * i) / FEELERS)]);
    let best: { at: PointMm; wall: Meeting } | null = null;
    let least = withinMm;
    const look = (x: number, y: number): Meeting => {
      const met = this.#sweep(at, x * withinMm, y * withinMm);
      if (met.owner >= 0 && met.t * withinMm <= least) {
        least = met.t * withinMm;
        best = { at: [at[0] + x * least, at[1] + y * least], wall: met };
      }
      return met;
    };
    // straight at what was met aslant is the shortest way to it
    for (const [x, y] of ways as [number, number][]) {
      const met = look(x, y);
      if (met.owner >= 0 && !wall) look(-met.nx, -met.ny);
    }
    return best;
  }

  /** How far the piece goes along a vector before it comes within the gap of anything. */
  #sweep(at: PointMm, dx: Mm, dy: Mm): Meeting {
    const parts = Math.max(1, Math.ceil(Math.hypot(dx, dy) / PART_MM));
    for (let part = 0; part < parts; part++) {
      const from: PointMm = [at[0] + (part / parts) * dx, at[1] + (part / parts) * dy];
      const first = this.#sweepPart(from, dx / parts, dy / parts);
      if (first.owner >= 0) return { ...first, t: (part + first.t) / parts };
    }
    return { t: 1, nx: 0, ny: 0, owner: -1 };
  }

  #sweepPart(at: PointMm, dx: Mm, dy: Mm): Meeting {
    const { hazards, grid, widestGapMm } = this.#lay;
    const best: Meeting = { t: 1, nx: 0, ny: 0, owner: -1 };
    const reach = widestGapMm + SKIN_MM;
    const ring = this.#ring;
    let p = ring[ring.length - 1] as PointMm;
    for (const q of ring) {
      const [ax, ay, bx, by] = [p[0] + at[0], p[1] + at[1], q[0] + at[0], q[1] + at[1]];
      p = q;
      const n = grid.gather(
        Math.min(ax, bx) + Math.min(dx, 0) - reach, Math.min(ay, by) + Math.min(dy, 0) - reach,
        Math.max(ax, bx) + Math.max(dx, 0) + reach, Math.max(ay, by) + Math.max(dy, 0) + reach,
        this.#active,
      );
      if (n === 0) continue;
      this.#lay.tested += n;
      const long = Math.hypot(bx - ax, by - ay) || 1;
      // the inside of the piece lies to the left of its sides: away from a corner that it runs into
      const [ix, iy] = [(by - ay) / long, (ax - bx) / long];
      for (let k = 0; k < n; k++) {
        const s = grid.found[k]!;
        const owner = grid.owner[s]!;
        const one = hazards[owner] as Hazard;
        const r = one.gapMm + SKIN_MM;
        const [cx, cy, ex, ey] = [grid.x0[s]!, grid.y0[s]!, grid.x1[s]!, grid.y1[s]!];
        const side = Math.hypot(ex - cx, ey - cy) || 1;
        // free is to the right of a ring, but inside of the edge of the cloth
        const free = one.kind === 'edge' ? -1 : 1;
        const [fx, fy] = [(free * (ey - cy)) / side, (free * (cx - ex)) / side];
        meetSide(ax, ay, dx, dy, cx, cy, ex, ey, r, fx, fy, 1, owner, best);
        meetSide(cx, cy, -dx, -dy, ax, ay, bx, by, r, ix, iy, -1, owner, best);
      }
    }
    return best;
  }
}

/**
 * The way that leads nearest to where one wants to go and into no wall: straight on, along one of the walls, or
 * (between two of them) none.
 */
function along(wanted: PointMm, walls: readonly Meeting[]): PointMm | null {
  const size = Math.hypot(wanted[0], wanted[1]);
  const open = ([x, y]: PointMm): boolean => walls.every((wall) => x * wall.nx + y * wall.ny >= -1e-9 * size);
  if (open(wanted)) return wanted;
  let best: PointMm | null = null;
  for (const wall of walls) {
    const into = wanted[0] * wall.nx + wanted[1] * wall.ny;
    if (into >= 0) continue;
    const way: PointMm = [wanted[0] - into * wall.nx, wanted[1] - into * wall.ny];
    if (open(way) && (best === null || Math.hypot(...way) > Math.hypot(...best))) best = way;
  }
  return best;
}

/** How near a hazard is, and where. */
interface Near {
  readonly mm: Mm;
  readonly at: PointMm;
}

/** The shapes overlap. */
const OVER: Near = { mm: 0, at: [0, 0] };

function shifted(box: BoxMm, by: PointMm): BoxMm {
  return [box[0] + by[0], box[1] + by[1], box[2] + by[0], box[3] + by[1]];
}
