/**
 * What a piece may run into on a cloth: neighbours, the edge, holes, flaws. The piece is turned already and only
 * shifted here, so that a step along a line has an exact end: a corner of the one meets a side of the other, or
 * comes within the gap that is to be kept.
 */

import type { ClothView, CutPieceView, LayView } from '../../client/types.gen';
import { boundsOf, contains, distanceOfSidesMm } from '../../core/geometry/polygon';
import { placed, type Placement } from '../../core/geometry/rigid';
import type { BoxMm, PointMm, RingMm } from '../../core/geometry/units';
import type { Point } from '../../core/geometry-types';
import { placementOf, type Copy } from './copies';

export interface Ground {
  /** What the piece runs into at a place: ids of copies, `edge`, `hole`, `flaw`; empty: it can lie there. */
  hits(at: Point): string[];
  /** Go from a free place towards another, along what is in the way. */
  slide(from: Point, to: Point): Point;
  /** A free place near another; null: there is none within so many mm. */
  near(to: Point, within_mm: number): Point | null;
}

interface Obstacle {
  id: string;
  ring: RingMm;
  box: BoxMm;
  gap_mm: number;
  /** The piece must lie inside of it rather than outside. */
  around: boolean;
}

/** Kept beyond the gap while sliding, so that rounding on the way to the server does not take it away. */
const SKIN_MM = 0.01;
/** The server lets a gap fall short by 0.02 mm, and laid pieces may stand so. */
const SLACK_MM = 0.015;
const TINY = 1e-9;
/** A step meets at most so many obstacles one after the other. */
const MOST_BENDS = 5;
const RINGS = [0.08, 0.2, 0.4, 0.7, 1];
const WAYS = 16;

export function groundOf(piece: CutPieceView, lies: Placement, cloth: ClothView, others: readonly Copy[], lay: LayView): Ground {
  const moving = placed(piece.outline, { ...lies, xMm: 0, yMm: 0 });
  const obstacles: Obstacle[] = [obstacle('edge', cloth.outline, lay.gap_edge_mm, true)];
  for (const hole of cloth.holes) obstacles.push(obstacle('hole', hole, lay.gap_hole_mm));
  for (const flaw of cloth.flaws) if (flaw.quality < leastQuality(piece)) obstacles.push(obstacle('flaw', flaw.polygon, 0));
  for (const { id, piece: other, laid } of others) {
    if (laid?.cloth === cloth.id) obstacles.push(obstacle(id, placed(other.outline, placementOf(laid)), lay.gap_pieces_mm));
  }
  return new Prepared(moving, obstacles);
}

/** The poorest cloth that a piece may be cut from: 2 is sound, 1 for what is hidden. */
function leastQuality(piece: CutPieceView): number {
  return (piece as { least_quality?: number }).least_quality ?? 2;
}

function obstacle(id: string, ring: RingMm, gap_mm: number, around = false): Obstacle {
  return { id, ring, box: boundsOf(ring), gap_mm, around };
}

interface Meeting {
  /** How far along the way. */
  t: number;
  /** From the obstacle towards the piece. */
  nx: number;
  ny: number;
}

class Prepared implements Ground {
  private readonly box: BoxMm;

  constructor(
    private readonly moving: RingMm,
    private readonly obstacles: readonly Obstacle[],
  ) {
    this.box = boundsOf(moving);
  }

  hits(at: Point): string[] {
    const found: string[] = [];
    const box = shifted(this.box, at);
    let here: PointMm[] | null = null;
    for (const one of this.obstacles) {
      const away = Math.max(one.gap_mm - SLACK_MM, 0);
      if (!meet(box, one.box, away)) {
        if (one.around) found.push(one.id);
        continue;
      }
      here ??= this.moving.map(([x, y]): PointMm => [x + at[0], y + at[1]]);
      if (tooNear(here, box, one, away)) found.push(one.id);
    }
    return [...new Set(found)];
  }

  slide(from: Point, to: Point): Point {
    let [x, y] = from;
    let [rx, ry] = [to[0] - x, to[1] - y];
    const met: Meeting[] = [];
    for (let bend = 0; bend < MOST_BENDS; bend++) {
      const length = Math.hypot(rx, ry);
      if (length < 1e-3) break;
      const [ux, uy] = [rx / length, ry / length];
      const hit = this.firstMeeting([x, y], ux, uy, length);
      if (hit === null) {
        [x, y] = [x + rx, y + ry];
        break;
      }
      const facing = -(ux * hit.nx + uy * hit.ny);
      const step = Math.max(0, hit.t - SKIN_MM / Math.max(facing, 0.05));
      [x, y] = [x + ux * step, y + uy * step];
      [rx, ry] = [rx - ux * step, ry - uy * step];
      const into = rx * hit.nx + ry * hit.ny;
      if (into < 0) [rx, ry] = [rx - into * hit.nx, ry - into * hit.ny];
      // between two walls there is no way on
      if (met.some((m) => rx * m.nx + ry * m.ny < -1e-6)) break;
      met.push(hit);
    }
    return this.hits([x, y]).length === 0 ? [x, y] : [from[0], from[1]];
  }

  near(to: Point, within_mm: number): Point | null {
    for (const share of RINGS) {
      let best: Point | null = null;
      let least = Infinity;
      for (let i = 0; i < WAYS; i++) {
        const rad = (2 * Math.PI * i) / WAYS;
        const spot: Point = [to[0] + share * within_mm * Math.cos(rad), to[1] + share * within_mm * Math.sin(rad)];
        if (this.hits(spot).length > 0) continue;
        const close = this.slide(spot, to);
        const away = Math.hypot(close[0] - to[0], close[1] - to[1]);
        if (away < least) [best, least] = [close, away];
      }
      if (best) return best;
    }
    return null;
  }

  /** The first obstacle on the way along a unit vector. */
  private firstMeeting(at: Point, ux: number, uy: number, most: number): Meeting | null {
    // along the way and across it
    const turned = (ring: RingMm, x: number, y: number): Turned => {
      const along = new Float64Array(ring.length), across = new Float64Array(ring.length);
      let [a0, a1, b0, b1] = [Infinity, -Infinity, Infinity, -Infinity];
      for (let i = 0; i < ring.length; i++) {
        const p = ring[i] as PointMm;
        const a = (p[0] + x) * ux + (p[1] + y) * uy, b = (p[1] + y) * ux - (p[0] + x) * uy;
        along[i] = a;
        across[i] = b;
        if (a < a0) a0 = a;
        if (a > a1) a1 = a;
        if (b < b0) b0 = b;
        if (b > b1) b1 = b;
      }
      return { along, across, a0, a1, b0, b1 };
    };
    const mine = turned(this.moving, at[0], at[1]);
    const best: Best = { t: most, na: 0, nb: 0, hit: false };
    const swept = sweptBox(shifted(this.box, at), ux * most, uy * most);
    for (const one of this.obstacles) {
      const r = one.gap_mm + SKIN_MM / 2;
      if (!meet(swept, one.box, r)) continue;
      const other = turned(one.ring, 0, 0);
      if (other.b1 + r < mine.b0 || other.b0 - r > mine.b1 || other.a1 + r < mine.a0 || other.a0 - r > mine.a1 + best.t) continue;
      rays(mine, other, r, 1, best);
      rays(other, mine, r, -1, best);
    }
    if (!best.hit) return null;
    return { t: best.t, nx: best.na * ux - best.nb * uy, ny: best.na * uy + best.nb * ux };
  }
}

interface Turned {
  along: Float64Array;
  across: Float64Array;
  a0: number;
  a1: number;
  b0: number;
  b1: number;
}
interface Best {
  t: number;
  na: number;
  nb: number;
  hit: boolean;
}

/**
 * Corners of one outline sent along the way against the sides of another, each side as wide as the gap all round.
 * `way` -1: the corners stand and the sides come towards them, which is the same seen from the other end.
 */
function rays(points: Turned, sides: Turned, r: number, way: 1 | -1, best: Best): void {
  const n = sides.along.length;
  for (let i = 0, j = n - 1; i < n; j = i++) {
    const pa = way * (sides.along[j] as number), pb = sides.across[j] as number;
    const qa = way * (sides.along[i] as number), qb = sides.across[i] as number;
    const low = Math.min(pb, qb) - r, high = Math.max(pb, qb) + r;
    if (high < points.b0 || low > points.b1) continue;
    const near = Math.min(pa, qa) - r, far = Math.max(pa, qa) + r;
    for (let k = 0; k < points.along.length; k++) {
      const b = points.across[k] as number;
      if (b < low || b > high) continue;
      const a = way * (points.along[k] as number);
      if (a > far || a + best.t < near) continue;
      rayOnSide(a, b, pa, pb, qa, qb, r, way, best);
    }
  }
}

/** How far a point goes along +a before it comes within `r` of a side. */
function rayOnSide(a: number, b: number, pa: number, pb: number, qa: number, qb: number, r: number, way: 1 | -1, best: Best): void {
  const da = qa - pa, db = qb - pb;
  const square = da * da + db * db;
  const s = square > 0 ? Math.min(1, Math.max(0, ((a - pa) * da + (b - pb) * db) / square)) : 0;
  const fa = a - pa - s * da, fb = b - pb - s * db;
  const away = Math.hypot(fa, fb);
  if (away < r) {
    // it stands there already: it may go away from it, or along it
    if (away > TINY && fa / away < -1e-6) take(0, fa / away, fb / away, way, best);
    return;
  }
  const length = Math.sqrt(square);
  if (length > 0) {
    let na = -db / length, nb = da / length;
    if (na > 0) [na, nb] = [-na, -nb];
    if (na < -TINY) {
      const t = ((a - pa) * na + (b - pb) * nb - r) / -na;
      const u = ((a + t - r * na - pa) * da + (b - r * nb - pb) * db) / square;
      if (t >= 0 && t < best.t && u >= 0 && u <= 1) take(t, na, nb, way, best);
    }
  }
  for (let end = 0; end < 2; end++) {
    const ca = end === 0 ? pa : qa, cb = end === 0 ? pb : qb;
    const off = b - cb;
    if (Math.abs(off) > r) continue;
    const t = ca - a - Math.sqrt(r * r - off * off);
    if (t >= 0 && t < best.t) take(t, r > TINY ? (a + t - ca) / r : -1, r > TINY ? off / r : 0, way, best);
  }
}

function take(t: number, na: number, nb: number, way: 1 | -1, best: Best): void {
  best.t = t;
  best.na = na;
  best.nb = way * nb;
  best.hit = true;
}

function tooNear(here: readonly PointMm[], box: BoxMm, one: Obstacle, away: number): boolean {
  const n = one.ring.length;
  const reach = away + TINY;
  // sides of the obstacle that are near the piece at all
  for (let i = 0, j = n - 1; i < n; j = i++) {
    const c = one.ring[j] as PointMm, d = one.ring[i] as PointMm;
    const left = Math.min(c[0], d[0]) - reach, right = Math.max(c[0], d[0]) + reach;
    const bottom = Math.min(c[1], d[1]) - reach, top = Math.max(c[1], d[1]) + reach;
    if (left > box[2] || right < box[0] || bottom > box[3] || top < box[1]) continue;
    for (let k = 0, l = here.length - 1; k < here.length; l = k++) {
      const p = here[l] as PointMm, q = here[k] as PointMm;
      if ((p[0] < left && q[0] < left) || (p[0] > right && q[0] > right)) continue;
      if ((p[1] < bottom && q[1] < bottom) || (p[1] > top && q[1] > top)) continue;
      const apart = distanceOfSidesMm(p, q, c, d);
      if (away > 0 ? apart < away : apart === 0 && crosses(p, q, c, d)) return true;
    }
  }
  const first = here[0] as PointMm;
  if (one.around) return !contains(one.ring, first);
  return contains(one.ring, first) || contains(here, one.ring[0] as PointMm);
}

/** Whether two sides pass through each other by more than rounding. */
function crosses(p: PointMm, q: PointMm, c: PointMm, d: PointMm): boolean {
  const side = (o: PointMm, e: PointMm, z: PointMm) =>
    ((e[0] - o[0]) * (z[1] - o[1]) - (e[1] - o[1]) * (z[0] - o[0])) / (Math.hypot(e[0] - o[0], e[1] - o[1]) || 1);
  const [s1, s2] = [side(c, d, p), side(c, d, q)];
  const [s3, s4] = [side(p, q, c), side(p, q, d)];
  return Math.min(s1, s2) < -SLACK_MM && Math.max(s1, s2) > SLACK_MM && Math.min(s3, s4) < -SLACK_MM && Math.max(s3, s4) > SLACK_MM;
}

function shifted(box: BoxMm, by: Point): BoxMm {
  return [box[0] + by[0], box[1] + by[1], box[2] + by[0], box[3] + by[1]];
}

function sweptBox(box: BoxMm, dx: number, dy: number): BoxMm {
  return [box[0] + Math.min(0, dx), box[1] + Math.min(0, dy), box[2] + Math.max(0, dx), box[3] + Math.max(0, dy)];
}

function meet(a: BoxMm, b: BoxMm, within: number): boolean {
  return a[0] - within <= b[2] && b[0] - within <= a[2] && a[1] - within <= b[3] && b[1] - within <= a[3];
}
