/**
 * Pieces laid out as they are sewn: edges that belong together face each other across a gap.
 *
 * The strongest seams make a tree of the pieces; each piece is put beside the one that it hangs on, turned by
 * quarters at most so that its grain stays readable, and turned over only where it stands for a mirrored pair or a
 * half on the fold. Folds come to lie on the outside, since nothing is sewn to them. What is sewn to nothing comes
 * after, and derived pieces lie below, a row for each cloth that they are cut from. The same garment is always laid
 * out alike.
 */

import { LayHazards, type LaidShape } from './collide';
import { netRing, pathOf, type PieceShape, type RunPart, type SeamShape } from './garment-shapes';
import { boundsOf, simplifiedOutwards } from './polygon';
import { angleBetweenDeg, applyVector, apply, moveOf, placed, type Move, type Placement } from './rigid';
import { runOf, type Run } from './walk';
import type { BoxMm, Deg, Mm, PointMm } from './units';

export interface ArrangeWish {
  /** Between the net lines of two sewn edges. */
  readonly gapMm?: Mm;
  /** Derived pieces begin a new line when theirs is as wide as this, or as what lies above. */
  readonly leastWidthMm?: Mm;
}

export interface Row {
  /** The cloth that these derived pieces are cut from. */
  readonly role: string;
  readonly pieces: readonly string[];
  readonly box: BoxMm;
}

export interface Arrangement {
  /** Where each piece lies, by id. */
  readonly places: ReadonlyMap<string, Placement>;
  readonly moves: ReadonlyMap<string, Move>;
  /** The pieces that were drawn. */
  readonly box: BoxMm;
  /** Derived pieces, from above. */
  readonly rows: readonly Row[];
}

const GAP_MM: Mm = 40;
/** Rows lie apart by so many gaps. */
const ROW_GAPS = 2;
const LEAST_WIDTH_MM: Mm = 1200;
/** Chord error of the shapes that are kept apart: nothing is cut here. */
const ROUGH_MM: Mm = 1;
/** They are simplified by so much, outwards. */
const GROWN_MM: Mm = 3;
/** A quarter turn is worth so much better facing, a half turn a little more, turning over a little. */
const TURN_COST_DEG: Record<number, Deg> = { 0: 0, 90: 35, 180: 45, 270: 35 };
const OVER_COST_DEG: Deg = 10;
/** A piece that would have to be shifted by more to find room faces its mate no longer: it stands upright beside all. */
const FARTHEST_MM: Mm = 260;
const STEP_MM: Mm = 8;

const UPRIGHT: Placement = { turnDeg: 0, xMm: 0, yMm: 0, mirrored: false };

interface Shape {
  readonly piece: PieceShape;
  /** A little grown, of few points: for keeping apart. */
  readonly ring: readonly PointMm[];
}

/** Two pieces that are sewn together, and where: the longest stretch that they share. */
interface Tie {
  readonly a: Meeting;
  readonly b: Meeting;
  readonly lengthMm: Mm;
  readonly order: string;
}

/** The sewn stretch of one piece, in its own frame. */
interface Meeting {
  readonly piece: string;
  /** The ends of the stretch, in the direction in which the seam is walked. */
  readonly from: PointMm;
  readonly to: PointMm;
  readonly middle: PointMm;
  /** Unit vector out of the piece, across the stretch. */
  readonly out: PointMm;
}

/** Lay out a garment. */
export function arrange(
  pieces: readonly PieceShape[], derived: readonly PieceShape[], seams: readonly SeamShape[], wish: ArrangeWish = {},
): Arrangement {
  const gapMm = wish.gapMm ?? GAP_MM;
  const shapes = new Map([...pieces, ...derived].map((p) => [p.id, shapeOf(p)]));
  const places = new Map<string, Placement>();
  const drawn = new Map(pieces.map((p) => [p.id, p]));
  const groups = grown(pieces, tiesOf(drawn, seams)).map((tree) => laidTree(tree, shapes, gapMm));

  // trees beside each other, the greatest first; what is sewn to nothing comes last by itself
  let right = 0;
  for (const group of groups) {
    const box = boxOf(group, shapes);
    shiftAll(group, places, right - box[0], -box[1]);
    right += box[2] - box[0] + ROW_GAPS * gapMm;
  }
  const box = places.size > 0 ? boxOf(places, shapes) : ([0, 0, 0, 0] as const);

  const widthMm = Math.max(wish.leastWidthMm ?? LEAST_WIDTH_MM, box[2] - box[0]);
  let top = box[1] - ROW_GAPS * gapMm;
  const rows = rolesOf(derived).map(([role, members]): Row => {
    const laid = laidInRows(members, shapes, box[0], top, widthMm, gapMm);
    for (const [id, place] of laid) places.set(id, place);
    const around = boxOf(laid, shapes);
    top = around[1] - ROW_GAPS * gapMm;
    return { role, pieces: members.map((p) => p.id), box: around };
  });
  return { places, moves: new Map([...places].map(([id, place]) => [id, moveOf(place)])), box, rows };
}

function shapeOf(piece: PieceShape): Shape {
  return { piece, ring: simplifiedOutwards(netRing(piece, ROUGH_MM), GROWN_MM) };
}

function boxOf(places: ReadonlyMap<string, Placement>, shapes: ReadonlyMap<string, Shape>): BoxMm {
  return boundsOf([...places].flatMap(([id, place]) => placed((shapes.get(id) as Shape).ring, place)));
}

function shiftAll(from: ReadonlyMap<string, Placement>, to: Map<string, Placement>, dx: Mm, dy: Mm): void {
  for (const [id, p] of from) to.set(id, { ...p, xMm: p.xMm + dx, yMm: p.yMm + dy });
}

// ---------------------------------------------------------------- who is sewn to whom

/** Where pieces are sewn to others, strongest first. */
function tiesOf(pieces: ReadonlyMap<string, PieceShape>, seams: readonly SeamShape[]): Tie[] {
  const best = new Map<string, Tie>();
  for (const seam of seams) {
    const [a, b] = [known(pieces, seam.a), known(pieces, seam.b)];
    if (a === null || b === null) continue;
    for (const one of a.stretches) {
      for (const other of b.stretches) {
        if (one.piece === other.piece) continue;
        // both runs are walked from a common start: what lies at the same share of them is sewn together
        const from = Math.max(one.fromMm / a.lengthMm, other.fromMm / b.lengthMm);
        const to = Math.min(one.toMm / a.lengthMm, other.toMm / b.lengthMm);
        const lengthMm = (to - from) * Math.min(a.lengthMm, b.lengthMm);
        if (lengthMm <= 1) continue;
        const key = [one.piece.id, other.piece.id].sort().join(' ');
        const before = best.get(key);
        if (before !== undefined && before.lengthMm >= lengthMm) continue;
        best.set(key, {
          a: meetingOf(one, from * a.lengthMm, to * a.lengthMm),
          b: meetingOf(other, from * b.lengthMm, to * b.lengthMm),
          lengthMm,
          order: `${seam.id} ${key}`,
        });
      }
    }
  }
  return [...best.values()].sort((p, q) => q.lengthMm - p.lengthMm || (p.order < q.order ? -1 : 1));
}

function known(pieces: ReadonlyMap<string, PieceShape>, parts: readonly RunPart[]): Run | null {
  const there = parts.every((p) => pieces.get(p.piece)?.edges.some((edge) => edge.id === p.edge));
  return there && parts.length > 0 ? runOf(pieces, parts) : null;
}

function meetingOf(stretch: Run['stretches'][number], fromMm: Mm, toMm: Mm): Meeting {
  const from = stretch.path.pointAt(fromMm - stretch.fromMm);
  const to = stretch.path.pointAt(toMm - stretch.fromMm);
  const long = Math.hypot(to[0] - from[0], to[1] - from[1]) || 1;
  // inside lies to the left of an edge that is walked the way of its outline
  const side = stretch.reverse ? -1 : 1;
  return {
    piece: stretch.piece.id,
    from,
    to,
    middle: [(from[0] + to[0]) / 2, (from[1] + to[1]) / 2],
    out: [(side * (to[1] - from[1])) / long, (side * (from[0] - to[0])) / long],
  };
}

// ---------------------------------------------------------------- the tree

interface Branch {
  readonly piece: string;
  readonly parent: string | null;
  /** How it is sewn to its parent: the parent's side, and its own. */
  readonly on: Meeting | null;
  readonly by: Meeting | null;
}

/** Pieces that hang together, each as branches from a root outwards; single pieces last. */
function grown(pieces: readonly PieceShape[], ties: readonly Tie[]): Branch[][] {
  // the strongest ties that close no ring (Kruskal, Proc. AMS 7, 1956)
  const head = new Map(pieces.map((p) => [p.id, p.id]));
  const headOf = (id: string): string => {
    let at = id;
    while (head.get(at) !== at) at = head.get(at) as string;
    return at;
  };
  const kept = ties.filter((tie) => {
    const [a, b] = [headOf(tie.a.piece), headOf(tie.b.piece)];
    head.set(a, b);
    return a !== b;
  });
  const order = new Map(pieces.map((p, i) => [p.id, i]));
  const left = new Map(pieces.map((p) => [p.id, p]));
  const trees: Branch[][] = [];
  while (left.size > 0) {
    const root = rootOf([...left.values()], kept);
    const tree: Branch[] = [{ piece: root.id, parent: null, on: null, by: null }];
    left.delete(root.id);
    for (let i = 0; i < tree.length; i++) {
      const here = (tree[i] as Branch).piece;
      for (const tie of kept) {
        const [on, by] = tie.a.piece === here ? [tie.a, tie.b] : [tie.b, tie.a];
        if (on.piece !== here || !left.has(by.piece)) continue;
        left.delete(by.piece);
        tree.push({ piece: by.piece, parent: here, on, by });
      }
    }
    trees.push(tree);
  }
  const first = (tree: readonly Branch[]): number => Math.min(...tree.map((b) => order.get(b.piece) ?? 0));
  return trees.sort((p, q) => Number(q.length > 1) - Number(p.length > 1) || q.length - p.length || first(p) - first(q));
}

/**
 * The piece to begin with: one that ends a row of panels (a half on the fold before others), and of those the one
 * whose fold looks to the left; else the first in the order of the garment.
 */
function rootOf(pieces: readonly PieceShape[], ties: readonly Tie[]): PieceShape {
  const rank = (p: PieceShape): number => {
    const sewn = ties.filter((t) => t.a.piece === p.id || t.b.piece === p.id).reduce((sum, t) => sum + t.lengthMm, 0);
    const fold = p.edges.find((edge) => edge.kind === 'fold');
    if (sewn === 0) return 0;
    if (fold === undefined) return 1;
    const path = pathOf(fold);
    // a counter-clockwise outline runs down its left side
    return path.end[1] < path.start[1] ? 3 : 2;
  };
  return pieces.reduce((best, p) => (rank(p) > rank(best) ? p : best));
}

/** Places of the pieces of one tree. */
function laidTree(tree: readonly Branch[], shapes: ReadonlyMap<string, Shape>, gapMm: Mm): Map<string, Placement> {
  const places = new Map<string, Placement>();
  const aside: { readonly piece: string; readonly level: Mm }[] = [];
  for (const { piece, parent, on, by } of tree) {
    const under = parent === null ? undefined : places.get(parent);
    const shape = shapes.get(piece) as Shape;
    if (on === null || by === null || under === undefined) {
      if (parent === null) places.set(piece, UPRIGHT);
      else aside.push({ piece, level: 0 });
      continue;
    }
    const move = moveOf(under);
    const middle = apply(move, on.middle);
    const found = beside(
      shape, by, middle, applyVector(move, on.out), applyVector(move, [on.to[0] - on.from[0], on.to[1] - on.from[1]]),
      laidOf(places, shapes), gapMm,
    );
    // level with its mate, so that a sleeve stands with its cap at the height of the armhole
    if (found === null) aside.push({ piece, level: middle[1] - by.middle[1] });
    else places.set(piece, found);
  }
  for (const { piece, level } of aside) {
    const box = boxOf(places, shapes);
    const own = boundsOf((shapes.get(piece) as Shape).ring);
    places.set(piece, { ...UPRIGHT, xMm: box[2] + gapMm - own[0], yMm: level });
  }
  return places;
}

function laidOf(places: ReadonlyMap<string, Placement>, shapes: ReadonlyMap<string, Shape>): LaidShape[] {
  return [...places].map(([id, place]) => ({ id, outline: placed((shapes.get(id) as Shape).ring, place) }));
}

/** A place for a piece with its sewn stretch facing one that lies there, as near as there is room; null: none. */
function beside(
  shape: Shape, by: Meeting, middle: PointMm, out: PointMm, walked: PointMm, laid: readonly LaidShape[], gapMm: Mm,
): Placement | null {
  const lie = bestTurn(shape.piece, by, out, walked);
  const hazards = new LayHazards(
    { outline: null, holes: [], flaws: [] }, { piecesMm: gapMm, edgeMm: 0, holeMm: 0 }, laid,
  );
  const carried = hazards.carry({ id: shape.piece.id, outline: shape.ring }, lie);
  const [x, y] = apply(moveOf({ ...lie, xMm: 0, yMm: 0 }), by.middle);
  const at = (away: Mm): PointMm => [middle[0] + away * out[0] - x, middle[1] + away * out[1] - y];
  for (let away = 0; away <= FARTHEST_MM; away += STEP_MM) {
    if (!carried.isFree(at(away))) continue;
    const close = carried.slide(at(away), at(0)).at;
    // along the seam it stays level with its mate: only the way back is taken
    const back = (at(away)[0] - close[0]) * out[0] + (at(away)[1] - close[1]) * out[1];
    const straight = at(away - Math.min(Math.max(back, 0), STEP_MM));
    const [xMm, yMm] = carried.isFree(straight) ? straight : at(away);
    return { ...lie, xMm, yMm };
  }
  return null;
}

/** The turn by quarters (and over, where the piece may) with which a stretch best faces another. */
function bestTurn(piece: PieceShape, by: Meeting, out: PointMm, walked: PointMm): Pick<Placement, 'turnDeg' | 'mirrored'> {
  const mayTurnOver = piece.fold !== null || piece.cuts.some((cut) => cut.pairs);
  let best = { turnDeg: 0, mirrored: false };
  let least = Infinity;
  for (const mirrored of mayTurnOver ? [false, true] : [false]) {
    for (const turnDeg of [0, 90, 180, 270]) {
      const move = moveOf({ turnDeg, mirrored, xMm: 0, yMm: 0 });
      const facing = Math.abs(angleBetweenDeg(applyVector(move, by.out), [-out[0], -out[1]]));
      const along = Math.abs(angleBetweenDeg(applyVector(move, [by.to[0] - by.from[0], by.to[1] - by.from[1]]), walked));
      const cost = facing + along + (TURN_COST_DEG[turnDeg] ?? 0) + (mirrored ? OVER_COST_DEG : 0);
      if (cost < least - 1e-9) [best, least] = [{ turnDeg, mirrored }, cost];
    }
  }
  return best;
}

// ---------------------------------------------------------------- rows

/** Derived pieces by the cloth that they are cut from first, in the order in which the roles turn up. */
function rolesOf(derived: readonly PieceShape[]): (readonly [string, PieceShape[]])[] {
  const roles = new Map<string, PieceShape[]>();
  for (const piece of derived) {
    const role = piece.cuts[0]?.role ?? '';
    roles.set(role, [...(roles.get(role) ?? []), piece]);
  }
  return [...roles];
}

/** Pieces upright beside each other with their upper ends level, in as many lines as the width asks for. */
function laidInRows(
  pieces: readonly PieceShape[], shapes: ReadonlyMap<string, Shape>, left: Mm, top: Mm, widthMm: Mm, gapMm: Mm,
): Map<string, Placement> {
  const places = new Map<string, Placement>();
  let [x, y, lowest] = [left, top, top];
  for (const piece of pieces) {
    const box = boundsOf((shapes.get(piece.id) as Shape).ring);
    if (x > left && x + box[2] - box[0] > left + widthMm) [x, y] = [left, lowest - gapMm];
    places.set(piece.id, { turnDeg: 0, xMm: x - box[0], yMm: y - box[3], mirrored: false });
    x += box[2] - box[0] + gapMm;
    lowest = Math.min(lowest, y - (box[3] - box[1]));
  }
  return places;
}
