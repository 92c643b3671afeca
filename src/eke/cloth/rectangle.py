"""The most useful rectangle, straight with the grain, that lies in a piece of cloth.

This is how a maker thinks of a leftover: "a piece of 62 × 41 cm". It is looked for as the packing does that
leaves it (:mod:`eke.lay.rest`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon, box

from eke.cloth.cloth import Ring, ring_of
from eke.lay.rest import useful_rectangle as useful_box
from eke.lay.rest import worth_of

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
    def worth_mm2(self) -> float:
        """How useful it is: see :func:`eke.lay.rest.worth_of`."""
        return worth_of((0.0, 0.0, self.width_mm, self.length_mm))

    @property
    def words(self) -> str:
        """Its size as a maker says it, whole centimetres, never rounded up: ``62 × 41 cm``."""
        shorter, longer = sorted(
            int((side_mm + WORDS_MM) / 10) for side_mm in (self.width_mm, self.length_mm)
        )
        return f"{longer} × {shorter} cm"


def useful_rectangle(parts: Sequence[Polygon], grain_deg: float | None) -> Rectangle | None:
    """Return the most useful rectangle along the grain in any of ``parts``; ``None`` where there is none.

    Parameters
    ----------
    parts
        Polygons in mm, apart from each other.
    grain_deg
        Direction of one pair of sides; ``None`` takes x and y.
    """
    turn = 0.0 if grain_deg is None else 90.0 - grain_deg
    found = useful_box(affinity.rotate(MultiPolygon(parts), turn, origin=(0.0, 0.0)))
    if found is None:
        return None
    x0, y0, x1, y1 = found
    corners = affinity.rotate(box(x0, y0, x1, y1), -turn, origin=(0.0, 0.0))
    return Rectangle(x1 - x0, y1 - y0, ring_of(corners.exterior.coords))
