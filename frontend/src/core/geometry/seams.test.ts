import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { cornerMoved, knotMoved, knotNear, withEndMoved } from './corners';
import { edgeOf, pathOf, type End, type PieceShape, type SeamShape } from './garment-shapes';
import { golden, near, nearPoint, nearPoints, type RawSegment } from './golden-testing';
import { Path } from './path';
import { apply, applyVector, flips, isRigid } from './rigid';
import { rolledTo, touchingMove } from './roll';
import { distanceMm, type PointMm } from './units';
import { chainLengthMm, expectedOnB, ownEnd, runOf, runUnbent, runningDifference, stretchAt, unbent, walkSeam } from './walk';

interface Garment {
  id: string;
  pieces: PieceShape[];
  seams: SeamShape[];
}
interface WalkSaid {
  garment: string;
  seam: string;
  difference_mm: number;
  a: RunSaid;
  b: RunSaid;
  pairs: { a: string; b: string; apart_mm: number }[];
  alone: string[];
  running: [number, number][];
}
interface RunSaid {
  length_mm: number;
  stretches: { piece: string; edge: string; from_mm: number; to_mm: number }[];
  notches: { id: string; at_mm: number; count: number }[];
}
interface CornerSaid {
  garment: string;
  piece: string;
  edge: string;
  end: End;
  to: PointMm;
  sound: boolean;
  inside_out?: boolean;
  edges?: { id: string; segments: RawSegment[]; length_mm: number }[];
  angle_deg?: number;
}
interface KnotSaid {
  garment: string;
  piece: string;
  edge: string;
  joint: number;
  to: PointMm;
  segments: RawSegment[];
  length_mm: number;
}

const garments = new Map(golden<{ garments: Garment[] }>('garment.json').garments.map((g) => [g.id, g]));
const { walks, garments: panels } = golden<{ walks: WalkSaid[]; garments: Garment[] }>('walks.json');
for (const panel of panels) garments.set(panel.id, panel);
const corners = golden<{ cases: CornerSaid[]; knots: KnotSaid[] }>('corners.json');

function piecesOf(garment: string): Map<string, PieceShape> {
  return new Map((garments.get(garment) as Garment).pieces.map((p) => [p.id, p]));
}

function seamOf(garment: string, id: string): SeamShape {
  return (garments.get(garment) as Garment).seams.find((s) => s.id === id) as SeamShape;
}

describe('corners', () => {
  test.each(corners.cases)('$garment, $edge put at $to', (c) => {
    const piece = piecesOf(c.garment).get(c.piece) as PieceShape;
    const made = cornerMoved(piece, c.edge, c.end, c.to);
    if (!c.sound) {
      expect(made.trouble).not.toBeNull();
      if (c.inside_out) expect(made.trouble?.why).toBe('inside out');
      return;
    }
    expect(made.trouble).toBeNull();
    expect(made.edges).toHaveLength(2);
    const wanted = new Map(c.edges?.map((e) => [e.id, e]));
    for (const edge of made.edges) {
      const same = wanted.get(edge.id);
      near(edge.lengthMm, same?.length_mm ?? NaN, 'length');
      edge.path.segments.forEach((s, i) => nearPoints(s, same?.segments[i]?.points ?? [], 'segment'));
      wanted.delete(edge.id);
    }
    // no other edge moves in Python either
    for (const edge of wanted.values()) near(pathOf(edgeOf(piece, edge.id)).lengthMm, edge.length_mm, edge.id);
    near(made.angleDeg ?? NaN, c.angle_deg ?? NaN, 'angle', 1e-5);
  });

  test.each(corners.knots)('$garment, knot $joint of $edge', (k) => {
    const path = pathOf(edgeOf(piecesOf(k.garment).get(k.piece) as PieceShape, k.edge));
    const made = knotMoved(path, k.joint, k.to);
    near(made.lengthMm, k.length_mm, 'length');
    made.segments.forEach((s, i) => nearPoints(s, k.segments[i]?.points ?? [], 'segment'));
    const found = knotNear(made, [k.to[0] + 1, k.to[1]], 5);
    expect(found?.joint).toBe(k.joint);
    expect(knotNear(made, k.to, -1)).toBeNull();
  });

  test('an end that is put back where it was leaves the path as it was', () => {
    for (const garment of garments.values()) {
      for (const edge of garment.pieces.flatMap((p) => p.edges)) {
        const path = pathOf(edge);
        const [x, y] = path.end;
        const there = withEndMoved(path, 'end', [x + 12, y - 7]);
        near(withEndMoved(path, 'end', path.end).lengthMm, path.lengthMm);
        nearPoint(there.start, path.start);
        nearPoint(there.end, [x + 12, y - 7]);
      }
    }
  });
});

describe.each(walks)('$garment: $seam', (w) => {
  const walk = walkSeam(piecesOf(w.garment), seamOf(w.garment, w.seam));

  test('is walked as in Python', () => {
    near(walk.differenceMm, w.difference_mm, 'difference', 1e-5);
    for (const [run, same] of [[walk.a, w.a], [walk.b, w.b]] as const) {
      near(run.lengthMm, same.length_mm, 'length');
      expect(run.stretches.map((s) => [s.piece.id, s.edge.id])).toEqual(same.stretches.map((s) => [s.piece, s.edge]));
      run.stretches.forEach((s, i) => near(s.fromMm, same.stretches[i]?.from_mm ?? NaN, 'from'));
      expect(run.notches.map((n) => [n.id, n.count])).toEqual(same.notches.map((n) => [n.id, n.count]));
      run.notches.forEach((n, i) => near(n.atMm, same.notches[i]?.at_mm ?? NaN, 'notch'));
    }
    expect(walk.pairs.map((p) => [p.a.id, p.b.id])).toEqual(w.pairs.map((p) => [p.a, p.b]));
    walk.pairs.forEach((p, i) => near(p.apartMm, w.pairs[i]?.apart_mm ?? NaN, 'apart', 1e-5));
    expect(walk.alone.map((n) => n.id).sort()).toEqual(w.alone);
    runningDifference(walk, 20).forEach((row, i) => nearPoint(row, w.running[i] ?? [], 'running', 1e-5));
  });

  test.each([0, 0.3, 0.71, 1])('rolled to %s of the way, edges touch and run the same way', (share) => {
    const aMm = share * walk.a.lengthMm;
    const rolled = rolledTo(walk, aMm, true);
    expect(isRigid(rolled.move)).toBe(true);
    const b = stretchAt(walk.b, rolled.bMm);
    nearPoint(apply(rolled.move, b.stretch.path.pointAt(b.mm)), rolled.at, 'touch');
    const a = stretchAt(walk.a, aMm);
    const side = (p: Path, mm: number): PointMm => p.tangentAt(mm, mm >= p.lengthMm ? 'before' : 'after');
    nearPoint(applyVector(rolled.move, side(b.stretch.path, b.mm)), side(a.stretch.path, a.mm), 'direction');
    // the inside of A lies to one side of the seam, that of B to the other
    const inwardA = a.stretch.reverse ? -1 : 1;
    const inwardB = (b.stretch.reverse ? -1 : 1) * (flips(rolled.move) ? -1 : 1);
    expect(inwardA).toBe(-inwardB);
  });

  test('laid straight it is as long as it was, all the way', () => {
    for (const run of [walk.a, walk.b]) {
      const straight = runUnbent(run, 1, [5, 7]);
      near(straight.flat().length > 0 ? chainLengthMm(straight.flatMap((s, i) => (i ? s.slice(1) : s))) : 0, run.lengthMm);
      const last = (straight[straight.length - 1] as PointMm[]).at(-1) as PointMm;
      nearPoint(last, [5 + run.lengthMm, 7], 'far end');
      runUnbent(run, 0, [0, 0]).forEach((points, i) => {
        const path = run.stretches[i]?.path as Path;
        nearPoint(points[0] as PointMm, path.start, 'start as drawn');
        nearPoint(points.at(-1) as PointMm, path.end, 'end as drawn');
      });
    }
  });
});

test('a seam that has its ease between two notches expects it there', () => {
  const seam: SeamShape = { ...seamOf('shirt', 'armhole'), ease_between: ['sleeve.one', 'sleeve.two'] };
  const walk = walkSeam(piecesOf('shirt'), seam);
  const [from, to] = walk.a.notches.map((n) => n.atMm) as [number, number];
  expect(expectedOnB(walk, from)).toBe(from);
  near(expectedOnB(walk, to), to - 18);
  near(expectedOnB(walk, (from + to) / 2), (from + to) / 2 - 9);
});

test('half way to straight the bends are half as sharp, and nothing is longer', () => {
  const quarter = Path.of([{ points: [[100, 0], [100, 55.2285], [55.2285, 100], [0, 100]] }]);
  const half = unbent(quarter, 0.5, [0, 0]);
  near(chainLengthMm(half), quarter.lengthMm, 'half', 1e-3);
  const [p, q] = [half.at(-2) as PointMm, half.at(-1) as PointMm];
  // 180° at its end as drawn, 0° straight
  near((Math.atan2(q[1] - p[1], q[0] - p[0]) * 180) / Math.PI, 90, 'heading', 0.02);
});

test('where a run enters and leaves an edge', () => {
  const run = runOf(piecesOf('shirt'), seamOf('shirt', 'armhole').b);
  expect(run.stretches.map((s) => [ownEnd(s, 'start'), ownEnd(s, 'end')])).toEqual([['start', 'end'], ['end', 'start']]);
  expect(() => runOf(piecesOf('shirt'), [{ piece: 'nobody', edge: 'x', reverse: false }])).toThrow(RangeError);
  expect(() => runOf(piecesOf('shirt'), [{ piece: 'front', edge: 'x', reverse: false }])).toThrow(RangeError);
});

test('touching is the same from both sides', () => {
  const line = Path.line([0, 0], [100, 0]);
  const bow = Path.of([{ points: [[0, 0], [30, 40], [70, 40], [100, 0]] }]);
  fc.assert(
    fc.property(fc.double({ min: 0, max: 1, noNaN: true }), fc.boolean(), (share, over) => {
      const move = touchingMove(line, share * 100, bow, share * bow.lengthMm, over);
      expect(flips(move)).toBe(over);
      expect(distanceMm(apply(move, bow.pointAt(share * bow.lengthMm)), [share * 100, 0])).toBeLessThan(1e-6);
    }),
  );
});
