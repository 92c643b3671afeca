"""Join two pieces along their seam: the seam is gone, and one piece less is cut; or turn a princess seam into a dart.

The second piece is laid on the first along the seam. The two sides must lie on one another within the trade's tolerance
of a seam; where they do so only for a part of the way, as over a bust, they are joined so far and the rest becomes a
dart, whose point is where the joining ends.

Params
------
seam
    The seam; each side is one edge.
up_to_mm
    How far to join, where not all the way.
from_end
    The end of the seam that the joining starts from: ``start`` where not said, or ``end``.
"""

from __future__ import annotations

from typing import Any

from eke.changes import Context
from eke.fit import reading as read
from eke.fit.cutting import join_along
from eke.pattern.model import Pattern


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    up_to = None if params.get("up_to_mm") is None else read.number(params, "up_to_mm")
    end = read.word(params, "from_end", ("start", "end"), "start")
    return join_along(
        state,
        read.text(params, "seam"),
        context.record_id,
        up_to_mm=up_to,
        from_end="end" if end == "end" else "start",
    )


def _say(params: read.Params) -> str:
    if params.get("up_to_mm") is not None:
        return f"Joined {read.called(params, 'a seam')} for {read.mm(params, 'up_to_mm')}, the rest a dart"
    return f"Joined two pieces along {read.called(params, 'a seam')}"


KIND = read.named("fit.join", _apply, _say, "seam")
