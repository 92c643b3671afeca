"""Where on the drawing the maker points: the piece there, what lies beside the place, and what sees it.

Pieces lie with their grain along +y, the top up; a place is on an edge of the net outline.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from shapely.geometry import LineString, Point, Polygon

from eke.errors import BadInput
from eke.fit.traced import first_met, point_at
from eke.geometry import Pt
from eke.geometry.segments import distance
from eke.geometry.tolerance import JOIN_MM
from eke.pattern.corners import called, folds_away, index_of, neighbour
from eke.pattern.model import Edge, EdgePlace, Pattern, Piece, RunPart, Seam
from eke.sentences import in_a_row
from eke.units import format_mm

MIDDLE_SHARE: Final = 0.05
"""A place so near to the middle of a piece that is drawn whole, as a share of its width, is at its middle."""
SEES_MM: Final = 0.1
"""A line that leaves the piece by less runs along its edge."""
LENGTHWISE: Final = 0.5
"""A seam runs up and down where it rises by at least so much of its way (30°)."""


@dataclass(frozen=True, slots=True)
class Here:
    """A place on an edge of a piece. ``share``: how many halves of the body the piece is there."""

    pattern: Pattern
    piece: Piece
    edge: Edge
    mm: float
    share: float

    @property
    def point(self) -> Pt:
        """The place in the piece's frame."""
        return self.edge.path.point_at(self.mm)

    @property
    def inwards(self) -> Pt:
        """The direction square into the piece."""
        x, y = self.edge.path.tangent_at(self.mm)
        return (-y, x)

    @property
    def words(self) -> str:
        """What the edge is called."""
        return called(self.piece, self.edge)

    @property
    def cloth(self) -> Polygon:
        """The net piece as a shape."""
        return Polygon(self.piece.outline.flatten())

    def sees(self, one: Pt, other: Pt) -> bool:
        """Whether the straight line between two places stays on the piece."""
        return bool(self.cloth.buffer(SEES_MM).covers(LineString([one, other])))

    def holds(self, point: Pt) -> bool:
        """Whether a point lies on the piece."""
        return bool(self.cloth.contains(Point(point)))

    def fitted(self, width_mm: float, margin_mm: float) -> float | None:
        """Return the place nearest to this one where a mouth of that width fits, mm along the edge; none fits: None."""
        low, high = width_mm / 2.0 + margin_mm, self.edge.path.length_mm - width_mm / 2.0 - margin_mm
        return min(max(self.mm, low), high) if low <= high else None


def here_at(pattern: Pattern, place: EdgePlace) -> Here:
    """Return the place that the maker pointed at.

    Raises
    ------
    BadInput
        When it is the leg of a dart, where nothing gapes.
    """
    piece, edge = pattern.edge(place.edge)
    if folds_away(piece, edge.id):
        raise BadInput(
            f"That is the leg of a dart of “{piece.name}”. Press the edge beside the dart, where it gapes or pulls."
        )
    mm = edge.mm_of(place)
    whole = piece.fold is None and not any(cut.pairs for cut in piece.cuts)
    x0, _, x1, _ = piece.outline.bounds
    at = edge.path.point_at(mm)[0]
    middle = whole and abs(at - (x0 + x1) / 2.0) <= MIDDLE_SHARE * (x1 - x0)
    return Here(pattern, piece, edge, mm, 2.0 if middle else 1.0)


def drawn_whole(here: Here) -> bool:
    """Whether the piece is drawn whole, and the place is not at its middle: then the other half needs the same."""
    return here.piece.fold is None and not any(c.pairs for c in here.piece.cuts) and here.share == 1.0


def bust_point(piece: Piece) -> Pt | None:
    """Return the bust point that is marked on a piece; None: none is."""
    for mark in piece.marks:
        if len(mark.points) == 1 and (mark.kind == "apex" or mark.name.casefold() in ("apex", "bust point")):
            return mark.points[0]
    return None


def hits(here: Here, towards: Pt) -> tuple[Edge, float, Pt] | None:
    """Return the edge that a straight line from the place along a unit vector meets first, mm along it, and the point."""
    x, y = here.point
    start = (x + SEES_MM * towards[0], y + SEES_MM * towards[1])
    return edge_met(here.piece, start, towards) if here.holds(start) else None


def edge_met(piece: Piece, start: Pt, towards: Pt) -> tuple[Edge, float, Pt] | None:
    """Return the edge of a piece that a straight line from a point meets first, mm along it, and the point there."""
    met = first_met(piece, start, towards, least_mm=-JOIN_MM)
    return None if met is None else (piece.edges[met[0].index], met[0].mm, point_at(piece, met[0]))


def nearest_edge(here: Here, point: Pt) -> tuple[Edge, float] | None:
    """Return the edge nearest to a point, and how far it is; neither the edge of the place nor a dart's leg."""
    found = [
        (e.path.nearest(point).distance_mm, e.id, e)
        for e in here.piece.edges
        if e.id != here.edge.id and not folds_away(here.piece, e.id) and e.kind != "fold"
    ]
    if not found:
        return None
    away, _, edge = min(found)
    return edge, away


def beside(here: Here, edge: Edge) -> tuple[Edge, Edge]:
    """Return the neighbours of an edge: first the one at its upper end, then the one at its lower end."""
    start, end = neighbour(here.piece, edge.id, "start"), neighbour(here.piece, edge.id, "end")
    return (end, start) if edge.path.end[1] >= edge.path.start[1] else (start, end)


def meets(here: Here, other: Edge) -> Pt | None:
    """Return the corner at which another edge meets the edge of the place; None: it does not."""
    count = len(here.piece.edges)
    own, its = index_of(here.piece, here.edge.id), index_of(here.piece, other.id)
    if (own + 1) % count == its:
        return here.edge.path.end
    if (its + 1) % count == own:
        return here.edge.path.start
    return None


def runs(pattern: Pattern, edge_id: str) -> Iterator[tuple[Seam, str, tuple[RunPart, ...], RunPart, float]]:
    """Yield the seams of an edge: the seam, its side "a" or "b", that run, the part, and mm of the run before it."""
    for seam in pattern.seams.values():
        for side, run in (("a", seam.a), ("b", seam.b)):
            so_far = 0.0
            for part in run:
                if pattern.resolve(part.edge) == edge_id:
                    yield seam, side, run, part, so_far
                so_far += pattern.edge(part.edge)[1].path.length_mm


def seam_words(pattern: Pattern, seam: Seam) -> str:
    """Return what a seam is called: the seam with its name, or of the pieces that it joins."""
    if seam.name:
        return f"seam “{seam.name}”"
    return f"seam of {in_a_row(pattern.edge(part.edge)[0].name for part in seam.parts())}"


def toward(p: Pt, q: Pt, by_mm: float) -> Pt:
    """Return the point ``by_mm`` from ``p`` on the way to ``q``; ``p`` where they are one."""
    whole = distance(p, q)
    return p if whole == 0.0 else (p[0] + (q[0] - p[0]) * by_mm / whole, p[1] + (q[1] - p[1]) * by_mm / whole)


def about(mm: float) -> str:
    """Return a distance to a whole millimetre, in words."""
    return format_mm(float(round(mm)))
