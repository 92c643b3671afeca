"""Compaction by linear programs: move everything a little at once, as far as one wish allows.

Turns stay; only translations are looked for. Every two convex bodies that are near each other are parted by a
fixed line, so "nothing overlaps" is linear, and so is the wish: a shorter strip, a larger rectangle that
stays free, or edges of pieces on the border of their sheet. The lines are drawn anew where the pieces then lie, and the program is solved again (Li and
Milenkovic 1995; Gomes and Oliveira 2006, European Journal of Operational Research 171). HiGHS solves it, by
``scipy.optimize.linprog``. What comes out is a lay like any other: the kernels settle it, and it is taken back
when they find an overlap.
"""

from __future__ import annotations

from typing import Any, Final, Protocol

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
from eke.lay.search.border import pulls
from eke.lay.search.convex import convex_bodies, free_polygons, lines_between
from eke.lay.search.hand import Hand

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
OUTWARDS: Final = 1e-3
"""Weight of moving pieces away from the rectangle beside that of the rectangle itself."""


class Growing(Protocol):
    """A piece that is a rectangle along the axes and may change its size."""

    index: int
    size: tuple[float, float]

    @property
    def slopes(self) -> tuple[float, float]:
        """How much is gained for each mm of its width and of its height."""

    def resize(self, size: tuple[float, float]) -> None:
        """Give it another width and height (scaled mm) about its middle."""


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
        return self._improve(None, gain)

    def part(self) -> bool:
        """Part what still overlaps on a strip, then make it as short as can be; return whether that worked.

        The strip may get longer. Where it did not work everything lies as before.
        """
        before = self.hand.picture()
        if self._improve(None, apart=True):
            return True
        self.hand.restore(before)
        return False

    def enlarge(self, rest: Growing) -> bool:
        """Let a rectangle among the pieces grow; return whether that worked."""
        return self._improve(rest)

    def to_border(self, rest: Growing) -> bool:
        """Draw straight edges to the border, the rectangle staying as it is; return whether anything moved."""
        return self._improve(rest, to_border=True)

    def _improve(
        self, rest: Growing | None, least: float = GAIN, *, to_border: bool = False, apart: bool = False
    ) -> bool:
        hand = self.hand
        if hand.n > MOST_PIECES:
            return False
        done = False
        for _ in range(ROUNDS):
            if not hand.go_on():
                break
            before = hand.picture(0.0)
            size = None if rest is None else rest.size
            gained = self._program(rest, to_border=to_border, apart=apart and not done)
            if gained is None:
                break
            if hand.settle() > 0.0:
                if rest is not None and size is not None:
                    rest.resize(size)
                hand.restore(before)
                break
            parted = apart and not done
            done = True
            if gained < least and not parted:
                break
        return done

    # -- one program -----------------------------------------------------------------------------------

    def _program(
        self, growing: Growing | None, *, to_border: bool = False, apart: bool = False
    ) -> float | None:
        """Solve one program and move the pieces; return the share that was gained, ``None`` for nothing.

        ``apart``: bodies may overlap before; each pair is then parted along the line that takes the least way.
        """
        import scipy.optimize
        from scipy.sparse import coo_matrix

        linprog: Any = scipy.optimize.linprog  # its stubs know no sparse matrices

        hand = self.hand
        s = hand.state
        n = hand.n
        rest = None if growing is None else growing.index
        table = self._table(rest)
        owner, movable = table[4], table[-1]
        rows = lines_between(*table, REACH, self._pair, self._line, np.empty(3))
        if rows < 0:
            return None
        # two columns a piece, then the four sides of the rectangle or the end of the strip
        columns = 2 * n + 4
        entries: list[tuple[int, int, float]] = []
        most: list[float] = []

        def say(row: int, who: int, nx: float, ny: float, sign: float) -> None:
            if who == rest:
                entries.append((row, 2 * n + (2 if sign * nx > 0 else 0), sign * nx))
                entries.append((row, 2 * n + (3 if sign * ny > 0 else 1), sign * ny))
            else:
                entries.append((row, 2 * who, sign * nx))
                entries.append((row, 2 * who + 1, sign * ny))

        for k in range(rows):
            a, b = self._pair[k]
            nx, ny, gap = self._line[k]
            if gap < -ROOM and not apart:
                return None  # they overlap already
            say(k, int(owner[a]), nx, ny, 1.0)
            if b < movable:
                say(k, int(owner[b]), nx, ny, -1.0)
            most.append(gap - ROOM)
        low, high = np.full(columns, -REACH), np.full(columns, REACH)
        equal: list[tuple[int, int, float]] = []
        self._hold(low, high, equal)
        cost = np.zeros(columns)
        if growing is None or rest is None:
            base = self._strip_rows(entries, most, cost, apart)
        else:
            if to_border:
                base = self._border_cost(growing.index, cost)
                low[2 * n :] = high[2 * n :] = 0.0
            else:
                base = self._rectangle_cost(growing, cost)
            low[2 * rest] = high[2 * rest] = low[2 * rest + 1] = high[2 * rest + 1] = 0.0
        got: Any = linprog(
            cost,
            A_ub=coo_matrix(_triplets(entries), shape=(len(most), columns)).tocsr(),
            b_ub=np.array(most),
            A_eq=coo_matrix(_triplets(equal), shape=(_height(equal), columns)).tocsr() if equal else None,
            b_eq=np.zeros(_height(equal)) if equal else None,
            bounds=np.column_stack([low, high]),
            method="highs",
            options={"maxiter": MOST_STEPS, "primal_feasibility_tolerance": TIGHT},
        )
        if base <= 0.0 or got.status != 0 or got.x is None or (got.fun >= -1e-9 and not apart):
            return None
        move = got.x[: 2 * n].reshape(n, 2)
        s.piece_f[:, PF_X] += move[:, 0]
        s.piece_f[:, PF_Y] += move[:, 1]
        if growing is None:
            self._clamp(move)
        else:
            x0, y0, x1, y1 = (float(v) for v in got.x[2 * n :])
            s.piece_f[growing.index, PF_X] += 0.5 * (x0 + x1)
            s.piece_f[growing.index, PF_Y] += 0.5 * (y0 + y1)
            growing.resize((growing.size[0] + x1 - x0, growing.size[1] + y1 - y0))
        return float(-got.fun) / base

    def _clamp(self, move: F64) -> None:
        """Take back what the solver's tolerance let pieces reach over the border of a strip."""
        s, f = self.hand.state, self.hand.field
        sheets = s.limit.shape[0]
        for i in range(self.hand.n):
            r = int(f.shape_i[int(s.piece_i[i, PI_SHAPE]), SI_CLASS]) * sheets
            box_ = s.piece_f[i, PF_X0 : PF_X0 + 4]
            low, high = float(box_[1] + move[i, 1]), float(box_[3] + move[i, 1])
            s.piece_f[i, PF_Y] += max(0.0, float(f.region_f[r, RF_Y0]) - low)
            s.piece_f[i, PF_Y] -= max(0.0, high - float(f.region_f[r, RF_Y1]))
            s.piece_f[i, PF_X] += max(0.0, float(f.region_f[r, RF_X0]) - float(box_[0] + move[i, 0]))

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

    def _strip_rows(
        self, entries: list[tuple[int, int, float]], most: list[float], cost: F64, apart: bool
    ) -> float:
        """Keep all pieces on the strip; the end of the strip is one of the unknowns, as far left as can be."""
        hand = self.hand
        s, f = hand.state, hand.field
        end = 2 * hand.n
        cost[end] = 1.0
        first = float(s.piece_f[:, PF_X0].min())
        last = float(s.piece_f[:, PF_X0 + 2].max())
        sheets = s.limit.shape[0]
        for i in range(hand.n):
            r = int(f.shape_i[int(s.piece_i[i, PI_SHAPE]), SI_CLASS]) * sheets
            x0, y0, x1, y1 = s.piece_f[i, PF_X0 : PF_X0 + 4]
            for column, sign, room in (
                (2 * i, -1.0, x0 - first),
                (2 * i + 1, -1.0, y0 - f.region_f[r, RF_Y0]),
                (2 * i + 1, 1.0, f.region_f[r, RF_Y1] - y1),
            ):
                entries.append((len(most), column, sign))
                most.append(float(room) if apart else max(0.0, float(room)))
            entries.append((len(most), 2 * i, 1.0))
            entries.append((len(most), end, -1.0))
            most.append(last - float(x1))
        return last - first

    def _rectangle_cost(self, growing: Growing, cost: F64) -> float:
        """Ask for a more useful rectangle, and a little for pieces to move away from it."""
        rest = growing.index
        hand = self.hand
        s = hand.state
        x0, y0, x1, y1 = (float(v) for v in s.piece_f[rest, PF_X0 : PF_X0 + 4])
        area = (x1 - x0) * (y1 - y0)
        c = 2 * hand.n
        wider, taller = growing.slopes
        cost[c], cost[c + 2] = wider, -wider
        cost[c + 1], cost[c + 3] = taller, -taller
        whole = float(hand.areas.sum())
        mx, my = 0.5 * (x0 + x1), 0.5 * (y0 + y1)
        for i in range(hand.n):
            if i == rest or s.piece_i[i, PI_SHEET] != s.piece_i[rest, PI_SHEET]:
                continue
            b = s.piece_f[i, PF_X0 : PF_X0 + 4]
            dx, dy = 0.5 * float(b[0] + b[2]) - mx, 0.5 * float(b[1] + b[3]) - my
            far = float(np.hypot(dx, dy)) or 1.0
            pull = OUTWARDS * np.sqrt(area) * float(hand.areas[i]) / whole
            cost[2 * i], cost[2 * i + 1] = -pull * dx / far, -pull * dy / far
        return area

    def _border_cost(self, rest: int, cost: F64) -> float:
        """Ask for edges on the border, the longer the more; return the sum of their lengths."""
        whole = 0.0
        for i, nx, ny, length in pulls(self.hand, REACH, rest):
            cost[2 * i] += nx * length
            cost[2 * i + 1] += ny * length
            whole += length
        return whole

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


def _box_ring(b: F64) -> F64:
    return np.array([[b[0], b[1]], [b[2], b[1]], [b[2], b[3]], [b[0], b[3]]])


def _height(entries: list[tuple[int, int, float]]) -> int:
    return entries[-1][0] + 1 if entries else 0


def _triplets(entries: list[tuple[int, int, float]]) -> tuple[F64, tuple[I64, I64]]:
    rows, columns = (np.array([e[k] for e in entries], np.int64) for k in (0, 1))
    return np.array([e[2] for e in entries]), (rows, columns)
