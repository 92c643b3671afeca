"""A traced mock-up piece laid on its pattern piece."""

from __future__ import annotations

from typing import Any

from eke.web.models.common import Expected, Model


class FittedEdgeView(Model):
    """An edge of the pattern piece, and how far the traced line lies off it: above 0 outside, below 0 inside.

    ``beyond``: farther than the tracing is worth. ``kind`` and ``params`` are the change that would carry it over, which
    leaves ``left_mm``; none: there is no such change, and ``why`` says so.
    """

    edge: str
    name: str
    beyond: bool
    most_mm: float
    most_at_mm: float
    mean_mm: float
    sewn: bool
    kind: str | None
    params: dict[str, Any] | None
    left_mm: float | None
    why: str


class FittedView(Model):
    """How a traced mock-up piece lies on the pattern piece that it was cut from; edges that were moved come first."""

    piece: str
    traced: str
    uncertainty_mm: float
    warnings: list[str]
    edges: list[FittedEdgeView]


class CarrySaid(Expected):
    """Edges to carry over: by the traced piece alone, or with the piece sewn there by as much."""

    piece: str
    traced: str
    this: list[str]
    both: list[str]
