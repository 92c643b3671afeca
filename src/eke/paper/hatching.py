"""Hatches drawn as lines, so that a role can be told without colour and every door draws the same.

Outer pieces are plain, lining has a fine diagonal, interlining crosses, interfacing dots, mock-up cloth a wide
diagonal the other way.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from eke.paper.page import Area, Item, PointsMm, Stroke, disc
from eke.paper.styles import HATCH, QUIET, LineStyle

SPACING_MM: Final = 2.4
DOT_MM: Final = 0.28


def hatch_lines(region: BaseGeometry, spacing_mm: float, angle_deg: float) -> tuple[PointsMm, ...]:
    """Return parallel lines inside ``region``, at ``angle_deg`` to the x axis."""
    if region.is_empty:
        return ()
    turn = np.radians(angle_deg)
    u, n = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    x0, y0, x1, y1 = region.bounds
    corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
    along, off = corners @ u, corners @ n
    # offsets are multiples of the spacing, so that the hatch does not jump when a piece moves a little
    steps = np.arange(np.ceil(off.min() / spacing_mm), np.floor(off.max() / spacing_mm) + 1) * spacing_mm
    rays = [shapely.LineString([u * along.min() + n * s, u * along.max() + n * s]) for s in steps]
    if not rays:
        return ()
    cut = shapely.intersection(np.array(rays), region)
    parts = shapely.get_parts(cut)
    return tuple(
        np.asarray(part.coords) for part in parts if part.geom_type == "LineString" and part.length > 0.3
    )


def role_hatch(region: BaseGeometry, role: str) -> tuple[Item, ...]:
    """Return the hatch of a cloth's role inside ``region``; nothing for the outer cloth."""
    match role:
        case "lining":
            return _strokes(hatch_lines(region, SPACING_MM, 45.0))
        case "interlining":
            lines = hatch_lines(region, SPACING_MM * 1.4, 45.0) + hatch_lines(region, SPACING_MM * 1.4, -45.0)
            return _strokes(lines)
        case "interfacing":
            return _dots(region)
        case "mock-up":
            return _strokes(hatch_lines(region, SPACING_MM * 2, -45.0))
        case _:
            return ()


def _strokes(lines: tuple[PointsMm, ...], style: LineStyle = HATCH) -> tuple[Item, ...]:
    return (Stroke(lines, style),) if lines else ()


def _dots(region: BaseGeometry) -> tuple[Item, ...]:
    if region.is_empty:
        return ()
    x0, y0, x1, y1 = region.bounds
    xs = np.arange(np.ceil(x0 / SPACING_MM), np.floor(x1 / SPACING_MM) + 1) * SPACING_MM
    ys = np.arange(np.ceil(y0 / SPACING_MM), np.floor(y1 / SPACING_MM) + 1) * SPACING_MM
    gx, gy = (a.ravel() for a in np.meshgrid(xs, ys))
    inside = shapely.contains_xy(region, gx, gy)
    rings = tuple(disc(x, y, DOT_MM, sides=8) for x, y in zip(gx[inside], gy[inside], strict=True))
    return (Area(rings, QUIET),) if rings else ()
