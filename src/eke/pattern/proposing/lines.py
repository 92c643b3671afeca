"""Candidate lines: an edge, or a chain of edges, and what it looks like when walked from its start."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from eke.geometry import Path, Pt
from eke.pattern.corners import End, beyond_darts, folds_away, interior_angle_deg, notches_on
from eke.pattern.gathers import sewn_mm, taken_up
from eke.pattern.measure import Run, Stretch
from eke.pattern.model import Edge, EdgeId, Pattern, Piece, PieceId, RunPart
from eke.pattern.proposing.words import HEM_WORDS, words_of

EdgeEnd = tuple[EdgeId, End]
"""An edge and one of its ends."""
BOTH_ENDS: Final[tuple[End, End]] = ("start", "end")
_PLACES: Final = 25
MOST_TURNED: Final = math.cos(math.radians(45.0))
"""A grain that lies nearer to the upright than this tells which end of a piece is its upper one."""


def other_end(end: End) -> End:
    """Return the other end."""
    return "end" if end == "start" else "start"


@dataclass(frozen=True, slots=True)
class Line:
    """One side of a seam that might be.

    ``bulge_deg`` is how much its pieces bend outwards along it (counter-clockwise turning), whichever way it is
    walked; ``lean_deg`` how far its chord lies from the grain, where that is known; ``rise`` the part of its chord that
    leads up the piece as it lies (1: straight up, -1: straight down), where it is known which way that is; ``free_kinds`` the kinds of the
    edges that go on beyond its ends; ``middle`` is the middle of its chord in its piece. ``links`` are the numbers of the pairs that must be sewn for a chain to be one,
    ``turns`` how often it goes round a corner of one piece. Gathers of which the fullness was said are drawn up in
    ``length_mm``; ``gathered``: some are of which it was not, so that it may be longer than what it is sewn to.
    """

    parts: tuple[RunPart, ...]
    length_mm: float
    notches: tuple[tuple[float, int], ...]
    angles_deg: tuple[float, float]
    free_kinds: tuple[str, str]
    bulge_deg: float
    lean_deg: float | None
    rise: float | None
    words: frozenset[str]
    piece_words: frozenset[str]
    middle: Pt
    on_fold: bool
    hemlike: bool
    links: frozenset[int] = frozenset()
    turns: int = 0
    gathered: bool = False

    def backwards(self) -> Line:
        """Return it walked from its other end."""
        return replace(
            self,
            parts=tuple(RunPart(p.piece, p.edge, not p.reverse) for p in reversed(self.parts)),
            notches=tuple((self.length_mm - mm, n) for mm, n in reversed(self.notches)),
            angles_deg=(self.angles_deg[1], self.angles_deg[0]),
            free_kinds=(self.free_kinds[1], self.free_kinds[0]),
            rise=None if self.rise is None else -self.rise,
        )

    @property
    def edges(self) -> frozenset[EdgeId]:
        """The edges that it runs over."""
        return frozenset(p.edge for p in self.parts)

    @property
    def pieces(self) -> frozenset[PieceId]:
        """The pieces that it runs over."""
        return frozenset(p.piece for p in self.parts)

    def corner(self, end: End) -> EdgeEnd:
        """Return the corner at an end: the edge there and which of its own ends it is."""
        return corner_at(self.parts, end)


def corner_at(run: Sequence[RunPart], end: End) -> EdgeEnd:
    """Return the corner at an end of a run: the edge there and which of its own ends it is."""
    part = run[0 if end == "start" else -1]
    return part.edge, other_end(end) if part.reverse else end


def free_lines(pattern: Pattern) -> dict[EdgeId, Line]:
    """Return the edges that may be sewn and belong to no seam yet, each as a line walked forwards."""
    said = {pattern.resolve(p.edge) for s in pattern.seams.values() for p in s.parts()}
    return {
        edge.id: _line_of(piece, edge)
        for piece in pattern.pieces.values()
        for edge in piece.edges
        if effective_kind(edge) == "seam" and edge.id not in said and not folds_away(piece, edge.id)
    }


def effective_kind(edge: Edge) -> str:
    """Return the kind of an edge; one that was left a seam but is called a hem is a hem."""
    if edge.kind == "seam" and words_of(edge.name) & HEM_WORDS:
        return "hem"
    return edge.kind


def kinds_told(pattern: Pattern) -> bool:
    """Whether the maker said which edges are hems or openings: then an edge that is left is sewn to something."""
    return any(e.kind in ("hem", "opening") for p in pattern.pieces.values() for e in p.edges)


def chained(lines: Sequence[Line], links: frozenset[int], turns: int = 0) -> Line:
    """Return lines walked one after the other as one."""
    if len(lines) == 1:
        return lines[0]
    at, notches = 0.0, []
    for line in lines:
        notches += [(at + mm, n) for mm, n in line.notches]
        at += line.length_mm
    leans = [line.lean_deg for line in lines if line.lean_deg is not None]
    return Line(
        tuple(p for line in lines for p in line.parts),
        at,
        tuple(notches),
        (lines[0].angles_deg[0], lines[-1].angles_deg[1]),
        (lines[0].free_kinds[0], lines[-1].free_kinds[1]),
        sum(line.bulge_deg for line in lines),
        sum(leans) / len(leans) if len(leans) == len(lines) else None,
        None,
        frozenset.intersection(*(line.words for line in lines)),
        frozenset.intersection(*(line.piece_words for line in lines)),
        lines[0].middle,
        False,
        any(line.hemlike for line in lines),
        links,
        turns,
        any(line.gathered for line in lines),
    )


def beyond(pattern: Pattern, edge_id: EdgeId, end: End) -> EdgeEnd:
    """Return the edge that adjoins an edge at its end, and its end that meets it; darts between are passed over."""
    piece, edge = pattern.edge(edge_id)
    return beyond_darts(piece, edge.id, end)[0].id, other_end(end)


def _line_of(piece: Piece, edge: Edge) -> Line:
    path = edge.path
    mms = np.linspace(0.0, path.length_mm, _PLACES)
    # the directions of chords: the waves of a hand along the line do not count
    chords = np.diff(path.points_at(mms), axis=0)
    turning = np.unwrap(np.arctan2(chords[:, 1], chords[:, 0]))
    free = tuple(effective_kind(beyond_darts(piece, edge.id, end)[0]) for end in BOTH_ENDS)
    taken = taken_up(Run((Stretch(piece, edge, RunPart(piece.id, edge.id), path, 0.0),)))
    return Line(
        (RunPart(piece.id, edge.id),),
        sewn_mm(taken, path.length_mm),
        tuple((sewn_mm(taken, edge.mm_of(n.at)), n.count) for n in notches_on(piece, edge.id)),
        (interior_angle_deg(piece, edge.id, "start"), interior_angle_deg(piece, edge.id, "end")),
        (free[0], free[1]),
        math.degrees(float(turning[-1] - turning[0])),
        _lean_deg(piece, path),
        _rise(piece, path),
        words_of(edge.name),
        frozenset(w for w in piece.name.lower().split() if len(w) > 2),
        ((path.start[0] + path.end[0]) / 2.0, (path.start[1] + path.end[1]) / 2.0),
        piece.fold is not None,
        _looks_like_hem(piece, edge),
        gathered=any(t.open_ for t in taken),
    )


def _lean_deg(piece: Piece, path: Path) -> float | None:
    along = _grain(piece)
    if along is None:
        return None
    (x0, y0), (x1, y1) = path.start, path.end
    dx, dy = x1 - x0, y1 - y0
    across = abs(dx * along[1] - dy * along[0])
    return math.degrees(math.atan2(across, abs(dx * along[0] + dy * along[1])))


def _rise(piece: Piece, path: Path) -> float | None:
    along = _grain(piece)
    length = math.dist(path.start, path.end)
    if along is None or abs(along[1]) < MOST_TURNED or length < 1.0:
        return None
    up = 1.0 if along[1] > 0.0 else -1.0
    (x0, y0), (x1, y1) = path.start, path.end
    return up * ((x1 - x0) * along[0] + (y1 - y0) * along[1]) / length


def _looks_like_hem(piece: Piece, edge: Edge) -> bool:
    """Whether an edge is the longest of its piece that runs level, rather straight and square at both ends."""

    def level(other: Edge) -> bool:
        lean = _lean_deg(piece, other.path)
        return lean is not None and lean > 70.0 and other.path.length_mm < 1.1 * _chord(other.path)

    if not level(edge) or any(
        abs(interior_angle_deg(piece, edge.id, end) - 90.0) > 20.0 for end in BOTH_ENDS
    ):
        return False
    others = [e.path.length_mm for e in piece.edges if e.id != edge.id and level(e)]
    return edge.path.length_mm > 1.1 * max(others, default=0.0)


def _chord(path: Path) -> float:
    return math.dist(path.start, path.end)


def _grain(piece: Piece) -> Pt | None:
    """The direction of the grain: as marked, or else that of the fold."""
    if piece.grain is not None:
        p, q = piece.grain
    elif piece.fold is not None:
        fold = piece.edge(piece.fold).path
        p, q = fold.start, fold.end
    else:
        return None
    length = math.dist(p, q)
    return None if length < 1.0 else ((q[0] - p[0]) / length, (q[1] - p[1]) / length)
