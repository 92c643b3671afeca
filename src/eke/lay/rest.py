"""What a lay leaves of its sheets: the most useful rectangle along the grain, and the largest connected rest.

A larger rectangle is more useful, but a narrow one less than its area says: see :func:`worth_of`.

The grain of every sheet runs along an axis of its own frame, so rectangles are parallel to the axes. The
rectangle is looked for on a raster and then pushed out against the true outlines: it surely lies inside the
rest, and is short of the best there is by less than about two cells.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from eke.lay.problem import Placement, Problem, Sheet

Box = tuple[float, float, float, float]
"""x0, y0, x1, y1 in mm."""

CELLS: Final = 100
"""Cells along the longer side of the raster."""
CANDIDATES: Final = 8
"""Rectangles of the raster that are pushed out; the first is not always the one with most room around it."""
SLACK: Final = 1e-6
"""An edge this far inside a side counts as lying along it (mm)."""
USEFUL_WIDTH: Final = 0.15
"""A rest narrower than this share of the side of an average part does not count as connected."""
WIDE_MM: Final = 150.0
"""A rectangle at least so wide counts with its whole area: two hands side by side, or a pocket."""
SHARED_MM: Final = 0.5
"""A cut line no further than this from the border lies on it: half a line of chalk."""
WORTH_SAYING_MM: Final = 100.0
"""A leftover narrower than a hand is not spoken of."""
ROUNDING_MM: Final = 0.1
"""A side short of a whole centimetre by less than this is said as that centimetre."""


@dataclass(frozen=True, slots=True)
class Leftover:
    """What is left of one sheet, in mm and in the sheet's own frame.

    Parameters
    ----------
    sheet
        Its id.
    rectangle
        The most useful rectangle along the grain that lies wholly in what is left: x0, y0, x1, y1 in mm; ``None``
        where there is none.
    connected_mm2
        Area of the largest rest in one piece, parts of it narrower than ``USEFUL_WIDTH`` left aside.
    rest_mm2
        Area of all that is left.
    """

    sheet: str
    rectangle: Box | None
    connected_mm2: float
    rest_mm2: float

    @property
    def rectangle_mm2(self) -> float:
        """Area of the rectangle; 0 where there is none."""
        return 0.0 if self.rectangle is None else area_of(self.rectangle)

    @property
    def worth_mm2(self) -> float:
        """How useful the rectangle is; 0 where there is none."""
        return 0.0 if self.rectangle is None else worth_of(self.rectangle)

    @property
    def words(self) -> str | None:
        """Its size as a maker says it, whole centimetres, never rounded up; ``None`` when not worth a word."""
        if self.rectangle is None:
            return None
        x0, y0, x1, y1 = self.rectangle
        short, long_ = sorted((x1 - x0, y1 - y0))
        if short < WORTH_SAYING_MM:
            return None
        return f"{int((long_ + ROUNDING_MM) / 10)} × {int((short + ROUNDING_MM) / 10)} cm"


def area_of(b: Box) -> float:
    """Return the area of a rectangle."""
    return (b[2] - b[0]) * (b[3] - b[1])


def worth_of(b: Box, wide: float = WIDE_MM) -> float:
    """Return how useful a rectangle is, in mm²: its area, and of a narrow one only (width / ``wide``)² of it.

    Narrow strips are left by every lay; what is worth keeping is a piece that something can be cut from. ``wide`` is
    in the units of the box.
    """
    width, height = b[2] - b[0], b[3] - b[1]
    return width * height * min(1.0, min(width, height) / wide) ** 2


def ground_of(sheet: Sheet) -> BaseGeometry:
    """Return what a sheet has to give: its outline less its holes and all zones of lower quality."""
    spoilt = [Polygon(np.asarray(ring, float)) for ring in sheet.holes]
    spoilt += [Polygon(np.asarray(zone.polygon, float)) for zone in sheet.zones]
    whole: BaseGeometry = Polygon(np.asarray(sheet.outline, float))
    return whole.difference(shapely.union_all(spoilt)) if spoilt else whole


def outline_of(problem: Problem, place: Placement) -> Polygon:
    """Return the outline of a placement where it lies."""
    part = next(p for p in problem.parts if p.id == place.part)
    points = np.asarray(part.outline, float) * ([-1.0, 1.0] if place.mirrored else [1.0, 1.0])
    rad = math.radians(place.turn_deg)
    c, s = math.cos(rad), math.sin(rad)
    return Polygon(points @ np.array([[c, s], [-s, c]]) + np.array([place.x_mm, place.y_mm]))


def rest_of(problem: Problem, placements: Sequence[Placement], sheet: Sheet) -> BaseGeometry:
    """Return what the placements leave of a sheet."""
    laid = [outline_of(problem, p) for p in placements if p.sheet == sheet.id]
    ground = ground_of(sheet)
    return ground.difference(shapely.union_all(laid)) if laid else ground


def leftovers(problem: Problem, placements: Sequence[Placement]) -> tuple[Leftover, ...]:
    """Return what is left of every sheet, in the order of the problem; nothing for a strip."""
    width = useful_width(problem)
    found = []
    for sheet in problem.sheets:
        rest = rest_of(problem, placements, sheet)
        found.append(Leftover(sheet.id, useful_rectangle(rest), connected_area(rest, width), rest.area))
    return tuple(found)


def useful_width(problem: Problem) -> float:
    """Return how narrow a connection may be, in mm: it follows the size of the parts."""
    copies = sum(p.count for p in problem.parts)
    area = sum(Polygon(p.outline).area * p.count for p in problem.parts)
    return USEFUL_WIDTH * math.sqrt(area / max(1, copies))


def best_of(found: Sequence[Leftover]) -> Leftover | None:
    """Return the leftover with the most useful rectangle."""
    return max(found, key=lambda one: one.worth_mm2, default=None)


def pieces_of(geom: BaseGeometry) -> list[Polygon]:
    """Return the polygons of a geometry."""
    parts = [geom] if isinstance(geom, Polygon) else list(getattr(geom, "geoms", ()))
    return [p for p in parts if isinstance(p, Polygon) and not p.is_empty]


def connected_area(rest: BaseGeometry, width: float) -> float:
    """Return the area of the largest piece of ``rest`` that holds together by more than ``width``, in mm².

    Each piece is shrunk by half the width and grown again, so a bridge narrower than that is no bridge.
    """
    if width <= 0.0:
        return max((p.area for p in pieces_of(rest)), default=0.0)
    cores = pieces_of(rest.buffer(-0.5 * width, quad_segs=2))
    return max((p.buffer(0.5 * width, quad_segs=2).intersection(rest).area for p in cores), default=0.0)


def border_shared(problem: Problem, placements: Sequence[Placement]) -> float:
    """Return how much of the cut lines, in mm, lies along the outline of a sheet and so needs no cut."""
    shared = 0.0
    for sheet in problem.sheets:
        laid = [outline_of(problem, p).exterior for p in placements if p.sheet == sheet.id]
        if laid:
            border = Polygon(np.asarray(sheet.outline, float)).exterior.buffer(SHARED_MM, cap_style="flat")
            shared += float(shapely.length(shapely.intersection(laid, border)).sum())
    return shared


def useful_rectangle(rest: BaseGeometry, wide: float = WIDE_MM) -> Box | None:
    """Return the most useful axis-parallel rectangle inside ``rest`` (see the module for how exactly).

    ``wide``: from which width on only the area counts, in the units of ``rest``.
    """
    best: Box | None = None
    for part in sorted(pieces_of(rest), key=lambda p: -p.area):
        if best is not None and part.area <= worth_of(best, wide):
            break
        for found in _in_raster(part, wide):
            if best is None or worth_of(found, wide) > worth_of(best, wide):
                best = found
    return best


def edges_of(geom: BaseGeometry) -> NDArray[np.float64]:
    """Return all edges of a geometry's rings, rows of x, y, x, y."""
    rows = [np.empty((0, 4))]
    for part in pieces_of(geom):
        for ring in (part.exterior, *part.interiors):
            points = np.asarray(ring.coords)[:, :2]
            rows.append(np.hstack([points[:-1], points[1:]]))
    return np.vstack(rows)


def is_free(b: Box, edges: NDArray[np.float64]) -> bool:
    """Return whether no edge enters a rectangle."""
    low, high = _in_band(edges, 0, b[1], b[3])
    return not bool(((low < b[2]) & (high > b[0])).any())


def pushed_out(start: Box, edges: NDArray[np.float64]) -> Box:
    """Push each side of a rectangle out until it meets an edge: exact, nothing is stepped.

    No edge may enter ``start``. The sides are pushed in two orders; the larger outcome counts.
    """
    best = start
    for order in ((0, 2, 1, 3), (1, 3, 0, 2)):
        b = list(start)
        for side in order:
            axis = side % 2
            low, high = _in_band(edges, axis, b[1 - axis], b[3 - axis])
            if side < 2:
                b[side] = float(max([*high[high <= b[side] + SLACK], -math.inf]))
            else:
                b[side] = float(min([*low[low >= b[side] - SLACK], math.inf]))
        found = (b[0], b[1], b[2], b[3])
        if all(map(math.isfinite, found)) and area_of(found) > area_of(best):
            best = found
    return best


def _in_band(
    edges: NDArray[np.float64], axis: int, least: float, most: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return how far down and up along ``axis`` edges reach within an open band of the other axis."""
    u0, v0, u1, v1 = (edges[:, k] for k in ((0, 1, 2, 3) if axis == 0 else (1, 0, 3, 2)))
    inside = (np.maximum(v0, v1) > least) & (np.minimum(v0, v1) < most)
    u0, v0, u1, v1 = u0[inside], v0[inside], u1[inside], v1[inside]
    rise = np.where(v1 == v0, 1.0, v1 - v0)
    ends = [
        np.where(v1 == v0, u, u0 + (u1 - u0) * (np.clip(v, least, most) - v0) / rise)
        for u, v in ((u0, v0), (u1, v1))
    ]
    return np.minimum(*ends), np.maximum(*ends)


def _in_raster(part: Polygon, wide: float) -> list[Box]:
    """Return a few useful rectangles inside ``part``."""
    x0, y0, x1, y1 = part.bounds
    cell = max(x1 - x0, y1 - y0) / CELLS
    nx, ny = int((x1 - x0) / cell), int((y1 - y0) / cell)
    if nx < 1 or ny < 1:
        return []
    xs, ys = np.linspace(x0, x1, nx + 1), np.linspace(y0, y1, ny + 1)
    room = part.buffer(1e-7 * cell)  # cells that share the border of the rest count as inside
    edges = edges_of(part)
    shapely.prepare(room)
    # a cell is free when its box is; only boxes with their middle inside need the exact question
    middle_x, middle_y = np.meshgrid(0.5 * (xs[:-1] + xs[1:]), 0.5 * (ys[:-1] + ys[1:]))
    free = shapely.contains_xy(room, middle_x, middle_y)
    left, low = np.meshgrid(xs[:-1], ys[:-1])
    right, high = np.meshgrid(xs[1:], ys[1:])
    free[free] = shapely.covers(room, shapely.box(left[free], low[free], right[free], high[free]))
    found = []
    for i0, j0, i1, j1 in _in_cells(free, float(xs[1] - xs[0]), float(ys[1] - ys[0]), wide):
        start = (float(xs[i0]), float(ys[j0]), float(xs[i1]), float(ys[j1]))
        found.append(pushed_out(start, edges))
    return found


def _in_cells(free: NDArray[np.bool_], dx: float, dy: float, wide: float) -> list[tuple[int, int, int, int]]:
    """Return the most useful rectangles of free cells, at most one a row: column, row, past column, past row.

    Row by row over a histogram with a stack, the textbook method.
    """
    tall = np.zeros(free.shape[1], dtype=np.int64)
    rows: list[tuple[float, tuple[int, int, int, int]]] = []
    for row in range(free.shape[0]):
        tall = np.where(free[row], tall + 1, 0)
        top, found = 0.0, None
        stack: list[tuple[int, int]] = []
        for column, h in enumerate([*tall.tolist(), 0]):
            start = column
            while stack and stack[-1][1] >= h:
                start, high = stack.pop()
                worth = worth_of((0.0, 0.0, (column - start) * dx, high * dy), wide)
                if worth > top:
                    top, found = worth, (start, row + 1 - high, column, row + 1)
            stack.append((start, h))
        if found is not None:
            rows.append((top, found))
    rows.sort(key=lambda r: -r[0])
    return [r[1] for r in rows[:CANDIDATES]]
