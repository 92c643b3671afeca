"""What a linear program is asked for while nothing may overlap: the wishes of :mod:`eke.lay.search.compact`.

A wish adds its rows and its cost to a program, and takes over what came out.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final, Protocol

import numpy as np

from eke.lay.collide.tables import (
    F64,
    PF_X,
    PF_X0,
    PF_Y,
    PI_SHAPE,
    PI_SHEET,
    RF_X0,
    RF_Y0,
    RF_Y1,
    SI_CLASS,
)
from eke.lay.search.border import pulls
from eke.lay.search.hand import Hand

SIDES: Final = 4
"""Columns of every program beside the moves of the pieces: the sides of a rectangle, or the end of the strip."""
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


@dataclass(slots=True)
class Program:
    """A linear program in the making: two columns a piece, then ``SIDES``, then one for each overlap."""

    pieces: int
    low: F64
    high: F64
    cost: F64
    entries: list[tuple[int, int, float]] = field(default_factory=list)
    most: list[float] = field(default_factory=list)

    def row(self, room: float, *entries: tuple[int, float]) -> None:
        """Ask that a sum of columns is no more than ``room``."""
        self.entries += [(len(self.most), column, value) for column, value in entries]
        self.most.append(room)


class Wish(Protocol):
    """What a program is asked for."""

    @property
    def overlaps(self) -> bool:
        """Whether bodies may overlap before; each pair is then parted along the line that takes the least way."""

    @property
    def slack(self) -> bool:
        """Whether they may still overlap after, as little as can be."""

    @property
    def rest(self) -> Growing | None:
        """The rectangle among the pieces, if there is one."""

    def ask(self, program: Program) -> float:
        """Add rows and cost; return what the gain is a share of, 0 where there is nothing to gain."""

    def take(self, sides: F64, move: F64) -> None:
        """Take over what came out for the ``SIDES``; the pieces were moved by ``move`` already."""


class Shorter:
    """A strip that is as short as can be; with ``overlaps`` it may get longer to part what lies in each other."""

    slack = False
    rest = None

    def __init__(self, hand: Hand, *, overlaps: bool = False) -> None:
        self.hand = hand
        self.overlaps = overlaps

    def ask(self, program: Program) -> float:
        """Keep all pieces on the strip; its end is one of the unknowns, as far left as can be."""
        s, f = self.hand.state, self.hand.field
        end = 2 * program.pieces
        program.cost[end] = 1.0
        first = float(s.piece_f[:, PF_X0].min())
        last = float(s.piece_f[:, PF_X0 + 2].max())
        sheets = s.limit.shape[0]
        for i in range(self.hand.n):
            r = int(f.shape_i[int(s.piece_i[i, PI_SHAPE]), SI_CLASS]) * sheets
            x0, y0, x1, y1 = (float(v) for v in s.piece_f[i, PF_X0 : PF_X0 + 4])
            for column, sign, room in (
                (2 * i, -1.0, x0 - first),
                (2 * i + 1, -1.0, y0 - float(f.region_f[r, RF_Y0])),
                (2 * i + 1, 1.0, float(f.region_f[r, RF_Y1]) - y1),
            ):
                program.row(room if self.overlaps else max(0.0, room), (column, sign))
            program.row(last - x1, (2 * i, 1.0), (end, -1.0))
        return last - first

    def take(self, sides: F64, move: F64) -> None:
        """Take back what the solver's tolerance let pieces reach over the border."""
        s, f = self.hand.state, self.hand.field
        sheets = s.limit.shape[0]
        for i in range(self.hand.n):
            r = int(f.shape_i[int(s.piece_i[i, PI_SHAPE]), SI_CLASS]) * sheets
            box = s.piece_f[i, PF_X0 : PF_X0 + 4]
            low, high = float(box[1] + move[i, 1]), float(box[3] + move[i, 1])
            s.piece_f[i, PF_Y] += max(0.0, float(f.region_f[r, RF_Y0]) - low)
            s.piece_f[i, PF_Y] -= max(0.0, high - float(f.region_f[r, RF_Y1]))
            s.piece_f[i, PF_X] += max(0.0, float(f.region_f[r, RF_X0]) - float(box[0] + move[i, 0]))


class Parted:
    """As little overlap as can be: all that is asked for is in the lines between the bodies."""

    overlaps = True
    slack = True
    rest = None

    def ask(self, program: Program) -> float:
        """Count every mm that bodies lie in each other."""
        program.cost[2 * program.pieces + SIDES :] = 1.0
        return float(-sum(room for room in program.most if room < 0.0))

    def take(self, sides: F64, move: F64) -> None:
        """Nothing is left to do."""


class Larger:
    """A rectangle among the pieces that is as useful as can be."""

    overlaps = slack = False

    def __init__(self, hand: Hand, rest: Growing) -> None:
        self.hand = hand
        self.rest = rest

    def ask(self, program: Program) -> float:
        """Ask for a more useful rectangle, and a little for pieces to move away from it."""
        s = self.hand.state
        rest = self.rest.index
        cost = program.cost
        x0, y0, x1, y1 = (float(v) for v in s.piece_f[rest, PF_X0 : PF_X0 + 4])
        area = (x1 - x0) * (y1 - y0)
        c = 2 * program.pieces
        wider, taller = self.rest.slopes
        cost[c], cost[c + 2] = wider, -wider
        cost[c + 1], cost[c + 3] = taller, -taller
        whole = float(self.hand.areas.sum())
        mx, my = 0.5 * (x0 + x1), 0.5 * (y0 + y1)
        for i in range(self.hand.n):
            if i == rest or s.piece_i[i, PI_SHEET] != s.piece_i[rest, PI_SHEET]:
                continue
            b = s.piece_f[i, PF_X0 : PF_X0 + 4]
            dx, dy = 0.5 * float(b[0] + b[2]) - mx, 0.5 * float(b[1] + b[3]) - my
            far = float(np.hypot(dx, dy)) or 1.0
            pull = OUTWARDS * np.sqrt(area) * float(self.hand.areas[i]) / whole
            cost[2 * i], cost[2 * i + 1] = -pull * dx / far, -pull * dy / far
        return area

    def take(self, sides: F64, move: F64) -> None:
        """Give the rectangle its new size and place."""
        x0, y0, x1, y1 = (float(v) for v in sides)
        s = self.hand.state
        s.piece_f[self.rest.index, PF_X] += 0.5 * (x0 + x1)
        s.piece_f[self.rest.index, PF_Y] += 0.5 * (y0 + y1)
        self.rest.resize((self.rest.size[0] + x1 - x0, self.rest.size[1] + y1 - y0))


class OnBorder:
    """Straight edges on the border of their sheet, the longer the more; the rectangle stays as it is."""

    overlaps = slack = False

    def __init__(self, hand: Hand, rest: Growing, reach: float) -> None:
        self.hand = hand
        self.rest = rest
        self.reach = reach

    def ask(self, program: Program) -> float:
        """Draw each edge to its border by its length; return the sum of the lengths."""
        n = program.pieces
        program.low[2 * n : 2 * n + SIDES] = program.high[2 * n : 2 * n + SIDES] = 0.0
        whole = 0.0
        for i, nx, ny, length in pulls(self.hand, self.reach, self.rest.index):
            program.cost[2 * i] += nx * length
            program.cost[2 * i + 1] += ny * length
            whole += length
        return whole

    def take(self, sides: F64, move: F64) -> None:
        """Nothing is left to do."""
