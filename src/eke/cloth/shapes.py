"""Outlines of cloth from typed measures: what a tape measure can tell.

Each function returns a counter-clockwise ring in mm, the warp along +y (90°) unless said otherwise. A
curve is replaced by a polygon inside it: a shape that stands for cloth may only be smaller than it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Final

from eke.cloth.cloth import Ring, clean_ring
from eke.errors import BadInput

CHORD_MM: Final = 0.1
"""A round edge is drawn with chords that leave out at most this much: a tenth of a chalk line."""


def rectangle(width_mm: float, length_mm: float, *, selvedge_mm: float = 0.0) -> Ring:
    """A straight piece: ``width_mm`` across the warp, ``length_mm`` along it.

    ``selvedge_mm`` is left out on each long side (10 to 20 mm is usual: 44–45 in cloth gives 42–43.5 in).
    Raises :class:`BadInput` when nothing is left.
    """
    _above_zero(width=width_mm, length=length_mm)
    usable_mm = width_mm - 2 * selvedge_mm
    if selvedge_mm < 0 or usable_mm <= 0:
        raise BadInput(f"A width of {width_mm:g} mm leaves nothing between selvedges of {selvedge_mm:g} mm.")
    return ((0.0, 0.0), (usable_mm, 0.0), (usable_mm, length_mm), (0.0, length_mm))


def round_cloth(diameter_mm: float) -> Ring:
    """A round cloth by its diameter, the centre at (diameter/2, diameter/2)."""
    _above_zero(diameter=diameter_mm)
    return oval(diameter_mm, diameter_mm)


def oval(width_mm: float, length_mm: float) -> Ring:
    """An elliptic cloth by its two diameters."""
    _above_zero(width=width_mm, length=length_mm)
    a, b = width_mm / 2, length_mm / 2
    radius = max(a, b)
    step = 2 * math.acos(1 - min(CHORD_MM / radius, 0.5))
    n = max(16, math.ceil(2 * math.pi / step))
    turns = (2 * math.pi * i / n for i in range(n))
    return tuple((a + a * math.cos(t), b + b * math.sin(t)) for t in turns)


def half_round(diameter_mm: float) -> Ring:
    """Half a round cloth, the straight edge along x at the bottom."""
    whole = round_cloth(diameter_mm)
    r = diameter_mm / 2
    upper = [(x, y - r) for x, y in whole if y > r + 1e-9]
    return clean_ring([(0.0, 0.0), (diameter_mm, 0.0), *upper], "The half round")


def l_shape(width_mm: float, length_mm: float, gone_width_mm: float, gone_length_mm: float) -> Ring:
    """A rectangle from which the top right corner has been cut away.

    Raises :class:`BadInput` when the corner is as large as the rectangle.
    """
    _above_zero(width=width_mm, length=length_mm, missing_width=gone_width_mm, missing_length=gone_length_mm)
    if gone_width_mm >= width_mm or gone_length_mm >= length_mm:
        raise BadInput(
            f"The corner that is gone ({gone_width_mm:g} × {gone_length_mm:g} mm) must be smaller than the cloth "
            f"({width_mm:g} × {length_mm:g} mm)."
        )
    inner_x, inner_y = width_mm - gone_width_mm, length_mm - gone_length_mm
    return (
        (0.0, 0.0),
        (width_mm, 0.0),
        (width_mm, inner_y),
        (inner_x, inner_y),
        (inner_x, length_mm),
        (0.0, length_mm),
    )


def four_sided(bottom_mm: float, right_mm: float, top_mm: float, left_mm: float, diagonal_mm: float) -> Ring:
    """A skew piece by its four sides and the diagonal from bottom left to top right.

    The bottom lies along x from (0, 0). Raises :class:`BadInput` when the lengths cannot meet.
    """
    _above_zero(bottom=bottom_mm, right=right_mm, top=top_mm, left=left_mm, diagonal=diagonal_mm)
    far_x, far_y = _third_corner(bottom_mm, diagonal_mm, right_mm)
    # top left: left from (0, 0), top from the far corner, on the left of the diagonal
    along, off = _third_corner(diagonal_mm, left_mm, top_mm)
    ux, uy = far_x / diagonal_mm, far_y / diagonal_mm
    top_left = (along * ux - off * uy, along * uy + off * ux)
    return clean_ring([(0.0, 0.0), (bottom_mm, 0.0), (far_x, far_y), top_left], "The cloth")


def from_offsets(stations: Sequence[tuple[float, float, float]]) -> Ring:
    """A shape measured from a thread laid along the warp: ``(along, left, right)`` in mm at each station.

    The thread runs along +y; ``left`` and ``right`` are measured square to it. At least two stations, in
    rising order.

    References
    ----------
    The form of measuring "by offsets from a grain cross" that museums use for garments (trade practice).
    """
    if len(stations) < 2 or any(a[0] >= b[0] for a, b in pairwise(stations)):
        raise BadInput("Measure at two places or more along the thread, in order from its beginning.")
    right = [(right_mm, along_mm) for along_mm, _, right_mm in stations]
    left = [(-left_mm, along_mm) for along_mm, left_mm, _ in reversed(stations)]
    return clean_ring([*right, *left], "The cloth")


def _third_corner(base_mm: float, from_start_mm: float, from_end_mm: float) -> tuple[float, float]:
    """Corner above a base along x, by its distances from the two ends of the base."""
    along = (base_mm**2 + from_start_mm**2 - from_end_mm**2) / (2 * base_mm)
    square = from_start_mm**2 - along**2
    if square <= 0:
        raise BadInput(
            f"Lengths of {base_mm:g}, {from_start_mm:g} and {from_end_mm:g} mm do not meet in a corner. "
            "Measure the sides and the diagonal again."
        )
    return along, math.sqrt(square)


def _above_zero(**lengths_mm: float) -> None:
    for name, value_mm in lengths_mm.items():
        if not (math.isfinite(value_mm) and value_mm > 0):
            raise BadInput(f"The {name.replace('_', ' ')} must be above 0 mm, not {value_mm:g}.")
