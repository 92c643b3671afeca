"""One large sheet with all pieces on it, laid out so that as few pages as possible have to be printed.

This is paper, not cloth: pieces stay upright, keep a gap, and may lie anywhere. Each piece in turn (largest
first) tries a grid of places and takes the one that touches the fewest pages not yet needed, then the fewest
joins, then the one nearest to the top left.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor
from typing import Final

from eke.errors import BadInput
from eke.paper.drawn import DrawnPiece, at

GAP_MM: Final = 8.0
"""Between pieces, and between a piece and the nearest join it need not cross: room for scissors."""
INSET_MM: Final = 3.0
"""From the sheet's edge to the nearest cut line."""


LEAST_INSET_MM: Final = 0.6
"""The same where a piece almost fills its cell: the width of its line, and a hair."""


@dataclass(frozen=True, slots=True, eq=False)
class PatternSheet:
    """Pieces on one sheet of ``width_mm`` × ``height_mm``, origin at the lower left."""

    width_mm: float
    height_mm: float
    pieces: tuple[DrawnPiece, ...]


@dataclass(frozen=True, slots=True)
class _Box:
    """A piece's box, y down from the sheet's top, as pages are counted."""

    x: float
    y: float
    w: float
    h: float

    def apart(self, other: _Box, gap: float) -> bool:
        return (
            self.x + self.w + gap <= other.x
            or other.x + other.w + gap <= self.x
            or self.y + self.h + gap <= other.y
            or other.y + other.h + gap <= self.y
        )

    def cells(self, cell_w: float, cell_h: float) -> set[tuple[int, int]]:
        columns = range(floor(self.x / cell_w), ceil((self.x + self.w) / cell_w))
        rows = range(floor(self.y / cell_h), ceil((self.y + self.h) / cell_h))
        return {(r, c) for r in rows for c in columns}


def _middles(size: float, cell: float, count: int) -> set[float]:
    """Return where a piece of ``size`` lies in the middle of the fewest cells, starting at each of ``count``."""
    cells = ceil((size + 2 * LEAST_INSET_MM) / cell)
    return {k * cell + (cells * cell - size) / 2 for k in range(count)}


def arrange(
    pieces: Sequence[DrawnPiece],
    *,
    cell_mm: tuple[float, float],
    most_columns: int = 6,
    beside_mm: Sequence[float] | None = None,
    shortest: bool = False,
) -> PatternSheet:
    """Return all pieces on one sheet made of cells of ``cell_mm`` (width, height).

    Parameters
    ----------
    pieces
        Laid in this or any other order: the result is the same but for equal pieces.
    most_columns
        How many cells side by side, unless a piece is wider.
    beside_mm
        Room to keep free at the right of each piece, for a name that does not fit inside.
    shortest
        Keep the sheet short (for a roll of paper) rather than its cells few.

    Raises
    ------
    BadInput
        When there is no piece.
    """
    if not pieces:
        raise BadInput("There is no piece to print. Choose at least one.")
    cell_w, cell_h = cell_mm
    boxes = [piece.bounds() for piece in pieces]
    beside = [0.0] * len(pieces) if beside_mm is None else beside_mm
    sizes = [(b[2] - b[0] + more, b[3] - b[1]) for b, more in zip(boxes, beside, strict=True)]
    columns = max(most_columns, ceil((max(w for w, _ in sizes) + 2 * INSET_MM) / cell_w))
    width = columns * cell_w
    placed: dict[int, _Box] = {}
    used: set[tuple[int, int]] = set()
    order = sorted(range(len(pieces)), key=lambda i: (-max(sizes[i]), -sizes[i][0] * sizes[i][1], i))
    for index in order:
        w, h = sizes[index]
        best: tuple[tuple[float, ...], _Box] | None = None
        xs = {INSET_MM + k * cell_w for k in range(columns)}
        xs |= {b.x + b.w + GAP_MM for b in placed.values()}
        bottom = max((b.y + b.h for b in placed.values()), default=0.0)
        ys = {INSET_MM + k * cell_h for k in range(ceil(bottom / cell_h) + 1)}
        ys |= {b.y + b.h + GAP_MM for b in placed.values()}
        # in the middle of as few cells as can hold it: a piece almost as large as a cell then needs no second one
        xs |= _middles(w, cell_w, columns)
        ys |= _middles(h, cell_h, ceil(bottom / cell_h) + 1)
        for x in xs:
            if x + w > width - LEAST_INSET_MM + 1e-9:
                continue
            for y in ys:
                box = _Box(x, y, w, h)
                if not all(box.apart(other, GAP_MM) for other in placed.values()):
                    continue
                if shortest:
                    cost: tuple[float, ...] = (max(bottom, y + h), y, x)
                else:
                    cells = box.cells(cell_w, cell_h)
                    cost = (len(cells - used), len(cells), max(r for r, _ in cells), y, x)
                if best is None or cost < best[0]:
                    best = (cost, box)
        assert best is not None  # the place at the left below everything is always free
        placed[index] = best[1]
        used |= best[1].cells(cell_w, cell_h)
    wide = max(c for _, c in used) + 1
    deep = max(r for r, _ in used) + 1
    height = deep * cell_h
    moved = tuple(
        at(piece, placed[i].x - boxes[i][0], height - placed[i].y - placed[i].h - boxes[i][1])
        for i, piece in enumerate(pieces)
    )
    return PatternSheet(wide * cell_w, height, moved)
