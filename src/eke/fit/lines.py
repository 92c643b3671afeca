"""Straight lines across a garment: from piece to piece over the seams, level or with the grain.

Where such a line leaves a piece over a seam, it goes on from the same distance along the seam on the other side, in
the same direction to the grain there, until it meets no more pieces.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass
from typing import Final, Literal

from eke.errors import BadInput
from eke.fit.spread import crossed
from eke.geometry import Pt
from eke.geometry.segments import distance
from eke.pattern.corners import folds_away
from eke.pattern.measure import run_of
from eke.pattern.model import Edge, Pattern, Piece

Way = Literal["level", "upright"]
"""How a line runs: square to the grain, or with it."""
ALONG_DEG: Final = 30.0
"""An edge that runs nearer to the direction of a line than this is not crossed by it: a waist by a level line."""

APART_MM: Final = 20.0
"""Lines on one piece that lie nearer to each other than this are one line: seams are never told that exactly."""


def down_of(piece: Piece) -> Pt:
    """Return the unit vector down a piece, against its grain; grain that leans the other way counts as up."""
    if piece.grain is None or distance(*piece.grain) <= 1e-6:
        return (0.0, -1.0)
    (x0, y0), (x1, y1) = piece.grain
    length = math.copysign(math.hypot(x1 - x0, y1 - y0), y1 - y0)
    return ((x0 - x1) / length, (y0 - y1) / length)


def direction_of(piece: Piece, way: Way) -> Pt:
    """Return the unit vector of a line on a piece."""
    down = down_of(piece)
    return down if way == "upright" else (-down[1], down[0])


def is_crossed(piece: Piece, edge: Edge, mm: float, way: Way) -> bool:
    """Whether a line crosses an edge at a place, and does not rather run along it."""
    u, d = edge.path.tangent_at(mm), direction_of(piece, way)
    return abs(u[0] * d[0] + u[1] * d[1]) <= math.cos(math.radians(ALONG_DEG))


@dataclass(frozen=True, slots=True)
class GarmentLine:
    """A line through a garment: a point of it on every piece that it crosses, in the order in which it comes to them.

    A piece may be crossed in more than one place, as a waistband is by the line that runs down front and back.
    ``stuck`` are the pieces beyond a seam at which it ends, since the seam runs along it there.
    """

    through: tuple[tuple[str, Pt], ...]
    stuck: frozenset[str] = frozenset()

    @property
    def pieces(self) -> tuple[str, ...]:
        """Ids of the pieces, each once."""
        return tuple(dict.fromkeys(piece for piece, _ in self.through))


def line_across(
    pattern: Pattern,
    piece: Piece,
    start: Pt,
    way: Way,
    only: Collection[str] = (),
    not_over: Collection[str] = (),
) -> GarmentLine:
    """Return where the line through ``start`` on ``piece`` crosses the garment.

    Parameters
    ----------
    only
        Ids of the pieces that may be crossed; all where not given.
    not_over
        Ids of seams that the line does not go over.

    Raises
    ------
    BadInput
        When the line does not cross a piece from side to side.
    """
    found: list[tuple[str, Pt]] = []
    stuck: set[str] = set()
    todo: list[tuple[Piece, Pt]] = [(piece, start)]
    while todo:
        here, through = todo.pop(0)
        if (only and here.id not in only) or any(
            id_ == here.id and beside_mm(here, point, through, way) < APART_MM for id_, point in found
        ):
            continue
        found.append((here.id, through))
        for at in crossed(here, through, direction_of(here, way)):
            edge = here.edges[at.index]
            if not folds_away(here, edge.id) and is_crossed(here, edge, at.mm, way):
                beyond, ends = _over_seams(pattern, edge, at.mm, way, not_over)
                todo += beyond
                stuck |= ends
    return GarmentLine(tuple(found), frozenset(stuck))


def beside_mm(piece: Piece, one: Pt, other: Pt, way: Way) -> float:
    """How far apart the lines through two points of a piece lie, in mm."""
    u = direction_of(piece, "level" if way == "upright" else "upright")
    return abs((one[0] - other[0]) * u[0] + (one[1] - other[1]) * u[1])


def is_clean(pattern: Pattern, line: GarmentLine, way: Way) -> bool:
    """Whether a line goes in and out of a piece once at each crossing, and meets no leg of a dart."""
    for piece_id, point in line.through:
        piece = pattern.piece(piece_id)
        try:
            ends = crossed(piece, point, direction_of(piece, way))
        except BadInput:
            return False
        if len(ends) != 2 or any(folds_away(piece, piece.edges[at.index].id) for at in ends):
            return False
    return True


def _over_seams(
    pattern: Pattern, edge: Edge, mm: float, way: Way, not_over: Collection[str]
) -> tuple[list[tuple[Piece, Pt]], set[str]]:
    """Where the line goes on beyond the seams of an edge, and the ids of the pieces where it does not."""
    made: list[tuple[Piece, Pt]] = []
    stuck: set[str] = set()
    for seam in pattern.seams_of(edge.id):
        if seam.id in not_over or seam.b_mirrored:
            continue
        a, b = run_of(pattern, seam.a), run_of(pattern, seam.b)
        for own, other in ((a, b), (b, a)):
            for stretch in own.stretches:
                if stretch.edge.id != edge.id:
                    continue
                along = stretch.from_mm + (edge.path.length_mm - mm if stretch.part.reverse else mm)
                piece, point = other.point_at(along * other.length_mm / own.length_mm)
                near = min(piece.edges, key=lambda e: e.path.nearest(point).distance_mm)
                if is_crossed(piece, near, near.path.nearest(point).at_mm, way):
                    made.append((piece, point))
                else:
                    stuck.add(piece.id)
    return made, stuck
