"""Measures for chalking a lay onto the cloth: where the key corners of each piece come to lie.

Two threads make a cross: one along the warp at the left of the cloth, one square to it at its lower end.
Each key corner is given by how far it is from both. Where an edge of the cloth is straight and on the
grain, the edge is the thread.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from eke.cloth import Cloth
from eke.cutting.door import Laid

Points = NDArray[np.float64]

CORNER_DEG: Final = 25.0
"""The cut line must turn by this much within :data:`NEAR_MM` to make a corner that a maker would mark."""
NEAR_MM: Final = 12.0
"""A corner may be rounded over this length."""
APART_MM: Final = 25.0
"""Corners nearer to each other are one."""
MOST: Final = 8
"""More marks than this for one piece are a nuisance; the sharpest are kept."""


@dataclass(frozen=True, slots=True)
class ChalkMark:
    """A corner of ``piece`` on ``cloth``: its place in the cloth's frame, and its measures from the cross.

    ``across_mm`` is the distance from the thread along the warp, ``along_mm`` from the one square to it.
    """

    piece: str
    name: str
    cloth: str
    x_mm: float
    y_mm: float
    across_mm: float
    along_mm: float


@dataclass(frozen=True, slots=True)
class Cross:
    """The cross of threads: where they meet, in the cloth's frame, and the direction of the warp."""

    x_mm: float
    y_mm: float
    warp_deg: float


def cross_of(cloth: Cloth) -> Cross:
    """The cross from which a cloth is measured: its lower left, seen with the warp upright."""
    warp_deg = 90.0 if cloth.grain_deg is None else cloth.grain_deg
    along, across = _directions(warp_deg)
    points = np.array(cloth.outline)
    corner = across * float((points @ across).min()) + along * float((points @ along).min())
    return Cross(float(corner[0]), float(corner[1]), warp_deg)


def chalk_marks(laid: Laid, cloth: Cloth, cross: Cross | None = None) -> tuple[ChalkMark, ...]:
    """Return the key corners of one laid piece with their measures, going round from the lowest one.

    ``cross`` is :func:`cross_of` the cloth unless the maker chose another.
    """
    cross = cross or cross_of(cloth)
    along, across = _directions(cross.warp_deg)
    marks = []
    for x, y in key_corners(np.array(laid.outline)):
        from_cross = np.array([x - cross.x_mm, y - cross.y_mm])
        marks.append(
            ChalkMark(
                laid.piece, laid.name, cloth.id, x, y, float(from_cross @ across), float(from_cross @ along)
            )
        )
    if not marks:
        return ()
    first = min(range(len(marks)), key=lambda i: (round(marks[i].along_mm, 3), marks[i].across_mm))
    return tuple(marks[first:] + marks[:first])


def key_corners(outline: Points) -> list[tuple[float, float]]:
    """The corners of a closed outline that a maker would mark, in its order.

    Where there are fewer than three (a round piece), the farthest points in four directions stand for them.
    """
    step = np.roll(outline, -1, axis=0) - outline
    lengths = np.hypot(*step.T)
    at = np.concatenate([[0.0], np.cumsum(lengths)])
    total = float(at[-1])
    turns = [_turn_near(outline, at, total, i) for i in range(len(outline))]
    chosen: list[int] = []
    for i in sorted(range(len(outline)), key=lambda i: (-turns[i], i)):
        if turns[i] < CORNER_DEG or len(chosen) == MOST:
            break
        if all(math.dist(outline[i], outline[j]) > APART_MM for j in chosen):
            chosen.append(i)
    if len(chosen) < 3:
        x, y = outline.T
        chosen = list({int(x.argmin()), int(x.argmax()), int(y.argmin()), int(y.argmax())})
    return [(float(outline[i][0]), float(outline[i][1])) for i in sorted(chosen)]


def _turn_near(outline: Points, at: Points, total: float, i: int) -> float:
    """By how many degrees the outline turns from a little before a point to a little after it."""
    here = outline[i]
    before, after = (_point_at(outline, at, total, at[i] + s * NEAR_MM) for s in (-1.0, 1.0))
    a, b = here - before, after - here
    return abs(math.degrees(math.atan2(float(a[0] * b[1] - a[1] * b[0]), float(a @ b))))


def _point_at(outline: Points, at: Points, total: float, mm: float) -> Points:
    mm %= total
    i = min(int(np.searchsorted(at, mm, side="right")) - 1, len(outline) - 1)
    length = at[i + 1] - at[i]
    share = (mm - at[i]) / length if length else 0.0
    point: Points = outline[i] + share * (outline[(i + 1) % len(outline)] - outline[i])
    return point


def _directions(warp_deg: float) -> tuple[Points, Points]:
    """Unit vectors along the warp, and square to it to the right of it."""
    turn = math.radians(warp_deg)
    return np.array([math.cos(turn), math.sin(turn)]), np.array([math.sin(turn), -math.cos(turn)])
