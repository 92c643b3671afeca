"""Buttons and buttonholes: how long, how far beyond the centre, where.

References
----------
Buttonhole length = diameter + thickness: newspaper column 1999 and *The Vogue Sewing Book* 1970 (1 in button,
¼ in thick: 1¼ in, of which 1/8 in beyond the centre line). A slit of length l opens to a perimeter of 2 l,
so a ball of diameter D needs at least π D / 2. Overlap: *Standards of Quality for Custom Clothing*
(Association of Sewing and Design Professionals, 2008), at least half the diameter and ¼ in.
"""

from __future__ import annotations

import math
from typing import Final, Literal

from eke.errors import BadInput
from eke.units import MM_PER_INCH

BEYOND_CENTRE_MM: Final = MM_PER_INCH / 8
"""A crosswise buttonhole begins this far beyond the centre line: the shank of the button sits there."""

OverlapRule = Literal["half and a quarter inch", "three quarters", "whole"]


def buttonhole_mm(diameter_mm: float, thickness_mm: float, *, ball: bool = False) -> float:
    """Length of a buttonhole that the button just passes, in mm. Raises :class:`BadInput`."""
    if not diameter_mm > 0 or not thickness_mm > 0:
        raise BadInput("A button needs a diameter and a thickness above 0 mm.")
    return math.pi * diameter_mm / 2 if ball else diameter_mm + thickness_mm


def buttonhole_from_centre_mm(length_mm: float) -> tuple[float, float]:
    """Where a crosswise buttonhole begins and ends from the centre line: beyond it (negative), and inside."""
    return -BEYOND_CENTRE_MM, length_mm - BEYOND_CENTRE_MM


def overlap_mm(diameter_mm: float, rule: OverlapRule = "half and a quarter inch") -> float:
    """How far the overlapping edge must reach beyond the centre line for a button of that diameter."""
    if not diameter_mm > 0:
        raise BadInput("A button needs a diameter above 0 mm.")
    return {
        "half and a quarter inch": diameter_mm / 2 + MM_PER_INCH / 4,
        "three quarters": 0.75 * diameter_mm,
        "whole": diameter_mm,
    }[rule]


def first_button_mm(diameter_mm: float) -> float:
    """How far the first button's centre lies below the neck edge: half its diameter and ¼ in."""
    return overlap_mm(diameter_mm)


def spaced_mm(first_mm: float, last_mm: float, count: int) -> tuple[float, ...]:
    """Places of ``count`` buttons from the first to the last, evenly."""
    if count < 1:
        raise BadInput("There must be at least one button.")
    if count == 1:
        return (first_mm,)
    step = (last_mm - first_mm) / (count - 1)
    return tuple(first_mm + i * step for i in range(count))
