"""Widen or narrow along a line that runs with the grain, on every piece that it crosses.

The piece is cut with its grain at the place, from edge to edge, and spread (or folded out) by the amount; where the
line leaves it over a seam, a shoulder or a waist, it goes on from the same distance along the seam on the other side.

Params
------
edge, with fraction or mm (from_end) or notch
    A place on an edge that the line crosses: a shoulder, a waist, a hem.
by_mm
    How much wider each piece that is crossed becomes, as it is drawn: a half on the fold and a pair get it twice.
    Below 0 narrower.
only
    Ids of the pieces that may be cut; all where not given.
not_over
    Ids of seams that the line does not go over.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from eke.changes import Context
from eke.errors import BadInput
from eke.fit import reading as read
from eke.fit.lines import GarmentLine, direction_of, is_crossed, line_across
from eke.fit.parts import seams_over
from eke.fit.spread import spread
from eke.geometry import Pt
from eke.pattern.corners import called
from eke.pattern.model import Pattern, Piece


def widen(pattern: Pattern, lines: Sequence[tuple[GarmentLine, float]], change_id: str) -> Pattern:
    """Return the pattern with pieces spread (below 0: folded out) at upright lines, each by its amount in mm.

    All lines are told on ``pattern`` as it is given. The side of the fold stays; where there is none, the side of the
    middle.
    """
    todo = [(piece, point, by_mm) for line, by_mm in lines for piece, point in line.through]
    while todo:
        piece_id, point, by_mm = todo.pop(0)
        here = pattern.piece(piece_id)
        away = outward(here, point)
        made = spread(here, point, away, by_mm, change_id)
        pattern = seams_over(pattern.with_piece(made.piece), made.parted)
        beyond = _Beyond(piece_id, point, away, by_mm)
        todo = [(other, beyond.carried(other, p), by) for other, p, by in todo]
    return pattern


@dataclass(frozen=True, slots=True)
class _Beyond:
    """What a spread moves: all of a piece that lies beyond its line."""

    piece: str
    line: Pt
    away: Pt
    by_mm: float

    def carried(self, piece: str, point: Pt) -> Pt:
        (x, y), (ux, uy) = point, self.away
        if piece != self.piece or (x - self.line[0]) * ux + (y - self.line[1]) * uy <= 0.0:
            return point
        return (x + self.by_mm * ux, y + self.by_mm * uy)


def outward(piece: Piece, through: Pt) -> Pt:
    """The unit vector across a piece at a line, away from what stays."""
    across = direction_of(piece, "level")
    if piece.fold is not None:
        kept = piece.edge(piece.fold).path.start
    else:
        x0, y0, x1, y1 = piece.outline.bounds
        kept = ((x0 + x1) / 2.0, (y0 + y1) / 2.0)
    off = (through[0] - kept[0]) * across[0] + (through[1] - kept[1]) * across[1]
    sign = math.copysign(1.0, off)
    return (sign * across[0], sign * across[1])


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    piece, edge, at = read.place_on(state, params)
    by_mm = read.number(params, "by_mm")
    if abs(by_mm) < 0.1:
        raise BadInput("Say how much wider or narrower.")
    only = read.only_pieces(state, params, piece)
    if not is_crossed(piece, edge, at.mm, "upright"):
        raise BadInput(
            f"“{called(piece, edge)}” runs with the grain there, so a line with the grain does not cross it. Choose a place "
            "on a shoulder, a waist or a hem."
        )
    start = edge.path.point_at(at.mm)
    line = line_across(state, piece, start, "upright", only, read.texts(params, "not_over"))
    return widen(state, [(line, by_mm)], context.record_id)


def _say(params: read.Params) -> str:
    done = "Widened" if read.over(params, "by_mm") else "Narrowed"
    return f"{done} by {read.mm(params, 'by_mm')} along the grain at {read.called(params, 'an edge')}"


KIND = read.named("fit.widen", _apply, _say, "edge", "only")
