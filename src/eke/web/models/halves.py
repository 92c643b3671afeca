"""Both halves of a piece drawn whole, laid on one another over its middle line."""

from __future__ import annotations

from typing import Literal

from eke.web.models.common import Model, Point
from eke.web.models.tracings import EdgeGapView

MiddleBy = Literal["marked", "grain", "across", "fit", "edge", "said"]


class MiddleView(Model):
    """A line that may be the middle of a piece."""

    by: MiddleBy
    start: Point
    end: Point
    rms_mm: float
    """How far apart the halves lie over it, in the mean square."""
    sides: tuple[str, str]
    """What its left side is called, and the other: left and right, or upper and lower."""


class HalvesView(Model):
    """How far both halves lie apart, edge by edge of the left (or upper) one and of those that cross the middle."""

    piece: str
    edge: str | None
    middle: MiddleView
    middles: list[MiddleView]
    """The proposed one first."""
    greatest_mm: float | None
    edges: list[EdgeGapView]
    why: str | None
    """Why nothing can be told over this line."""
