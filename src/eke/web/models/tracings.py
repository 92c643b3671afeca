"""Two tracings of one piece, laid on one another."""

from __future__ import annotations

from eke.web.models.common import Model, Point


class LikePiecesView(Model):
    """Two pieces that may be tracings of one piece."""

    first: str
    second: str
    apart_mm: float


class EdgeGapView(Model):
    """How the second tracing lies along one edge of the first."""

    edge: str
    name: str
    greatest_mm: float
    """How far apart the two lie at most."""
    mean_mm: float
    """How far the second lies outside on the whole; below 0 inside."""
    longer_mm: float
    """How much longer the second is there."""
    worst: Point
    """The place on the first where they lie farthest apart …"""
    there: Point
    """… and the nearest one on the second."""
    line: list[Point]
    """The second's line beside this edge, in the frame of the first."""


class ComparedView(Model):
    """How the second tracing lies on the first, edge by edge."""

    first: str
    second: str
    turned_over: bool
    greatest_mm: float
    edges: list[EdgeGapView]
