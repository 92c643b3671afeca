"""Broaden a back (or front) across the shoulder blades, or narrow it.

The shoulder is cut open from a place on it to a place on the armhole, usually the notch, and the part beyond swung
out by the amount; the shoulder is redrawn straight. The armhole keeps its length, so the sleeve is unchanged; the
shoulder is longer by the amount, which the mate must follow or ease in.

Params
------
edge, with fraction or mm (from_end)
    Where the shoulder is opened, usually its middle.
by_mm
    How much broader, on this piece; below 0 narrower.
to
    {edge, notch or fraction or mm}: the place on the armhole about which the part swings.
"""

from __future__ import annotations

from typing import Any

from eke.changes import Context
from eke.errors import BadInput
from eke.fit import reading as read
from eke.fit.named.wedge import pivot_of, wedge
from eke.fit.parts import At
from eke.geometry import looks_straight
from eke.pattern.model import Edge, Pattern, Piece
from eke.pattern.trueing import straighten


def broaden(
    pattern: Pattern, piece: Piece, edge: Edge, at: At, pivot: At, by_mm: float, change_id: str
) -> Pattern:
    """Return the pattern with ``edge`` longer by ``by_mm``, its part beyond ``at`` swung about ``pivot``."""
    made = wedge(pattern, (piece, at), pivot, -by_mm, change_id)
    return straighten(made, edge.id) if looks_straight(edge.path) else made


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    piece, edge, at = read.place_on(state, params)
    by_mm = read.number(params, "by_mm")
    if abs(by_mm) < 0.1:
        raise BadInput("Say how much broader or narrower.")
    pivot = pivot_of(state, piece, read.part(params, "to"))
    if not isinstance(pivot, At):
        raise BadInput("Name a place on the armhole about which the part swings.")
    return broaden(state, piece, edge, at, pivot, by_mm, context.record_id)


def _say(params: read.Params) -> str:
    done = "Broadened" if read.over(params, "by_mm") else "Narrowed"
    return f"{done} {read.called(params, 'a piece')} by {read.mm(params, 'by_mm')}"


KIND = read.named("fit.broaden", _apply, _say, "edge", "to")
