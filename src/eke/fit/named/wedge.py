"""Take a wedge out at an edge to nothing elsewhere, or let one in.

Neck gape, armhole gape, a back too long above the waist: the piece is cut from the place on the edge to the place
where the wedge ends, and lapped (or spread) by the width. It ends at another edge, or at the point of a dart, which
then takes up the angle. The edge that was cut is trued across the joint.

Params
------
edge, with fraction or mm (from_end) or notch
    Where the wedge is widest.
width_mm
    Its width there, on this piece: half of what was pinned on a whole body. Below 0 lets in.
to
    Where it ends: {edge, fraction or mm}, {dart}, or {point: [x, y]}: a place on the outline or a dart's point.
"""

from __future__ import annotations

from typing import Any

from eke.changes import Context
from eke.errors import BadInput
from eke.fit import reading as read
from eke.fit.hinge import hinge
from eke.fit.parts import At, seams_over
from eke.geometry.segments import distance
from eke.pattern.corners import called, dart_apex
from eke.pattern.darts import dart_of
from eke.pattern.model import Dart, Pattern, Piece

ON_LINE_MM = 3.0
"""A point that was touched so near to the outline or a dart's point is meant to be on it."""


def wedge(
    pattern: Pattern, mouth: tuple[Piece, At], pivot: At | Dart, width_mm: float, change_id: str
) -> Pattern:
    """Return the pattern with a wedge taken out of a piece (below 0: let in). See :func:`eke.fit.hinge.hinge`."""
    piece, at = mouth
    made = hinge(piece, at, pivot, width_mm, change_id)
    return seams_over(pattern.with_piece(made.piece), made.parted)


def pivot_of(pattern: Pattern, piece: Piece, params: read.Params) -> At | Dart:
    """Return where a wedge ends.

    Raises
    ------
    BadInput
        When that lies on another piece, or inside the piece where there is no dart.
    """
    if params.get("dart") is not None:
        other, dart = dart_of(pattern, read.text(params, "dart"))
        if other.id != piece.id:
            raise BadInput(f"That dart is on “{other.name}”, the wedge on “{piece.name}”.")
        return dart
    if params.get("point") is not None and params.get("edge") is None:
        spot = read.point(params, "point")
        for dart in piece.darts:
            if distance(dart_apex(piece, dart), spot) <= ON_LINE_MM:
                return dart
        found = [(e.path.nearest(spot), k) for k, e in enumerate(piece.edges)]
        near, index = min(found, key=lambda f: (f[0].distance_mm, f[1]))
        if near.distance_mm > ON_LINE_MM:
            x, y = near.point
            raise BadInput(
                f"Cloth cannot lie flat where a wedge ends inside “{piece.name}”. End it at a dart's point, or at an edge: the "
                f"nearest is “{called(piece, piece.edges[index])}” at ({x:.0f}, {y:.0f}) mm.",
                nearest_mm=near.point,
            )
        return At(index, near.at_mm)
    other, _, at = read.place_on(pattern, params)
    if other.id != piece.id:
        raise BadInput(f"A wedge stays on one piece; that edge is on “{other.name}”, not on “{piece.name}”.")
    return at


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    piece, _, at = read.place_on(state, params)
    pivot = pivot_of(state, piece, read.part(params, "to"))
    return wedge(state, (piece, at), pivot, _width(params), context.record_id)


def _width(params: read.Params) -> float:
    width = read.number(params, "width_mm")
    if abs(width) < 0.1:
        raise BadInput("Say how wide the wedge is at the edge.")
    return width


def _say(params: read.Params) -> str:
    done = "Took a wedge of {} out" if read.over(params, "width_mm") else "Let a wedge of {} in"
    return f"{done.format(read.mm(params, 'width_mm'))} at {read.called(params, 'an edge')}"


KIND = read.named("fit.wedge", _apply, _say, "edge", "to")
