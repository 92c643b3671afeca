"""Finished measures as the front end sees them."""

from __future__ import annotations

from eke.pattern.finished import FinishedMeasure
from eke.web.models.measures import MeasureShare, MeasureView
from eke.web.views.rounding import mm, mm_or_none


def measure_view(measure: FinishedMeasure) -> MeasureView:
    """Return one measure of the sewn garment."""
    return MeasureView(
        name=measure.name,
        kind=measure.kind,
        mm=mm(measure.mm),
        shares=[MeasureShare(piece=s.piece, name=s.name, mm=mm(s.mm), times=s.times) for s in measure.shares],
        edges=list(measure.edges),
        body=measure.body,
        body_mm=mm_or_none(measure.body_mm),
        ease_mm=mm_or_none(measure.ease_mm),
    )
