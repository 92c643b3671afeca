/**
 * What can be moved on a photograph: corners of things of known size, the two marks of a ruler, touches, strokes.
 * A handle's id says which: `corner:<reference>:<0…3>`, `mark:<reference>:<from|to>`, `touch:<number>`, `stroke:<number>`.
 */

import type { FoundView, PhotographSaid, PhotographView, ReferenceSaid, Stroke } from '../../client/types.gen';
import { cornersInOrder } from './outlines';

export type Px = [number, number];
export interface Handle {
  id: string;
  at: Px;
  kind: 'corner' | 'mark' | 'touch' | 'stroke';
  /** Number from 1, for its name. */
  number: number;
  side?: '+' | '-';
  how?: Stroke['how'];
}

export function handlesOf(photo: PhotographView): Handle[] {
  const handles: Handle[] = [];
  photo.references.forEach((reference, r) => {
    (reference.corners_px ?? []).forEach((at, c) => handles.push({ id: `corner:${r}:${c}`, at: pair(at), kind: 'corner', number: c + 1 }));
    if (reference.from_px) handles.push({ id: `mark:${r}:from`, at: pair(reference.from_px), kind: 'mark', number: 1 });
    if (reference.to_px) handles.push({ id: `mark:${r}:to`, at: pair(reference.to_px), kind: 'mark', number: 2 });
  });
  photo.touches.forEach((touch, i) => {
    handles.push({ id: `touch:${i}`, at: [touch.x_px, touch.y_px], kind: 'touch', number: i + 1, side: touch.side ?? '+' });
  });
  (photo.strokes ?? []).forEach((stroke, i) => {
    const first = stroke.points_px[0];
    if (first) handles.push({ id: `stroke:${i}`, at: pair(first), kind: 'stroke', number: i + 1, how: stroke.how });
  });
  return handles;
}

/** What is to be said when a handle lies at another place. */
export function movedTo(photo: PhotographView, id: string, at: Px): PhotographSaid {
  const [kind, first = '', second = ''] = id.split(':');
  const number = Number(first);
  if (kind === 'touch') {
    return { touches: photo.touches.map((touch, i) => (i === number ? { ...touch, x_px: at[0], y_px: at[1] } : touch)) };
  }
  if (kind === 'stroke') {
    return { strokes: (photo.strokes ?? []).map((stroke, i) => (i === number ? strokeAt(stroke, at, photo) : stroke)) };
  }
  return {
    references: photo.references.map((reference, r) => {
      if (r !== number) return reference;
      if (kind === 'mark') return { ...reference, [second === 'from' ? 'from_px' : 'to_px']: at };
      return { ...reference, corners_px: (reference.corners_px ?? []).map((old, c) => (c === Number(second) ? at : old)) };
    }),
  };
}

/** A stroke moved as a whole, its first point to a place: only so far that all of it stays in the picture. */
function strokeAt(stroke: Stroke, at: Px, picture: { width_px: number; height_px: number }): Stroke {
  const first = stroke.points_px[0] ?? at;
  const by = (axis: 0 | 1, most: number): number => {
    const values = stroke.points_px.map((p) => p[axis]);
    return Math.min(Math.max(at[axis] - first[axis], -Math.min(...values)), most - Math.max(...values));
  };
  const dx = by(0, picture.width_px - 1), dy = by(1, picture.height_px - 1);
  const round = (value: number) => Math.round(value * 100) / 100;
  return { ...stroke, points_px: stroke.points_px.map((p): Px => [round(p[0] + dx), round(p[1] + dy)]) };
}

/** The photograph as it would be with that said. */
export function withSaid(photo: PhotographView, said: PhotographSaid): PhotographView {
  return {
    ...photo,
    references: said.references ?? photo.references,
    touches: said.touches ?? photo.touches,
    strokes: said.strokes ?? photo.strokes ?? [],
    square_paper: said.square_paper ?? photo.square_paper,
    cloth: said.cloth ?? photo.cloth,
    name: said.name ?? photo.name,
  };
}

/** What is to be said when the touch or the stroke with that handle is none any more. */
export function without(photo: PhotographView, id: string): PhotographSaid {
  return id.startsWith('stroke:')
    ? { strokes: (photo.strokes ?? []).filter((_, i) => id !== `stroke:${i}`) }
    : { touches: photo.touches.filter((_, i) => id !== `touch:${i}`) };
}

/** Sides of the things of known size, mm: wider than high. */
export const SIZES_MM: Partial<Record<ReferenceSaid['kind'], readonly [number, number]>> = {
  a4: [297, 210],
  letter: [279.4, 215.9],
  card: [85.6, 53.98],
  sheet: [297, 210],
};

/** Four corners to begin with: where such a thing was seen, otherwise in the middle and in its proportion. */
export function firstCorners(photo: PhotographView, kind: ReferenceSaid['kind']): Px[] {
  const seen = photo.found ? seenQuads(photo.found)[0] : undefined;
  if (seen) return seen;
  const [wide, high] = SIZES_MM[kind] ?? [297, 210];
  const width = Math.min(photo.width_px, (photo.height_px * wide) / high) * 0.4;
  const height = (width * high) / wide;
  const x = photo.width_px / 2, y = photo.height_px / 2;
  return [
    [x - width / 2, y - height / 2], [x + width / 2, y - height / 2],
    [x + width / 2, y + height / 2], [x - width / 2, y + height / 2],
  ];
}

/** What was seen of known size, as four corners each. */
export function seenQuads(found: FoundView): Px[][] {
  return found.references_px.map((ring) => fourCorners(ring.map(pair))).filter((quad) => quad.length === 4);
}

/** The four points of a ring that hold the most area, in its order: greedy, dropping what matters least. */
export function fourCorners(ring: readonly Px[]): Px[] {
  const left = [...ring];
  const lost = (i: number): number => {
    const a = left[(i + left.length - 1) % left.length] ?? [0, 0], b = left[i] ?? [0, 0], c = left[(i + 1) % left.length] ?? [0, 0];
    return Math.abs((b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1]));
  };
  while (left.length > 4) {
    let least = 0;
    for (let i = 1; i < left.length; i += 1) if (lost(i) < lost(least)) least = i;
    left.splice(least, 1);
  }
  return left;
}

/** A reference of another kind in the place of one: what still makes sense is kept. */
export function ofKind(photo: PhotographView, old: ReferenceSaid, kind: ReferenceSaid['kind']): ReferenceSaid {
  if (kind === 'points') {
    const x = photo.width_px, y = photo.height_px / 2;
    return {
      kind,
      from_px: old.from_px ?? [Math.round(x * 0.35), Math.round(y)],
      to_px: old.to_px ?? [Math.round(x * 0.65), Math.round(y)],
      distance_mm: old.distance_mm ?? 200,
      height_mm: old.height_mm ?? 0,
    };
  }
  const corners = (kind === 'a4' || kind === 'letter' || kind === 'card') && old.corners_px ? { corners_px: old.corners_px } : {};
  return { kind, ...corners };
}

/** Corners of a found outline in order, for names. */
export function orderedCorners(ring: readonly (readonly number[])[], corners: readonly (readonly number[])[]): Px[] {
  return cornersInOrder(ring, corners).map(({ at }) => [at[0], at[1]]);
}

function pair(at: readonly number[]): Px {
  return [at[0] ?? 0, at[1] ?? 0];
}
