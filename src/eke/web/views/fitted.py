"""A traced mock-up piece on its pattern piece, as a window is told of it."""

from __future__ import annotations

from eke.actions.fitted import Offered
from eke.pattern.model import Pattern
from eke.web.models.fitted import FittedEdgeView, FittedView
from eke.web.views.rounding import mm


def fitted_view(offered: Offered, pattern: Pattern) -> FittedView:
    """Return what was moved, edge by edge, and what would carry it over."""
    carries = {one.edge: one for one in offered.carries}
    edges = []
    for edge in sorted(offered.fitted.edges, key=lambda e: (not e.beyond, -abs(e.most_mm))):
        carry = carries.get(edge.edge)
        can = carry is not None and carry.kind is not None
        edges.append(
            FittedEdgeView(
                edge=edge.edge,
                name=edge.name,
                beyond=edge.beyond,
                most_mm=mm(edge.most_mm),
                most_at_mm=mm(edge.most_at_mm),
                mean_mm=mm(edge.mean_mm),
                sewn=bool(pattern.seams_of(edge.edge)),
                kind=carry.kind if carry is not None else None,
                params=dict(carry.params) if carry is not None and can else None,
                left_mm=mm(carry.left_mm) if carry is not None and can else None,
                why=carry.why if carry is not None else "",
            )
        )
    return FittedView(
        piece=offered.piece.id,
        traced=offered.traced.id,
        uncertainty_mm=mm(offered.fitted.uncertainty_mm),
        warnings=list(offered.warnings),
        edges=edges,
    )
