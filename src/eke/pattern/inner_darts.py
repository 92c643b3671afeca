"""A dart inside a piece, with two points and no mouth: marked on it, the outline as it was.

A waist dart of a dress is widest at the waist and runs out to nothing above and below. Nothing of it reaches an edge, so
there is nothing to fold shut when a seam is walked, and the piece cannot be opened for it on flat paper: it is drawn by
its legs, which are sewn to each other. Where the garment was traced with the dart sewn, its sides were traced nearer to
each other there by what the dart takes up; that is for the maker to judge, and to let out at the sides.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from shapely.geometry import Polygon

from eke.errors import BadInput, ChangeConflict
from eke.geometry.segments import distance
from eke.pattern.model import Mark, Pattern, Piece
from eke.units import format_mm

SHORTEST_MM: Final = 20.0
"""A shorter line is a tick."""
BENT_MM: Final = 3.0
"""A line that leaves the straight one between its ends by more is no fold, and no leg of a dart."""
WIDEST_DEG: Final = 60.0
"""A dart whose legs stand farther apart at its point cannot be sewn to one."""
LEAST_MM: Final = 1.0
"""Less than a millimetre nobody measures on cloth."""
LEAST_SHARE: Final = 0.1
"""The widest place lies no nearer to either point than this share of the length."""


def line_mark(pattern: Pattern, mark_id: str) -> tuple[Piece, Mark]:
    """Return a mark that is a straight line, and its piece.

    Raises
    ------
    ChangeConflict
        When the mark is not there.
    BadInput
        When it is a point, too short, or bent.
    """
    found = next(((p, m) for p in pattern.pieces.values() for m in p.marks if m.id == mark_id), None)
    if found is None:
        raise ChangeConflict("The traced line is not there any more.", ids=(mark_id,))
    piece, mark = found
    if len(mark.points) < 2 or distance(mark.points[0], mark.points[-1]) < SHORTEST_MM:
        raise BadInput(
            f"This mark on “{piece.name}” is no line of {SHORTEST_MM:g} mm or more. Choose a line, or draw it."
        )
    (ax, ay), (bx, by) = mark.points[0], mark.points[-1]
    long = distance((ax, ay), (bx, by))
    off = max(abs((x - ax) * (by - ay) - (y - ay) * (bx - ax)) / long for x, y in mark.points)
    if off > BENT_MM:
        raise BadInput(
            f"This line on “{piece.name}” bends by {off:.0f} mm; a dart, tuck or pleat is sewn straight. Draw it straight from "
            "end to end."
        )
    return piece, mark


def mark_inner_dart(pattern: Pattern, mark_id: str, intake_mm: float, widest: float = 0.5) -> Pattern:
    """Return the pattern in which a traced line is a dart inside its piece, drawn by its legs; the outline stays.

    Parameters
    ----------
    intake_mm
        What it takes up in all at its widest place.
    widest
        Where that is: the share of the line from its first point.

    Raises
    ------
    BadInput
        When it takes up nothing, or more than its length or its piece allows; with the most that works.
    """
    piece, mark = line_mark(pattern, mark_id)
    if not intake_mm >= LEAST_MM:
        raise BadInput(
            f"A dart that takes up {intake_mm:g} mm is none. Say what you measured where it is widest, {LEAST_MM:g} mm or more.",
            least_mm=LEAST_MM,
        )
    if not LEAST_SHARE <= widest <= 1.0 - LEAST_SHARE:
        raise BadInput(
            f"The widest place lies between the two points: from {LEAST_SHARE:g} to {1.0 - LEAST_SHARE:g} of the way.",
            nearest=min(max(widest, LEAST_SHARE), 1.0 - LEAST_SHARE),
        )
    (ax, ay), (bx, by) = mark.points[0], mark.points[-1]
    long = distance((ax, ay), (bx, by))
    most = 2.0 * long * min(widest, 1.0 - widest) * math.tan(math.radians(WIDEST_DEG / 2.0))
    if intake_mm > most:
        raise BadInput(
            f"A dart {long:.0f} mm long cannot take up {intake_mm:g} mm there: it could not be sewn to a point. Up to "
            f"{most:.0f} mm in all works.",
            most_mm=most,
        )
    x, y = ax + widest * (bx - ax), ay + widest * (by - ay)
    nx, ny = -(by - ay) / long * intake_mm / 2.0, (bx - ax) / long * intake_mm / 2.0
    legs = ((ax, ay), (x + nx, y + ny), (bx, by), (x - nx, y - ny), (ax, ay))
    if not Polygon(piece.outline.flatten()).buffer(-0.1).contains(Polygon(legs)):
        raise BadInput(
            f"A dart of {intake_mm:g} mm there would leave “{piece.name}”. A line that reaches an edge is opened as a dart there."
        )
    made = Mark(mark.id, "dart", legs, f"dart, {format_mm(intake_mm, 'mm')} in all")
    return pattern.with_piece(
        replace(piece, marks=tuple(made if m.id == mark.id else m for m in piece.marks))
    )
