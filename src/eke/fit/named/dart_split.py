"""Split a dart in two: part of its angle stays, the rest opens at another place.

The stretch of outline between the two turns about the dart's point; the two angles there add up to the first one,
widths do not (plain geometry). Both darts then end a little short of that point, so that they do not touch.

Params
------
dart
    The dart.
edge, with fraction or mm (from_end) or notch
    Where the second dart opens, on the same piece.
share
    How much of the angle goes there: above 0, below 1; half where not said.
short_mm
    How far both points are drawn back, 25 where not said.
"""

from __future__ import annotations

from typing import Any

from eke.changes import Context
from eke.errors import BadInput
from eke.fit import reading as read
from eke.fit.named.darts import LEAST_LEG_MM, mouth, towards
from eke.fit.parts import (
    At,
    Opening,
    Stretch,
    edges_of,
    holds_grain,
    nearest_region,
    rearranged,
    region,
    seams_over,
)
from eke.geometry import Move, Pt
from eke.geometry.segments import distance
from eke.pattern.corners import dart_angle_deg, dart_apex, folds_away, index_of
from eke.pattern.darts import dart_of
from eke.pattern.model import Dart, EdgeId, Pattern

SHORT_MM = 25.0
"""Each of two darts ends so far from the bulge: 25 to 40 mm is generally safe (Erwin 1954)."""
LEAST_SHORT_MM = 2.0
"""Two points nearer than this touch on paper."""


def split_dart(
    pattern: Pattern, dart_id: str, at: At, change_id: str, share: float = 0.5, short_mm: float = SHORT_MM
) -> Pattern:
    """Return the pattern with ``share`` of a dart's angle opened at another place of its piece.

    Raises
    ------
    BadInput
        When the share is all or nothing, the place is at a corner or on the dart, or a dart gets too short.
    """
    piece, dart = dart_of(pattern, dart_id)
    edge = piece.edges[at.index]
    if not 0.02 <= share <= 0.98:
        raise BadInput(
            "The share of the second dart lies above 0 and below 1. To move all of it, move the dart."
        )
    if folds_away(piece, edge.id) or edge.kind == "fold":
        raise BadInput("Choose a place on a plain edge of the same piece.")
    if not 1.0 < at.mm < edge.path.length_mm - 1.0:
        raise BadInput("Choose a place between the ends of the edge.")
    if short_mm < LEAST_SHORT_MM:
        raise BadInput(
            f"Both darts end at least {LEAST_SHORT_MM:g} mm short of the old point.", least_mm=LEAST_SHORT_MM
        )
    apex = dart_apex(piece, dart)
    turn_by = share * dart_angle_deg(piece, dart)
    count = len(piece.edges)
    one, two = index_of(piece, dart.first_leg), index_of(piece, dart.second_leg)
    start, stop = At((two + 1) % count, 0.0), At((one - 1) % count, piece.edges[one - 1].path.length_mm)
    # counter-clockwise: from the second leg on to the new place, and from there to the first leg
    ahead, behind = region(piece, start, at, (apex,)), region(piece, at, stop, (apex,))
    turn_ahead = not holds_grain(piece, ahead, edges_of(piece, start, at))
    turn = Move.rotation(-turn_by if turn_ahead else turn_by, apex)
    moves = (turn, Move()) if turn_ahead else (Move(), turn)
    p, q = mouth(piece, dart)
    new_mouth = edge.path.point_at(at.mm)
    ends = {
        "old": (moves[1].apply(p), moves[0].apply(q)),
        "new": (moves[0].apply(new_mouth), moves[1].apply(new_mouth)),
    }
    points = {k: _point(apex, *pair, short_mm) for k, pair in ends.items()}
    label = f"{edge.id}"
    new = Dart(
        _child(label, change_id, "dart"),
        EdgeId(_child(label, change_id, "leg1")),
        EdgeId(_child(label, change_id, "leg2")),
    )
    made = rearranged(
        piece,
        (Stretch(start, at, moves[0]), Stretch(at, stop, moves[1])),
        (Opening(new, points["new"]), Opening(dart, points["old"])),
        nearest_region([(ahead, moves[0]), (behind, moves[1])]),
        change_id,
    )
    return seams_over(pattern.with_piece(made.piece), made.parted)


def _point(apex: Pt, p: Pt, q: Pt, short_mm: float) -> Pt:
    middle = ((p[0] + q[0]) / 2.0, (p[1] + q[1]) / 2.0)
    deep = distance(apex, middle)
    if short_mm > deep - LEAST_LEG_MM:
        raise BadInput(
            f"One of the darts is only {deep:.0f} mm deep; its point can go back {max(deep - LEAST_LEG_MM, 0.0):.0f} mm.",
            most_mm=max(deep - LEAST_LEG_MM, 0.0),
        )
    return towards(apex, middle, short_mm)


def _child(parent: str, change_id: str, label: str) -> str:
    return Context(change_id).child_id(parent, label)


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    piece, _ = dart_of(state, read.text(params, "dart"))
    other, _, at = read.place_on(state, params)
    if other.id != piece.id:
        raise BadInput(f"The second dart opens on the same piece, “{piece.name}”.")
    return split_dart(
        state,
        read.text(params, "dart"),
        at,
        context.record_id,
        read.number(params, "share", 0.5),
        read.number(params, "short_mm", SHORT_MM),
    )


def _say(params: read.Params) -> str:
    return f"Split a dart; the second one opens at {read.called(params, 'an edge')}"


KIND = read.named("fit.dart_split", _apply, _say, "dart", "edge")
