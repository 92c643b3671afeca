/** The numbers of what is chosen, for the strip. */

import type { EdgeView, GarmentView, PieceView } from '../../client/types.gen';
import type { Point } from '../../core/geometry-types';
import { t } from '../../core/language';
import { chosen, type State } from '../../core/store';
import { area, degrees, difference, measure, type Unit } from '../../core/units';
import { pathOf, shapeOf } from '../pieces/shape';
import { angleAt, dartOf, edgeWords, lookup, matesOf, seamWords } from '../pieces/lookup';
import { alongA, runLength } from '../pieces/run';

export interface Item {
  label: string;
  value: string;
  mark?: 'attention' | 'note' | 'good';
}

/** A line that leaves its chord by less is straight: a pencil line's width. */
const STRAIGHT_MM = 0.5;
/** A line that leaves a circle by no more is called part of one. */
const ROUND_MM = 2;

export type Bend = { kind: 'straight' } | { kind: 'round'; radius_mm: number } | { kind: 'curved' };

/** Whether an edge is straight, part of a circle, or some other curve. */
export function bendOf(edge: EdgeView): Bend {
  const path = pathOf(edge);
  const at = (share: number): Point => path.pointAt(path.lengthMm * share);
  const probes = Array.from({ length: 17 }, (_, i) => at(i / 16));
  const [p, m, q] = [at(0), at(0.5), at(1)];
  const chord = Math.hypot(q[0] - p[0], q[1] - p[1]);
  if (chord > 0) {
    const off = Math.max(...probes.map((r) => Math.abs((q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])) / chord));
    if (off <= STRAIGHT_MM) return { kind: 'straight' };
  }
  const circle = circleThrough(p, m, q);
  if (circle && probes.every((r) => Math.abs(Math.hypot(r[0] - circle.at[0], r[1] - circle.at[1]) - circle.radius) <= ROUND_MM)) {
    return { kind: 'round', radius_mm: circle.radius };
  }
  return { kind: 'curved' };
}

function circleThrough(p: Point, q: Point, r: Point): { at: Point; radius: number } | null {
  const [ax, ay] = [q[0] - p[0], q[1] - p[1]], [bx, by] = [r[0] - p[0], r[1] - p[1]];
  const twice = 2 * (ax * by - ay * bx);
  if (Math.abs(twice) < 1e-9) return null;
  const a2 = ax * ax + ay * ay, b2 = bx * bx + by * by;
  const x = (by * a2 - ay * b2) / twice, y = (ax * b2 - bx * a2) / twice;
  return { at: [p[0] + x, p[1] + y], radius: Math.hypot(x, y) };
}

export function areaOf(piece: PieceView): number {
  const { ring } = shapeOf(piece);
  return Math.abs(ring.reduce((sum, p, i) => {
    const q = ring[(i + 1) % ring.length] ?? p;
    return sum + p[0] * q[1] - q[0] * p[1];
  }, 0)) / 2;
}

export function numbersOf(state: State): Item[] {
  const garment = state.doc.garment;
  if (!garment) return [];
  const unit = state.view.unit;
  const things = lookup(garment);
  const edges = chosen(state, 'edge').flatMap((id) => things.edges.get(id) ?? []);
  if (edges.length > 1) {
    const sum = edges.reduce((mm, { edge }) => mm + edge.length_mm, 0);
    return [{ label: t('pattern.number.edges'), value: String(edges.length) }, { label: t('pattern.number.together'), value: measure(sum, unit, { fine: true }) }];
  }
  const edge = edges[0];
  if (edge) return ofEdge(garment, edge.edge.id, unit);
  const corner = chosen(state, 'corner')[0];
  if (corner !== undefined) return ofCorner(garment, corner);
  const notch = chosen(state, 'notch')[0];
  if (notch !== undefined) return ofNotch(garment, notch, unit);
  const seam = chosen(state, 'seam')[0];
  if (seam !== undefined) return ofSeam(garment, seam, unit);
  const piece = things.pieces.get(chosen(state, 'piece')[0] ?? '');
  return piece ? ofPiece(piece, unit) : ofGarment(garment, unit);
}

function ofEdge(garment: GarmentView, id: string, unit: Unit): Item[] {
  const found = lookup(garment).edges.get(id);
  if (!found) return [];
  const { edge } = found;
  const items: Item[] = [{ label: t('pattern.number.length'), value: measure(edge.length_mm, unit, { fine: true }) }];
  if (edge.held_mm !== null) items.push({ label: t('pattern.number.held'), value: measure(edge.held_mm, unit, { fine: true }) });
  const bend = bendOf(edge);
  items.push({
    label: t('pattern.number.shape'),
    value: bend.kind === 'round' ? t('pattern.bend.round', { radius: measure(bend.radius_mm, unit) }) : t(`pattern.bend.${bend.kind}`),
  });
  const [start, end] = [angleAt(found, 'start'), angleAt(found, 'end')];
  if (start !== null && end !== null) items.push({ label: t('pattern.number.angles'), value: t('pattern.number.and', { a: degrees(start), b: degrees(end) }) });
  if (edge.kind !== 'fold') items.push({ label: t('pattern.number.allowance'), value: measure(edge.allowance_mm, unit) });
  const dart = dartOf(found);
  if (dart) items.push({ label: t('pattern.number.intake'), value: measure(dart.intake_mm, unit, { fine: true }) });
  for (const { seam, side, mates } of matesOf(garment, id).slice(0, 1)) {
    const other = lookup(garment).edges.get(mates[0]?.edge ?? '');
    const own = runLength(garment, side === 'a' ? seam.a : seam.b), far = runLength(garment, mates);
    const off = own - far - (side === 'a' ? seam.ease_mm : -seam.ease_mm);
    if (other) {
      items.push({ label: t('pattern.number.mate'), value: t('pattern.number.mate.is', { mate: edgeWords(other), length: measure(far, unit, { fine: true }) }) });
    }
    items.push({ label: t('pattern.number.difference'), value: difference(off, unit), mark: Math.abs(off) > 1.5 ? 'attention' : 'good' });
  }
  return items;
}

function ofCorner(garment: GarmentView, id: string): Item[] {
  const angle = lookup(garment).edges.get(id)?.edge.start_angle_deg;
  return angle === null || angle === undefined ? [] : [{ label: t('pattern.number.angle'), value: degrees(angle) }];
}

function ofNotch(garment: GarmentView, id: string, unit: Unit): Item[] {
  const found = lookup(garment).notches.get(id);
  const edge = found && lookup(garment).edges.get(found.notch.edge);
  if (!found || !edge) return [];
  const items: Item[] = [
    { label: t('pattern.number.from-start'), value: measure(found.notch.mm, unit, { fine: true }) },
    { label: t('pattern.number.from-end'), value: measure(edge.edge.length_mm - found.notch.mm, unit, { fine: true }) },
  ];
  const seam = matesOf(garment, edge.edge.id)[0]?.seam;
  const along = seam && alongA(garment, seam, edge.edge.id, found.notch.mm);
  if (seam && along !== null && along !== undefined) {
    items.push({ label: t('pattern.number.along', { seam: seamWords(seam) }), value: measure(along, unit, { fine: true }) });
  }
  return items;
}

function ofSeam(garment: GarmentView, id: string, unit: Unit): Item[] {
  const seam = lookup(garment).seams.get(id);
  if (!seam) return [];
  const [a, b] = [runLength(garment, seam.a), runLength(garment, seam.b)];
  const off = a - b - seam.ease_mm;
  const items: Item[] = [
    { label: seam.words_a, value: measure(a, unit, { fine: true }) },
    { label: seam.words_b, value: measure(b, unit, { fine: true }) },
    { label: t('pattern.number.difference'), value: difference(off, unit), mark: Math.abs(off) > 1.5 ? 'attention' : 'good' },
  ];
  if (seam.ease_mm !== 0) items.push({ label: t('pattern.number.ease'), value: difference(seam.ease_mm, unit) });
  return items;
}

function ofPiece(piece: PieceView, unit: Unit): Item[] {
  const { box } = shapeOf(piece);
  const items: Item[] = [
    { label: t('pattern.number.width'), value: measure(box.width, unit) },
    { label: t('pattern.number.height'), value: measure(box.height, unit) },
    { label: t('pattern.number.area'), value: area(areaOf(piece), unit) },
  ];
  if (piece.uncertainty_mm) items.push({ label: t('pattern.number.certainty'), value: t('pattern.number.within', { mm: difference(piece.uncertainty_mm, unit) }) });
  return items;
}

function ofGarment(garment: GarmentView, unit: Unit): Item[] {
  const all = garment.pieces.reduce((sum, piece) => sum + areaOf(piece), 0);
  return [
    { label: t('pattern.number.pieces'), value: String(garment.pieces.length + garment.derived.length) },
    { label: t('pattern.number.seams'), value: String(garment.seams.length) },
    { label: t('pattern.number.area-all'), value: area(all, unit) },
  ];
}
