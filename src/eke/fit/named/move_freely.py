"""Move a corner, or a stretch of an edge, freely; the neighbours follow smoothly.

What the trade draws by eye: the tip of a collar a little longer, an armhole scooped, a neckline reshaped. A corner
moves with both of its edges: straight ones stay straight, curves keep their directions at both ends, and a corner on
the fold slides along the fold. A stretch moves as a whole and fades to nothing over ``fade_mm`` on each side, or at the
ends of its edge, which stay where they are.

Params
------
edge, with fraction, mm (from_end), notch or point
    The place that is moved. At the end of the edge it is the corner.
by
    [x, y] in mm, how far; or
in_mm
    how far inwards, square to the edge (below 0: outwards).
over_mm
    How long a stretch moves as a whole; 0 where not said: one place.
fade_mm
    Over how much it fades to nothing on each side; 60 where not said.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any, Final

from eke.changes import Context
from eke.errors import BadInput
from eke.fit import reading as read
from eke.fit.falloff import bent, plateau
from eke.fit.parts import At
from eke.geometry import Pt
from eke.pattern.corners import End, called, sound, with_corner
from eke.pattern.model import Pattern, Piece

FADE_MM: Final = 60.0
"""About the reach of a hand with a curve."""
MOST_MM: Final = 150.0
"""What is moved farther is another piece."""
CORNER_MM: Final = 1.0
"""A place so near to a corner is the corner."""
STEEPEST: Final = 1.6
"""The fading is at least so many times as long as the move, so that the line does not fold back."""


def move_freely(
    pattern: Pattern, piece: Piece, at: At, by: Pt, over_mm: float = 0.0, fade_mm: float = FADE_MM
) -> Pattern:
    """Return the pattern with a corner, or a stretch around ``at``, moved by ``by``.

    Raises
    ------
    BadInput
        When a fold would be bent, or the line would fold back; the message says what would go.
    BadShape
        When the outline would cross itself.
    """
    edge = piece.edges[at.index]
    length = edge.path.length_mm
    if over_mm <= 0.0 and min(at.mm, length - at.mm) <= CORNER_MM:
        end: End = "start" if at.mm <= CORNER_MM else "end"
        x, y = edge.path.start if end == "start" else edge.path.end
        return pattern.with_piece(with_corner(piece, edge.id, end, (x + by[0], y + by[1])))
    if edge.kind == "fold":
        raise BadInput("A fold stays straight. Move its corners, or unfold the piece first.")
    low, high = max(at.mm - over_mm / 2.0, 0.0), min(at.mm + over_mm / 2.0, length)
    before, after = min(fade_mm, low), min(fade_mm, length - high)
    least = STEEPEST * math.hypot(*by)
    if min(before, after) < least:
        room = math.floor(10.0 * min(low, length - high) / STEEPEST) / 10.0
        raise BadInput(
            f"Moved by {math.hypot(*by):.0f} mm within {min(before, after):.0f} mm, “{called(piece, edge)}” would fold back. "
            f"Fade it over {math.ceil(least)} mm, or move it {max(room, 0.0):g} mm at most there.",
            most_mm=max(room, 0.0),
        )
    # the place itself is a joint of the line, so that it goes exactly where it was told
    jointed = edge.path
    for mm in (low, high):
        if 0.0 < mm < length:
            head, tail = jointed.split(mm)
            jointed = head.joined(tail)
    path = bent(jointed, plateau(low, high, before, after, by))
    drawn = replace(edge, path=path, shape="as traced" if edge.shape == "straight" else edge.shape)
    return pattern.with_piece(sound(piece.with_edge(drawn), piece))


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    piece, edge, at = read.place_on(state, params)
    if params.get("in_mm") is not None:
        amount = read.number(params, "in_mm")
        x, y = edge.path.normal_at(at.mm)
        by = (amount * x, amount * y)
    else:
        by = read.point(params, "by")
    far = math.hypot(*by)
    if not 0.1 <= far <= MOST_MM:
        raise BadInput(f"Say how far it is moved: from 0.1 to {MOST_MM:g} mm, not {far:g}.", most_mm=MOST_MM)
    over, fade = read.number(params, "over_mm", 0.0), read.number(params, "fade_mm", FADE_MM)
    if over < 0.0 or fade < 0.0:
        raise BadInput("Lengths along an edge are 0 mm or more.")
    return move_freely(state, piece, at, by, over, fade)


def _say(params: read.Params) -> str:
    if params.get("in_mm") is not None:
        far, way = read.mm(params, "in_mm"), " inwards" if read.over(params, "in_mm") else " outwards"
    else:
        by = params.get("by") or (0.0, 0.0)
        far, way = f"{math.hypot(float(by[0]), float(by[1])):.1f} mm", ""
    return f"Moved a place of {read.called(params, 'an edge')} by {far}{way}"


KIND = read.named("fit.move_freely", _apply, _say, "edge")
