/** Copies of cut pieces: those that lie on a cloth, and those that have no place yet. */

import type { ClothView, CutPieceView, LaidView, LayView, PlacementSaid } from '../../client/types.gen';
import { signedAreaMm2 } from '../../core/geometry/polygon';
import type { GrainRule, Placement } from '../../core/geometry/rigid';
import { placed, turnFromToDeg } from '../../core/geometry/rigid';

export interface Copy {
  id: string;
  piece: CutPieceView;
  /** Where it lies; none: in the tray. */
  laid: LaidView | null;
}

/** All copies that are to be cut, in the order of the cutting list. Ids stay while pieces come and go. */
export function copiesOf(lay: LayView): Copy[] {
  return lay.cut_pieces.flatMap((piece) => {
    const on = lay.laid.filter((one) => one.piece === piece.id).slice(0, piece.copies);
    const taken = new Set(on.map((one) => one.id));
    const copies: Copy[] = on.map((laid) => ({ id: laid.id, piece, laid }));
    for (let n = 1; copies.length < piece.copies; n++) {
      const id = `${piece.id}#${n}`;
      if (!taken.has(id)) copies.push({ id, piece, laid: null });
    }
    return copies;
  });
}

export function copyOf(lay: LayView, id: string): Copy | null {
  return copiesOf(lay).find((one) => one.id === id) ?? null;
}

export function placementOf(laid: LaidView): Placement {
  return { turnDeg: laid.turn_deg, xMm: laid.x_mm, yMm: laid.y_mm, mirrored: laid.mirrored };
}

/** A laid piece as it is said to the server. */
export function saidOf(laid: LaidView): PlacementSaid {
  const { id, piece, cloth, x_mm, y_mm, turn_deg, mirrored, locked } = laid;
  return { id, piece, cloth, x_mm, y_mm, turn_deg, mirrored, locked };
}

/** All that lies, with one copy elsewhere; `at` null: taken off the cloth. */
export function withCopy(lay: LayView, copy: Copy, cloth: string | null, at: Placement | null): PlacementSaid[] {
  const rest = lay.laid.filter((one) => one.id !== copy.id).map(saidOf);
  if (cloth === null || at === null) return rest;
  return [
    ...rest,
    {
      id: copy.id, piece: copy.piece.id, cloth, x_mm: at.xMm, y_mm: at.yMm, turn_deg: at.turnDeg,
      mirrored: at.mirrored, locked: copy.laid?.locked ?? false,
    },
  ];
}

/** The lay as it is when pieces are put so: for the eye, until the server has checked it. */
export function asPut(lay: LayView, placements: readonly PlacementSaid[]): LayView {
  const laid = placements.flatMap((said): LaidView[] => {
    const piece = lay.cut_pieces.find((one) => one.id === said.piece);
    if (!piece) return [];
    const at = { turnDeg: said.turn_deg, xMm: said.x_mm, yMm: said.y_mm, mirrored: said.mirrored ?? false };
    const outline = placed(piece.outline, at).map(([x, y]): [number, number] => [x, y]);
    return [{ ...said, mirrored: at.mirrored, locked: said.locked ?? false, name: piece.name, outline }];
  });
  const missing = lay.cut_pieces
    .map((piece) => ({ piece: piece.id, name: piece.name, count: piece.copies - laid.filter((one) => one.piece === piece.id).length }))
    .filter((one) => one.count > 0);
  return { ...lay, laid, missing, complete: missing.length === 0, faults: [] };
}

/** On cloth with a direction the top of every piece points along the warp. */
const ONE_WAY: Record<string, readonly number[]> = { along: [0], cross: [0], bias: [45, 315] };

/** How a piece may be turned on a cloth. */
export function grainRule(piece: CutPieceView, cloth: ClothView): GrainRule {
  const free = piece.grain === 'any' || piece.turns_deg === null;
  const turnsDeg = free ? null : cloth.nap === 'one-way' ? (ONE_WAY[piece.grain] ?? piece.turns_deg) : piece.turns_deg;
  return { grainDeg: cloth.grain_deg, turnsDeg, tiltDeg: piece.tilt_deg };
}

/** How far a turn is off the grain that the rule asks for; none: any turn will do. */
export function offGrainDeg(turnDeg: number, rule: GrainRule): number | null {
  if (rule.turnsDeg === null || rule.grainDeg === null) return null;
  const { grainDeg } = rule;
  return Math.min(...rule.turnsDeg.map((against) => Math.abs(turnFromToDeg(grainDeg - 90 + against, turnDeg))));
}

export function mayTurnOver(piece: CutPieceView, cloth: ClothView): boolean {
  return piece.may_mirror && cloth.same_face;
}

export function areaOf(piece: CutPieceView): number {
  return Math.abs(signedAreaMm2(piece.outline));
}

export interface Standing {
  on: number;
  all: number;
  /** Share of the area of all pieces that is on a cloth, 0 to 1. */
  share: number;
  on_mm2: number;
  /** Cloth that the plan uses, or could use where nothing lies yet. */
  cloth_mm2: number;
  /** Names of what has no place, each once, with how often. */
  missing: { name: string; count: number }[];
}

/** How a lay stands, from its pieces alone: also while better ones are being found. */
export function standing(lay: LayView): Standing {
  const copies = copiesOf(lay);
  const total = copies.reduce((sum, copy) => sum + areaOf(copy.piece), 0);
  const on_mm2 = copies.reduce((sum, copy) => sum + (copy.laid ? areaOf(copy.piece) : 0), 0);
  const used = new Set(lay.laid.map((one) => one.cloth));
  const cloths = lay.cloths.filter((cloth) => used.size === 0 || used.has(cloth.id));
  const missing = new Map<string, number>();
  for (const copy of copies) if (!copy.laid) missing.set(copy.piece.name, (missing.get(copy.piece.name) ?? 0) + 1);
  return {
    on: copies.filter((copy) => copy.laid).length,
    all: copies.length,
    share: total > 0 ? on_mm2 / total : 0,
    on_mm2,
    cloth_mm2: cloths.reduce((sum, cloth) => sum + cloth.area_mm2, 0),
    missing: [...missing].map(([name, count]) => ({ name, count })),
  };
}
