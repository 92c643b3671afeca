/**
 * One piece in the hand: where it comes to lie when it is carried, turned or turned over, among what lies there
 * already. Everything that one gesture needs is prepared once; then each step is a small computation.
 */

import type { ClothView, LayView } from '../../client/types.gen';
import type { LayHazards } from '../../core/geometry/collide';
import { centroid, contains, distanceToRingMm } from '../../core/geometry/polygon';
import {
  allowedTurnDeg, apply, applyVector, grainTurnsDeg, moveOf, turnedOver, turnedTo, turnFromToDeg, type Placement,
} from '../../core/geometry/rigid';
import type { Point } from '../../core/geometry-types';
import type { Arranged } from './arrange';
import { copiesOf, grainRule, mayTurnOver, placementOf, type Copy } from './copies';
import { groundOf, hazardsOn, type Ground } from './ground';

/** Where the piece in the hand is. */
export interface Held {
  id: string;
  /** The cloth that it lies on, `at` being in that cloth's frame; null: over the table, in the table's frame. */
  cloth: string | null;
  at: Placement;
  /** What it runs into, by id of the copy, or `edge`, `hole`, `flaw`; empty: it can lie here. */
  hits: readonly string[];
}

/** A piece that is brought to a cloth finds a place within so much of where the hand is, or shows what is in its way. */
const SETTLE_MM = 120;
/** A turn may shift a piece by so much to find room. */
const SHIFT_MM = 60;
/** Steps of the search for a place anywhere. */
const SEARCH_MM = 25;
/** Two turns count as the same. */
const SAME_DEG = 1e-6;

export class Grip {
  readonly copy: Copy;
  readonly start: Held;
  /** A point in the middle of the piece, in its own frame. */
  readonly middle: Point;
  private readonly others: readonly Copy[];
  private readonly hazards = new Map<string, LayHazards>();
  private readonly grounds = new Map<string, Ground>();

  private constructor(
    copy: Copy,
    private readonly lay: LayView,
    private readonly arranged: Arranged,
  ) {
    this.copy = copy;
    this.middle = centroid(copy.piece.outline);
    this.others = copiesOf(lay).filter((one) => one.id !== copy.id && one.laid !== null);
    const slot = arranged.slots.get(copy.id) ?? { turnDeg: 0, xMm: 0, yMm: 0, mirrored: false };
    this.start = copy.laid
      ? { id: copy.id, cloth: copy.laid.cloth, at: placementOf(copy.laid), hits: [] }
      : { id: copy.id, cloth: null, at: slot, hits: [] };
  }

  /** Take a copy in the hand; none: there is no such copy. */
  static of(lay: LayView, arranged: Arranged, id: string): Grip | null {
    const copy = copiesOf(lay).find((one) => one.id === id);
    return copy ? new Grip(copy, lay, arranged) : null;
  }

  /** A point of the table, in the frame of what the piece lies on. */
  inFrame(cloth: string | null, at: Point): Point {
    const by = this.offset(cloth);
    return [at[0] - by[0], at[1] - by[1]];
  }

  /** Where the middle of the piece is, on the table. */
  middleOnTable(held: Held): Point {
    const by = this.offset(held.cloth);
    const [x, y] = apply(moveOf(held.at), this.middle);
    return [x + by[0], y + by[1]];
  }

  /** The point of the piece, in its own frame, that is at a place of the table. */
  pointUnder(held: Held, at: Point): Point {
    const [x, y] = this.inFrame(held.cloth, at);
    const { a, b, c, d, tx, ty } = moveOf(held.at);
    // the turning part of a rigid move is undone by its transpose
    return [a * (x - tx) + c * (y - ty), b * (x - tx) + d * (y - ty)];
  }

  /**
   * Carry the piece so that its point `hold` follows the hand at `to` (table). It slides along what is in its way,
   * is lifted over it when there is room under the hand, and leaves its cloth when the hand is `leave_mm` outside.
   * What it comes nearer to than `snap_mm` it touches.
   */
  carry(now: Held, hold: Point, to: Point, leave_mm: number, snap_mm: number): Held {
    const cloth = this.clothUnder(now, hold, to, leave_mm);
    if (cloth === null) return { id: now.id, cloth: null, at: this.under(now.at, hold, to), hits: [] };
    const stays = now.cloth === cloth.id;
    const lies = stays ? now.at : this.fitting(now, cloth);
    const wanted = this.under(lies, hold, this.inFrame(cloth.id, to));
    const ground = this.ground(cloth, wanted);
    const spot: Point = [wanted.xMm, wanted.yMm];
    if (ground.free(spot)) return this.held(cloth, wanted, ground.touch(spot, snap_mm), []);
    if (stays && now.hits.length === 0) {
      const end = ground.slide([now.at.xMm, now.at.yMm], spot);
      return this.held(cloth, wanted, ground.touch(end, snap_mm), []);
    }
    const near = ground.near(spot, SETTLE_MM);
    return near ? this.held(cloth, wanted, near, []) : this.held(cloth, wanted, spot, ground.hits(spot));
  }

  /** Move it by so much on its cloth; it stops at what is in its way. */
  nudge(now: Held, dx: number, dy: number): Held {
    const cloth = this.cloth(now.cloth);
    const spot: Point = [now.at.xMm + dx, now.at.yMm + dy];
    if (!cloth) return now;
    const ground = this.ground(cloth, now.at);
    return this.held(cloth, now.at, ground.slide([now.at.xMm, now.at.yMm], spot), []);
  }

  /** Turn it about its middle to the allowed turn nearest to the one wanted. */
  turn(now: Held, wantedDeg: number): Held {
    const cloth = this.cloth(now.cloth);
    const turnDeg = cloth ? allowedTurnDeg(wantedDeg, grainRule(this.copy.piece, cloth)) : wantedDeg;
    return this.settled(now, cloth, turnedTo(now.at, turnDeg, apply(moveOf(now.at), this.middle)));
  }

  /** Turn it to the next turn that the grain allows, or by `freeDeg` where any will do. */
  step(now: Held, way: 1 | -1, freeDeg: number): Held {
    const cloth = this.cloth(now.cloth);
    const rule = cloth ? grainRule(this.copy.piece, cloth) : null;
    const turns = rule ? grainTurnsDeg(rule) : [];
    if (turns.length === 0) return this.turn(now, now.at.turnDeg + way * freeDeg);
    // the nearest one that lies ahead; a full turn on when there is only one
    const ahead = turns.map((deg) => {
      const by = way * turnFromToDeg(now.at.turnDeg, deg);
      return { deg, by: by > SAME_DEG ? by : by + 360 };
    });
    const next = ahead.reduce((a, b) => (b.by < a.by ? b : a));
    return this.turn(now, next.deg);
  }

  /** Tilt it a little off the grain, as far as the piece allows. */
  tilt(now: Held, byDeg: number): Held {
    return this.turn(now, now.at.turnDeg + byDeg);
  }

  /** Turn it over, where the cloth has no right side. */
  turnOver(now: Held): Held {
    const cloth = this.cloth(now.cloth);
    if (!cloth || !mayTurnOver(this.copy.piece, cloth)) return now;
    const over = turnedOver(now.at, apply(moveOf(now.at), this.middle));
    const allowed = allowedTurnDeg(over.turnDeg, grainRule(this.copy.piece, cloth));
    return this.settled(now, cloth, turnedTo(over, allowed, apply(moveOf(over), this.middle)));
  }

  /** A free place on a cloth, from its lower left corner; none: there is none in the turns that are allowed. */
  placeOn(clothId: string): Held | null {
    const cloth = this.cloth(clothId);
    if (!cloth) return null;
    const rule = grainRule(this.copy.piece, cloth);
    const lies = this.fitting(this.start, cloth);
    const turns = [lies.turnDeg, ...grainTurnsDeg(rule)];
    const xs = cloth.outline.map((p) => p[0]), ys = cloth.outline.map((p) => p[1]);
    for (const turnDeg of new Set(turns)) {
      const turned = { ...lies, turnDeg, xMm: 0, yMm: 0 };
      const middle = apply(moveOf(turned), this.middle);
      const ground = this.ground(cloth, turned);
      for (let y = Math.min(...ys); y < Math.max(...ys); y += SEARCH_MM) {
        for (let x = Math.min(...xs); x < Math.max(...xs); x += SEARCH_MM) {
          const spot: Point = [x - middle[0], y - middle[1]];
          if (ground.free(spot)) return this.held(cloth, turned, spot, []);
        }
      }
    }
    return null;
  }

  private settled(now: Held, cloth: ClothView | null, at: Placement): Held {
    if (!cloth) return { ...now, at, hits: [] };
    const ground = this.ground(cloth, at);
    const spot: Point = [at.xMm, at.yMm];
    const near = ground.near(spot, SHIFT_MM);
    return near ? this.held(cloth, at, near, []) : this.held(cloth, at, spot, ground.hits(spot));
  }

  private held(cloth: ClothView, lies: Placement, at: Point, hits: readonly string[]): Held {
    return { id: this.copy.id, cloth: cloth.id, at: { ...lies, xMm: at[0], yMm: at[1] }, hits };
  }

  /** The turn and side with which the piece comes to a cloth. */
  private fitting(now: Held, cloth: ClothView): Placement {
    const from = this.cloth(now.cloth);
    const mirrored = now.at.mirrored && mayTurnOver(this.copy.piece, cloth);
    const kept = (from?.grain_deg ?? 90) - 90;
    const wanted = now.at.turnDeg - kept + ((cloth.grain_deg ?? 90) - 90);
    return { ...now.at, mirrored, turnDeg: allowedTurnDeg(wanted, grainRule(this.copy.piece, cloth)) };
  }

  /** The placement, turned as it lies, that brings a point of the piece under a place of the same frame. */
  private under(lies: Placement, hold: Point, to: Point): Placement {
    const [x, y] = applyVector(moveOf(lies), hold);
    return { ...lies, xMm: to[0] - x, yMm: to[1] - y };
  }

  private clothUnder(now: Held, hold: Point, to: Point, leave_mm: number): ClothView | null {
    const turned = applyVector(moveOf(now.at), [this.middle[0] - hold[0], this.middle[1] - hold[1]]);
    const middle: Point = [to[0] + turned[0], to[1] + turned[1]];
    const shown = this.lay.cloths.filter((cloth) => this.arranged.cloths.has(cloth.id));
    for (const at of [to, middle]) {
      const inside = shown.find((cloth) => contains(cloth.outline, this.inFrame(cloth.id, at)));
      if (inside) return inside;
    }
    const last = this.cloth(now.cloth);
    return last && distanceToRingMm(last.outline, this.inFrame(last.id, to)) <= leave_mm ? last : null;
  }

  private ground(cloth: ClothView, lies: Placement): Ground {
    const key = `${cloth.id} ${lies.turnDeg.toFixed(4)} ${lies.mirrored}`;
    const found = this.grounds.get(key);
    if (found) return found;
    const hazards = this.hazards.get(cloth.id) ?? hazardsOn(cloth, this.others, this.lay);
    this.hazards.set(cloth.id, hazards);
    const made = groundOf(hazards, this.copy.piece, lies);
    this.grounds.set(key, made);
    return made;
  }

  private cloth(id: string | null): ClothView | null {
    return this.lay.cloths.find((cloth) => cloth.id === id) ?? null;
  }

  private offset(cloth: string | null): Point {
    return (cloth === null ? null : this.arranged.cloths.get(cloth)) ?? [0, 0];
  }
}
