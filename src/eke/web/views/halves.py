"""Both halves of a piece, as the app shows them."""

from __future__ import annotations

from eke.actions.equal_halves import LaidHalves
from eke.pattern.middle import Middle
from eke.web.models.halves import HalvesView, MiddleView
from eke.web.views.rounding import mm, mm_or_none, point
from eke.web.views.tracings import gap_view


def halves_view(laid: LaidHalves) -> HalvesView:
    """Return how the halves of a piece lie on one another."""
    found = laid.found
    return HalvesView(
        piece=laid.piece.id,
        edge=None if laid.edge is None else laid.edge.id,
        middle=_middle_view(laid.middle),
        middles=[_middle_view(one) for one in laid.middles],
        greatest_mm=mm_or_none(None if found is None else found.greatest_mm),
        edges=[]
        if found is None
        else [gap_view(laid.piece, gap, found.laid[gap.edge]) for gap in found.gaps],
        why=laid.why,
    )


def _middle_view(middle: Middle) -> MiddleView:
    return MiddleView(
        by=middle.by,
        start=point(middle.start),
        end=point(middle.end),
        rms_mm=mm(middle.rms_mm),
        sides=middle.sides,
    )
