"""Measures of a pattern: runs with their notches, corners, widths across pieces.

A run is walked along its edges one after the other; darts that open between two of its edges are folded
shut, so their legs and intake do not count.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from eke.errors import BadInput
from eke.geometry import Path, Pt, intersections
from eke.geometry.segments import distance
from eke.pattern.corners import End, interior_angle_deg
from eke.pattern.model import Edge, Notch, Pattern, Piece, RunPart


@dataclass(frozen=True, slots=True)
class Stretch:
    """One edge of a run as it is walked: ``path`` runs the way of the run, from ``from_mm`` along it."""

    piece: Piece
    edge: Edge
    part: RunPart
    path: Path
    from_mm: float

    @property
    def to_mm(self) -> float:
        """Where along the run this edge ends."""
        return self.from_mm + self.path.length_mm

    @property
    def first_end(self) -> End:
        """The edge's own end at which the run enters it."""
        return "end" if self.part.reverse else "start"

    @property
    def last_end(self) -> End:
        """The edge's own end at which the run leaves it."""
        return "start" if self.part.reverse else "end"


@dataclass(frozen=True, slots=True)
class NotchOnRun:
    """A notch met while walking a run, ``at_mm`` from the run's start."""

    notch: Notch
    piece: Piece
    at_mm: float


@dataclass(frozen=True, slots=True)
class Run:
    """A run as it is walked: its stretches in order."""

    stretches: tuple[Stretch, ...]

    @property
    def length_mm(self) -> float:
        """Length on the seam line, darts folded shut."""
        return sum(s.path.length_mm for s in self.stretches)

    def point_at(self, mm: float) -> tuple[Piece, Pt]:
        """Return the piece and the point ``mm`` along the run, kept within its ends."""
        for stretch in self.stretches:
            if mm <= stretch.to_mm:
                break
        at = min(max(mm - stretch.from_mm, 0.0), stretch.path.length_mm)
        return stretch.piece, stretch.path.point_at(at)

    def notches(self) -> tuple[NotchOnRun, ...]:
        """All notches along the run, in order; one at a joint between two edges of the run is met once."""
        return tuple(sorted(self._notches(), key=lambda n: (n.at_mm, n.notch.id)))

    def _notches(self) -> Iterator[NotchOnRun]:
        for stretch in self.stretches:
            for notch in stretch.piece.notches:
                if notch.at.edge == stretch.edge.id:
                    mm = stretch.edge.mm_of(notch.at)
                    along = stretch.path.length_mm - mm if stretch.part.reverse else mm
                    yield NotchOnRun(notch, stretch.piece, stretch.from_mm + along)


def run_of(pattern: Pattern, parts: Sequence[RunPart]) -> Run:
    """Return the run that ``parts`` describe. Raises :class:`NotFound` for an edge that is gone."""
    made: list[Stretch] = []
    at = 0.0
    for part in parts:
        piece, edge = pattern.edge(part.edge)
        length = edge.path.length_mm  # known from now on, also of the reversed path
        path = edge.path.reversed() if part.reverse else edge.path
        made.append(Stretch(piece, edge, part, path, at))
        at += length
    if not made:
        raise BadInput("A side of a seam needs at least one edge.")
    return Run(tuple(made))


def run_length_mm(pattern: Pattern, parts: Sequence[RunPart]) -> float:
    """Return the length of a run on the seam line, darts folded shut."""
    return run_of(pattern, parts).length_mm


def corner_angle_deg(pattern: Pattern, edge_id: str, end: End) -> float:
    """Return the angle inside the piece at an end of an edge, darts that open there folded shut."""
    piece, edge = pattern.edge(edge_id)
    return interior_angle_deg(piece, edge.id, end)


def width_at_mm(piece: Piece, y_mm: float) -> float:
    """Return how wide a piece is across its grain at a height: the inside parts of the level line added up.

    A half piece is measured as the half that it is. Zero where the line misses the piece.
    """
    xa, _, xb, _ = piece.outline.bounds
    level = Path.line((xa - 10.0, y_mm), (xb + 10.0, y_mm))
    at = sorted(c.at_b_mm for c in intersections(piece.outline, level))
    # a corner on the line is met twice at one place
    places = [mm for i, mm in enumerate(at) if i == 0 or mm - at[i - 1] > 1e-6]
    return sum(b - a for a, b in zip(places[::2], places[1::2], strict=False))


def between_mm(a: Pt, b: Pt) -> float:
    """Return the straight distance of two points in mm."""
    return distance(a, b)
