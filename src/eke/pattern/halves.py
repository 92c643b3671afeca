"""Equal halves: a piece that is drawn whole is made the same on both sides of its middle line.

Both halves are laid on one another over the middle line (:mod:`eke.pattern.middle`). Corners are matched in their order
round the outline, edges follow from that, and either half is kept, or the mean of both. What lies on the edges and inside
goes along: notches, darts, marks that have a mate on the other side.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final, Literal

from eke.errors import BadInput
from eke.geometry import Path, Pt, intersections, looks_straight, with_end_direction
from eke.geometry.segments import distance
from eke.pattern.corners import called, sound, with_end_moved, with_path
from eke.pattern.half_marks import carried_darts, carried_marks, carried_notches
from eke.pattern.held import corner_words, let_go_all
from eke.pattern.middle import EQUAL_MM, By, Middle, middle_of, middle_of_edge, middles_of
from eke.pattern.model import Edge, Pattern, Piece
from eke.pattern.tracing import averaged
from eke.pattern.twice import APART_MM, CORNER_MM, EdgeGap, gap_along

Take = Literal["mean", "left", "right"]
"""What is kept: the mean of both halves, or one of them. Over a line that lies flat, the left half is the upper one."""

SMOOTH_DEG: Final = 15.0
"""An edge that crosses the middle so nearly square is made to run on smoothly over it; beyond, its point is meant."""
SQUARE_DEG: Final = 1e-3
"""It is square already within this."""


@dataclass(frozen=True, slots=True)
class Halves:
    """How far the halves of a piece lie apart over its middle line.

    ``gaps`` are along the edges of the left half (the upper one, over a line that lies flat) and along those that cross
    the middle, above 0 where the other half lies outside; ``laid`` is the other half's line beside each.
    """

    middle: Middle
    gaps: tuple[EdgeGap, ...]
    laid: Mapping[str, Path]

    @property
    def greatest_mm(self) -> float:
        """The greatest distance anywhere."""
        return max(gap.greatest_mm for gap in self.gaps)


@dataclass(frozen=True, slots=True)
class _Mates:
    """Edges by their place round the piece: each with its mate over the middle, which may be itself."""

    middle: Middle
    corner: tuple[int, ...]
    edge: tuple[int, ...]


def halves_of(
    pattern: Pattern,
    piece_id: str,
    *,
    edge_id: str | None = None,
    middle: By | None = None,
    along: tuple[Pt, Pt] | None = None,
) -> Halves:
    """Return how far both halves of a piece, or of one edge that crosses its middle, lie apart.

    Parameters
    ----------
    middle, along
        How the middle line is found, or two points on it; else the proposed one.

    Raises
    ------
    BadInput
        When the piece is a half on the fold already, corners of one half have no mate on the other, or they lie more
        than 40 mm apart.
    """
    piece = pattern.piece(piece_id)
    _require_whole(piece)
    if edge_id is not None:
        edge = piece.edge(pattern.resolve(edge_id))
        line = _middle_for(piece, edge, middle, along)
        laid = edge.path.moved(line.mirror).reversed()
        return Halves(line, (gap_along(piece, edge, laid),), {edge.id: laid})
    line = middle_of(piece, middle, along)
    mates = _mates(piece, line)
    beside = {}
    for i, edge in enumerate(piece.edges):
        j = mates.edge[i]
        if i == j or _is_left(piece, line, i, j):
            beside[edge.id] = piece.edges[j].path.moved(line.mirror).reversed()
    gaps = tuple(gap_along(piece, piece.edge(e), path) for e, path in beside.items())
    return Halves(line, gaps, {str(e): path for e, path in beside.items()})


def equal_halves(
    pattern: Pattern,
    piece_id: str,
    change_id: str,
    take: Take = "mean",
    *,
    middle: By | None = None,
    along: tuple[Pt, Pt] | None = None,
) -> Pattern:
    """Return the pattern with a piece made the same on both sides of its middle line.

    Raises
    ------
    BadInput
        As :func:`halves_of`.
    BadShape
        When the outline would cross itself.
    """
    found = halves_of(pattern, piece_id, middle=middle, along=along)
    if found.greatest_mm <= EQUAL_MM:
        return pattern
    piece, line = pattern.piece(piece_id), found.middle
    mates = _mates(piece, line)
    corners = _equal_corners(piece, mates, take)
    count = len(piece.edges)
    made: dict[int, Path] = {}
    for i, edge in enumerate(piece.edges):
        j, ends = mates.edge[i], (corners[i], corners[(i + 1) % count])
        if i == j:
            made[i] = _over_middle(edge, line, ends, take)
        elif _is_left(piece, line, i, j) == (take != "right"):
            laid = piece.edges[j].path.moved(line.mirror).reversed()
            made[i] = _ended(edge, _mean(edge, laid, ends) if take == "mean" else edge.path, ends)
            made[j] = made[i].moved(line.mirror).reversed()
    edges = [replace(edge, path=made[i]) for i, edge in enumerate(piece.edges)]
    for i in range(count):  # ends that differ by rounding are put on one another
        end = edges[i - 1].path.end
        if edges[i].path.start != end:
            edges[i] = replace(edges[i], path=edges[i].path.starting_at(end))
    whole = replace(piece, edges=tuple(edges))
    pairs = {str(e.id): str(piece.edges[mates.edge[i]].id) for i, e in enumerate(piece.edges)}
    left = {str(e.id) for i, e in enumerate(piece.edges) if _is_left(piece, line, i, mates.edge[i])}
    whole = replace(
        whole,
        notches=carried_notches(piece, whole, pairs, left, take, line, change_id),
        marks=carried_marks(piece, line, take),
        darts=carried_darts(piece, pairs, change_id),
    )
    return _without_lost(pattern, piece, whole).with_piece(sound(whole, piece))


def equal_edge(
    pattern: Pattern,
    edge_id: str,
    change_id: str,
    take: Take = "mean",
    *,
    middle: By | None = None,
    along: tuple[Pt, Pt] | None = None,
) -> Pattern:
    """Return the pattern with one edge that crosses the middle made the same on both sides of it; neighbours follow.

    Raises
    ------
    BadInput
        When it does not cross the middle, or its ends lie more than 40 mm from being mates.
    BadShape
        When the outline would cross itself.
    """
    piece, edge = pattern.edge(edge_id)
    found = halves_of(pattern, piece.id, edge_id=edge.id, middle=middle, along=along)
    if found.greatest_mm <= EQUAL_MM:
        return pattern
    line = found.middle
    image = line.mirror.apply
    start, end = edge.path.start, edge.path.end
    ends = {
        "mean": (_between(start, image(end)), _between(end, image(start))),
        "left": (start, image(start)) if line.left_mm(start) > 0.0 else (image(end), end),
        "right": (image(end), end) if line.left_mm(start) > 0.0 else (start, image(start)),
    }[take]
    made = with_path(piece, edge.id, _over_middle(edge, line, ends, take))
    notches = carried_notches(piece, made, {str(edge.id): str(edge.id)}, (), take, line, change_id)
    whole = replace(made, notches=notches)
    return _without_lost(pattern, piece, whole).with_piece(whole)


def _without_lost(pattern: Pattern, before: Piece, after: Piece) -> Pattern:
    """Return the pattern in which a notch that went with its half is not held on a line any more."""
    for lost in {n.id for n in before.notches} - {n.id for n in after.notches}:
        pattern = let_go_all(pattern, point=lost)
    return pattern


# ---------------------------------------------------------------- mates


def _require_whole(piece: Piece) -> None:
    if piece.fold is not None:
        raise BadInput(
            f"“{piece.name}” is drawn as a half on its fold, so both halves are the same already. Only a piece that is "
            "drawn whole has two."
        )


def _mates(piece: Piece, line: Middle) -> _Mates:
    """Match corners and edges over the middle. Raises :class:`BadInput` where that cannot be."""
    corners = [edge.path.start for edge in piece.edges]
    images = [line.mirror.apply(c) for c in corners]
    count = len(corners)
    # mirrored, the outline is walked the other way: corner i has its mate at k - i
    costs = [
        sum(distance(images[i], corners[(k - i) % count]) ** 2 for i in range(count)) for k in range(count)
    ]
    k = costs.index(min(costs))
    corner = tuple((k - i) % count for i in range(count))
    apart = [distance(images[i], corners[corner[i]]) for i in range(count)]
    if max(apart) > CORNER_MM:
        _refuse_unmatched(piece, line, corners, images)
    if max(apart) > APART_MM:
        raise BadInput(
            f"Both halves of “{piece.name}” lie up to {max(apart):.0f} mm apart over that line. Choose another line for its "
            "middle, or a piece whose halves are meant to be the same.",
            apart_mm=max(apart),
        )
    return _Mates(line, corner, tuple((k - 1 - i) % count for i in range(count)))


def _refuse_unmatched(piece: Piece, line: Middle, corners: list[Pt], images: list[Pt]) -> None:
    """Refuse where a corner has no mate near its mirror image, and say which, on which half."""
    alone = [
        i for i, image in enumerate(images) if min(distance(image, other) for other in corners) > CORNER_MM
    ]
    sides = line.sides
    counts = [sum(1 for c in corners if sign * line.left_mm(c) > CORNER_MM / 2.0) for sign in (1.0, -1.0)]
    if not alone and counts[0] == counts[1]:
        return
    said = (
        f"The {sides[0]} half of “{piece.name}” has {counts[0]} corners and the {sides[1]} half {counts[1]}"
    )
    if counts[0] == counts[1]:
        said = f"The corners of the halves of “{piece.name}” do not lie at the same places"
    if not alone:
        raise BadInput(f"{said}. Set the same corners on both, or choose another line for the middle.")
    first = alone[0]
    words = corner_words(piece, piece.edges[first], "start")
    raise BadInput(
        f"{said}: {words} has no mate on the other half. Put a corner there too, or take this one away, or choose another line "
        "for the middle.",
        edge=str(piece.edges[first].id),
        at_mm=images[first],
    )


def _is_left(piece: Piece, line: Middle, i: int, j: int) -> bool:
    """Whether an edge is the one of the left half, of itself and its mate; never where it is its own mate."""
    if i == j:
        return False
    here, there = (line.left_mm(_half_way(piece.edges[k].path)) for k in (i, j))
    return (here, -i) > (there, -j)


def _half_way(path: Path) -> Pt:
    return path.point_at(path.length_mm / 2.0)


def _equal_corners(piece: Piece, mates: _Mates, take: Take) -> list[Pt]:
    line, image = mates.middle, mates.middle.mirror.apply
    corners = [edge.path.start for edge in piece.edges]
    made = list(corners)
    for i, j in enumerate(mates.corner):
        if i == j:
            made[i] = line.foot(corners[i])
        elif (line.left_mm(corners[i]), -i) > (line.left_mm(corners[j]), -j):
            if take == "right":
                made[i] = image(corners[j])
            elif take == "left":
                made[j] = image(corners[i])
            else:
                made[i] = _between(corners[i], image(corners[j]))
                made[j] = image(made[i])
    return made


# ---------------------------------------------------------------- lines


def _middle_for(piece: Piece, edge: Edge, by: By | None, along: tuple[Pt, Pt] | None) -> Middle:
    """Return the middle line for one edge. Raises :class:`BadInput` where the edge does not cross it."""
    lines: tuple[Middle, ...]
    if by is None and along is None:
        lines = middles_for_edge(piece, edge)
    else:
        lines = (middle_of_edge(edge) if by == "edge" and along is None else middle_of(piece, by, along),)
    for line in lines:
        if _apart_over(edge, line) <= APART_MM:
            return line
    apart = _apart_over(edge, lines[0])
    raise BadInput(
        f"“{called(piece, edge)}” of “{piece.name}” does not cross that line in its middle: mirrored, its ends lie {apart:.0f} mm "
        "apart. Choose another line, or an edge that goes over the middle.",
        apart_mm=apart,
    )


def middles_for_edge(piece: Piece, edge: Edge) -> tuple[Middle, ...]:
    """Return the lines that may be the middle for one edge: those of its piece, then that of its own ends."""
    own = (middle_of_edge(edge),) if distance(edge.path.start, edge.path.end) > 1.0 else ()
    return (*middles_of(piece), *own)


def _apart_over(edge: Edge, line: Middle) -> float:
    """How far the ends of an edge lie from being mates over a line."""
    return distance(line.mirror.apply(edge.path.start), edge.path.end)


def _between(p: Pt, q: Pt) -> Pt:
    return ((p[0] + q[0]) / 2.0, (p[1] + q[1]) / 2.0)


def _straight(edge: Edge, other: Path) -> bool:
    return edge.shape == "straight" or (looks_straight(edge.path) and looks_straight(other))


def _mean(edge: Edge, laid: Path, ends: tuple[Pt, Pt]) -> Path:
    return Path.line(*ends) if _straight(edge, laid) else averaged((edge.path, laid))


def _ended(edge: Edge, path: Path, ends: tuple[Pt, Pt]) -> Path:
    """Return a line of an edge brought to its new corners."""
    moved = with_end_moved(replace(edge, path=path), "start", ends[0])
    return with_end_moved(moved, "end", ends[1]).path


def _over_middle(edge: Edge, line: Middle, ends: tuple[Pt, Pt], take: Take) -> Path:
    """Return the line of an edge that crosses the middle, the same on both sides of it, between its new corners."""
    path = edge.path
    laid = path.moved(line.mirror).reversed()
    if _straight(edge, laid):
        return Path.line(*ends)
    from_left = line.left_mm(ends[0]) > 0.0
    if take == "mean":
        whole = _ended(edge, averaged((path, laid)), ends)
        half = whole.slice(0.0, _crossing_mm(whole, line))
        first = True
    else:
        first = from_left == (take == "left")
        whole = path if first else path.reversed()
        half = whole.slice(0.0, _crossing_mm(whole, line))
    half = half.with_ends(half.start, line.foot(half.end))
    half = _smooth(half, line)
    made = Path.chained((half, half.moved(line.mirror).reversed().starting_at(half.end)))
    return made if first else made.reversed()


def _crossing_mm(path: Path, line: Middle) -> float:
    """Return where a path crosses the middle line, nearest to half of it."""
    (x0, y0), (x1, y1) = line.start, line.end
    (ux, uy) = line.direction
    reach = distance(line.start, line.end) + path.length_mm
    far = Path.line((x0 - reach * ux, y0 - reach * uy), (x1 + reach * ux, y1 + reach * uy))
    places = [c.at_a_mm for c in intersections(path, far)]
    return min(places, key=lambda mm: abs(mm - path.length_mm / 2.0)) if places else path.length_mm / 2.0


def _smooth(half: Path, line: Middle) -> Path:
    """Return a half whose end at the middle is square to it, where it nearly is so."""
    (ux, uy), (tx, ty) = line.direction, half.end_direction
    rise = tx * ux + ty * uy  # the sine of how far it is off square
    if not math.sin(math.radians(SQUARE_DEG)) < abs(rise) <= math.sin(math.radians(SMOOTH_DEG)):
        return half
    into = (uy, -ux) if uy * tx - ux * ty < 0.0 else (-uy, ux)
    return with_end_direction(half, "end", into)
