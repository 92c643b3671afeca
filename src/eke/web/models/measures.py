"""What a garment measures when it is sewn."""

from __future__ import annotations

from typing import Literal

from eke.web.models.common import Model


class MeasureShare(Model):
    """What one piece gives: ``mm`` on the piece as drawn, ``times`` in the whole garment."""

    piece: str
    name: str
    mm: float
    times: int


class MeasureView(Model):
    """One measure of the sewn garment; ``body`` is the ISO 8559-1 name of the body measure beside it."""

    name: str
    kind: Literal["round", "length"]
    mm: float
    shares: list[MeasureShare]
    edges: list[str]
    """Ids of the edges that it runs along; empty where it crosses the pieces."""
    body: str | None
    body_mm: float | None
    ease_mm: float | None
