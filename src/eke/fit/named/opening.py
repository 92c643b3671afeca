"""Lower, raise, widen or fill in a neckline or an armhole.

The ends of the edge slide along its neighbours (the fold, the shoulder, the side), and the edge follows smoothly: it
keeps its direction at both ends, so that it stays square to the fold and runs on over the seam. Where an end slides
along an edge that is sewn, the corner on the other side of that seam slides as far, and its edge follows too.

Params
------
edge
    The neckline, or the armhole.
start_mm, end_mm
    How far its start and its end (counter-clockwise) go along the neighbour there: above 0 into the piece (lower,
    wider), below 0 outwards (higher, narrower). 0 where not said.
mates
    Whether the other side of a seam follows; true where not said.
"""

from __future__ import annotations

from typing import Any

from eke.changes import Context
from eke.errors import BadInput
from eke.fit import reading as read
from eke.fit.slide import slid
from eke.pattern.corners import End, neighbour
from eke.pattern.measure import run_of
from eke.pattern.model import Pattern


def reshape_opening(
    pattern: Pattern, edge_id: str, start_mm: float, end_mm: float, *, mates: bool = True
) -> Pattern:
    """Return the pattern with the ends of an edge slid along its neighbours, and the mates' corners with them.

    Raises
    ------
    BadInput
        When a neighbour would be used up.
    """
    piece, edge = pattern.edge(edge_id)
    wanted: dict[str, dict[End, float]] = {edge.id: {"start": start_mm, "end": end_mm}}
    if mates:
        for end, by_mm in (("start", start_mm), ("end", end_mm)):
            if abs(by_mm) > 0.0:
                for mate, mate_end in mates_of(
                    pattern, piece.id, edge.id, "start" if end == "start" else "end"
                ):
                    wanted.setdefault(mate, {})[mate_end] = by_mm
    for one, ends in wanted.items():
        here, _ = pattern.edge(one)
        pattern = pattern.with_piece(slid(here, one, ends.get("start", 0.0), ends.get("end", 0.0)))
    return pattern


def mates_of(pattern: Pattern, piece_id: str, edge_id: str, end: End) -> list[tuple[str, End]]:
    """Return the edges that meet an edge's end over the seam of its neighbour there, with the end that meets it."""
    piece = pattern.piece(piece_id)
    beside = neighbour(piece, edge_id, end)
    # the neighbour's own end at that corner
    corner: End = "end" if end == "start" else "start"
    found: list[tuple[str, End]] = []
    for seam in pattern.seams_of(beside.id):
        if seam.b_mirrored:
            continue
        a, b = run_of(pattern, seam.a), run_of(pattern, seam.b)
        for own, other in ((a, b), (b, a)):
            for here, there, is_start in (
                (own.stretches[0], other.stretches[0], True),
                (own.stretches[-1], other.stretches[-1], False),
            ):
                mine = here.first_end if is_start else here.last_end
                theirs = there.first_end if is_start else there.last_end
                if here.edge.id == beside.id and mine == corner:
                    mate = neighbour(there.piece, there.edge.id, theirs)
                    if mate.id != edge_id and mate.kind != "fold":
                        found.append((mate.id, "end" if theirs == "start" else "start"))
    return found


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    _, edge = read.edge_of(state, params)
    start, end = read.number(params, "start_mm", 0.0), read.number(params, "end_mm", 0.0)
    if max(abs(start), abs(end)) < 0.1:
        raise BadInput("Say how far one of its ends goes.")
    if edge.kind == "fold":
        raise BadInput("A fold is no neckline and no armhole.")
    mates = params.get("mates", True)
    if not isinstance(mates, bool):
        raise BadInput("Say whether the other side of the seam follows: yes or no.")
    return reshape_opening(state, edge.id, start, end, mates=mates)


def _say(params: read.Params) -> str:
    amounts = [float(params.get(k, 0.0)) for k in ("start_mm", "end_mm")]
    most = max(amounts, key=abs)
    done = "Lowered or widened" if most > 0.0 else "Raised or filled in"
    return f"{done} {read.called(params, 'an edge')} by up to {abs(most):g} mm"


KIND = read.named("fit.opening", _apply, _say, "edge")
