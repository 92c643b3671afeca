"""Two tracings of one piece: the left and the right, or the same traced twice; laid on one another, compared, made one.

Worn cloth is not the same on both sides, and a hand does not trace the same line twice. The second tracing is laid on
the first by a rigid move, turned over where that fits better; then each edge is compared with the line beside it, and
the maker takes the mean, or either, edge by edge.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal, get_args

import numpy as np

from eke.changes import child_id
from eke.errors import BadInput
from eke.geometry import Move, Path, Pt, looks_straight, register
from eke.geometry.segments import distance
from eke.pattern.corners import called, place_at, sound, with_end_moved
from eke.pattern.editing import drop_piece
from eke.pattern.model import CutOf, Edge, Notch, Pattern, Piece
from eke.pattern.tracing import averaged, cut_at_corners

Choice = Literal["mean", "first", "second"]

CORNER_MM: Final = 25.0
"""A corner of the second tracing that lies so near to one of the first is the same corner."""
APART_MM: Final = 40.0
"""Tracings that lie farther apart somewhere are hardly of the same piece."""
PLACES: Final = 41
"""Places along each edge at which the two are compared."""


@dataclass(frozen=True, slots=True)
class EdgeGap:
    """How far the second tracing lies from the first along one edge.

    ``out_mm`` are (mm along the edge, mm that the second lies outside it; below 0 inside). ``longer_mm`` is how much
    longer the second is.
    """

    edge: str
    name: str
    out_mm: tuple[tuple[float, float], ...]
    longer_mm: float

    @property
    def greatest_mm(self) -> float:
        """The greatest distance between the two along this edge."""
        return max(abs(out) for _, out in self.out_mm)

    @property
    def mean_mm(self) -> float:
        """How far the second lies outside on the whole (below 0: inside)."""
        return sum(out for _, out in self.out_mm) / len(self.out_mm)

    @property
    def worst_at_mm(self) -> float:
        """Where along the edge they are farthest apart."""
        return max(self.out_mm, key=lambda row: abs(row[1]))[0]


@dataclass(frozen=True, slots=True)
class Compared:
    """Two tracings laid on one another: the move that was needed, and the gap along each edge of the first.

    ``laid`` are the lines of the second, one for each edge of the first, in the first one's frame.
    """

    move: Move
    turned_over: bool
    rms_mm: float
    gaps: tuple[EdgeGap, ...]
    laid: Mapping[str, Path]

    @property
    def greatest_mm(self) -> float:
        """The greatest distance anywhere."""
        return max(gap.greatest_mm for gap in self.gaps)

    @property
    def sentences(self) -> tuple[str, ...]:
        """What differs, in words, the greatest first."""
        said = []
        for gap in sorted(self.gaps, key=lambda g: -g.greatest_mm):
            where = f"{gap.worst_at_mm:.0f} mm along"
            side = "outside" if dict(gap.out_mm)[gap.worst_at_mm] > 0.0 else "inside"
            longer = "" if abs(gap.longer_mm) < 0.5 else f"; it is {abs(gap.longer_mm):.1f} mm "
            longer += "" if not longer else "longer" if gap.longer_mm > 0.0 else "shorter"
            said.append(f"{gap.name}: the second lies up to {gap.greatest_mm:.1f} mm {side}, {where}{longer}")
        return tuple(said)


def compare(first: Piece, second: Piece, *, turned_over: bool | None = None) -> Compared:
    """Return how two tracings of a piece differ; ``turned_over``: the second is its mirror image, if that is known.

    Raises
    ------
    BadInput
        When they are hardly of the same piece; the message says how far apart they lie, and where.
    """
    outline, own = second.outline, first.outline
    if turned_over is None:
        found = register(outline, own, may_flip=True)
    else:
        over = _mirror(outline) if turned_over else Move()
        found = register(laid_path(outline, over), own)
        found = replace(found, move=over.then(found.move))
    if found.greatest_mm > APART_MM:
        raise BadInput(
            f"“{first.name}” and “{second.name}” lie up to {found.greatest_mm:.0f} mm apart when they are laid on one "
            "another. That is hardly the same piece; trace it again, or compare other pieces.",
            apart_mm=found.greatest_mm,
        )
    laid = _cut_alike(first, second, laid_path(outline, found.move), found.move)
    gaps = [gap_along(first, edge, laid[edge.id]) for edge in first.edges]
    return Compared(found.move, found.move.flips, found.rms_mm, tuple(gaps), laid)


def gap_along(piece: Piece, edge: Edge, line: Path) -> EdgeGap:
    """Return how far a line that is laid beside an edge, running the same way, lies from it."""
    path = edge.path
    rows = []
    for mm in np.linspace(0.0, path.length_mm, PLACES):
        near = line.nearest(path.point_at(float(mm)))
        rows.append((float(mm), _outside(path, float(mm), near.point)))
    return EdgeGap(edge.id, called(piece, edge), tuple(rows), line.length_mm - path.length_mm)


def combined(
    pattern: Pattern,
    first_id: str,
    second_id: str,
    change_id: str,
    *,
    take: Choice = "mean",
    edges: Mapping[str, str] | None = None,
    turned_over: bool | None = None,
) -> Pattern:
    """Return the pattern in which the first tracing is the mean of both (or either), and the second is gone.

    Parameters
    ----------
    take, edges
        What is taken: everywhere, and along some edges of the first (by id).

    Raises
    ------
    BadInput
        When they are no tracings of one piece, or the second is sewn to something already.
    BadShape
        When the outline would cross itself.
    """
    first, second = pattern.piece(first_id), pattern.piece(second_id)
    if first.id == second.id:
        raise BadInput("Choose two tracings, not one twice.")
    sewn = {s.name or s.id for e in second.edges for s in pattern.seams_of(e.id)}
    if sewn:
        raise BadInput(
            f"“{second.name}” is sewn already, in “{min(sewn)}”. Drop its seams first, or keep “{second.name}” and give up "
            f"“{first.name}”."
        )
    found = compare(first, second, turned_over=turned_over)
    chosen = {pattern.resolve(k): v for k, v in (edges or {}).items()}
    for edge_id, choice in chosen.items():
        first.edge(edge_id)
        if choice not in get_args(Choice):
            raise BadInput(f"Take the mean, the first or the second; “{choice}” is none of them.")
    shares = [_SHARES[chosen.get(e.id, take)] for e in first.edges]
    count = len(first.edges)
    corners = []
    for k, edge in enumerate(first.edges):
        share = (shares[k - 1] + shares[k]) / 2.0
        corners.append(_between(edge.path.start, found.laid[edge.id].start, share))
    made = []
    for k, edge in enumerate(first.edges):
        drawn = replace(edge, path=_drawn(edge, found.laid[edge.id], shares[k]))
        drawn = with_end_moved(drawn, "start", corners[k])
        made.append(with_end_moved(drawn, "end", corners[(k + 1) % count]))
    piece = replace(first, edges=tuple(made))
    piece = replace(piece, notches=(*piece.notches, *_brought(piece, second, found.move, change_id)))
    if found.turned_over and all(c.count == 1 and not c.pairs for c in (*first.cuts, *second.cuts)):
        piece = replace(piece, cuts=tuple(CutOf(c.role, c.count, pairs=True) for c in first.cuts))
    return drop_piece(pattern.with_piece(sound(piece, first)), second.id)


_SHARES: Final[Mapping[str, float]] = {"first": 0.0, "mean": 0.5, "second": 1.0}
SAME_NOTCH_MM: Final = 12.0
"""A notch of the second tracing so near to one of the first is the same."""


def _drawn(edge: Edge, other: Path, share: float) -> Path:
    if share == 0.0:
        return edge.path
    if (
        edge.kind == "fold"
        or edge.shape == "straight"
        or (looks_straight(edge.path) and looks_straight(other))
    ):
        start = _between(edge.path.start, other.start, share)
        return Path.line(start, _between(edge.path.end, other.end, share))
    return other if share == 1.0 else averaged((edge.path, other))


def _brought(piece: Piece, second: Piece, move: Move, change_id: str) -> list[Notch]:
    """The notches of the second tracing that the first has not."""
    there = [piece.edge(n.at.edge).path.point_at(piece.edge(n.at.edge).mm_of(n.at)) for n in piece.notches]
    made = []
    for notch in second.notches:
        edge = second.edge(notch.at.edge)
        spot = move.apply(edge.path.point_at(edge.mm_of(notch.at)))
        if all(distance(spot, q) > SAME_NOTCH_MM for q in there):
            home = min(piece.edges, key=lambda e: e.path.nearest(spot).distance_mm)
            at = place_at(home, home.path.nearest(spot).at_mm)
            made.append(Notch(child_id(notch.id, change_id, "brought"), at, notch.count))
    return made


def compared_at(first: Piece, second: Piece, move: Move) -> Mapping[str, Path]:
    """Return the lines of a second tracing that lie beside the edges of the first, laid by a move.

    Raises
    ------
    BadInput
        When its corners do not follow those of the first.
    """
    return _cut_alike(first, second, laid_path(second.outline, move), move)


def _cut_alike(first: Piece, second: Piece, outline: Path, move: Move) -> dict[str, Path]:
    """Cut the laid outline at the corners of the first: at its own corner near there, or else at the nearest place."""
    own = [move.apply(e.path.start) for e in second.edges]
    corners: list[Pt] = []
    for edge in first.edges:
        corner = edge.path.start
        near = min(own, key=lambda p: distance(p, corner))
        corners.append(near if distance(near, corner) <= CORNER_MM else outline.nearest(corner).point)
    try:
        paths = cut_at_corners(outline, corners)
    except BadInput as gap:
        raise BadInput(
            f"The corners of “{second.name}” do not follow those of “{first.name}”. Set the same corners on both, then "
            "compare them again."
        ) from gap
    return {edge.id: path for edge, path in zip(first.edges, paths, strict=True)}


def laid_path(outline: Path, move: Move) -> Path:
    """Return an outline moved, and still counter-clockwise when it was turned over."""
    line = outline.moved(move)
    return line.reversed() if move.flips else line


def _mirror(outline: Path) -> Move:
    x = (outline.bounds[0] + outline.bounds[2]) / 2.0
    return Move.mirror((x, 0.0), (x, 1.0))


def _outside(path: Path, mm: float, point: Pt) -> float:
    x, y = path.point_at(mm)
    u, v = path.tangent_at(mm)
    far = distance((x, y), point)
    # outlines run counter-clockwise: right of the line is outside
    right = (point[0] - x) * v - (point[1] - y) * u
    return far if right > 0.0 else -far


def _between(p: Pt, q: Pt, share: float) -> Pt:
    return (p[0] + share * (q[0] - p[0]), p[1] + share * (q[1] - p[1]))


def twins(pattern: Pattern, reach_mm: float = 12.0) -> Sequence[tuple[str, str, float]]:
    """Return pairs of unsewn pieces that might be tracings of one piece, with how far apart they lie, nearest first.

    Only pieces of about the same size are laid on one another.
    """
    pieces = [p for p in pattern.pieces.values() if not any(pattern.seams_of(e.id) for e in p.edges)]
    found = []
    for k, one in enumerate(pieces):
        for other in pieces[k + 1 :]:
            a, b = one.outline.length_mm, other.outline.length_mm
            if abs(a - b) > 0.03 * max(a, b):
                continue
            laid = register(other.outline, one.outline, may_flip=True)
            if laid.greatest_mm <= reach_mm:
                found.append((one.id, other.id, laid.greatest_mm))
    return sorted(found, key=lambda row: row[2])
