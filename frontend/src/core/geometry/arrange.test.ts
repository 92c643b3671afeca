import { describe, expect, test } from 'vitest';
import { arrange } from './arrange';
import { netRing, pathOf, type PieceShape, type SeamShape } from './garment-shapes';
import { golden } from './golden-testing';
import { distanceOfRingsMm, boundsOf } from './polygon';
import { apply, moveOf, placed, type Placement } from './rigid';
import { Path } from './path';
import type { PointMm } from './units';

interface Garment {
  id: string;
  pieces: PieceShape[];
  derived: PieceShape[];
  seams: SeamShape[];
}

const garments = golden<{ garments: Garment[] }>('garment.json').garments;
const pinafore = garments.find((g) => g.id === 'pinafore') as Garment;
const shirt = garments.find((g) => g.id === 'shirt') as Garment;

function laid(g: Garment, gapMm = 40) {
  const made = arrange(g.pieces, g.derived, g.seams, { gapMm });
  const ring = (id: string): PointMm[] => {
    const piece = [...g.pieces, ...g.derived].find((p) => p.id === id) as PieceShape;
    return placed(netRing(piece), made.places.get(id) as Placement);
  };
  const edge = (piece: string, id: string): Path => {
    const found = g.pieces.find((p) => p.id === piece)?.edges.find((e) => e.id === id);
    if (found === undefined) throw new Error(id);
    return pathOf(found).moved(moveOf(made.places.get(piece) as Placement));
  };
  return { made, ring, edge };
}

describe.each(garments)('$id', (g) => {
  test('every piece has a place, and none lies nearer to another than the gap', () => {
    const { made, ring } = laid(g);
    const ids = [...g.pieces, ...g.derived].map((p) => p.id);
    expect([...made.places.keys()].sort()).toEqual([...ids].sort());
    ids.forEach((a, i) => {
      for (const b of ids.slice(i + 1)) expect(distanceOfRingsMm(ring(a), ring(b)), `${a} ${b}`).toBeGreaterThan(39.9);
    });
  });

  test('is laid out alike each time, and at another gap wider', () => {
    expect([...laid(g).made.places]).toEqual([...laid(g).made.places]);
    const [near, far] = [laid(g, 20).made.box, laid(g, 120).made.box];
    expect(far[2] - far[0]).toBeGreaterThan(near[2] - near[0]);
  });

  test('derived pieces lie below, a row for each cloth', () => {
    const { made, ring } = laid(g);
    let above = made.box[1];
    for (const row of made.rows) {
      expect(row.box[3]).toBeLessThan(above);
      above = row.box[1];
      for (const id of row.pieces) {
        const [left, bottom, right, top] = boundsOf(ring(id));
        expect(left).toBeGreaterThanOrEqual(row.box[0] - 0.1);
        expect(right).toBeLessThanOrEqual(row.box[2] + 0.1);
        expect(bottom).toBeGreaterThanOrEqual(row.box[1] - 0.1);
        expect(top).toBeLessThanOrEqual(row.box[3] + 0.1);
        expect(g.derived.find((p) => p.id === id)?.cuts[0]?.role).toBe(row.role);
      }
    }
    expect(made.rows.flatMap((r) => r.pieces).length).toBe(g.derived.length);
  });

  test('a fold lies on the outside: nothing else of its row is beyond it', () => {
    const { made, ring, edge } = laid(g);
    for (const piece of g.pieces) {
      if (piece.fold === null) continue;
      const fold = edge(piece.id, piece.fold);
      const [x, , right] = fold.bounds;
      const [left, bottom, far, top] = boundsOf(ring(piece.id));
      const outwards = Math.abs(x - left) < Math.abs(right - far) ? -1 : 1;
      for (const other of g.pieces) {
        const [l, b, r, t] = boundsOf(ring(other.id));
        const level = b < top && t > bottom;
        if (other.id === piece.id || !level || !g.seams.some((s) => joins(s, piece.id, other.id))) continue;
        if (outwards < 0) expect(l, `${piece.id} ${other.id}`).toBeGreaterThan(x - 1);
        else expect(r, `${piece.id} ${other.id}`).toBeLessThan(right + 1);
      }
      expect(made.places.get(piece.id)?.turnDeg).toBe(0);
    }
  });
});

function joins(seam: SeamShape, a: string, b: string): boolean {
  const [p, q] = [seam.a.map((x) => x.piece), seam.b.map((x) => x.piece)];
  return (p.includes(a) && q.includes(b)) || (p.includes(b) && q.includes(a));
}

test('the panels of the pinafore lie from left to right as they are sewn, all upright', () => {
  const { made, ring, edge } = laid(pinafore);
  const panels = ['front', 'side_front', 'side_back', 'back'];
  const lefts = panels.map((id) => boundsOf(ring(id))[0]);
  expect(lefts).toEqual([...lefts].sort((a, b) => a - b));
  for (const id of panels) expect(made.places.get(id)).toMatchObject({ turnDeg: 0, mirrored: false });
  // sewn edges face each other, level, the gap apart where they are nearest
  for (const [a, ea, b, eb] of [
    ['front', 'front.panel', 'side_front', 'side_front.panel'],
    ['side_front', 'side_front.side', 'side_back', 'side_back.side'],
    ['side_back', 'side_back.panel', 'back', 'back.panel'],
  ] as const) {
    const [one, other] = [edge(a, ea), edge(b, eb)];
    const [p, q] = [one.pointAt(one.lengthMm / 2), other.pointAt(other.lengthMm / 2)];
    expect(Math.abs(p[1] - q[1])).toBeLessThan(15);
    expect(q[0] - p[0]).toBeGreaterThan(30);
    expect(q[0] - p[0]).toBeLessThan(140);
  }
  // the strap hangs on the back's shoulder: it stands above it
  expect(boundsOf(ring('strap'))[1]).toBeGreaterThan(edge('back', 'back.strap').bounds[3]);
});

test('of two halves with the fold at the left the second is turned over, so that the sides face', () => {
  const { made, ring, edge } = laid(shirt);
  const [front, back] = [made.places.get('front') as Placement, made.places.get('back') as Placement];
  expect(front.mirrored).not.toBe(back.mirrored);
  const side = edge('back', 'back.side');
  const low = edge('front', 'front.side-low');
  const between = (side.pointAt(80)[0] + low.pointAt(80)[0]) / 2;
  const [l, , r] = boundsOf(ring('back'));
  const [fl, , fr] = boundsOf(ring('front'));
  expect(Math.min(r, fr)).toBeLessThan(between + 30);
  expect(Math.max(l, fl)).toBeGreaterThan(between - 30);
  // between the armholes is no room for the sleeve: it stands upright beside them, its cap as high as they are
  const sleeve = made.places.get('sleeve') as Placement;
  expect(sleeve).toMatchObject({ turnDeg: 0, mirrored: false });
  const [, bottom, , top] = edge('back', 'back.armhole').bounds;
  const cap = edge('sleeve', 'sleeve.cap-right').bounds;
  expect(cap[1]).toBeLessThan(top);
  expect(cap[3]).toBeGreaterThan(bottom);
  expect(boundsOf(ring('sleeve'))[0]).toBeGreaterThan(Math.max(r, fr));
  // the pocket is sewn to nothing: it lies beside all that is
  const others = ['front', 'back', 'sleeve'].map((id) => boundsOf(ring(id))[2]);
  expect(boundsOf(ring('pocket'))[0]).toBeGreaterThan(Math.max(...others));
});

test('a garment without seams, one piece, no piece', () => {
  const loose = arrange(pinafore.pieces, [], []);
  expect(loose.places.size).toBe(pinafore.pieces.length);
  expect([...loose.places.values()].every((p) => p.turnDeg === 0 && !p.mirrored)).toBe(true);
  const one = arrange(pinafore.pieces.slice(0, 1), [], []);
  const only = one.places.get('front') as Placement;
  expect(apply(moveOf(only), [0, 0])[0]).toBeCloseTo(0, 6);
  expect(arrange([], [], []).places.size).toBe(0);
  expect(arrange([], pinafore.derived, []).rows.length).toBeGreaterThan(1);
});

test('a seam of edges that are gone is passed over', () => {
  const seam: SeamShape = {
    id: 'x', a: [{ piece: 'front', edge: 'gone', reverse: false }], b: [{ piece: 'back', edge: 'back.panel', reverse: false }],
    ease_mm: 0, b_mirrored: false,
  };
  expect(arrange(pinafore.pieces, [], [seam]).places.size).toBe(pinafore.pieces.length);
});
