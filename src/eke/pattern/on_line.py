"""A point is put on a balance line: a corner along one of its edges or along the grain, a notch along its edge."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

from eke.errors import BadInput, ChangeConflict, NotFound
from eke.geometry import Path, Pt, intersections
from eke.geometry.segments import distance
from eke.pattern.balance import read_on
from eke.pattern.corners import (
    RUN_ON_MM,
    End,
    called,
    corner_point,
    grain_of,
    index_of,
    leaves_fold,
    neighbour,
    place_at,
    run_on,
    with_corner,
)
from eke.pattern.held import corner_words, line_of, line_words
from eke.pattern.model import Along, Edge, HeldPoint, Mark, Pattern, Piece
from eke.pattern.trueing import resize_edge

ON_LINE_MM: Final = 1e-6
"""A point that lies so near to the line is on it and is not moved."""


def put_corner(
    pattern: Pattern, edge_id: str, end: End, line: str, along: Along = "edge", *, held_as: str | None = None
) -> Pattern:
    """Return the pattern with a corner put on a balance line of its piece, the other edge following.

    Parameters
    ----------
    line
        The line, by the id of its mark or by its name; it is read on, straight, beyond both its ends.
    along
        "edge": the edge is made longer or shorter along its own line; "grain": the corner moves along the grain, one
        on the fold along the fold.
    held_as
        The id under which it is held there from now on; nothing: it is free afterwards.

    Raises
    ------
    BadInput
        When the corner does not come to the line that way; the message names ways that do.
    BadShape
        When the outline would cross itself.
    """
    piece, edge = pattern.edge(edge_id)
    mark = line_of(piece, line)
    level = read_on(mark)
    words = corner_words(piece, edge, end)
    if index_of(piece, edge.id) == index_of(piece, neighbour(piece, edge.id, end).id):
        raise ChangeConflict(f"“{piece.name}” has no corner to move: it is one edge all round.")
    if level.nearest(corner_point(edge, end)).distance_mm > ON_LINE_MM:
        if along == "edge":
            pattern = _along_edge(pattern, piece, edge, end, level, words, mark)
        else:
            pattern = _along_grain(pattern, piece, edge, end, level, words, mark)
    start = edge.id if end == "start" else neighbour(piece, edge.id, end).id
    return _holding(
        pattern,
        held_as,
        HeldPoint(mark.id, edge.id, end, along=along),
        lambda held: held.edge is not None and _starts_at(pattern, held) == start,
    )


def put_notch(pattern: Pattern, notch_id: str, line: str, *, held_as: str | None = None) -> Pattern:
    """Return the pattern with a notch moved along its edge to where a balance line of its piece meets it.

    Raises
    ------
    ChangeConflict
        When there is no such notch.
    BadInput
        When the line does not meet its edge; the message says how near it comes.
    """
    for piece in pattern.pieces.values():
        notch = next((n for n in piece.notches if n.id == notch_id), None)
        if notch is None:
            continue
        edge, mark = piece.edge(notch.at.edge), line_of(piece, line)
        level = read_on(mark)
        here = edge.mm_of(notch.at)
        places = [c.at_a_mm for c in intersections(edge.path, level)]
        if not places:
            ends = {e: level.nearest(corner_point(edge, e)).distance_mm for e in ("start", "end")}
            near = min(ends.values())
            raise BadInput(
                f"{line_words(mark)[:1].upper()}{line_words(mark)[1:]} does not meet “{called(piece, edge)}” of “{piece.name}”; "
                f"it comes as near as {near:.1f} mm. Move the line, or set the notch on an edge that it meets.",
                nearest_mm=near,
            )
        to = min(places, key=lambda mm: abs(mm - here))
        if abs(to - here) > ON_LINE_MM:
            moved = replace(notch, at=place_at(edge, to, notch.at))
            made = tuple(moved if n.id == notch.id else n for n in piece.notches)
            pattern = pattern.with_piece(replace(piece, notches=made))
        return _holding(
            pattern, held_as, HeldPoint(mark.id, point=notch.id), lambda held: held.point == notch_id
        )
    raise ChangeConflict(f"There is no notch “{notch_id}”.", notch=notch_id)


def put_mark(pattern: Pattern, mark_id: str, line: str, *, held_as: str | None = None) -> Pattern:
    """Return the pattern with a mark of one point (an apex, a drill mark) moved along the grain to a balance line.

    Raises
    ------
    ChangeConflict
        When there is no such mark.
    BadInput
        When it is a line itself, or does not come to the line along the grain.
    """
    for piece in pattern.pieces.values():
        point = next((m for m in piece.marks if m.id == mark_id), None)
        if point is None:
            continue
        if len(point.points) != 1:
            raise BadInput(
                f"“{point.name or point.kind}” of “{piece.name}” is a line; only a point is put on a balance line."
            )
        mark = line_of(piece, line)
        words = f"“{point.name or point.kind}” of “{piece.name}”"
        to = _met(piece, point.points[0], grain_of(piece), read_on(mark), words, mark)
        moved = replace(point, points=(to,))
        pattern = pattern.with_piece(
            replace(piece, marks=tuple(moved if m.id == mark_id else m for m in piece.marks))
        )
        return _holding(
            pattern,
            held_as,
            HeldPoint(mark.id, point=mark_id, along="grain"),
            lambda held: held.point == mark_id,
        )
    raise ChangeConflict(f"There is no mark “{mark_id}”.", mark=mark_id)


def put_back(pattern: Pattern, key: str) -> Pattern:
    """Return the pattern with a held point put on its line again, in the way in which it was put there."""
    held = pattern.held_points[key]
    if held.edge is not None:
        return put_corner(pattern, held.edge, held.end, held.line, held.along, held_as=key)
    if any(n.id == held.point for p in pattern.pieces.values() for n in p.notches):
        return put_notch(pattern, str(held.point), held.line, held_as=key)
    return put_mark(pattern, str(held.point), held.line, held_as=key)


def _along_edge(
    pattern: Pattern, piece: Piece, edge: Edge, end: End, level: Path, words: str, mark: Mark
) -> Pattern:
    other = neighbour(piece, edge.id, end)
    if leaves_fold(piece, edge.id, end):
        raise BadInput(
            f"{words[:1].upper()}{words[1:]} lies on the fold and slides along it only. Move it along the fold."
        )
    path = edge.path if end == "end" else edge.path.reversed()
    length = path.length_mm
    places = [c.at_a_mm for c in intersections(run_on(path, "end"), level)]
    if not places:
        raise BadInput(
            f"“{called(piece, edge)}” of “{piece.name}” does not come to {line_words(mark)}, nor within {RUN_ON_MM:.0f} mm "
            f"beyond its corner. Move the corner along the grain, or along “{called(piece, other)}”."
        )
    by = min(places, key=lambda mm: abs(mm - length)) - length
    return resize_edge(pattern, edge.id, by, end)


def _along_grain(
    pattern: Pattern, piece: Piece, edge: Edge, end: End, level: Path, words: str, mark: Mark
) -> Pattern:
    other = neighbour(piece, edge.id, end)
    fold = next((e for e in (edge, other) if e.kind == "fold"), None)
    way = grain_of(piece) if fold is None else fold.path.tangent_at(0.0)
    to = _met(piece, corner_point(edge, end), way, level, words, mark)
    return pattern.with_piece(with_corner(piece, edge.id, end, to))


def _met(piece: Piece, point: Pt, way: Pt, level: Path, words: str, mark: Mark) -> Pt:
    """Return where a line through a point meets the balance line, nearest to the point."""
    (x, y), (ux, uy) = point, way
    if level.nearest(point).distance_mm <= ON_LINE_MM:
        return point
    line = Path.line((x - RUN_ON_MM * ux, y - RUN_ON_MM * uy), (x + RUN_ON_MM * ux, y + RUN_ON_MM * uy))
    found = [c.point for c in intersections(line, level)]
    if not found:
        raise BadInput(
            f"{words[:1].upper()}{words[1:]} does not come to {line_words(mark)} of “{piece.name}” along the grain, at least "
            f"not within {RUN_ON_MM:.0f} mm. Look whether that line is the one that is meant."
        )
    return min(found, key=lambda p: distance(p, point))


def _starts_at(pattern: Pattern, held: HeldPoint) -> str | None:
    """The edge that starts at a held corner; nothing where it is gone."""
    try:
        piece, edge = pattern.edge(str(held.edge))
    except NotFound:
        return None
    return str(edge.id if held.end == "start" else neighbour(piece, edge.id, "end").id)


def _holding(
    pattern: Pattern, key: str | None, made: HeldPoint, same: Callable[[HeldPoint], bool]
) -> Pattern:
    """Return the pattern in which a point is held under an id, or under none, and not under another one too."""
    points = {k: held for k, held in pattern.held_points.items() if not same(held)}
    if key is not None:
        points[key] = made
    return replace(pattern, held_points=points)
