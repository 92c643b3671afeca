"""Primitives: cut a piece apart along a line, with a new seam between the parts; and join two pieces along their seam.

Cutting changes nothing of the shape: areas add, and joining what was cut gives the old outline. Where the line runs to
the point of a dart, the dart opens into the cut: its legs become part of the new seam (a princess seam).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from shapely.geometry import LineString, Point, Polygon

from eke.changes import child_id
from eke.errors import BadInput, BadShape, ChangeConflict, EkeError
from eke.fit.parts import At, as_start, holds_grain
from eke.geometry import Move, Path, best_move
from eke.geometry.segments import distance
from eke.pattern.corners import index_of, place_at, sound
from eke.pattern.editing import drop_seam
from eke.pattern.gathers import gathers_in_parts
from eke.pattern.model import Dart, Edge, EdgeId, Mark, Notch, Pattern, Piece, PieceId, RunPart, Seam, SeamId
from eke.pattern.parted import held_in_parts

SHORTEST_CUT_MM: Final = 10.0
"""A shorter cut is no seam that can be sewn."""
LEAST_PART_MM2: Final = 100.0
"""A part smaller than a thumbnail is no piece: the cut ran along an edge."""
SeamEnd = Literal["start", "end"]
TRIED: Final = (1.0, 0.75, 0.5, 0.25)
"""Parts of the way that the sides lie on one another that are tried for joining, where the pieces would overlap beyond."""
MATCH_MM: Final = 1.5
"""Two edges lie on one another when they are nowhere farther apart: the trade's tolerance for a seam."""


def cut_apart(
    pattern: Pattern,
    piece: Piece,
    one: At | Dart,
    other: At | Dart,
    change_id: str,
    *,
    part_name: str = "",
    seam_name: str = "",
) -> Pattern:
    """Return the pattern with a piece cut apart along the straight line between two places.

    The part that holds the grain (or else the fold) keeps the piece's id and name. A place that is a dart is its
    point; the dart ends there, its legs become edges of the new seam.

    Raises
    ------
    BadInput
        When the line is too short, or leaves the piece.
    BadShape
        When a part would not be sound.
    """
    darts = [x for x in (one, other) if isinstance(x, Dart)]
    edges, starts, split = _opened(piece, (_corner(piece, one), _corner(piece, other)), change_id)
    first, second = starts
    p, q = edges[first].path.start, edges[second].path.start
    if distance(p, q) < SHORTEST_CUT_MM:
        raise BadInput(
            f"The cut would be {distance(p, q):.0f} mm long; from {SHORTEST_CUT_MM:g} mm on it can be sewn."
        )
    inside = LineString([p, q])
    if inside.difference(Polygon(piece.outline.flatten()).buffer(0.1)).length > 0.0:
        raise BadInput(
            f"The line from one place to the other leaves “{piece.name}”. Choose two places that see each other."
        )
    ring = tuple(edges[first:]) + tuple(edges[:first])
    middle = (second - first) % len(edges)
    if middle in (0, len(edges)):
        raise BadInput("The cut needs two different places.")
    name = seam_name or "cut"
    ids = [EdgeId(child_id(piece.id, change_id, label)) for label in ("cut one", "cut two")]
    # from p round to q, back along the line; from q round to p, and back
    ahead = (*ring[:middle], Edge(ids[0], Path.line(q, p), "seam", name, shape="straight"))
    behind = (*ring[middle:], Edge(ids[1], Path.line(p, q), "seam", name, shape="straight"))
    cloths = [
        Polygon(Path(tuple(s for e in part for s in e.path.segments)).flatten()).buffer(0.0)
        for part in (ahead, behind)
    ]
    if min(cloth.area for cloth in cloths) < LEAST_PART_MM2:
        raise BadInput(
            f"The cut runs along the edge of “{piece.name}” and takes nothing off. Choose a place farther from it."
        )
    keeps_ahead = _keeps(piece, cloths, (ahead, behind))
    other_id = PieceId(child_id(piece.id, change_id, "part"))
    kept, gone = (ahead, behind) if keeps_ahead else (behind, ahead)
    kept_cloth, gone_cloth = cloths if keeps_ahead else reversed(cloths)
    ended = {d.id for d in darts}
    made = _part(piece, piece.id, piece.name, kept, kept_cloth, split, ended, change_id)
    off = _part(
        piece, other_id, part_name or f"{piece.name}, part", gone, gone_cloth, split, ended, change_id
    )
    pattern = pattern.with_piece(sound(made, piece)).with_piece(sound(off, piece))
    home = {e.id: other_id for e in off.edges} | {e.id: made.id for e in made.edges}
    pattern = _runs_over(pattern, split, home)
    return pattern.with_seam(_new_seam(piece, made, off, ids, darts, name, change_id))


def join_along(
    pattern: Pattern,
    seam_id: str,
    change_id: str,
    *,
    up_to_mm: float | None = None,
    from_end: SeamEnd = "start",
) -> Pattern:
    """Return the pattern with the two pieces of a seam made one; the first side's piece stays.

    ``up_to_mm``: only so far from one end of the seam; what is left becomes a dart, its point there (a princess seam
    turned into a dart).

    Raises
    ------
    BadInput
        When the two sides do not lie on one another; the message says by how much, and how far they do.
    """
    seam = pattern.seam(seam_id)
    if len(seam.a) != 1 or len(seam.b) != 1 or seam.b_mirrored:
        raise BadInput(
            f"“{seam.name or seam.id}” runs over several edges. Only two pieces that meet along one edge each can be joined."
        )
    one, first = pattern.edge(seam.a[0].edge)
    two, second = pattern.edge(seam.b[0].edge)
    if one.id == two.id:
        raise BadInput("A seam within one piece closes it to a tube; it cannot be joined flat.")
    if one.fold is not None and two.fold is not None:
        raise BadInput("Both pieces lie on a fold, and one piece can lie on one fold only.")
    if seam.a[0].reverse == seam.b[0].reverse:
        raise BadInput(f"“{two.name}” lies turned over beside “{one.name}”. Turn its drawing over first.")
    sides = _Sides(pattern, seam, one, first, two, second, change_id)
    whole = sides.whole_mm
    reach = whole if up_to_mm is None else min(up_to_mm, whole)
    apart = sides.apart_mm(reach, from_end)
    if up_to_mm is None:
        apart = max(apart, sides.longer_mm)
    if apart > MATCH_MM:
        raise _apart(sides, apart, from_end)
    try:
        return sides.joined(None if up_to_mm is None or reach >= whole - 1.0 else reach, from_end)
    except BadShape as crossing:
        raise _apart(sides, sides.apart_mm(whole, from_end), from_end) from crossing


# ---------------------------------------------------------------- cutting


def _corner(piece: Piece, at: At | Dart) -> At:
    return At(index_of(piece, at.second_leg), 0.0) if isinstance(at, Dart) else as_start(piece, at)


def _opened(
    piece: Piece, places: Sequence[At], change_id: str
) -> tuple[list[Edge], list[int], dict[EdgeId, tuple[EdgeId, ...]]]:
    """The edges with corners at the places, the numbers of the edges that start there, and the children of edges split."""
    made: list[Edge] = []
    starts: dict[int, int] = {}
    split: dict[EdgeId, tuple[EdgeId, ...]] = {}
    for k, edge in enumerate(piece.edges):
        here = sorted((p.mm, n) for n, p in enumerate(places) if p.index == k)
        cuts = [mm for mm, _ in here if mm > 0.0]
        for mm, n in here:
            if mm <= 0.0:
                starts[n] = len(made)
        if not cuts:
            made.append(edge)
            continue
        bounds = [0.0, *cuts, edge.path.length_mm]
        labels = ("before", "after", "after2")
        ids = tuple(EdgeId(child_id(edge.id, change_id, labels[j])) for j in range(len(cuts) + 1))
        split[edge.id] = ids
        for j, new in enumerate(ids):
            if j:
                n = next(n for mm, n in here if mm == bounds[j] and n not in starts)
                starts[n] = len(made)
            made.append(replace(edge, id=new, path=edge.path.slice(bounds[j], bounds[j + 1])))
    return made, [starts[0], starts[1]], split


def _keeps(piece: Piece, cloths: Sequence[Polygon], parts: Sequence[Sequence[Edge]]) -> bool:
    """Whether the first part is the one that stays."""
    if piece.grain is not None:
        (x0, y0), (x1, y1) = piece.grain
        middle = Point((x0 + x1) / 2.0, (y0 + y1) / 2.0)
        return bool(cloths[0].distance(middle) <= cloths[1].distance(middle))
    return holds_grain(piece, cloths[0], parts[0])


def _part(
    piece: Piece,
    piece_id: PieceId,
    name: str,
    edges: tuple[Edge, ...],
    cloth: Polygon,
    split: dict[EdgeId, tuple[EdgeId, ...]],
    ended: set[str],
    change_id: str,
) -> Piece:
    ids = {e.id for e in edges}
    by_id = {e.id: e for e in edges}
    notches = []
    for notch in piece.notches:
        old = piece.edge(notch.at.edge)
        for child in split.get(old.id, (old.id,)):
            if child not in ids:
                continue
            near = by_id[child].path.nearest(old.path.point_at(old.mm_of(notch.at)))
            if near.distance_mm < 0.05:
                notches.append(replace(notch, at=place_at(by_id[child], near.at_mm, notch.at)))
                break
    fold = next((e.id for e in edges if e.kind == "fold"), None)
    grain = piece.grain
    if grain is not None and not cloth.buffer(0.5).covers(LineString(grain)):
        x, y = cloth.representative_point().coords[0]
        (x0, y0), (x1, y1) = grain
        half = ((x1 - x0) / 4.0, (y1 - y0) / 4.0)
        grain = ((x - half[0], y - half[1]), (x + half[0], y + half[1]))
    return replace(
        piece,
        id=piece_id,
        name=name,
        edges=edges,
        notches=tuple(notches),
        marks=tuple(
            m for mark in piece.marks for m in _marks_in(mark, cloth, piece_id != piece.id, change_id)
        ),
        darts=tuple(d for d in piece.darts if d.id not in ended and {d.first_leg, d.second_leg} <= ids),
        pleats=tuple(p for p in piece.pleats if all(e in ids for mouth in p.mouths for e in mouth)),
        gathers=tuple(g for g in piece.gathers if g.edge in ids or g.edge in split),
        fold=fold,
        grain=grain,
    )


def _marks_in(mark: Mark, cloth: Polygon, off: bool, change_id: str) -> list[Mark]:
    """A mark's part in this cloth; a line that crosses the cut goes on in both."""
    if len(mark.points) == 1:
        inside = cloth.buffer(0.05).covers(Point(mark.points[0]))
        return [mark] if inside else []
    line = LineString(mark.points).intersection(cloth)
    lines = [g for g in getattr(line, "geoms", [line]) if g.geom_type == "LineString" and g.length > 1.0]
    if not lines:
        return []
    longest = max(lines, key=lambda g: g.length)
    points = tuple((float(x), float(y)) for x, y in longest.coords)
    whole = abs(longest.length - LineString(mark.points).length) < 0.1
    if whole:
        return [mark]
    return [replace(mark, id=child_id(mark.id, change_id, "off") if off else mark.id, points=points)]


def _runs_over(
    pattern: Pattern, split: dict[EdgeId, tuple[EdgeId, ...]], home: dict[EdgeId, PieceId]
) -> Pattern:
    """Let seams run over the children of split edges, each on the piece that it lies on now."""
    seams = {}
    for key, seam in pattern.seams.items():
        runs = []
        for run in (seam.a, seam.b):
            parts: list[RunPart] = []
            for part in run:
                edge = EdgeId(pattern.resolve(part.edge))
                children = split.get(edge, (edge,))
                ordered = reversed(children) if part.reverse else children
                parts += [RunPart(home.get(c, part.piece), c, part.reverse) for c in ordered]
            runs.append(tuple(parts))
        seams[key] = replace(seam, a=runs[0], b=runs[1])
    pattern = replace(pattern, seams=seams)
    for old, children in split.items():
        pattern = held_in_parts(gathers_in_parts(pattern, old, children), old, children)
    return pattern


def _new_seam(
    piece: Piece, made: Piece, off: Piece, ids: list[EdgeId], darts: Sequence[Dart], name: str, change_id: str
) -> Seam:
    """The seam between the parts: the cut, with the legs of darts that opened into it on either side."""
    sides = []
    for part in (made, off):
        cut = next(i for i in ids if any(e.id == i for e in part.edges))
        count = len(part.edges)
        at = index_of(part, cut)
        run = [RunPart(part.id, cut)]
        legs = {leg for d in darts for leg in (d.first_leg, d.second_leg)}
        before, after = part.edges[at - 1].id, part.edges[(at + 1) % count].id
        if before in legs:
            run.insert(0, RunPart(part.id, before))
        if after in legs:
            run.append(RunPart(part.id, after))
        sides.append(tuple(run))
    # both are walked counter-clockwise so far; mates are walked against one another
    back = tuple(RunPart(p.piece, p.edge, True) for p in reversed(sides[1]))
    return Seam(SeamId(child_id(piece.id, change_id, "seam")), sides[0], back, name)


# ---------------------------------------------------------------- joining


@dataclass(frozen=True)
class _Sides:
    """The two sides of a seam along which pieces are joined, both walked from the seam's start."""

    pattern: Pattern
    seam: Seam
    one: Piece
    first: Edge
    two: Piece
    second: Edge
    change_id: str

    def paths(self, from_end: SeamEnd) -> tuple[Path, Path]:
        """Both sides, walked from an end."""
        backwards = from_end == "end"
        a, b = self.first.path, self.second.path
        return (
            a.reversed() if self.seam.a[0].reverse != backwards else a,
            b.reversed() if self.seam.b[0].reverse != backwards else b,
        )

    @property
    def whole_mm(self) -> float:
        return min(self.first.path.length_mm, self.second.path.length_mm)

    @property
    def longer_mm(self) -> float:
        return abs(self.first.path.length_mm - self.second.path.length_mm)

    def apart_mm(self, reach: float, from_end: SeamEnd) -> float:
        """How far apart the sides lie, at the most, when that much of them is laid on one another."""
        return _laid_on(*self.paths(from_end), reach)[1]

    def joined(self, reach: float | None, from_end: SeamEnd) -> Pattern:
        """The pattern with the pieces made one, all along (None) or for so far."""
        a, b = self.paths(from_end)
        move, _ = _laid_on(a, b, self.whole_mm if reach is None else reach)
        return _made_one(
            self.pattern,
            self.seam,
            self.one,
            self.first,
            self.two,
            self.second,
            move,
            self.change_id,
            reach,
            from_end,
        )

    def goes_mm(self, from_end: SeamEnd) -> float:
        """How far they can be joined from an end; 0: not at all, since the pieces would lie over one another beyond."""
        good = _matching_mm(*self.paths(from_end))
        for part in TRIED:
            reach = math.floor(good * part * 10.0) / 10.0
            if reach >= SHORTEST_CUT_MM:
                try:
                    self.joined(reach, from_end)
                except EkeError:
                    continue
                return reach
        return 0.0


def _apart(sides: _Sides, apart_mm: float, from_end: SeamEnd) -> BadInput:
    """Why the sides cannot be joined so far, and how far they can: from the end from which it is farther."""
    other: SeamEnd = "start" if from_end == "end" else "end"
    here, there = sides.goes_mm(from_end), sides.goes_mm(other)
    name = sides.seam.name or sides.seam.id
    if not here and not there:
        return BadInput(
            f"The sides of “{name}” lie up to {apart_mm:.1f} mm apart, and joined from either end the two pieces would lie "
            "over one another farther on. They cannot be cut as one: leave the seam, or shape its sides alike first."
        )
    good, where = (there, "the other end") if there > here + 1.0 else (here, "this end")
    return BadInput(
        f"The sides of “{name}” lie up to {apart_mm:.1f} mm apart. They can be joined for {good:.0f} mm from {where}, and "
        "the rest becomes a dart.",
        most_mm=good,
        goes_with={"from_end": other} if where == "the other end" else {},
    )


def _laid_on(a: Path, b: Path, reach: float) -> tuple[Move, float]:
    """The move that lays the first ``reach`` mm of ``b`` on those of ``a``, and how far apart they then are."""
    at = np.linspace(0.0, reach, 33)
    onto, points = a.points_at(at), b.points_at(at)
    move = best_move(points, onto)
    moved = move.apply_array(points)
    return move, float(np.hypot(*(moved - onto).T).max())


def _matching_mm(a: Path, b: Path) -> float:
    low, high = 0.0, min(a.length_mm, b.length_mm)
    for _ in range(20):
        middle = (low + high) / 2.0
        low, high = (middle, high) if _laid_on(a, b, middle)[1] <= MATCH_MM else (low, middle)
    return low


def _made_one(
    pattern: Pattern,
    seam: Seam,
    one: Piece,
    first: Edge,
    two: Piece,
    second: Edge,
    move: Move,
    change_id: str,
    reach: float | None,
    from_end: SeamEnd,
) -> Pattern:
    laid = [replace(e, path=e.path.moved(move)) for e in two.edges]
    at, to = index_of(one, first.id), index_of(two, second.id)
    # counter-clockwise: round the first piece from behind the seam to before it, then round the second
    rest_one = [*one.edges[at + 1 :], *one.edges[:at]]
    rest_two = [*laid[to + 1 :], *laid[:to]]
    if not rest_one or not rest_two:
        raise ChangeConflict(f"“{one.name}” and “{two.name}” would be joined all round.", ids=(seam.id,))
    darts = (*one.darts, *two.darts)
    dart: Dart | None = None
    if reach is None:
        edges = [*rest_one, *rest_two]
    else:
        # the stretch that is not joined is a dart: its legs run from the mouth to the place where joining ends
        ccw_start = (from_end == "start") != seam.a[0].reverse  # joined from where the first edge starts
        apex = first.path.point_at(reach if ccw_start else first.path.length_mm - reach)
        legs = (EdgeId(child_id(first.id, change_id, "leg")), EdgeId(child_id(second.id, change_id, "leg")))
        if ccw_start:
            mouths = rest_two[-1].path.end, rest_one[0].path.start
            edges = [
                *rest_one,
                *rest_two,
                Edge(legs[1], Path.line(mouths[0], apex), "seam", "dart", shape="straight"),
                Edge(legs[0], Path.line(apex, mouths[1]), "seam", "dart", shape="straight"),
            ]
            dart = Dart(child_id(seam.id, change_id, "dart"), legs[1], legs[0])
        else:
            mouths = rest_one[-1].path.end, rest_two[0].path.start
            edges = [
                *rest_one,
                Edge(legs[0], Path.line(mouths[0], apex), "seam", "dart", shape="straight"),
                Edge(legs[1], Path.line(apex, mouths[1]), "seam", "dart", shape="straight"),
                *rest_two,
            ]
            dart = Dart(child_id(seam.id, change_id, "dart"), legs[0], legs[1])
    closed = _closed(edges)
    ids = {e.id for e in closed}
    notches: tuple[Notch, ...] = tuple(n for n in (*one.notches, *two.notches) if n.at.edge in ids)
    moved_marks = tuple(replace(m, points=tuple(move.apply(p) for p in m.points)) for m in two.marks)
    made = replace(
        one,
        edges=closed,
        notches=notches,
        marks=(*one.marks, *moved_marks),
        darts=(*darts, dart) if dart else darts,
        pleats=(*one.pleats, *two.pleats),
        gathers=tuple(g for g in (*one.gathers, *two.gathers) if g.edge in ids),
        fold=one.fold or two.fold,
    )
    pattern = drop_seam(pattern, seam.id)
    pattern = pattern.without_piece(two.id).with_piece(sound(made, one))
    home = {e.id: one.id for e in closed}
    pattern = _runs_over(pattern, {}, home)
    return replace(pattern, aliases={**pattern.aliases, two.id: one.id})


def _closed(edges: list[Edge]) -> tuple[Edge, ...]:
    """Ends that differ by less than the tolerance of a seam are put on the middle between them."""
    made = list(edges)
    for k, edge in enumerate(made):
        nxt = (k + 1) % len(made)
        p, q = edge.path.end, made[nxt].path.start
        corner = ((p[0] + q[0]) / 2.0, (p[1] + q[1]) / 2.0)
        if distance(p, q) > 2.0 * MATCH_MM:
            raise BadInput(f"The pieces do not meet at a corner: {distance(p, q):.1f} mm apart.")
        made[k] = replace(made[k], path=made[k].path.with_ends(made[k].path.start, corner))
        made[nxt] = replace(made[nxt], path=made[nxt].path.with_ends(corner, made[nxt].path.end))
    return tuple(made)
