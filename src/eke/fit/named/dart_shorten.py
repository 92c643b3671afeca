"""Shorten a dart from its point (or lengthen it): its mouth stays, its legs are drawn to the new point.

A dart is sewn short of the bulge: the stitched point lies about 12 mm below the bust point (M. D. Erwin, Practical
Dress Design, 1954).

Params
------
dart
    The dart.
by_mm
    How much shorter, along its middle; below 0 longer.
"""

from __future__ import annotations

from typing import Any

from shapely.geometry import Point, Polygon

from eke.changes import Context
from eke.errors import BadInput
from eke.fit import reading as read
from eke.fit.named.darts import LEAST_LEG_MM, beside, mouth, towards, with_dart_drawn
from eke.geometry.segments import distance
from eke.pattern.corners import dart_apex
from eke.pattern.darts import dart_of
from eke.pattern.model import Pattern


def shorten_dart(pattern: Pattern, dart_id: str, by_mm: float) -> Pattern:
    """Return the pattern with a dart's point drawn back by ``by_mm`` towards its mouth (below 0: on).

    Raises
    ------
    BadInput
        When nothing to sew would be left, or the point would leave the piece.
    """
    piece, dart = dart_of(pattern, dart_id)
    p, q = mouth(piece, dart)
    middle = ((p[0] + q[0]) / 2.0, (p[1] + q[1]) / 2.0)
    apex = dart_apex(piece, dart)
    deep = distance(apex, middle)
    if by_mm > deep - LEAST_LEG_MM:
        raise BadInput(
            f"The dart is {deep:.0f} mm deep; it can be shortened by {max(deep - LEAST_LEG_MM, 0.0):.0f} mm at most.",
            most_mm=max(deep - LEAST_LEG_MM, 0.0),
        )
    to = towards(apex, middle, by_mm)
    if by_mm < 0.0 and not Polygon(piece.outline.flatten()).contains(Point(to)):
        raise BadInput(f"The point of the dart would leave “{piece.name}”. Lengthen it by less.")
    before, after = (e.path for e in beside(piece, dart))
    return pattern.with_piece(with_dart_drawn(piece, dart, before, to, after))


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    return shorten_dart(state, read.text(params, "dart"), read.number(params, "by_mm"))


def _say(params: read.Params) -> str:
    return (
        f"{'Shortened' if read.over(params, 'by_mm') else 'Lengthened'} a dart by {read.mm(params, 'by_mm')}"
    )


KIND = read.named("fit.dart_shorten", _apply, _say, "dart")
