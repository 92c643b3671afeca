"""What a sheet leaves free for one class of parts: every hazard but the other parts taken off it beforehand.

Parts are grown by half their gap, so a sheet is shrunk by what its own gap leaves over, or grown where that is
less. Whatever is simplified here may only shrink what is free.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
import shapely.errors
from shapely import affinity
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring, unary_union

from eke.lay.grow import HAIR, SIMPLIFY
from eke.lay.problem import FULL_QUALITY, Part, Problem, Sheet
from eke.lay.rails import opened

MOST_POINTS: Final = 600
"""A free region of more points is simplified."""
CUT_BACK: Final = (1.0, 0.98, 0.95, 0.9, 0.85, 0.8, 0.7, 0.6, 0.5, 0.35, 0.2)
"""Shares of a growth that are tried in turn until it is safe."""
SLIVER: Final = 2e-3
"""Area (scaled mm²) that such a growth may get wrong; well under what the exact check lets pass."""
NAMED: Final = 1e-6
"""Half the width in which an opened stretch is taken off the border (scaled mm)."""
GRID: Final = 1e-6
"""Grid on which shapes are cut that cannot be cut otherwise (scaled mm)."""
TRIM: Final = (0.0, 0.25, 0.5, 1.0)
"""Shares of the growth by which the ends of an opened stretch are shortened in turn until that is safe."""


@dataclass(frozen=True, slots=True)
class Class:
    """Parts that see the same free regions. Lengths are scaled.

    ``half`` is their growth; ``edge`` and ``hole`` the gaps asked; zones below ``quality`` are forbidden; the gap
    to the edge is not asked along the ``fold`` and along edges of the kinds in ``opens``; ``gap`` is that to locked
    parts.
    """

    half: float
    edge: float
    hole: float
    quality: float
    fold: bool
    opens: tuple[str, ...]
    gap: float


def own_gap_mm(part: Part, problem: Problem) -> float:
    """Return the gap that a part asks of any other."""
    return problem.gap_parts_mm if part.gap_mm is None else max(problem.gap_parts_mm, part.gap_mm)


def class_of(part: Part, problem: Problem, k: float) -> Class:
    """Return the class of a part, lengths scaled by ``k``."""
    gap = own_gap_mm(part, problem)
    half = max((gap - 0.5 * problem.gap_parts_mm) * k, HAIR)
    edge = (problem.gap_edge_mm if part.gap_edge_mm is None else part.gap_edge_mm) * k
    hole = (problem.gap_hole_mm if part.gap_hole_mm is None else part.gap_hole_mm) * k
    has_zones = any(s.zones for s in problem.sheets)
    least = -FULL_QUALITY if part.min_quality is None or not has_zones else part.min_quality
    opens = tuple(sorted({r.kind for r in part.on_edge}))
    return Class(half, edge, hole, least, part.on_fold is not None, opens, gap * k)


def polygons(geom: BaseGeometry) -> list[Polygon]:
    """Return the polygons in a shape."""
    if isinstance(geom, Polygon):
        return [] if geom.is_empty else [geom]
    return [g for g in getattr(geom, "geoms", ()) if isinstance(g, Polygon) and not g.is_empty]


def _less(shape: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """Return a shape without another; where buffering has left one of them not quite whole, on a fine grid."""
    try:
        return shape.difference(other)
    except shapely.errors.GEOSException:
        return shapely.difference(shapely.make_valid(shape), shapely.make_valid(other), grid_size=GRID)


def free_region(sheet: Sheet, cls: Class, locked: Sequence[tuple[Polygon, float]], k: float) -> BaseGeometry:
    """Return where shapes of a class may lie on a sheet (scaled), all hazards taken off.

    ``locked`` are the scaled outlines of parts that stay where they are, each with the gap that it asks.
    """
    outline: BaseGeometry = Polygon(np.asarray(sheet.outline) * k)
    lines = [affinity.scale(line, k, k, origin=(0, 0)) for line in opened(sheet, cls.opens, fold=cls.fold)]
    shrink = cls.edge - cls.half
    if lines:
        free = _opened_region(outline, lines, cls)
    elif shrink > 0:
        free = outline.buffer(-shrink, quad_segs=16)
    else:
        free = _grow_safely(outline, -shrink, cls.half)
    for hole in sheet.holes:
        h = Polygon(np.asarray(hole) * k)
        grow = cls.hole - cls.half
        if grow > 0:
            free = _less(free, h.buffer(grow / math.cos(math.pi / 64.0), quad_segs=16))
        else:
            free = _less(free, _shrink_safely(h, -grow, cls.half))
    for zone in sheet.zones:
        if zone.quality < cls.quality:
            z = Polygon(np.asarray(zone.polygon) * k)
            free = _less(free, _shrink_safely(z, cls.half, cls.half))
    for poly, gap in locked:
        reach = max(gap, cls.gap) - cls.half
        free = _less(free, poly.buffer(reach / math.cos(math.pi / 64.0) + HAIR, quad_segs=16))
    simple = _simpler_inwards(free)
    if lines and simple is not free:
        # along its edge a part has to find its place to a hair
        beside = unary_union([line.buffer(2.0 * cls.half + 1.0, cap_style="flat") for line in lines])
        simple = simple.union(free.intersection(beside))
    return simple


def _opened_region(outline: BaseGeometry, lines: Sequence[LineString], cls: Class) -> BaseGeometry:
    """Return the free region of a sheet for parts that need keep no gap along ``lines`` of its border."""
    named = unary_union([line.buffer(NAMED, cap_style="flat", join_style="mitre") for line in lines])
    free = outline
    if cls.edge > 0:
        raw = outline.boundary.difference(named).buffer(cls.edge / math.cos(math.pi / 64.0), quad_segs=16)
        free = _less(outline, raw)
        lines = [part for line in lines for part in _lines(line.difference(raw))]
    grown = _grow_safely(free, cls.half, cls.half)
    # at inner corners elsewhere the growth may have been cut back; along the lines it is needed in full
    for trim in TRIM:
        bands = [_band(line, cls.half, trim * cls.half) for line in lines]
        whole = unary_union([grown, *bands])
        if _less(whole.buffer(-cls.half, quad_segs=32), free).area < SLIVER:
            return whole
    return grown


def _lines(geom: BaseGeometry) -> list[LineString]:
    parts = getattr(geom, "geoms", (geom,))
    return [part for part in parts if isinstance(part, LineString) and not part.is_empty]


def _band(line: LineString, half: float, trim: float) -> BaseGeometry:
    """Return the band of ``half`` on both sides of a line, its ends shortened by ``trim``."""
    if line.length <= 2.0 * trim:
        return Polygon()
    short = substring(line, trim, line.length - trim) if trim > 0 else line
    return short.buffer(half, cap_style="flat", join_style="mitre", mitre_limit=2.0)


def _grow_safely(outline: BaseGeometry, by: float, half: float) -> BaseGeometry:
    """Grow a sheet by up to ``by`` to make up for parts that are grown by ``half``.

    At inner corners and narrow cuts, growing and shrinking do not cancel: a grown part could reach over
    the corner. So the growth is cut back until shrinking it again gives nothing beyond the true outline.
    """
    if by <= 2 * HAIR:
        return outline.buffer(by, join_style="mitre", mitre_limit=2.0)
    for share in CUT_BACK:
        grown = outline.buffer(by * share, join_style="mitre", mitre_limit=2.0)
        if _less(grown.buffer(-half, quad_segs=32), outline).area < SLIVER:
            return grown
    return outline


def _shrink_safely(hole: Polygon, by: float, half: float) -> BaseGeometry:
    """Shrink a hole by up to ``by``, as :func:`_grow_safely` grows a sheet."""
    if by <= 2 * HAIR:
        small = hole.buffer(-by)
        return small if not small.is_empty else hole
    for share in CUT_BACK:
        small = hole.buffer(-by * share)
        if not small.is_empty and _less(hole, small.buffer(half, quad_segs=32)).area < SLIVER:
            return small
    return hole


def _simpler_inwards(free: BaseGeometry) -> BaseGeometry:
    tolerance = SIMPLIFY
    out = free
    while shapely.get_num_coordinates(out) > MOST_POINTS and tolerance < 20.0:
        out = free.simplify(tolerance).buffer(-1.01 * tolerance, join_style="mitre", mitre_limit=2.0)
        tolerance *= 2.0
    return out if out is free else out.intersection(free)
