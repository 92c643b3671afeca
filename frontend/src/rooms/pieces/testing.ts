/** A small garment for tests: a front on the fold and a back, sewn at the side; a pocket by itself. */

import type { EdgeView, GarmentView, NotchView, PieceView, SeamView } from '../../client/types.gen';

type P = [number, number];

export function edge(id: string, from: P, to: P, more: Partial<EdgeView> = {}): EdgeView {
  return {
    id, name: id, called: id, kind: 'seam', shape: 'straight', segments: [{ points: [from, to] }],
    length_mm: Math.hypot(to[0] - from[0], to[1] - from[1]), allowance_mm: 15, own_allowance: false,
    traced_as: 'net', traced_allowance_mm: 0, start_angle_deg: 90, seams: [], held_mm: null, start_held_on: null, ...more,
  };
}

export function box(id: string, width: number, height: number, more: Partial<PieceView> = {}, edges: Partial<Record<'bottom' | 'right' | 'top' | 'left', Partial<EdgeView>>> = {}): PieceView {
  const name = (side: string) => `${id}-${side}`;
  return {
    id, name: id, notches: [], marks: [], darts: [], pleats: [], gathers: [], grain: [[width / 2, 20], [width / 2, height - 20]], fold: null,
    cuts: [{ role: 'outer', count: 1, pairs: false }],
    cut_outline: [[-15, -15], [width + 15, -15], [width + 15, height + 15], [-15, height + 15]],
    edges: [
      edge(name('bottom'), [0, 0], [width, 0], edges.bottom),
      edge(name('right'), [width, 0], [width, height], edges.right),
      edge(name('top'), [width, height], [0, height], edges.top),
      edge(name('left'), [0, height], [0, 0], edges.left),
    ],
    recipe: null, tracing: null, uncertainty_mm: 0.5, ...more,
  };
}

export function notch(id: string, on: string, at: P, mm: number, out_deg = 0): NotchView {
  return { id, edge: on, at, mm, out_deg, count: 1, held_on: null };
}

export const SIDE: SeamView = {
  id: 'side', name: 'side', a: [{ piece: 'front', edge: 'front-right', reverse: false }], b: [{ piece: 'back', edge: 'back-left', reverse: true }],
  ease_mm: 0, ease_between: null, b_mirrored: false, kind: 'plain', length_a_mm: 400, length_b_mm: 404, words_a: 'the right of front', words_b: 'the left of back',
};

export function garment(more: Partial<GarmentView> = {}): GarmentView {
  return {
    id: 'g1', name: 'Vest', project: 'p1', project_name: 'Autumn', revision: 1, head: 'h',
    pieces: [
      box('front', 200, 400, { fold: 'front-left', notches: [notch('n-front', 'front-right', [200, 150], 150)] }, {
        left: { kind: 'fold' }, right: { seams: ['side'] },
      }),
      box('back', 220, 404, { notches: [notch('n-back', 'back-left', [0, 160], 244, 180)] }, { left: { seams: ['side'] } }),
      box('pocket', 120, 100),
    ],
    derived: [box('r1/front', 100, 60, { recipe: 'r1' })],
    seams: [SIDE], recipes: [{ id: 'r1', kind: 'facing', name: 'facing', sources: ['front'], params: { width_mm: 60 }, pieces: ['r1/front'] }],
    tracings: [], mock_ups: [], facts: {}, measures: {}, taped: {}, findings: [],
    steps: { undo: 'x', redo: null }, ...more,
  };
}
