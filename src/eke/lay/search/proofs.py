"""Proofs that not everything can be on: what no search could ever find is said to be so, and nothing else.

Two kinds. *Area*: pieces grown by half their gap have no area in common, and lie on a sheet grown by as much; so
their areas together cannot be more. *A piece alone*: all its positions are divided into cells; a cell is ruled
out when one point of the piece lies further off the sheet than any point moves within the cell. When every cell
is ruled out, the piece fits nowhere. A cell that cannot be ruled out ends the attempt: then nothing is proved.

Every approximation errs towards "might fit": circles are drawn inside their arcs, and a piece must be off the
sheet by more than the exact check would let pass.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from eke.lay.collide.tables import F64
from eke.lay.problem import Part, Problem, Sheet
from eke.lay.rest import outline_of, pieces_of

SURE_MM: Final = 0.3
"""A piece that is off its sheet by less than this is not proved to be off: the exact check lets a sliver pass."""
MOST_CELLS: Final = (5_000, 30_000)
"""Cells that are looked at for one part on one sheet, before the search and after; more, and nothing is proved."""
FIRST_CELLS: Final = 14
"""Cells along the longer side of the sheet at first."""
FREE_CELLS: Final = 24
"""Cells of a full turn at first."""
POINTS: Final = 160
"""About so many points of a piece are looked at."""
NODES: Final = 60
"""Nodes along the longer side of the grid of distances."""
ASKED: Final = 3
"""Of the points of a cell, so many of the most promising are measured exactly."""
LARGE_SHARE: Final = 0.12
"""Only parts of more than this share of the largest sheet are looked at before the search."""
ARC: Final = 8
"""Segments to a quarter circle."""


def proof_by_area(problem: Problem) -> str | None:
    """Return a sentence when the pieces, with the gaps between them, have more area than the sheets can give.

    Pieces that ask for quality are also weighed alone, against what is good enough for them.
    """
    if problem.strip is not None:
        return None
    wanted = sorted({p.min_quality for p in problem.parts if p.min_quality is not None})
    for least in (None, *wanted):
        parts = [
            p
            for p in problem.parts
            if p.count and (least is None or (p.min_quality is not None and p.min_quality >= least))
        ]
        half = 0.5 * problem.gap_parts_mm
        need = sum(Polygon(p.outline).buffer(half, quad_segs=ARC).area * p.count for p in parts)
        if not parts:
            continue
        edge = min(_edge_gap(p, problem) for p in parts)
        hole = min(problem.gap_hole_mm if p.gap_hole_mm is None else p.gap_hole_mm for p in parts)
        there = sum(
            _may_lie(s, edge, hole, least).buffer(half / math.cos(math.pi / (4 * ARC)), quad_segs=ARC).area
            for s in problem.sheets
        )
        if need > there * (1.0 + 1e-9):
            what = "The pieces" if least is None else "The pieces that ask for better cloth"
            gaps = f" with {problem.gap_parts_mm:g} mm between them" if half else ""
            return (
                f"{what} need {need / 100:.0f} cm²{gaps}, and there are {there / 100:.0f} cm² for them: "
                f"short by {max(1.0, (need - there) / 100):.0f} cm²."
            )
    return None


def proof_by_part(problem: Problem, only: Sequence[str] | None = None) -> str | None:
    """Return a sentence when one part fits on no sheet even alone; ``only`` names the parts to look at.

    Without ``only``, parts that are large for the sheets are looked at.
    """
    if problem.strip is not None:
        return None
    largest = max((Polygon(s.outline).area for s in problem.sheets), default=0.0)
    parts = [p for p in problem.parts if p.count > sum(1 for k in problem.locked if k.part == p.id)]
    if only is None:
        parts = [p for p in parts if Polygon(p.outline).area > LARGE_SHARE * largest]
    else:
        parts = [p for p in parts if p.id in only]
    most = MOST_CELLS[0 if only is None else 1]
    sheets = sorted(problem.sheets, key=lambda s: -Polygon(s.outline).area)
    for part in sorted(parts, key=lambda p: -Polygon(p.outline).area):
        if all(fits_nowhere(part, sheet, problem, most) for sheet in sheets):
            where = "on no cloth" if len(problem.sheets) > 1 else f"nowhere on “{problem.sheets[0].id}”"
            return f"“{part.id}” fits {where}, even with nothing else there, in any way that it may lie."
    return None


def fits_nowhere(part: Part, sheet: Sheet, problem: Problem, most: int = MOST_CELLS[1]) -> bool:
    """Return whether it is certain that ``part`` has no place on ``sheet`` beside what is locked there.

    At most about ``most`` cells are looked at.
    """
    hole = problem.gap_hole_mm if part.gap_hole_mm is None else part.gap_hole_mm
    region = _may_lie(sheet, _edge_gap(part, problem), hole, part.min_quality)
    by_id = {p.id: p for p in problem.parts}
    for place in problem.locked:
        if place.sheet == sheet.id:
            gap = max(problem.gap_parts_mm, part.gap_mm or 0.0, by_id[place.part].gap_mm or 0.0)
            region = region.difference(outline_of(problem, place).buffer(gap, quad_segs=ARC))
    if region.is_empty:
        return True
    points, middle = _points_of(part)
    cells = _first_cells(part, region)
    field = _Field(region)
    discs = _discs(region)
    seen = 0
    while len(cells):
        seen += len(cells)
        if seen > most:
            return False
        out = np.maximum(
            _sure_distance(points - middle, cells, field, region), _swallowed(part, middle, cells, discs)
        )
        if bool((out <= SURE_MM).any() and _fits_at_middle(points - middle, cells[out <= SURE_MM], region)):
            return False
        cells = _divided(cells[out <= np.hypot(cells[:, 3], cells[:, 3]) + SURE_MM])
    return True


def _discs(region: BaseGeometry) -> F64:
    """Return a circle inside every hole of a region: x, y, radius."""
    rows = []
    for area in pieces_of(region):
        for ring in area.interiors:
            line = shapely.maximum_inscribed_circle(Polygon(ring))
            (x, y), _ = line.coords
            rows.append((x, y, line.length))
    return np.array(rows).reshape(-1, 3)


def _swallowed(part: Part, middle: F64, cells: F64, discs: F64) -> F64:
    """Return, for every cell, by how much the part surely reaches over a hole while the angle varies.

    Points of a part see a hole that is smaller than the space between them only by luck; so holes are also asked
    how deep in the part they lie.
    """
    best = np.full(len(cells), -np.inf)
    poly = Polygon(np.asarray(part.outline, float))
    border = poly.exterior
    shapely.prepare(poly)
    c, s = np.cos(cells[:, 2]), np.sin(cells[:, 2])
    for hx, hy, radius in discs:
        dx, dy = hx - cells[:, 0], hy - cells[:, 1]
        x, y = cells[:, 5] * (c * dx + s * dy), c * dy - s * dx
        points = shapely.points(x + middle[0], y + middle[1])
        deep = shapely.distance(points, border) * np.where(shapely.covers(poly, points), 1.0, -1.0)
        best = np.maximum(best, deep + radius - np.hypot(x, y) * cells[:, 4])
    return best


def _edge_gap(part: Part, problem: Problem) -> float:
    """Return the gap to the edge that is asked of a part everywhere; 0 where an edge is open to it."""
    if part.on_fold is not None or part.on_edge:
        return 0.0
    return problem.gap_edge_mm if part.gap_edge_mm is None else part.gap_edge_mm


def _may_lie(sheet: Sheet, edge: float, hole: float, quality: float | None) -> BaseGeometry:
    """Return all of a sheet that a part may touch, never less."""
    region: BaseGeometry = Polygon(np.asarray(sheet.outline, float))
    if edge > 0.0:
        region = region.buffer(-edge, quad_segs=ARC)
    for ring in sheet.holes:
        region = region.difference(Polygon(np.asarray(ring, float)).buffer(hole, quad_segs=ARC))
    for zone in sheet.zones:
        if quality is not None and zone.quality < quality:
            region = region.difference(Polygon(np.asarray(zone.polygon, float)))
    return region


def _points_of(part: Part) -> tuple[F64, F64]:
    """Return points of a part (corners, along the edges, inside) and one that lies inside it."""
    poly = Polygon(np.asarray(part.outline, float))
    ring = poly.exterior
    step = ring.length / (0.5 * POINTS)
    along = [ring.interpolate(k * step).coords[0] for k in range(int(ring.length / step))]
    x0, y0, x1, y1 = poly.bounds
    side = math.sqrt(poly.area / (0.5 * POINTS))
    gx, gy = np.meshgrid(np.arange(x0 + 0.5 * side, x1, side), np.arange(y0 + 0.5 * side, y1, side))
    inside = shapely.contains_xy(poly, gx, gy)
    corners = np.asarray(ring.coords)[:-1]
    if len(corners) > POINTS:
        corners = corners[:: len(corners) // POINTS + 1]
    points = np.vstack([corners, np.asarray(along).reshape(-1, 2), np.column_stack([gx[inside], gy[inside]])])
    return points, np.asarray(poly.representative_point().coords[0])


def _first_cells(part: Part, region: BaseGeometry) -> F64:
    """Return cells that hold every position: x, y, angle, half side, half angle, side (1 or −1 mirrored).

    The part's inner point lies on the region, so its bounds are enough.
    """
    x0, y0, x1, y1 = region.bounds
    half = 0.5 * max(x1 - x0, y1 - y0) / FIRST_CELLS
    xs = np.arange(x0 + half, x1 + half, 2 * half)
    ys = np.arange(y0 + half, y1 + half, 2 * half)
    angles: list[tuple[float, float]] = []
    if part.turns is None:
        width = math.pi / FREE_CELLS
        angles = [((2 * k + 1) * width, width) for k in range(FREE_CELLS)]
    else:
        tilt = math.radians(part.tilt_deg)
        angles = [(math.radians(t), tilt) for t in part.turns]
    rows = [
        (x, y, a, half, w, side)
        for side in ((1.0, -1.0) if part.mirror_allowed else (1.0,))
        for a, w in angles
        for x in xs
        for y in ys
    ]
    return np.array(rows)


def _divided(cells: F64) -> F64:
    """Return cells of half the size; the angle is halved along with the place."""
    out = []
    for dx in (-0.5, 0.5):
        for dy in (-0.5, 0.5):
            part = cells.copy()
            part[:, 0] += dx * cells[:, 3]
            part[:, 1] += dy * cells[:, 3]
            part[:, 3] *= 0.5
            out.append(part)
    both = np.vstack(out) if len(cells) else cells
    turning = both[:, 4] > 0.0
    if not turning.any():
        return both
    fixed, free = both[~turning], both[turning]
    low, high = free.copy(), free.copy()
    for half, sign in ((low, -0.5), (high, 0.5)):
        half[:, 2] += sign * free[:, 4]
        half[:, 4] *= 0.5
    return np.vstack([fixed, low, high])


class _Field:
    """Distances to a region (0 inside) at the nodes of a grid: exact there, a lower bound near by."""

    def __init__(self, region: BaseGeometry) -> None:
        x0, y0, x1, y1 = region.bounds
        self.step = max(x1 - x0, y1 - y0) / NODES
        pad = 0.25 * max(x1 - x0, y1 - y0)
        self.x0, self.y0 = x0 - pad, y0 - pad
        self.nx, self.ny = int((x1 - x0 + 2 * pad) / self.step) + 2, int((y1 - y0 + 2 * pad) / self.step) + 2
        gx, gy = np.meshgrid(
            self.x0 + self.step * np.arange(self.nx), self.y0 + self.step * np.arange(self.ny)
        )
        self.out = np.asarray(shapely.distance(shapely.points(gx, gy), region))

    def least(self, x: F64, y: F64) -> F64:
        """Return a lower bound of the distance: no more than one mm a mm less than at the nearest node."""
        i = np.clip(np.rint((x - self.x0) / self.step).astype(np.int64), 0, self.nx - 1)
        j = np.clip(np.rint((y - self.y0) / self.step).astype(np.int64), 0, self.ny - 1)
        away = np.hypot(x - (self.x0 + i * self.step), y - (self.y0 + j * self.step))
        bound: F64 = np.maximum(0.0, self.out[j, i] - away)
        return bound


def _posed(points: F64, cells: F64) -> tuple[F64, F64]:
    c, s = np.cos(cells[:, 2:3]), np.sin(cells[:, 2:3])
    u, v = cells[:, 5:6] * points[None, :, 0], points[None, :, 1]
    return c * u - s * v + cells[:, 0:1], s * u + c * v + cells[:, 1:2]


def _sure_distance(points: F64, cells: F64, field: _Field, region: BaseGeometry) -> F64:
    """Return, for every cell, how far some point is off the region at the least while the angle varies."""
    swing = np.hypot(points[:, 0], points[:, 1])[None, :] * cells[:, 4:5]
    best = np.empty(len(cells))
    for k in range(0, len(cells), 4000):
        some = cells[k : k + 4000]
        x, y = _posed(points, some)
        bound = field.least(x, y) - swing[k : k + 4000]
        found = bound.max(axis=1)
        open_ = np.flatnonzero(found <= np.hypot(some[:, 3], some[:, 3]) + SURE_MM)
        if len(open_):
            # the most promising points by the bound and by the node itself, measured exactly
            few = np.argsort(-bound[open_], axis=1)[:, :ASKED]
            px, py = np.take_along_axis(x[open_], few, 1), np.take_along_axis(y[open_], few, 1)
            exact = shapely.distance(shapely.points(px, py), region) - np.take_along_axis(
                swing[k : k + 4000][open_], few, 1
            )
            found[open_] = np.maximum(found[open_], exact.max(axis=1))
        best[k : k + 4000] = found
    return best


def _fits_at_middle(points: F64, cells: F64, region: BaseGeometry) -> bool:
    """Return whether all points lie on the region (or nearly) in the middle of some cell: then nothing is proved."""
    room = region.buffer(SURE_MM)
    shapely.prepare(room)
    for k in range(0, len(cells), 500):
        x, y = _posed(points, cells[k : k + 500])
        if bool(shapely.contains_xy(room, x, y).all(axis=1).any()):
            return True
    return False
