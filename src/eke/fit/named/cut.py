"""Cut a piece in two along a line, with a new seam there: a yoke, a panel, a centre seam, a waist seam.

The parts are exactly the piece as it was: give the seam a shape afterwards by taking it in, or by moving it. The part
that holds the grain line keeps the name. A balance line goes on in both parts; a fold that is cut is a fold of both.

Params
------
edge, with fraction, mm (from_end), notch or point
    Where the cut begins; or ``dart``: at the point of that dart, which opens into the cut.
to
    Where it ends: {edge, fraction or mm}, or {dart}: at the point of a dart.
part
    What the new piece is called.
seam
    What the new seam is called.
"""

from __future__ import annotations

from typing import Any

from eke.changes import Context
from eke.errors import BadInput
from eke.fit import reading as read
from eke.fit.cutting import cut_apart
from eke.fit.parts import At
from eke.pattern.darts import dart_of
from eke.pattern.model import Dart, Pattern, Piece


def place_or_dart(state: Pattern, params: read.Params) -> tuple[Piece, At | Dart]:
    """Return a place on an outline, or a dart, and its piece."""
    if params.get("dart") is not None:
        return dart_of(state, read.text(params, "dart"))
    piece, _, at = read.place_on(state, params)
    return piece, at


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    piece, one = place_or_dart(state, params)
    other_piece, other = place_or_dart(state, read.part(params, "to"))
    if other_piece.id != piece.id:
        raise BadInput(
            f"A cut stays on one piece; one end is on “{other_piece.name}”, the other on “{piece.name}”."
        )
    return cut_apart(
        state,
        piece,
        one,
        other,
        context.record_id,
        part_name=str(params.get("part") or ""),
        seam_name=str(params.get("seam") or ""),
    )


def _say(params: read.Params) -> str:
    return f"Cut {read.called(params, 'a piece')} in two"


KIND = read.named("fit.cut", _apply, _say, "edge", "dart", "to")
