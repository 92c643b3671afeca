"""Drafting with a pen: pieces as closed outlines of named edges, and how they are sewn.

Everything is plain geometry in mm, y up, counter-clockwise. A *garment* is its pieces and the seams that a maker would
say: the truth that proposals are held against.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from eke.geometry import Cubic, Path, Pt
from eke.pattern.corners import place_at
from eke.pattern.model import CutOf, Dart, Edge, EdgeId, EdgeKind, Notch, Pattern, Piece, PieceId, RunPart


def curve(p: Pt, leave_deg: float, q: Pt, arrive_deg: float, pull: float = 0.38) -> Path:
    """One cubic from ``p``, leaving at one angle, to ``q``, arriving at another."""
    arm = pull * math.dist(p, q)
    a, b = math.radians(leave_deg), math.radians(arrive_deg)
    one = (p[0] + arm * math.cos(a), p[1] + arm * math.sin(a))
    two = (q[0] - arm * math.cos(b), q[1] - arm * math.sin(b))
    return Path((Cubic(p, one, two, q),))


def of_length(make: Callable[[float], Path], length_mm: float, low: float, high: float) -> Path:
    """Return ``make(x)`` with that length, ``x`` between ``low`` and ``high`` (longer at ``high``)."""
    assert make(low).length_mm <= length_mm <= make(high).length_mm, (
        make(low).length_mm,
        length_mm,
        make(high).length_mm,
    )
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if make(middle).length_mm < length_mm else (low, middle)
    return make(low)


@dataclass
class Pen:
    """Draws a piece edge by edge, counter-clockwise."""

    name: str
    at: Pt
    edges: list[Edge] = field(default_factory=list)
    notches: list[Notch] = field(default_factory=list)
    fold: str | None = None
    darts: list[Dart] = field(default_factory=list)
    grain: tuple[Pt, Pt] | None = None

    def along(self, name: str, path: Path, kind: EdgeKind = "seam") -> Pen:
        """Draw an edge along a path that starts here."""
        assert math.dist(path.start, self.at) < 1e-6, (self.name, name, path.start, self.at)
        path = path.with_ends(self.at, path.end)
        edge_id = EdgeId(f"{self.name}.{name}")
        self.edges.append(Edge(edge_id, path, kind, name))
        if kind == "fold":
            self.fold = edge_id
        self.at = path.end
        return self

    def line(self, name: str, to: Pt, kind: EdgeKind = "seam") -> Pen:
        """Draw a straight edge to a point."""
        return self.along(name, Path.line(self.at, to), kind)

    def by(self, name: str, dx: float, dy: float, kind: EdgeKind = "seam") -> Pen:
        """Draw a straight edge by so much."""
        return self.line(name, (self.at[0] + dx, self.at[1] + dy), kind)

    def curve(
        self,
        name: str,
        leave_deg: float,
        to: Pt,
        arrive_deg: float,
        kind: EdgeKind = "seam",
        pull: float = 0.38,
    ) -> Pen:
        """Draw a curved edge to a point."""
        return self.along(name, curve(self.at, leave_deg, to, arrive_deg, pull), kind)

    def dart(self, name: str, to: Pt, apex: Pt) -> Pen:
        """Draw a dart: its first leg from here to ``apex``, its second to ``to``."""
        one, two = EdgeId(f"{self.name}.{name}1"), EdgeId(f"{self.name}.{name}2")
        self.line(f"{name}1", apex).line(f"{name}2", to)
        self.darts.append(Dart(f"{self.name}.{name}", one, two))
        return self

    def notch(self, name: str, mm: float, count: int = 1) -> Pen:
        """Set a notch on an edge, so many mm from its start (below 0: from its end)."""
        edge = next(e for e in self.edges if e.name == name)
        at = mm if mm >= 0.0 else edge.path.length_mm + mm
        self.notches.append(Notch(f"{self.name}.{name}.{len(self.notches)}", place_at(edge, at), count))
        return self

    def length(self, *names: str) -> float:
        """Return the length of edges together."""
        return sum(e.path.length_mm for e in self.edges if e.name in names)

    def close(self, name: str, kind: EdgeKind = "seam") -> Pen:
        """Draw the last edge, straight back to the start."""
        return self.line(name, self.edges[0].path.start, kind)

    def piece(self, pairs: bool = False, count: int = 1) -> Piece:
        """Return the piece, closed."""
        end, start = self.edges[-1].path.end, self.edges[0].path.start
        assert math.dist(end, start) < 1e-6, (self.name, end, start)
        self.edges[-1] = replace(
            self.edges[-1], path=self.edges[-1].path.with_ends(self.edges[-1].path.start, start)
        )
        xa, ya, xb, yb = Path(tuple(s for e in self.edges for s in e.path.segments)).bounds
        x, y, h = (xa + xb) / 2.0, (ya + yb) / 2.0, (yb - ya) * 0.3
        return Piece(
            PieceId(self.name),
            self.name,
            tuple(self.edges),
            tuple(self.notches),
            darts=tuple(self.darts),
            grain=self.grain or ((x, y - h), (x, y + h)),
            fold=None if self.fold is None else EdgeId(self.fold),
            cuts=(CutOf(count=count, pairs=pairs),),
        )


@dataclass(frozen=True)
class Sewn:
    """A seam that a maker would say. ``b_mirrored``: the piece's edge to its own mirror image.

    ``or_a``: the other long edge of a band that is folded double; either is right.
    """

    a: tuple[RunPart, ...]
    b: tuple[RunPart, ...]
    b_mirrored: bool = False
    or_a: tuple[RunPart, ...] = ()


@dataclass(frozen=True)
class Garment:
    """Pieces, and the seams that are true of them."""

    name: str
    pieces: tuple[Piece, ...]
    sewn: tuple[Sewn, ...]

    @property
    def pattern(self) -> Pattern:
        """The pieces as a pattern without seams."""
        made = Pattern(self.name)
        for piece in self.pieces:
            made = made.with_piece(piece)
        return made


def garment(name: str, pieces: list[Piece], *seams: str) -> Garment:
    """Return a garment; a seam is said as ``front.side = back.side``.

    A run is ``piece.edge + piece.edge~ …``, both walked from the common start; ``~`` from its end to its start.
    ``back.centre = mirror`` sews an edge to its own mirror image; ``band.lower | band.upper~ = …``: either of them.
    """

    def run(text: str) -> tuple[RunPart, ...]:
        made = []
        for word in text.split("+"):
            edge = word.strip().removesuffix("~")
            piece = next(p for p in pieces if any(e.id == edge for e in p.edges))
            made.append(RunPart(piece.id, EdgeId(edge), word.strip().endswith("~")))
        return tuple(made)

    sewn = []
    for text in seams:
        a, b = text.split("=")
        mirrored = b.strip() == "mirror"
        a, _, or_a = a.partition("|")
        sewn.append(Sewn(run(a), run(a if mirrored else b), mirrored, run(or_a) if or_a else ()))
    return Garment(name, tuple(pieces), tuple(sewn))
