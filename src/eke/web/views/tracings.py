"""Two tracings of one piece, as the app shows them."""

from __future__ import annotations

from eke.geometry import Path
from eke.pattern.model import Piece
from eke.pattern.twice import Compared, EdgeGap
from eke.web.models.tracings import ComparedView, EdgeGapView
from eke.web.views.rounding import mm, point, points


def compared_view(first: Piece, second: Piece, found: Compared) -> ComparedView:
    """Return how the second of two tracings lies on the first."""
    return ComparedView(
        first=first.id,
        second=second.id,
        turned_over=found.turned_over,
        greatest_mm=mm(found.greatest_mm),
        edges=[gap_view(first, gap, found.laid[gap.edge]) for gap in found.gaps],
    )


def gap_view(first: Piece, gap: EdgeGap, line: Path) -> EdgeGapView:
    """Return how far a line that is laid beside an edge lies from it."""
    worst = first.edge(gap.edge).path.point_at(gap.worst_at_mm)
    return EdgeGapView(
        edge=gap.edge,
        name=gap.name,
        greatest_mm=mm(gap.greatest_mm),
        mean_mm=mm(gap.mean_mm),
        longer_mm=mm(gap.longer_mm),
        worst=point(worst),
        there=point(line.nearest(worst).point),
        line=points(line.flatten()),
    )
