"""Finding room: where a block of words fits inside a shape, upright or turned."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import shapely
from shapely.affinity import rotate
from shapely.geometry.base import BaseGeometry

from eke.paper.page import PointsMm

GRID: Final = 22
"""Places tried along each side: finer finds hardly more room and takes longer."""


def shape(rings: Sequence[PointsMm]) -> BaseGeometry:
    """Return the region of ``rings`` by the even-odd rule (outline first, holes after)."""
    region: BaseGeometry = shapely.Polygon()
    for ring in rings:
        if len(ring) >= 3:
            region = region.symmetric_difference(shapely.make_valid(shapely.Polygon(ring)))
    return region


def room_for(
    region: BaseGeometry, width_mm: float, height_mm: float, *, prefer: tuple[float, float] | None = None
) -> tuple[float, float] | None:
    """Return the centre of an upright box of the given size inside ``region``, or ``None``.

    Of all places that fit, one with much room around it is taken; near ``prefer`` when that is given.
    """
    if region.is_empty:
        return None
    x0, y0, x1, y1 = region.bounds
    if x1 - x0 < width_mm or y1 - y0 < height_mm:
        return None
    xs = np.linspace(x0 + width_mm / 2, x1 - width_mm / 2, GRID)
    ys = np.linspace(y0 + height_mm / 2, y1 - height_mm / 2, GRID)
    cx, cy = (a.ravel() for a in np.meshgrid(xs, ys))
    inner = region.representative_point()
    cx, cy = np.append(cx, inner.x), np.append(cy, inner.y)
    shapely.prepare(region)
    boxes = shapely.box(cx - width_mm / 2, cy - height_mm / 2, cx + width_mm / 2, cy + height_mm / 2)
    fits = np.flatnonzero(shapely.contains_properly(region, boxes))
    if len(fits) == 0:
        return None
    if prefer is None:
        room = shapely.distance(boxes[fits], region.boundary)
        middle = np.hypot(cx[fits] - (x0 + x1) / 2, cy[fits] - (y0 + y1) / 2)
        best = fits[np.argmax(np.minimum(room, 25.0) - 0.05 * middle)]
    else:
        best = fits[np.argmin(np.hypot(cx[fits] - prefer[0], cy[fits] - prefer[1]))]
    return float(cx[best]), float(cy[best])


def reading_turns(region: BaseGeometry) -> tuple[float, ...]:
    """Return the directions in which words may run in a shape: level, upwards, along its length.

    Degrees, in (-90, 90], so that words are never upside down.
    """
    box = region.minimum_rotated_rectangle
    if box.geom_type != "Polygon":
        return (0.0, 90.0)
    a, b, c = shapely.get_coordinates(box)[:3]
    side = b - a if np.hypot(*(b - a)) >= np.hypot(*(c - b)) else c - b
    along = float(np.degrees(np.arctan2(side[1], side[0])))
    along = along - 180.0 if along > 90.0 else along + 180.0 if along <= -90.0 else along
    plain = min(abs(along), abs(along - 90.0), abs(along + 90.0)) < 3.0
    return (0.0, 90.0) if plain else (0.0, 90.0, along)


def place(
    region: BaseGeometry, width_mm: float, height_mm: float, turns: Sequence[float]
) -> tuple[float, float, float] | None:
    """Return centre and turn of a box that fits inside ``region`` in the first of ``turns`` that has room."""
    for turn in turns:
        if turn == 0.0:
            spot = room_for(region, width_mm, height_mm)
        elif turn == 90.0:
            spot = room_for(region, height_mm, width_mm)
        else:
            level: BaseGeometry = rotate(region, -turn, origin=(0.0, 0.0))
            spot = room_for(level, width_mm, height_mm)
            if spot is not None:
                c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
                spot = float(c * spot[0] - s * spot[1]), float(s * spot[0] + c * spot[1])
        if spot is not None:
            return spot[0], spot[1], turn
    return None


def turned_box(x_mm: float, y_mm: float, width_mm: float, height_mm: float, turn_deg: float) -> BaseGeometry:
    """Return the box of the given size about (x, y), turned."""
    box = shapely.box(x_mm - width_mm / 2, y_mm - height_mm / 2, x_mm + width_mm / 2, y_mm + height_mm / 2)
    turned: BaseGeometry = rotate(box, turn_deg, origin=(x_mm, y_mm)) if turn_deg else box
    return turned
