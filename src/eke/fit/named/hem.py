"""Make the hem longer or shorter, level or with a profile, on every piece that it runs round.

The hem moves down by the amount, its corners on the side edges (run on straight where it gets longer). It goes on
over the seams at its ends to the hems beyond them.

Params
------
edge
    The hem, on any piece.
by_mm
    How much longer; below 0 shorter. Or
knots
    [[mm along this edge, mm longer there], …] for a curved change of this one edge; smooth between.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from eke.changes import Context
from eke.errors import BadInput
from eke.fit import reading as read
from eke.fit.edges import displaced, smooth_profile, with_moved_edges
from eke.fit.named.opening import mates_of
from eke.pattern.corners import End
from eke.pattern.model import Pattern

Amount = Callable[[NDArray[np.float64]], NDArray[np.float64]]


def hems_with(pattern: Pattern, edge_id: str) -> tuple[str, ...]:
    """Return the edges of the same kind that go on from an edge over the seams at its ends, it first."""
    _, edge = pattern.edge(edge_id)
    found: dict[str, None] = {edge.id: None}
    todo: list[str] = [edge.id]
    while todo:
        here = todo.pop(0)
        piece, _ = pattern.edge(here)
        ends: tuple[End, End] = ("start", "end")
        for end in ends:
            for mate, _ in mates_of(pattern, piece.id, here, end):
                if mate not in found and pattern.edge(mate)[1].kind == edge.kind:
                    found[mate] = None
                    todo.append(mate)
    return tuple(found)


def hem(pattern: Pattern, edge_ids: tuple[str, ...], longer: Amount) -> Pattern:
    """Return the pattern with hems moved outwards by ``longer`` (mm at mm along each).

    Raises
    ------
    BadShape
        When a piece would be used up.
    """
    for edge_id in edge_ids:
        piece, edge = pattern.edge(edge_id)
        moved = with_moved_edges(piece, {edge.id: displaced(edge.path, lambda mm: -longer(mm))})
        pattern = pattern.with_piece(moved)
    return pattern


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    _, edge = read.edge_of(state, params)
    if edge.kind == "fold":
        raise BadInput("A fold is no hem.")
    if params.get("knots") is not None:
        knots = read.rows(params, "knots")
        for at, _ in knots:
            if not -1e-6 <= at <= edge.path.length_mm + 1e-6:
                raise BadInput(
                    f"The hem is {edge.path.length_mm:.0f} mm long; there is no place {at:g} mm along it."
                )
        return hem(state, (edge.id,), smooth_profile(knots))
    by_mm = read.number(params, "by_mm")
    return hem(state, hems_with(state, edge.id), lambda mm: np.full_like(mm, by_mm))


def _say(params: read.Params) -> str:
    if params.get("knots") is not None:
        return f"Gave {read.called(params, 'a hem')} another line"
    return f"Made {read.called(params, 'a hem')} {read.mm(params, 'by_mm')} {'longer' if read.over(params, 'by_mm') else 'shorter'}"


KIND = read.named("fit.hem", _apply, _say, "edge")
