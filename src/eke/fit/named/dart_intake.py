"""Make a dart take up more or less: its legs are drawn wider or narrower at the edge, its point stays.

What the edge loses or gains when it is sewn is the difference; walking says what no longer fits.

Params
------
dart
    The dart.
intake_mm
    What it takes up at the edge from now on.
"""

from __future__ import annotations

from typing import Any

from eke.changes import Context
from eke.errors import BadInput
from eke.fit import reading as read
from eke.fit.named.darts import beside, levelled, mouth, towards, with_dart_drawn
from eke.geometry import Line, Path
from eke.geometry.segments import distance
from eke.pattern.corners import dart_apex
from eke.pattern.darts import dart_of
from eke.pattern.model import Pattern

LEAST_MM = 1.0
"""A dart that takes up less is none."""
LEFT_MM = 5.0
"""So much of each neighbouring edge is left."""


def dart_intake(pattern: Pattern, dart_id: str, intake_mm: float) -> Pattern:
    """Return the pattern in which a dart takes up ``intake_mm``, half of the difference on each side.

    Raises
    ------
    BadInput
        When that is nothing, or more than the edges beside it hold; the message says how much they do.
    """
    piece, dart = dart_of(pattern, dart_id)
    if not intake_mm >= LEAST_MM:
        raise BadInput(f"A dart takes up at least {LEAST_MM:g} mm. To take it out, remove it.")
    before, after = (e.path for e in beside(piece, dart))
    p, q = mouth(piece, dart)
    now = distance(p, q)
    apex = dart_apex(piece, dart)
    if intake_mm <= now:
        middle = ((p[0] + q[0]) / 2.0, (p[1] + q[1]) / 2.0)
        one, two = towards(middle, p, intake_mm / 2.0), towards(middle, q, intake_mm / 2.0)
        before, after = _run_on(before, one), _run_on(after.reversed(), two).reversed()
    else:
        low, high = 0.0, min(before.length_mm, after.length_mm) - LEFT_MM
        most = distance(before.point_at(before.length_mm - max(high, 0.0)), after.point_at(max(high, 0.0)))
        if high <= 0.0 or most < intake_mm:
            raise BadInput(
                f"The edges beside this dart have no room for {intake_mm:g} mm; up to {max(most, now):.0f} mm would go.",
                most_mm=max(most, now),
            )
        for _ in range(60):
            cut = (low + high) / 2.0
            wide = distance(before.point_at(before.length_mm - cut), after.point_at(cut))
            low, high = (cut, high) if wide < intake_mm else (low, cut)
        before = before.slice(0.0, before.length_mm - high)
        after = after.slice(high, after.length_mm)
    apex = levelled(before.end, after.start, apex)
    return pattern.with_piece(with_dart_drawn(piece, dart, before, apex, after))


def _run_on(path: Path, to: tuple[float, float]) -> Path:
    if distance(path.end, to) <= 1e-9:
        return path
    if len(path.segments) == 1 and isinstance(path.segments[0], Line):
        (x0, y0), (x1, y1) = path.start, path.end
        off = (to[0] - x0) * (y1 - y0) - (to[1] - y0) * (x1 - x0)
        if abs(off) <= 0.01 * distance(path.start, to):
            return Path.line(path.start, to)
    return Path((*path.segments, Line(path.end, to)))


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    return dart_intake(state, read.text(params, "dart"), read.number(params, "intake_mm"))


KIND = read.named(
    "fit.dart_intake", _apply, lambda p: f"Made a dart take up {read.mm(p, 'intake_mm')}", "dart"
)
