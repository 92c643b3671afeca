/** A piece rolled along its mate: at each place of the seam the two edges touch and point the same way. */

import type { Path } from './path';
import { composed, shift, turn, angleBetweenDeg, mirror, type Move } from './rigid';
import { expectedOnB, stretchAt, type Stretch, type Walk } from './walk';
import type { Mm, PointMm } from './units';

export interface Rolled {
  /** The piece of run A that lies still, and its edge there. */
  readonly on: Stretch;
  /** The piece of run B that rolls, and its edge there. */
  readonly rolls: Stretch;
  /** Where the rolling piece lies, in the frame of the piece that lies still. */
  readonly move: Move;
  /** Where they touch, in the same frame. */
  readonly at: PointMm;
  readonly aMm: Mm;
  readonly bMm: Mm;
}

/**
 * The move that lays path `b` on path `a` so that they touch at two places and point the same way there.
 *
 * @param over turned over first, as where both pieces would lie on the same side of the seam
 */
export function touchingMove(a: Path, aMm: Mm, b: Path, bMm: Mm, over: boolean): Move {
  const at = a.pointAt(aMm);
  const [x, y] = b.pointAt(bMm);
  const along = directionAt(a, aMm);
  const turned = composed(turn(angleBetweenDeg(directionAt(b, bMm), along), [x, y]), shift(at[0] - x, at[1] - y));
  return over ? composed(turned, mirror(at, [at[0] + along[0], at[1] + along[1]])) : turned;
}

function directionAt(path: Path, mm: Mm): PointMm {
  // at the far end there is nothing after it
  return path.tangentAt(mm, mm >= path.lengthMm ? 'before' : 'after');
}

/**
 * Piece B rolled along run A of a walked seam to a place of A.
 *
 * Without slipping both edges have gone the same way. `eased` counts the ease that should be used up by then, so
 * that the far ends meet where the seam fits.
 */
export function rolledTo(walk: Walk, aMm: Mm, eased = false): Rolled {
  const bMm = Math.min(Math.max(eased ? expectedOnB(walk, aMm) : aMm, 0), walk.b.lengthMm);
  const a = stretchAt(walk.a, aMm);
  const b = stretchAt(walk.b, bMm);
  // inside lies to the left of an edge that is walked the way of its outline, and to the right of one that is not
  const over = a.stretch.reverse === b.stretch.reverse;
  return {
    on: a.stretch,
    rolls: b.stretch,
    move: touchingMove(a.stretch.path, a.mm, b.stretch.path, b.mm, over),
    at: a.stretch.path.pointAt(a.mm),
    aMm,
    bMm,
  };
}
