"""True the edge across a dart: fold it shut, redraw the seam line over it as one smooth line, open it again.

Both legs come out equally long, and the folded edge is smooth, so that the cap of the dart is cut rightly (the edge
is drawn over the closed dart: M. D. Erwin, Practical Dress Design, 1954, p. 42).

Params
------
dart
    The dart.
"""

from __future__ import annotations

from typing import Any

from eke.changes import Context
from eke.errors import BadInput
from eke.fit import reading as read
from eke.fit.named.darts import beside, mouth, with_dart_drawn
from eke.fit.parts import trued
from eke.geometry import Path, intersections
from eke.geometry.segments import distance
from eke.pattern.corners import dart_apex, shut_move, turn_deg
from eke.pattern.darts import dart_of
from eke.pattern.model import Pattern

CORNER_DEG = 60.0
"""Edges that meet at the closed dart in a sharper bend have a corner there that is meant."""


def true_cap(pattern: Pattern, dart_id: str) -> Pattern:
    """Return the pattern with the edge across a dart redrawn smooth with the dart folded shut.

    Raises
    ------
    BadInput
        When the edges meet in a corner there.
    """
    piece, dart = dart_of(pattern, dart_id)
    one, two = beside(piece, dart)
    shut = shut_move(piece, dart)
    back = shut.inverse()
    before, after = one.path, two.path.moved(shut)
    u = before.tangent_at(before.length_mm, side="before")
    if abs(turn_deg(u, after.tangent_at(0.0))) > CORNER_DEG:
        raise BadInput(
            "The edges on both sides of this dart meet in a corner when it is closed; there is no line to true."
        )
    line = trued(before, after)
    apex, (p, _) = dart_apex(piece, dart), mouth(piece, dart)
    reach = distance(apex, p)
    far = (apex[0] + (p[0] - apex[0]) * 2.0, apex[1] + (p[1] - apex[1]) * 2.0)
    meetings = intersections(line, Path.line(apex, far))
    if not meetings:
        raise BadInput("The redrawn line does not meet the dart. Make its legs equal first.")
    at = min(meetings, key=lambda m: abs(distance(apex, m.point) - reach)).at_a_mm
    head, tail = line.split(at)
    tail = tail.moved(back)
    return pattern.with_piece(with_dart_drawn(piece, dart, head, apex, tail))


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    return true_cap(state, read.text(params, "dart"))


KIND = read.named("fit.dart_cap", _apply, lambda p: "Trued the edge across a dart", "dart")
