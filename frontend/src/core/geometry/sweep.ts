/**
 * Numeric kernels of collision: how far a point goes along a vector before it comes within a distance of a side,
 * and how near two sides are. Plain numbers in and out, since they run thousands of times for one drag.
 */

import type { Mm } from './units';

/** What a sweep met first; `t` is the share of the way, the normal pushes the moved piece away. */
export interface Meeting {
  t: number;
  nx: number;
  ny: number;
  owner: number;
}

/** Below this a foot is no direction, and the free side of the side itself says where "away" is. */
const NO_DIRECTION_MM: Mm = 1e-5;
/** A step that comes nearer by less than this share of itself goes along, not towards. */
const ALONG = 1e-9;

/**
 * A point on its way against a side that is `r` thick all round; keeps the meeting in `best` if it is earlier.
 *
 * `sign` 1: the point belongs to the piece that is moved. -1: it stands still, the side is moved, and (dx, dy) is
 * the opposite of the movement; the normal is turned round. (fx, fy) is the unit vector to the free side.
 */
export function meetSide(
  px: Mm, py: Mm, dx: Mm, dy: Mm, ax: Mm, ay: Mm, bx: Mm, by: Mm, r: Mm, fx: number, fy: number, sign: 1 | -1,
  owner: number, best: Meeting,
): void {
  const ex = bx - ax;
  const ey = by - ay;
  const square = ex * ex + ey * ey;
  const wx = px - ax;
  const wy = py - ay;
  const s = square > 0 ? Math.min(Math.max((wx * ex + wy * ey) / square, 0), 1) : 0;
  const ox = wx - s * ex;
  const oy = wy - s * ey;
  const away = Math.sqrt(ox * ox + oy * oy);
  const speed = Math.sqrt(dx * dx + dy * dy);
  if (away < r) {
    // within already: the side is convex, so whoever does not come nearer now never will
    const flat = away < NO_DIRECTION_MM;
    const nx = flat ? fx : ox / away;
    const ny = flat ? fy : oy / away;
    if (dx * nx + dy * ny < -ALONG * speed && 0 < best.t) keep(0, nx, ny, sign, owner, best);
    return;
  }
  // out of reach even on the straightest way
  if (away - r > speed * best.t) return;
  if (square > 0) {
    const long = Math.sqrt(square);
    const height = (wy * ex - wx * ey) / long;
    const climb = (dy * ex - dx * ey) / long;
    const over = height > 0 ? 1 : -1;
    if (climb * over < 0 && height * over >= r) {
      const t = (height * over - r) / (-climb * over);
      if (t < best.t) {
        const along = ((wx + t * dx) * ex + (wy + t * dy) * ey) / square;
        if (along >= 0 && along <= 1) {
          keep(t, (-ey / long) * over, (ex / long) * over, sign, owner, best);
          return;
        }
      }
    }
  }
  meetPoint(wx, wy, dx, dy, r, sign, owner, best);
  meetPoint(px - bx, py - by, dx, dy, r, sign, owner, best);
}

/** The same against a round end; (wx, wy) leads from it to the point. */
function meetPoint(wx: Mm, wy: Mm, dx: Mm, dy: Mm, r: Mm, sign: 1 | -1, owner: number, best: Meeting): void {
  const a = dx * dx + dy * dy;
  const b = wx * dx + wy * dy;
  const c = wx * wx + wy * wy - r * r;
  if (b >= 0 || c < 0 || a === 0) return;
  const disc = b * b - a * c;
  if (disc <= 0) return;
  const t = c / (-b + Math.sqrt(disc));
  if (t >= best.t) return;
  const nx = wx + t * dx;
  const ny = wy + t * dy;
  const long = Math.sqrt(nx * nx + ny * ny);
  if (long > 0) keep(t, nx / long, ny / long, sign, owner, best);
}

function keep(t: number, nx: number, ny: number, sign: 1 | -1, owner: number, best: Meeting): void {
  best.t = t;
  best.nx = sign * nx;
  best.ny = sign * ny;
  best.owner = owner;
}

/** The squared distance of a point from a side. */
function pointSide2(px: Mm, py: Mm, ax: Mm, ay: Mm, ex: Mm, ey: Mm, square: number): number {
  const wx = px - ax;
  const wy = py - ay;
  const s = square > 0 ? Math.min(Math.max((wx * ex + wy * ey) / square, 0), 1) : 0;
  const ox = wx - s * ex;
  const oy = wy - s * ey;
  return ox * ox + oy * oy;
}

/** The squared distance of two sides; -1 where they pass through each other by more than `touch` on all ends. */
export function sides2(
  ax: Mm, ay: Mm, bx: Mm, by: Mm, cx: Mm, cy: Mm, dx: Mm, dy: Mm, touch: Mm,
): number {
  const ex = bx - ax;
  const ey = by - ay;
  const gx = dx - cx;
  const gy = dy - cy;
  const ee = ex * ex + ey * ey;
  const gg = gx * gx + gy * gy;
  const hc = ex * (cy - ay) - ey * (cx - ax);
  const hd = ex * (dy - ay) - ey * (dx - ax);
  const ha = gx * (ay - cy) - gy * (ax - cx);
  const hb = gx * (by - cy) - gy * (bx - cx);
  if (hc * hd < 0 && ha * hb < 0) {
    const te = touch * Math.sqrt(ee);
    const tg = touch * Math.sqrt(gg);
    const deep = Math.abs(hc) > te && Math.abs(hd) > te && Math.abs(ha) > tg && Math.abs(hb) > tg;
    return deep ? -1 : 0;
  }
  return Math.min(
    pointSide2(ax, ay, cx, cy, gx, gy, gg),
    pointSide2(bx, by, cx, cy, gx, gy, gg),
    pointSide2(cx, cy, ax, ay, ex, ey, ee),
    pointSide2(dx, dy, ax, ay, ex, ey, ee),
  );
}
