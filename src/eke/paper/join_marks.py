"""Where two pages meet: buttons, half on each page, sewn across the join.

Each join carries two buttons. The line where the pages meet runs through the middle of each, so every page has
only a half. A half fits its neighbour in three ways at once: it bears the number of the join, the outline of
the button is one of six, and the two stitches that cross the join run through only when the pages lie true.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from eke.paper.page import LEAST_SIZE_MM, Area, Item, PointsMm, Stroke, Words, disc, moved, segment
from eke.paper.styles import INK, QUIET, LineStyle

RADIUS_MM: Final = 7.0
RIM: Final = LineStyle("join mark", 0.35, (), QUIET)
SEWN: Final = LineStyle("join mark", 0.7, (), INK)


def _outline(kind: int) -> PointsMm:
    """Return one of six outlines about the origin: round, square, on its corner, six-sided, petals, star."""
    match kind % 6:
        case 0:
            return disc(0.0, 0.0, RADIUS_MM)
        case 1:
            return disc(0.0, 0.0, RADIUS_MM, sides=4)
        case 2:
            return disc(0.0, 0.0, RADIUS_MM, sides=6)
        case 3:
            return moved(disc(0.0, 0.0, RADIUS_MM * 1.15, sides=4), 0.0, 0.0, 45.0)
        case 4:
            angle = np.linspace(0, 2 * np.pi, 96, endpoint=False)
            radius = RADIUS_MM * (0.86 + 0.14 * np.cos(8 * angle))
        case _:
            angle = np.linspace(0, 2 * np.pi, 16, endpoint=False)
            radius = RADIUS_MM * np.where(np.arange(16) % 2 == 0, 1.0, 0.74)
    return np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])


def button(number: int, x_mm: float, y_mm: float, *, across: bool) -> tuple[Item, ...]:
    """Return the whole button of join ``number`` centred on (x, y); pages clip it to their half.

    ``across``: the stitches run across an upright join (from left to right); otherwise across a level one. The
    number stands on either side of the join, beyond the rim.
    """
    turn = 0.0 if across else 90.0
    outline = moved(_outline(number), x_mm, y_mm, turn)
    holes, threads = [], []
    for side in (-1.0, 1.0):
        threads.append(moved(segment(-2.6, side * 1.9, 2.6, side * 1.9), x_mm, y_mm, turn))
        holes += [moved(disc(end * 2.6, side * 1.9, 0.75, sides=20), x_mm, y_mm, turn) for end in (-1.0, 1.0)]
    size = LEAST_SIZE_MM
    away = RADIUS_MM + 2.0
    if across:
        words = (
            Words(str(number), x_mm - away, y_mm - size * 0.35, size, "strong", "end", colour=QUIET),
            Words(str(number), x_mm + away, y_mm - size * 0.35, size, "strong", "start", colour=QUIET),
        )
    else:
        words = (
            Words(str(number), x_mm, y_mm + away, size, "strong", "middle", colour=QUIET),
            Words(str(number), x_mm, y_mm - away - size * 0.7, size, "strong", "middle", colour=QUIET),
        )
    return (
        Stroke((outline,), RIM, closed=True),
        Stroke(tuple(threads), SEWN),
        Area(tuple(holes), INK),
        *words,
    )
