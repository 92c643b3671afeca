"""Darts in an outline: say two edges are one, true its legs, find its cap."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Literal

from eke.changes import child_id
from eke.errors import BadShape, ChangeConflict
from eke.geometry import Path, Pt
from eke.geometry.segments import distance
from eke.pattern.corners import (
    End,
    corner_point,
    dart_apex,
    dart_legs_mm,
    interior_angle_deg,
    neighbour,
    sound,
    tangent_out,
    with_path,
)
from eke.pattern.model import Dart, Pattern, Piece


def dart_of(pattern: Pattern, dart_id: str) -> tuple[Piece, Dart]:
    """Return a dart and its piece. Raises :class:`ChangeConflict` when it is not there."""
    for piece in pattern.pieces.values():
        for dart in piece.darts:
            if dart.id == dart_id:
                return piece, dart
    raise ChangeConflict(f"There is no dart “{dart_id}”.", dart=dart_id)


def say_dart(
    pattern: Pattern, first_id: str, second_id: str, pressed: Literal["first", "second"], change_id: str
) -> Pattern:
    """Return the pattern in which two neighbouring edges are the legs of a dart, straight, sewn to each other.

    Raises
    ------
    ChangeConflict
        When they are no neighbours, or belong to a seam already.
    BadShape
        When the corner between them points out of the piece, so that nothing could be taken up there.
    """
    piece, first = pattern.edge(first_id)
    _, second = pattern.edge(second_id)
    if neighbour(piece, first.id, "end").id != second.id:
        raise ChangeConflict(
            "The two legs of a dart meet at its point, the first ends where the second starts."
        )
    for leg in (first, second):
        for seam in pattern.seams_of(leg.id):
            raise ChangeConflict(
                f"A leg of the dart is sewn in “{seam.name or seam.id}”. Take it out of the seam first.",
                seam=seam.id,
            )
    if interior_angle_deg(piece, second.id, "start") <= 180.0:
        raise BadShape("This corner points out of the piece: a dart points into it.")
    for leg in (first, second):
        piece = piece.with_edge(replace(leg, path=Path.line(leg.path.start, leg.path.end), shape="straight"))
    dart = Dart(child_id(piece.id, change_id, "dart"), first.id, second.id, pressed)
    return pattern.with_piece(sound(replace(piece, darts=(*piece.darts, dart)), piece))


def drop_dart(pattern: Pattern, dart_id: str) -> Pattern:
    """Return the pattern in which a dart is two plain edges again."""
    piece, dart = dart_of(pattern, dart_id)
    return pattern.with_piece(replace(piece, darts=tuple(d for d in piece.darts if d.id != dart.id)))


def true_dart(pattern: Pattern, dart_id: str) -> Pattern:
    """Return the pattern with both legs of a dart as long as their mean, its point and directions kept."""
    piece, dart = dart_of(pattern, dart_id)
    apex = dart_apex(piece, dart)
    mean = sum(dart_legs_mm(piece, dart)) / 2.0
    legs: tuple[tuple[str, End], ...] = ((dart.first_leg, "start"), (dart.second_leg, "end"))
    for leg_id, end in legs:
        leg = piece.edge(leg_id)
        x, y = corner_point(leg, end)
        length = distance((x, y), apex)
        to = (apex[0] + (x - apex[0]) * mean / length, apex[1] + (y - apex[1]) * mean / length)
        path = Path.line(to, apex) if end == "start" else Path.line(apex, to)
        piece = with_path(piece, leg_id, path)
    return pattern.with_piece(piece)


def dart_cap(pattern: Pattern, dart_id: str) -> Pt:
    """Return where the cloth of a closed dart must end: see :func:`cap_point`."""
    return cap_point(*dart_of(pattern, dart_id))


def cap_point(piece: Piece, dart: Dart) -> Pt:
    """Return where the cloth of a closed dart must end: the cap's point on the dart's middle line.

    Folded shut, the dart lies on the leg towards which it is pressed; there the neighbouring edge runs on
    over it. The cap is that edge's line, mirrored back about the fold (Erwin 1954, p. 42).
    """
    apex = dart_apex(piece, dart)
    first, second = piece.edge(dart.first_leg), piece.edge(dart.second_leg)
    p, q = first.path.start, second.path.end
    middle = ((p[0] + q[0]) / 2.0, (p[1] + q[1]) / 2.0)
    mx, my = middle[0] - apex[0], middle[1] - apex[1]
    norm = math.hypot(mx, my)
    m = (mx / norm, my / norm)
    # pressed towards the first leg, the fold lies on that side: the edge before the dart runs on beneath it
    end: End = "end" if dart.pressed == "first" else "start"
    edge = neighbour(piece, first.id, "start") if end == "end" else neighbour(piece, second.id, "end")
    corner = p if end == "end" else q
    ux, uy = tangent_out(edge.path, end)
    # the leg folds onto its neighbour's side: mirror the edge's direction in the leg, and meet the middle line
    lx, ly = (corner[0] - apex[0]), (corner[1] - apex[1])
    ll = math.hypot(lx, ly)
    lx, ly = lx / ll, ly / ll
    dot = ux * lx + uy * ly
    rx, ry = 2.0 * dot * lx - ux, 2.0 * dot * ly - uy
    det = rx * m[1] - ry * m[0]
    if abs(det) < 1e-9:
        return middle
    along = ((apex[0] - corner[0]) * m[1] - (apex[1] - corner[1]) * m[0]) / det
    return (corner[0] + along * rx, corner[1] + along * ry)
