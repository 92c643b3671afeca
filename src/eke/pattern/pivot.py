"""Pivoting: a dart closed where it was and opened at another edge of its piece.

Transferring keeps the angle at the dart's point, the length of every stretch of outline, and the area; the intake
changes with the length of the leg (plain geometry; the pivot and slash methods in M. D. Erwin, Practical Dress
Design, 1954).
"""

from __future__ import annotations

import math
from dataclasses import replace

from shapely.geometry import Point, Polygon

from eke.changes import child_id
from eke.errors import BadInput, ChangeConflict
from eke.geometry.move import Move
from eke.geometry.path import Path, Pt
from eke.pattern.corners import sound
from eke.pattern.model import Dart, Edge, EdgeId, EdgePlace, Notch, Pattern, Piece
from eke.pattern.parted import go_on_in_parts


def transfer_dart(pattern: Pattern, dart_id: str, edge_id: str, at: EdgePlace, change_id: str) -> Pattern:
    """Return the pattern with a dart closed where it was and opened at a place on another edge.

    The stretch of outline between the two places turns about the dart's point by its angle; the side that
    holds the grain line stays. Edges keep their ids.

    Raises
    ------
    ChangeConflict
        When the dart or the edge is not there.
    BadInput
        When the place lies at the end of its edge or on the dart itself.
    """
    piece, dart = _dart(pattern, dart_id)
    other, edge = live_edge(pattern, edge_id)
    if other.id != piece.id or edge.id in (dart.first_leg, dart.second_leg):
        raise BadInput(f"A dart can move to another edge of its own piece, “{piece.name}”.")
    where = edge.mm_of(at)
    if not 0.5 < where < edge.path.length_mm - 0.5:
        raise BadInput("Choose a place between the ends of the edge, or move the dart into the seam there.")
    first, second = piece.edge(dart.first_leg), piece.edge(dart.second_leg)
    apex = first.path.end
    start = piece.edges.index(second)
    ring = tuple(
        e for e in piece.edges[start + 1 :] + piece.edges[:start] if e.id not in (first.id, second.id)
    )
    cut = ring.index(edge)
    head, tail = edge.path.split(where)
    ids = [EdgeId(child_id(edge.id, change_id, label)) for label in ("before", "after")]
    front = (*ring[:cut], replace(edge, id=ids[0], path=head))
    back = (replace(edge, id=ids[1], path=tail), *ring[cut + 1 :])
    # closing turns the leg that starts at the point onto the one that ends there
    angle = _turn_deg(apex, second.path.end, first.path.start)
    turn_front = holds_grain(piece, apex, back) or not holds_grain(piece, apex, front)
    turn = Move.rotation(angle if turn_front else -angle, apex)
    if turn_front:
        front = tuple(replace(e, path=e.path.moved(turn)) for e in front)
    else:
        back = tuple(replace(e, path=e.path.moved(turn)) for e in back)
    mouth_back, mouth_front = back[0].path.start, front[-1].path.end
    legs = (
        replace(first, path=Path.line(mouth_front, apex)),
        replace(second, path=Path.line(apex, mouth_back)),
    )
    joined_back = (*back[:-1], replace(back[-1], path=_ending_at(back[-1].path, front[0].path.start)))
    edges = (*legs[1:], *joined_back, *front, legs[0])
    sector = Polygon(
        [apex, *(tuple(p) for e in (front if turn_front else back) for p in e.path.flatten())]
    ).buffer(0.0)
    marks = tuple(
        replace(m, points=tuple(turn.apply(p) for p in m.points))
        if all(sector.buffer(0.1).contains(Point(turn.apply(p))) for p in m.points)
        else m
        for m in piece.marks
    )
    notches = tuple(parted_notch(n, edge, ids[0], ids[1], where, where) for n in piece.notches)
    made = sound(replace(piece, edges=edges, notches=notches, marks=marks), piece)
    return go_on_in_parts(pattern.with_piece(made), edge.id, (ids[0], ids[1]))


def live_edge(pattern: Pattern, edge_id: str) -> tuple[Piece, Edge]:
    """Return an edge and its piece; an edge that is gone is a conflict of the change that names it."""
    try:
        return pattern.edge(edge_id)
    except LookupError as gone:
        raise ChangeConflict(
            "The edge that the dart was to lie on is not there any more.", ids=(edge_id,)
        ) from gone


def _dart(pattern: Pattern, dart_id: str) -> tuple[Piece, Dart]:
    for piece in pattern.pieces.values():
        for dart in piece.darts:
            if dart.id == dart_id:
                return piece, dart
    raise ChangeConflict("The dart that was to be moved is not there any more.", ids=(dart_id,))


def _turn_deg(about: Pt, source: Pt, target: Pt) -> float:
    a = math.atan2(source[1] - about[1], source[0] - about[0])
    b = math.atan2(target[1] - about[1], target[0] - about[0])
    return (math.degrees(b - a) + 180.0) % 360.0 - 180.0


def holds_grain(piece: Piece, apex: Pt, edges: tuple[Edge, ...]) -> bool:
    """Whether this side of the slash holds the fold or the grain line."""
    if piece.fold is not None and any(e.id == piece.fold for e in edges):
        return True
    if piece.grain is None:
        return False
    (x0, y0), (x1, y1) = piece.grain
    side = Polygon([apex, *(tuple(p) for e in edges for p in e.path.flatten())]).buffer(0.0)
    return bool(side.contains(Point((x0 + x1) / 2.0, (y0 + y1) / 2.0)))


def _ending_at(path: Path, end: Pt) -> Path:
    last = path.segments[-1]
    return Path((*path.segments[:-1], last.with_ends(last.start, end)))


def parted_notch(notch: Notch, edge: Edge, before: EdgeId, after: EdgeId, low: float, high: float) -> Notch:
    """A notch on an edge that was parted: it stays at its place, on the part that has it."""
    if notch.at.edge != edge.id:
        return notch
    at = edge.mm_of(notch.at)
    if at <= low:
        return replace(notch, at=EdgePlace(before, mm=at))
    length = edge.path.length_mm
    if at >= high:
        return replace(notch, at=EdgePlace(after, mm=length - at, from_end="end"))
    return replace(notch, at=EdgePlace(before, mm=0.0, from_end="end"))
