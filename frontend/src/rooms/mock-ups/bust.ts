/** Where the slashes of a full or small bust probably run. Everything is moved on the drawing. */

import type { EdgeView, PieceView } from '../../client/types.gen';
import type { Point } from '../../core/geometry-types';
import { foldsAway, lookup } from '../pieces/lookup';
import { pathOf } from '../pieces/shape';
import type { Here, Spot } from './fields';
import { across, below, dartAcross, inwards, placeHere, squareIn } from './guess';
import { ARMHOLE, SIDE } from './where';

/** So far below the underarm lies a bust point, and so far above it the slash ends on the armhole (common practice). */
const BELOW_UNDERARM_MM = 25, ABOVE_MM = 25, INSIDE_MM = 10;
/** A dart is kept so far from the ends of the side. */
const FROM_END_MM = 20;
/** A bust point lies about so far out, of the way from the centre to the side. */
const OUT = 0.42;
/** Where on an armhole its slash may end, from the side: its notch lies about a third of the way up. */
const HEIGHTS = [0.33, 0.45, 0.55, 0.65, 0.75];
/** Edges beside the bust, at which it may be pressed too. */
export const BUST_BESIDE = /side|arm ?hole|armscye/i;
const NO_FRONT = /\b(back|side|sleeve|collar|cuff|facing)\b/i;

const pieceOf = (here: Here): PieceView | undefined => here.found?.piece ?? here.dart?.piece;

function edgesCalled(piece: PieceView, name: RegExp): EdgeView[] {
  return piece.edges.filter((edge) => name.test(edge.called) && edge.kind !== 'fold' && !foldsAway(piece, edge.id));
}
function edgeCalled(piece: PieceView, name: RegExp): EdgeView | undefined {
  return edgesCalled(piece, name)[0];
}

/** The dart itself, or the one across the piece. */
export function bustDart(here: Here): string | undefined {
  return here.onDart || !here.found ? here.dart?.dart.id : here.dart ? dartAcross(here.found.piece)?.id : undefined;
}

/** A front that is cut from the centre to the side: it has an armhole, and a dart across or a side to open one at. */
export function isFront(here: Here): boolean {
  const piece = pieceOf(here);
  if (!piece || NO_FRONT.test(piece.name)) return false;
  // before anything is named all is asked for
  if (piece.edges.every((edge) => edge.name === '')) return !here.onDart;
  const dart = here.onDart ? piece.darts.find((one) => one.id === here.dart?.dart.id) : undefined;
  if (!edgeCalled(piece, ARMHOLE) || (here.onDart && dart !== dartAcross(piece))) return false;
  return bustDart(here) !== undefined || edgeCalled(piece, SIDE) !== undefined;
}

/** The end of the armhole at the side: the lower one. */
function underarm(piece: PieceView): Point | undefined {
  const armhole = edgeCalled(piece, ARMHOLE);
  if (!armhole) return undefined;
  const { start, end } = pathOf(armhole);
  return start[1] < end[1] ? start : end;
}

/** The same, from a place at the foot of the front below where the bust point may be, wherever it was pressed. */
function fromFoot(here: Here): Here {
  if (!here.found || inwards(here)[1] > 0.5) return here;
  const { piece } = here.found, under = underarm(piece);
  if (!under) return here;
  const centre = centreOf(piece, under);
  const foot = below(piece, [centre + (under[0] - centre) * OUT, under[1] - BELOW_UNDERARM_MM]);
  const found = foot && 'edge' in foot ? lookup(here.garment).edges.get(foot.edge) : undefined;
  return found && foot && 'edge' in foot ? { ...here, found, mm: foot.mm } : here;
}

/** The place where the slash begins, below the bust point. */
export function lowPlace(here: Here): Spot | null {
  return here.onDart ? here.dart && below(here.dart.piece, here.dart.dart.apex) : placeHere(fromFoot(here));
}

/** Where the bust point may be above a place on the hem: two thirds of the way up, and below the underarm. */
export function bustPoint(pressed: Here): Point | undefined {
  const here = fromFoot(pressed);
  if (!here.found) return undefined;
  const [x, y] = pathOf(here.found.edge).pointAt(here.mm);
  const top = across(here), above = top && 'edge' in top ? lookup(here.garment).edges.get(top.edge) : undefined;
  if (!above || !top || !('edge' in top)) return squareIn(here);
  const [u, v] = pathOf(above.edge).pointAt(top.mm);
  const under = underarm(here.found.piece);
  const high = y + ((v - y) * 2) / 3, most = under === undefined ? high : under[1] - BELOW_UNDERARM_MM;
  const low = most > y + BELOW_UNDERARM_MM && most < high;
  const at: Point = low ? [x + ((u - x) * (most - y)) / (v - y), most] : [x + ((u - x) * 2) / 3, high];
  return under === undefined ? at : [withinArmhole(here.found.piece, under, at[0]), at[1]];
}

/** Where the centre of a front lies across it: farthest from the side. */
function centreOf(piece: PieceView, under: Point): number {
  return piece.edges.flatMap((edge) => pathOf(edge).flatten(5)).reduce((far, p) => (Math.abs(p[0] - under[0]) > Math.abs(far - under[0]) ? p[0] : far), under[0]);
}

/** A bust point lies farther in than the armhole: across the piece, seen from the side. */
function withinArmhole(piece: PieceView, under: Point, x: number): number {
  const armhole = edgeCalled(piece, ARMHOLE);
  const points = armhole ? pathOf(armhole).flatten(0.5) : [];
  const centre = centreOf(piece, under);
  const way = Math.sign(under[0] - centre);
  const inmost = Math.min(...points.map((p) => (p[0] - centre) * way)) - INSIDE_MM;
  return inmost > 0 && (x - centre) * way > inmost ? centre + inmost * way : x;
}

function pointNow(here: Here): Point | undefined {
  const piece = pieceOf(here), dart = bustDart(here);
  return dart === undefined ? bustPoint(here) : piece?.darts.find((one) => one.id === dart)?.apex;
}

/** The place on the armhole: its notch, or the first farther up that lies above the bust point and outside of it. */
export function onArmhole(here: Here): Spot | null {
  const piece = pieceOf(here), armhole = piece && edgeCalled(piece, ARMHOLE), apex = pointNow(here), under = piece && underarm(piece);
  if (!piece || !armhole || !apex || !under) return null;
  const path = pathOf(armhole), long = armhole.length_mm;
  const fromSide = path.start[1] < path.end[1];
  const places = [
    ...piece.notches.filter((notch) => notch.edge === armhole.id).map((notch) => notch.mm),
    ...HEIGHTS.map((share) => long * (fromSide ? share : 1 - share)),
  ];
  const way = Math.sign(under[0] - apex[0]);
  const good = places.find((mm) => {
    const [x, y] = path.pointAt(mm);
    return y >= apex[1] + ABOVE_MM && (x - apex[0]) * way >= 0;
  });
  return { edge: armhole.id, mm: good ?? long / 2 };
}

/** The place on the side where a new dart opens: level with the bust point. */
export function onSide(here: Here): Spot | null {
  const piece = pieceOf(here), apex = pointNow(here);
  if (!piece || !apex) return null;
  const places = edgesCalled(piece, SIDE).map((edge) => {
    const least = Math.min(FROM_END_MM, edge.length_mm / 4), path = pathOf(edge);
    const mm = Math.min(Math.max(path.nearest(apex).atMm, least), edge.length_mm - least);
    return { edge: edge.id, mm, off: Math.abs(path.pointAt(mm)[1] - apex[1]) };
  });
  const best = places.sort((p, q) => p.off - q.off)[0];
  return best ? { edge: best.edge, mm: best.mm } : null;
}
