"""Primitive: spread or lap a piece along a line, parallel.

The piece is cut along a straight line from side to side and the far part is moved square to it. Straight edges that
were cut are redrawn straight from end to end, curves are blended across the cut: the width at the line is blended.
"""

from __future__ import annotations

import math
from typing import Final

from eke.errors import BadInput
from eke.fit.parts import END_MM, At, Rearranged, Stretch, rearranged
from eke.geometry import Move, Pt, line_crossings
from eke.geometry.segments import distance
from eke.pattern.corners import called
from eke.pattern.model import Piece

SAME_MM: Final = 0.01
"""Two crossings so near are one, found on both edges of a corner."""


def crossed(piece: Piece, through: Pt, direction: Pt) -> tuple[At, ...]:
    """Return where the straight line through a point crosses the outline, in the order round the piece.

    Raises
    ------
    BadInput
        When it crosses nothing, or passes through a corner.
    """
    found: list[tuple[At, Pt]] = []
    for index, edge in enumerate(piece.edges):
        for mm, point in line_crossings(edge.path, through, direction):
            if all(distance(point, p) > SAME_MM for _, p in found):
                found.append((At(index, mm), point))
    if len(found) < 2 or len(found) % 2:
        raise BadInput(
            f"The line crosses the outline of “{piece.name}” {len(found)} times; it must run from side to side. Move it a "
            "little."
        )
    for at, _ in found:
        edge = piece.edges[at.index]
        if not END_MM < at.mm < edge.path.length_mm - END_MM:
            raise BadInput(
                f"The line meets “{piece.name}” at a corner of “{called(piece, edge)}”. Move it a little."
            )
    return tuple(sorted((at for at, _ in found), key=lambda a: (a.index, a.mm)))


def spread(piece: Piece, through: Pt, away: Pt, by_mm: float, change_id: str) -> Rearranged:
    """Return the piece spread by ``by_mm`` (below 0: lapped) at the line through ``through``, square to ``away``.

    What lies on the side of ``away`` (a unit vector) is moved along it; the rest stays. When lapping, the band of
    that width beyond the line is folded out.

    Raises
    ------
    BadInput
        When the line does not cross the piece from side to side, or the band to be folded out holds a corner; the
        message says how much could be folded out.
    """
    across = (-away[1], away[0])
    near = crossed(piece, through, across)
    if by_mm >= 0.0:
        far = near
    else:
        beyond = (through[0] - by_mm * away[0], through[1] - by_mm * away[1])
        most = _room_mm(piece, through, away)
        try:
            far = crossed(piece, beyond, across)
        except BadInput:
            far = ()
        if -by_mm >= most or [a.index for a in far] != [a.index for a in near]:
            raise BadInput(
                f"“{piece.name}” has a corner within {-by_mm:g} mm of the line; up to {math.floor(most * 10 + 1e-6) / 10:g} mm can be "
                "folded out there.",
                most_mm=most,
            )
    shift = Move.translation(by_mm * away[0], by_mm * away[1])

    def beyond_line(p: Pt) -> bool:
        return (p[0] - through[0]) * away[0] + (p[1] - through[1]) * away[1] > 0.0

    stretches = []
    for k in range(len(near)):
        j = (k + 1) % len(near)
        moves = beyond_line(_just_after(piece, near[k]))
        ends = far if moves else near
        stretches.append(Stretch(ends[k], ends[j], shift if moves else Move()))
    return rearranged(
        piece,
        stretches,
        [None] * len(stretches),
        lambda p: shift if beyond_line(p) else Move(),
        change_id,
        keep_straight=True,
    )


def _just_after(piece: Piece, at: At) -> Pt:
    path = piece.edges[at.index].path
    return path.point_at(min(at.mm + END_MM / 2.0, path.length_mm))


def _room_mm(piece: Piece, through: Pt, away: Pt) -> float:
    """How far beyond the line the next corner lies."""
    depths = [
        (e.path.start[0] - through[0]) * away[0] + (e.path.start[1] - through[1]) * away[1]
        for e in piece.edges
    ]
    beyond = [d for d in depths if d > 0.0]
    return max(min(beyond, default=0.0) - END_MM, 0.0)
