"""Add flare at a hem, or take it out: slashes from the hem to nothing at the edge above, each opened alike.

Params
------
edge
    The hem.
to
    {edge}: the edge above where the slashes end, a waist or a yoke seam; it keeps its length.
by_mm
    How much wider the hem becomes on this piece, in all; below 0 narrower.
slashes
    How many, evenly spread; 3 where not said.
"""

from __future__ import annotations

from typing import Any

from eke.changes import Context
from eke.errors import BadInput
from eke.fit import reading as read
from eke.fit.named.wedge import wedge
from eke.fit.parts import At
from eke.pattern.corners import index_of
from eke.pattern.model import Edge, Pattern, Piece

MOST_SLASHES = 12
"""More than this is a gore, not a slash."""


def flare(
    pattern: Pattern, piece: Piece, edge: Edge, top: Edge, by_mm: float, slashes: int, change_id: str
) -> Pattern:
    """Return the pattern with ``edge`` wider by ``by_mm``, opened at slashes that end at ``top``.

    Raises
    ------
    BadInput
        When a slash leaves the piece, or is too narrow to take out.
    """
    width = by_mm / slashes
    for k in range(slashes):
        here, hem_now = pattern.edge(edge.id)
        upper = here.edge(top.id)
        share = (k + 1) / (slashes + 1)
        # slashes before this one have widened the hem on that side already
        mm = share * edge.path.length_mm + k * width
        mm = mm * hem_now.path.length_mm / (edge.path.length_mm + k * width)
        at, to = (
            At(index_of(here, edge.id), mm),
            At(index_of(here, top.id), (1.0 - share) * upper.path.length_mm),
        )
        pattern = wedge(pattern, (here, at), to, -width, change_id)
    return pattern


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    piece, edge = read.edge_of(state, params)
    other, top = read.edge_of(state, read.part(params, "to"))
    if other.id != piece.id or top.id == edge.id:
        raise BadInput(f"The slashes end at another edge of “{piece.name}”.")
    if "fold" in (edge.kind, top.kind):
        raise BadInput("A slash neither begins nor ends at a fold.")
    slashes = read.number(params, "slashes", 3.0)
    if slashes != int(slashes) or not 1 <= slashes <= MOST_SLASHES:
        raise BadInput(f"There can be 1 to {MOST_SLASHES} slashes.")
    by_mm = read.number(params, "by_mm")
    if abs(by_mm) < 0.1:
        raise BadInput("Say how much wider or narrower the hem becomes.")
    return flare(state, piece, edge, top, by_mm, int(slashes), context.record_id)


def _say(params: read.Params) -> str:
    done = "Added" if read.over(params, "by_mm") else "Took out"
    return f"{done} {read.mm(params, 'by_mm')} of flare at {read.called(params, 'a hem')}"


KIND = read.named("fit.flare", _apply, _say, "edge", "to")
