"""Primitive: spread or lap a piece along a line, parallel.

The piece is cut along a straight line from side to side and the far part is moved square to it. Straight edges that
were cut are redrawn straight from end to end, curves are blended across the cut: the width at the line is blended.
Between two places it can be opened by different amounts, the one side turning (:func:`spread_along`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from shapely.geometry import Polygon

from eke.errors import BadInput
from eke.fit.parts import (
    END_MM,
    At,
    Joint,
    Rearranged,
    Stretch,
    edges_of,
    holds_grain,
    nearest_region,
    rearranged,
    region,
)
from eke.geometry import Move, Pt, line_crossings
from eke.geometry.segments import distance, unit
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


def opening_move(start: Pt, end: Pt, near_mm: float, far_mm: float) -> Move:
    """Return the move of the side that lies ahead of the line from ``start`` to ``end``, counter-clockwise, when it is opened.

    Both ends of the line end up ``near_mm`` and ``far_mm`` apart, straight across: a shift where the two are equal, else a
    turn about where the two lines meet.
    """
    long = distance(start, end)
    ux, uy = unit(start, end)
    if abs(near_mm - far_mm) <= 1e-9 * long:
        return Move.translation(near_mm * uy, -near_mm * ux)
    half = math.asin((near_mm - far_mm) / (2.0 * long))
    reach = near_mm / (2.0 * math.sin(half))
    return Move.rotation(2.0 * math.degrees(half), (start[0] + reach * ux, start[1] + reach * uy))


def spread_along(
    piece: Piece,
    near: At,
    far: At,
    near_mm: float,
    far_mm: float,
    change_id: str,
    joints: Sequence[Joint] = (None, None),
) -> Rearranged:
    """Return the piece cut from one place of its outline to another and opened there, each end by its own amount.

    The side that holds the fold, or else the grain line, stays. What lies in the joints (at ``far``, at ``near``) is
    where everything ends up; nothing: the edge is trued across.

    Raises
    ------
    BadShape
        When the outline would cross itself.
    """
    moves, cloths = spread_sides(piece, near, far, near_mm, far_mm)
    return rearranged(
        piece,
        (Stretch(near, far, moves[1]), Stretch(far, near, moves[0])),
        joints,
        nearest_region([(cloths[1], moves[1]), (cloths[0], moves[0])]),
        change_id,
        keep_straight=near_mm == far_mm,
    )


def spread_sides(
    piece: Piece, near: At, far: At, near_mm: float, far_mm: float
) -> tuple[tuple[Move, Move], tuple[Polygon, Polygon]]:
    """Return the moves and the cloth of the sides behind and ahead of a line that is opened: one of them stays."""
    start, end = (piece.edges[at.index].path.point_at(at.mm) for at in (near, far))
    behind, ahead = region(piece, far, near), region(piece, near, far)
    opens = opening_move(start, end, near_mm, far_mm)
    stays = holds_grain(piece, ahead, edges_of(piece, near, far))
    return ((opens.inverse(), Move()) if stays else (Move(), opens)), (behind, ahead)


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
