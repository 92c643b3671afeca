"""The largest rectangle, straight with the grain, that lies in a piece of cloth.

This is how a maker thinks of a leftover: "a piece of 62 × 41 cm". The answer is a rectangle that truly
lies inside; it may be smaller than the largest there is by less than about two cells of the search grid.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from eke.cloth.cloth import Ring, ring_of

CELLS: Final = 120
"""Cells along the longer side of the search grid: 1.5 m of cloth in steps of about 12 mm."""
LEAST_CELL_MM: Final = 2.0
"""No finer than a chalk line."""
GROW_STEPS: Final = 12
"""Halvings when a side is pushed out: a cell of 12 mm is settled to 0.003 mm."""

WORDS_MM: Final = 0.1
"""A side short of a whole centimetre by less than the search settles is said as that centimetre."""


@dataclass(frozen=True, slots=True)
class Rectangle:
    """A rectangle in the cloth's frame: ``width_mm`` across the grain, ``length_mm`` along it."""

    width_mm: float
    length_mm: float
    corners: Ring

    @property
    def area_mm2(self) -> float:
        """Its area."""
        return self.width_mm * self.length_mm

    @property
    def words(self) -> str:
        """Its size as a maker says it, whole centimetres, never rounded up: ``62 × 41 cm``."""
        shorter, longer = sorted(
            int((side_mm + WORDS_MM) / 10) for side_mm in (self.width_mm, self.length_mm)
        )
        return f"{longer} × {shorter} cm"


def largest_rectangle(parts: Sequence[Polygon], grain_deg: float | None) -> Rectangle | None:
    """Return the largest rectangle along the grain in any of ``parts``; ``None`` where there is none.

    Parameters
    ----------
    parts
        Polygons in mm, apart from each other.
    grain_deg
        Direction of one pair of sides; ``None`` takes x and y.
    """
    turn = 0.0 if grain_deg is None else 90.0 - grain_deg
    best: tuple[float, tuple[float, float, float, float]] | None = None
    for part in sorted(parts, key=lambda p: -p.area):
        if best is not None and part.area <= best[0]:
            break
        turned = affinity.rotate(part, turn, origin=(0.0, 0.0))
        found = _in_grid(turned)
        if found is not None:
            x0, y0, x1, y1 = found
            area = (x1 - x0) * (y1 - y0)
            if best is None or area > best[0]:
                best = (area, found)
    if best is None:
        return None
    x0, y0, x1, y1 = best[1]
    corners = affinity.rotate(box(x0, y0, x1, y1), -turn, origin=(0.0, 0.0))
    return Rectangle(x1 - x0, y1 - y0, ring_of(corners.exterior.coords))


def _in_grid(part: Polygon) -> tuple[float, float, float, float] | None:
    x0, y0, x1, y1 = part.bounds
    cell = max(LEAST_CELL_MM, max(x1 - x0, y1 - y0) / CELLS)
    nx, ny = int((x1 - x0) / cell), int((y1 - y0) / cell)
    if nx < 1 or ny < 1:
        return None
    # spread the cells over the whole extent, so that a straight rectangle is found whole
    xs, ys = np.linspace(x0, x1, nx + 1), np.linspace(y0, y1, ny + 1)
    room = part.buffer(1e-6 * cell)  # cells that share the cloth's edge count as inside
    shapely.prepare(room)
    left, low = np.meshgrid(xs[:-1], ys[:-1])
    right, high = np.meshgrid(xs[1:], ys[1:])
    free = shapely.covers(room, shapely.box(left, low, right, high))
    span = _largest_in_cells(np.asarray(free, dtype=np.bool_), np.diff(xs)[0], np.diff(ys)[0])
    if span is None:
        return None
    i0, j0, i1, j1 = span
    return _pushed_out((float(xs[i0]), float(ys[j0]), float(xs[i1]), float(ys[j1])), room, cell)


def _largest_in_cells(free: NDArray[np.bool_], dx: float, dy: float) -> tuple[int, int, int, int] | None:
    """Largest rectangle of free cells, row by row over a histogram: (column, row, past column, past row)."""
    height = np.zeros(free.shape[1], dtype=int)
    best_area, best = 0.0, None
    for row in range(free.shape[0]):
        height = np.where(free[row], height + 1, 0)
        stack: list[tuple[int, int]] = []
        for column, h in enumerate([*height.tolist(), 0]):
            start = column
            while stack and stack[-1][1] >= h:
                start, tall = stack.pop()
                area = tall * dy * (column - start) * dx
                if area > best_area:
                    best_area, best = area, (start, row + 1 - tall, column, row + 1)
            stack.append((start, h))
    return best


def _pushed_out(
    found: tuple[float, float, float, float], room: BaseGeometry, cell: float
) -> tuple[float, float, float, float]:
    """Push each side out by up to one cell, by halving, as far as the rectangle stays inside."""
    sides = list(found)
    for side, sign in ((0, -1), (1, -1), (2, 1), (3, 1)):
        step = cell
        for _ in range(GROW_STEPS):
            tried = sides.copy()
            tried[side] += sign * step
            if room.covers(box(tried[0], tried[1], tried[2], tried[3])):
                sides = tried
            step /= 2
    return sides[0], sides[1], sides[2], sides[3]
