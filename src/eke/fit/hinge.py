"""Primitive: hinge a piece open or closed, from a place on one edge to nothing at a pivot.

Slash and spread, or lap, hinged: the piece is cut from the mouth to the pivot and one side is turned about the
pivot until the edge has lost ``width_mm`` at the mouth (or gained it, below 0). The pivot is a place on another edge, or the
point of a dart: then the dart takes the angle up. Lengths of all edges but the mouth's stay, and so does the angle:
angles add, widths do not (plain geometry; the lapping and spreading of M. D. Erwin, Practical Dress Design, 1954).
"""

from __future__ import annotations

import math
from typing import Final

from shapely.geometry import LineString, Polygon

from eke.errors import BadInput
from eke.fit.parts import (
    At,
    Opening,
    Rearranged,
    Stretch,
    as_end,
    as_start,
    edges_of,
    holds_grain,
    nearest_region,
    rearranged,
    region,
)
from eke.geometry import Move, Pt
from eke.geometry.segments import distance
from eke.pattern.corners import called, dart_apex, index_of
from eke.pattern.model import Dart, Edge, Piece

NEAREST_PIVOT_MM: Final = 20.0
"""A pivot nearer to the mouth than this turns cloth rather than shaping it."""
WIDEST_DEG: Final = 60.0
"""No change of fit turns a part by more; what asks for it was mistyped."""
SLANTED: Final = 0.5
"""A wedge meets its edge at 30° or more (the sine of it)."""
MARGIN_MM: Final = 1.0
"""So much of an edge is left on each side of a wedge."""


def hinge(piece: Piece, mouth: At, pivot: At | Dart, width_mm: float, change_id: str) -> Rearranged:
    """Return the piece hinged closed by ``width_mm`` at ``mouth`` (below 0: open), to nothing at ``pivot``.

    The side that holds the fold, or else the grain line, stays; the other turns.

    Raises
    ------
    BadInput
        When the wedge is wider than the edge allows, the mouth lies on a fold, the pivot is too near, or the
        line from mouth to pivot leaves the piece.
    BadShape
        When the outline would cross itself.
    """
    edge = piece.edges[mouth.index]
    if edge.kind == "fold" or (isinstance(pivot, At) and _bends_fold(piece, pivot)):
        raise BadInput(
            f"“{piece.name}” lies on a fold there, and a fold stays straight. Make it a seam first, or choose another "
            "place."
        )
    about = (
        dart_apex(piece, pivot)
        if isinstance(pivot, Dart)
        else piece.edges[pivot.index].path.point_at(pivot.mm)
    )
    room = 2.0 * (min(mouth.mm, edge.path.length_mm - mouth.mm) - MARGIN_MM)
    if room <= 0.0:
        raise BadInput(
            f"The place lies at the end of “{called(piece, edge)}”. Choose one between its ends, {MARGIN_MM:g} mm from them."
        )
    if width_mm > room:
        raise BadInput(
            f"A wedge of {width_mm:g} mm is wider than “{called(piece, edge)}” allows at {mouth.mm:.0f} mm along it; there "
            f"{room:.1f} mm would go.",
            most_mm=room,
        )
    middle = edge.path.point_at(mouth.mm)
    reach = distance(middle, about)
    if reach < NEAREST_PIVOT_MM:
        raise BadInput(
            f"The wedge would be {reach:.0f} mm long. Let it run to a place at least {NEAREST_PIVOT_MM:g} mm away."
        )
    stays_inside(piece, middle, about)
    low, high = (
        (mouth.mm - width_mm / 2.0, mouth.mm + width_mm / 2.0) if width_mm > 0.0 else (mouth.mm, mouth.mm)
    )
    angle = _angle_deg(edge, mouth.mm, about, width_mm)
    return _turned(piece, At(mouth.index, low), At(mouth.index, high), pivot, about, angle, change_id)


def hinge_angle_deg(width_mm: float, reach_mm: float) -> float:
    """Return the angle of a wedge that is ``width_mm`` wide, square to it, where it is ``reach_mm`` long."""
    return 2.0 * math.degrees(math.asin(width_mm / (2.0 * reach_mm)))


def _angle_deg(edge: Edge, mm: float, about: Pt, width_mm: float) -> float:
    """The angle to close by (below 0: to open by), so that the edge itself loses ``width_mm``.

    Turning shifts the mouth square to its line to the pivot; where the edge runs slantingly to that, only a share
    of the shift shortens it.
    """
    (x, y), u = edge.path.point_at(mm), edge.path.tangent_at(mm)
    reach = distance((x, y), about)
    squarely = abs((x - about[0]) * u[1] - (y - about[1]) * u[0]) / reach
    if squarely < SLANTED:
        raise BadInput(
            f"The wedge runs along “{edge.name or 'the edge'}” rather than away from it. Let it end more squarely to the edge."
        )
    most = 2.0 * reach * squarely * math.sin(math.radians(WIDEST_DEG / 2.0))
    if abs(width_mm) > most:
        raise BadInput(
            f"That would turn the piece by more than {WIDEST_DEG:g}°. With this end of the wedge up to {most:.0f} mm can be "
            "taken.",
            most_mm=most,
        )
    return hinge_angle_deg(width_mm / squarely, reach)


def _turned(
    piece: Piece, low: At, high: At, pivot: At | Dart, about: Pt, angle: float, change_id: str
) -> Rearranged:
    if isinstance(pivot, Dart):
        one, two = index_of(piece, pivot.first_leg), index_of(piece, pivot.second_leg)
        count = len(piece.edges)
        stop = At((one - 1) % count, piece.edges[one - 1].path.length_mm)
        start = At((two + 1) % count, 0.0)
        opening: Opening | None = Opening(pivot, about)
    else:
        stop, start, opening = as_end(piece, pivot), as_start(piece, pivot), None
    # after the mouth, counter-clockwise to the pivot; and from the pivot on to the mouth
    ahead, behind = region(piece, high, stop, (about,)), region(piece, start, low, (about,))
    turn_ahead = not holds_grain(piece, ahead, edges_of(piece, high, stop))
    turn = Move.rotation(-angle if turn_ahead else angle, about)
    moves = (turn, Move()) if turn_ahead else (Move(), turn)
    return rearranged(
        piece,
        (Stretch(high, stop, moves[0]), Stretch(start, low, moves[1])),
        (opening, None),
        nearest_region([(ahead, moves[0]), (behind, moves[1])]),
        change_id,
    )


def _bends_fold(piece: Piece, at: At) -> bool:
    edge = piece.edges[at.index]
    return edge.kind == "fold" and MARGIN_MM < at.mm < edge.path.length_mm - MARGIN_MM


def stays_inside(piece: Piece, one: Pt, other: Pt) -> None:
    """Refuse two places between which the straight line leaves the piece."""
    cloth = Polygon(piece.outline.flatten()).buffer(0.1)
    if not cloth.covers(LineString([one, other])):
        raise BadInput(
            f"The line from one place to the other leaves “{piece.name}”. Choose two places that see each other."
        )
