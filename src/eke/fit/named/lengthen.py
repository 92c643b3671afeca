"""Lengthen or shorten at a level line, on every piece that it crosses.

The piece is cut square to its grain at the place and spread (or folded out) by the amount; where the line leaves it
over a seam, it goes on from the same distance along the seam on the other side, square to the grain there, until it
meets no more pieces. Straight side edges are redrawn straight, curves blended.

Params
------
edge, with fraction or mm (from_end) or notch
    A place on the line, on any of the pieces.
by_mm
    How much longer; below 0 shortens, folding out the band just below the line.
only
    Ids of the pieces that may be cut; all where not given.
not_over
    Ids of seams that the line does not go over.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import Any, Final

from eke.changes import Context
from eke.errors import BadInput, EkeError
from eke.fit import reading as read
from eke.fit.lines import down_of, line_across
from eke.fit.parts import seams_over
from eke.fit.spread import spread
from eke.geometry import Pt
from eke.pattern.model import Pattern, Piece

BESIDE_MM: Final = (2.0, 4.0, 8.0, 15.0, 30.0)
"""So far beside a place that does not go, as where the line meets a corner, others are tried."""


def lengthen(
    pattern: Pattern,
    piece: Piece,
    start: Pt,
    by_mm: float,
    change_id: str,
    only: Collection[str] = (),
    not_over: Collection[str] = (),
) -> Pattern:
    """Return the pattern longer by ``by_mm`` (below 0: shorter) at the level line through ``start`` on ``piece``."""
    done: set[str] = set()
    for piece_id, through in line_across(pattern, piece, start, "level", only, not_over).through:
        if piece_id in done:  # all round the body and back on another level: each piece is lengthened once
            continue
        done.add(piece_id)
        here = pattern.piece(piece_id)
        made = spread(here, through, down_of(here), by_mm, change_id)
        pattern = seams_over(pattern.with_piece(made.piece), made.parted)
    return pattern


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    piece, edge, at = read.place_on(state, params)
    by_mm = read.number(params, "by_mm")
    if abs(by_mm) < 0.1:
        raise BadInput("Say how much longer or shorter.")
    only, not_over = read.only_pieces(state, params, piece), read.texts(params, "not_over")

    def done(mm: float) -> Pattern:
        return lengthen(state, piece, edge.path.point_at(mm), by_mm, context.record_id, only, not_over)

    try:
        return done(at.mm)
    except BadInput as refused:
        if "goes_with" not in refused.data:
            beside = _beside(done, at.mm, edge.path.length_mm)
            if beside is not None:
                raise BadInput(
                    refused.message, **refused.data, goes_with={"mm": round(beside, 1), "from_end": "start"}
                ) from refused
        raise


def _beside(done: Callable[[float], Pattern], mm: float, length_mm: float) -> float | None:
    """The nearest place on the edge at which it would go; none near enough."""
    for step in BESIDE_MM:
        for place in (mm - step, mm + step):
            if 0.0 < place < length_mm:
                try:
                    done(place)
                except EkeError:
                    continue
                return place
    return None


def _say(params: read.Params) -> str:
    done = "Lengthened" if read.over(params, "by_mm") else "Shortened"
    return f"{done} by {read.mm(params, 'by_mm')} at a line from {read.called(params, 'an edge')}"


KIND = read.named("fit.lengthen", _apply, _say, "edge", "only")
