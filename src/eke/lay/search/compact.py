"""Compaction by linear programs: move everything a little at once, as far as one wish allows.

Turns stay; only translations are looked for. Every two convex bodies that are near each other are parted by a
fixed line, so "nothing overlaps" is linear, and so is the wish (:mod:`eke.lay.search.wishes`). The lines are drawn anew where the pieces then lie, and the program is solved again (Li and
Milenkovic 1995; Gomes and Oliveira 2006, European Journal of Operational Research 171). HiGHS solves it, by
``scipy.optimize.linprog``. What comes out is a lay like any other: the kernels settle it, and it is taken back
when they find an overlap.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from shapely.geometry import Polygon, box

from eke.lay.collide.tables import (
    F64,
    I64,
    PF_X,
    PF_X0,
    PF_Y,
    PI_MIRROR,
    PI_ON,
    PI_SHAPE,
    PI_SHEET,
    PI_V,
    RF_X0,
    RF_X1,
    RF_Y0,
    RF_Y1,
    RI_E,
    RI_NE,
    RL_DX,
    RL_DY,
    SI_CLASS,
    SI_MUST,
    SI_NPHASE,
    SI_NV,
    SI_V,
)
from eke.lay.search.convex import convex_bodies, free_polygons, lines_between
from eke.lay.search.hand import Hand
from eke.lay.search.wishes import SIDES, Growing, Larger, OnBorder, Parted, Program, Shorter, Wish

REACH: Final = 25.0
"""How far a piece may move along x or y in one program (scaled mm; all pieces together are 1000 × 1000)."""
ROUNDS: Final = 6
"""Programs in a row at most; each begins where the one before ended."""
GAIN: Final = 1e-4
"""A program that gains less than this share is the last."""
ROOM: Final = 2e-6
"""Bodies are kept apart by this (scaled mm), so that rounding makes no overlap of a touch."""
MOST_STEPS: Final = 4000
"""Steps of the solver in one program: bounds the work between two looks at the flag, the same on every machine."""
TIGHT: Final = 1e-9
"""By how much the solver may miss an inequality: far below ``ROOM``."""
MOST_LINES: Final = 12_000
MOST_PIECES: Final = 120
"""Above this one program takes longer than it is worth."""
PARTING_GAIN: Final = 0.05
"""A program that takes away less than this share of what still overlaps is the last."""


class Compactor:
    """Convex bodies of one hand's shapes and regions; made once, used for every lay of that hand."""

    def __init__(self, hand: Hand) -> None:
        self.hand = hand
        self._bodies: dict[int, list[I64]] = {}
        self._obstacles: dict[tuple[int, int], list[F64]] = {}
        self._pair = np.empty((MOST_LINES, 2), np.int64)
        self._line = np.empty((MOST_LINES, 3))

    def shorten(self, gain: float = GAIN) -> bool:
        """Make a strip shorter; return whether that worked. The lay must be free of overlaps.

        A program that gains less than the share ``gain`` is the last.
        """
        return self._improve(Shorter(self.hand), gain)

    def part_and_shorten(self) -> bool:
        """Part what still overlaps on a strip, then make it as short as can be; return whether that worked.

        The strip may get longer. Where it did not work everything lies as before.
        """
        if self.hand.n > MOST_PIECES:
            return False
        before = self.hand.picture()
        if self._program(Shorter(self.hand, overlaps=True)) is None or self.hand.settle() > 0.0:
            self.hand.restore(before)
            return False
        self.shorten()
        return True

    def part(self) -> bool:
        """Part what still overlaps on sheets; return whether that worked. Otherwise everything lies as before."""
        hand = self.hand
        if hand.n > MOST_PIECES:
            return False
        before = hand.picture()
        for _ in range(ROUNDS):
            gained = self._program(Parted()) if hand.go_on() else None
            if gained is None:
                break
            if hand.settle() <= 0.0:
                return True
            if gained < PARTING_GAIN:
                break
        hand.restore(before)
        return False

    def enlarge(self, rest: Growing) -> bool:
        """Let a rectangle among the pieces grow; return whether that worked."""
        return self._improve(Larger(self.hand, rest))

    def to_border(self, rest: Growing) -> bool:
        """Draw straight edges to the border, the rectangle staying as it is; return whether anything moved."""
        return self._improve(OnBorder(self.hand, rest, REACH))

    def _improve(self, wish: Wish, least: float = GAIN) -> bool:
        """Solve programs for a wish for as long as they gain something; return whether any did."""
        hand = self.hand
        if hand.n > MOST_PIECES:
            return False
        done = False
        for _ in range(ROUNDS):
            if not hand.go_on():
                break
            before = hand.picture(0.0)
            size = None if wish.rest is None else wish.rest.size
            gained = self._program(wish)
            if gained is None:
                break
            if hand.settle() > 0.0:
                if wish.rest is not None and size is not None:
                    wish.rest.resize(size)
                hand.restore(before)
                break
            done = True
            if gained < least:
                break
        return done

    # -- one program -----------------------------------------------------------------------------------

    def _program(self, wish: Wish) -> float | None:
        """Solve one program and move the pieces; return the share that was gained, ``None`` for nothing."""
        import scipy.optimize
        from scipy.sparse import coo_matrix

        linprog: Any = scipy.optimize.linprog  # its stubs know no sparse matrices

        s = self.hand.state
        n = self.hand.n
        rest = None if wish.rest is None else wish.rest.index
        table = self._table(rest)
        rows = lines_between(*table, REACH, self._pair, self._line, np.empty(3))
        overlaps = np.flatnonzero(self._line[: max(0, rows), 2] < -ROOM)
        if rows < 0 or (len(overlaps) and not wish.overlaps):
            return None
        columns = 2 * n + SIDES + (len(overlaps) if wish.slack else 0)
        low, high = np.full(columns, -REACH), np.full(columns, REACH)
        low[2 * n + SIDES :], high[2 * n + SIDES :] = 0.0, np.inf
        program = Program(n, low, high, np.zeros(columns))
        self._lines(program, rows, table[4], table[-1], rest, set(overlaps.tolist()) if wish.slack else set())
        equal: list[tuple[int, int, float]] = []
        self._hold(low, high, equal)
        if rest is not None:
            low[2 * rest : 2 * rest + 2] = high[2 * rest : 2 * rest + 2] = 0.0
        base = wish.ask(program)
        if base <= 0.0:
            return None
        got: Any = linprog(
            program.cost,
            A_ub=coo_matrix(_triplets(program.entries), shape=(len(program.most), columns)).tocsr(),
            b_ub=np.array(program.most),
            A_eq=coo_matrix(_triplets(equal), shape=(_height(equal), columns)).tocsr() if equal else None,
            b_eq=np.zeros(_height(equal)) if equal else None,
            bounds=np.column_stack([low, high]),
            method="highs",
            options={"maxiter": MOST_STEPS, "primal_feasibility_tolerance": TIGHT},
        )
        if got.status != 0 or got.x is None or (got.fun >= -1e-9 and not wish.overlaps):
            return None
        move = got.x[: 2 * n].reshape(n, 2)
        s.piece_f[:, PF_X] += move[:, 0]
        s.piece_f[:, PF_Y] += move[:, 1]
        wish.take(got.x[2 * n : 2 * n + SIDES], move)
        return 1.0 - float(got.fun) / base if wish.slack else float(-got.fun) / base

    def _lines(
        self, program: Program, rows: int, owner: I64, movable: int, rest: int | None, slack: set[int]
    ) -> None:
        """Keep each body on its side of every line; those of ``slack`` may stay short of it, each by a column."""
        n = program.pieces
        extra = 2 * n + SIDES
        for k in range(rows):
            a, b = self._pair[k]
            nx, ny, gap = (float(v) for v in self._line[k])
            entries = _moved(int(owner[a]), nx, ny, n, rest)
            if b < movable:
                entries += _moved(int(owner[b]), -nx, -ny, n, rest)
            if k in slack:
                entries.append((extra, -1.0))
                extra += 1
            program.row(gap - ROOM, *entries)

    def _hold(self, low: F64, high: F64, equal: list[tuple[int, int, float]]) -> None:
        """Keep pieces on their rail, and those that are off, or in phase with stripes, where they are."""
        from eke.lay.collide.constrain import rail_of

        hand = self.hand
        s, f = hand.state, hand.field
        for i in range(hand.n):
            t = int(s.piece_i[i, PI_SHAPE])
            if not s.piece_i[i, PI_ON] or f.shape_i[t, SI_NPHASE] > 0:
                low[2 * i : 2 * i + 2] = high[2 * i : 2 * i + 2] = 0.0
            elif f.shape_i[t, SI_MUST]:
                k = int(rail_of(f, s, i))
                if k < 0:
                    low[2 * i : 2 * i + 2] = high[2 * i : 2 * i + 2] = 0.0
                    continue
                row = _height(equal)
                equal.append((row, 2 * i, float(f.rails[k, RL_DY])))
                equal.append((row, 2 * i + 1, -float(f.rails[k, RL_DX])))

    # -- bodies ----------------------------------------------------------------------------------------

    def _table(self, rest: int | None) -> tuple[F64, F64, I64, I64, I64, I64, I64, F64, F64, int]:
        """Return the bodies of all pieces, then of what is in their way, as ``lines_between`` takes them."""
        hand = self.hand
        s, f = hand.state, hand.field
        rings: list[F64] = []
        rows: list[tuple[int, int, int, float]] = []
        wanted: set[tuple[int, int]] = set()
        for i in range(hand.n):
            if not s.piece_i[i, PI_ON]:
                continue
            t, q = int(s.piece_i[i, PI_SHAPE]), int(s.piece_i[i, PI_SHEET])
            cls = int(f.shape_i[t, SI_CLASS])
            wanted.add((cls, q))
            turn = -1.0 if s.piece_i[i, PI_MIRROR] else 1.0
            if i == rest:
                rings.append(_box_ring(s.piece_f[i, PF_X0 : PF_X0 + 4]))
                rows.append((i, q, cls, 1.0))
                continue
            v0 = int(s.piece_i[i, PI_V])
            for body in self._bodies_of(t):
                rings.append(np.column_stack([s.wx[v0 + body], s.wy[v0 + body]]))
                rows.append((i, q, cls, turn))
        movable = len(rings)
        for cls, q in sorted(wanted):
            for ring in self._in_the_way(cls, q):
                rings.append(ring)
                rows.append((-1, q, cls, 1.0))
        count = np.array([len(r) for r in rings], np.int64)
        start = np.concatenate([[0], np.cumsum(count)[:-1]]).astype(np.int64)
        flat = np.vstack(rings)
        boxes = np.array([[*r.min(axis=0), *r.max(axis=0)] for r in rings])
        return (
            np.ascontiguousarray(flat[:, 0]), np.ascontiguousarray(flat[:, 1]), start, count,
            np.array([r[0] for r in rows], np.int64), np.array([r[1] for r in rows], np.int64),
            np.array([r[2] for r in rows], np.int64), np.array([r[3] for r in rows]), boxes, movable,
        )  # fmt: skip

    def _bodies_of(self, t: int) -> list[I64]:
        """Return a shape as convex bodies: which of its points each has."""
        if t not in self._bodies:
            f = self.hand.field
            v0, nv = int(f.shape_i[t, SI_V]), int(f.shape_i[t, SI_NV])
            points = np.column_stack([f.vx[v0 : v0 + nv], f.vy[v0 : v0 + nv]])
            index = {(float(x), float(y)): k for k, (x, y) in enumerate(points)}
            self._bodies[t] = [
                np.array([index[x, y] for x, y in body.tolist()]) for body in convex_bodies(Polygon(points))
            ]
        return self._bodies[t]

    def _in_the_way(self, cls: int, q: int) -> list[F64]:
        """Return all that is not free for a class of shapes on a sheet, as convex bodies; none on a strip."""
        if (cls, q) not in self._obstacles:
            f = self.hand.field
            r = cls * self.hand.state.limit.shape[0] + q
            e0, ne = int(f.region_i[r, RI_E]), int(f.region_i[r, RI_NE])
            found: list[F64] = []
            if ne > 0:
                x0, y0, x1, y1 = (float(f.region_f[r, c]) for c in (RF_X0, RF_Y0, RF_X1, RF_Y1))
                frame = box(x0 - 2 * REACH, y0 - 2 * REACH, x1 + 2 * REACH, y1 + 2 * REACH)
                taken = frame.difference(free_polygons(f.edges[e0 : e0 + ne]))
                found = convex_bodies(taken)
            self._obstacles[cls, q] = found
        return self._obstacles[cls, q]


def _moved(who: int, nx: float, ny: float, pieces: int, rest: int | None) -> list[tuple[int, float]]:
    """Return how far a body comes along a direction: by its piece's move, or by two sides of the rectangle."""
    if who == rest:
        c = 2 * pieces
        return [(c + (2 if nx > 0 else 0), nx), (c + (3 if ny > 0 else 1), ny)]
    return [(2 * who, nx), (2 * who + 1, ny)]


def _box_ring(b: F64) -> F64:
    return np.array([[b[0], b[1]], [b[2], b[1]], [b[2], b[3]], [b[0], b[3]]])


def _height(entries: list[tuple[int, int, float]]) -> int:
    return entries[-1][0] + 1 if entries else 0


def _triplets(entries: list[tuple[int, int, float]]) -> tuple[F64, tuple[I64, I64]]:
    rows, columns = (np.array([e[k] for e in entries], np.int64) for k in (0, 1))
    return np.array([e[2] for e in entries]), (rows, columns)
