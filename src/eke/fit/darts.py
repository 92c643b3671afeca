"""Darts: add one at an edge, and transfer one by pivoting about its point.

Geometry: a dart of intake ``w`` with legs ``L`` opens the angle ``2·asin(w / 2L)``. Transferring it keeps that
angle, the length of every outline segment and the area; the intake changes with the leg (plain geometry; the
pivot and slash methods in M. D. Erwin, Practical Dress Design, 1954).
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from shapely.geometry import Point, Polygon

from eke.changes import child_id
from eke.errors import BadInput, ChangeConflict
from eke.fit.edges import sound
from eke.geometry.move import Move
from eke.geometry.path import Path, Pt
from eke.pattern.model import Dart, Edge, EdgeId, EdgePlace, Notch, Pattern, Piece, RunPart

MIN_LEG_MM: Final = 20.0
"""A shorter dart cannot be sewn to a point."""


def dart_angle_deg(intake_mm: float, leg_mm: float) -> float:
    """Return the angle in degrees that a dart of that intake and leg takes up."""
    return 2.0 * math.degrees(math.asin(intake_mm / (2.0 * leg_mm)))


def add_dart(
    pattern: Pattern, edge_id: str, at: EdgePlace, intake_mm: float, apex: Pt, change_id: str
) -> Pattern:
    """Return the pattern with a dart taken out of an edge, centred at a place, pointing to ``apex``.

    The edge becomes two edges with the dart's legs between them; seams that it belonged to now run over both
    and close the dart.

    Raises
    ------
    BadInput
        When the dart is wider than the edge, has no width, or its point lies outside the piece.
    ChangeConflict
        When the edge is not there.
    """
    piece, edge = _edge(pattern, edge_id)
    length = edge.path.length_mm
    centre = edge.mm_of(at)
    if not intake_mm > 0.0:
        raise BadInput("A dart takes up more than nothing. Say how wide it is at the edge.")
    low, high = centre - intake_mm / 2.0, centre + intake_mm / 2.0
    if low <= 0.5 or high >= length - 0.5:
        room = 2.0 * min(centre, length - centre) - 1.0
        raise BadInput(
            f"A dart of {intake_mm:g} mm does not fit at {centre:.0f} mm along an edge of {length:.0f} mm; there "
            f"{max(room, 0.0):.0f} mm would."
        )
    if not Polygon(piece.outline.flatten()).contains(Point(apex)):
        raise BadInput(f"The point of the dart lies outside “{piece.name}”. Choose a place on the piece.")
    before, rest = edge.path.split(low)
    after = rest.slice(intake_mm, rest.length_mm)
    if min(math.dist(before.end, apex), math.dist(after.start, apex)) < MIN_LEG_MM:
        raise BadInput(
            f"A dart shorter than {MIN_LEG_MM:g} mm cannot be sewn to a point. Move its point further in."
        )
    ids = [EdgeId(child_id(edge.id, change_id, label)) for label in ("before", "leg1", "leg2", "after")]
    legs = _levelled(before.end, after.start, apex)
    dart = Dart(child_id(edge.id, change_id, "dart"), ids[1], ids[2])
    new = (
        replace(edge, id=ids[0], path=before),
        Edge(ids[1], Path.line(before.end, legs), "seam", "dart", shape="straight"),
        Edge(ids[2], Path.line(legs, after.start), "seam", "dart", shape="straight"),
        replace(edge, id=ids[3], path=after),
    )
    at_index = piece.edges.index(edge)
    edges = (*piece.edges[:at_index], *new, *piece.edges[at_index + 1 :])
    notches = tuple(_moved_notch(n, edge, ids[0], ids[3], low, high) for n in piece.notches)
    made = sound(replace(piece, edges=edges, notches=notches, darts=(*piece.darts, dart)), piece)
    return _runs_over(pattern.with_piece(made), edge.id, (ids[0], ids[3]))


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
    other, edge = _edge(pattern, edge_id)
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
    turn_front = _holds_grain(piece, apex, back) or not _holds_grain(piece, apex, front)
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
    notches = tuple(_moved_notch(n, edge, ids[0], ids[1], where, where) for n in piece.notches)
    made = sound(replace(piece, edges=edges, notches=notches, marks=marks), piece)
    return _runs_over(pattern.with_piece(made), edge.id, (ids[0], ids[1]))


def _edge(pattern: Pattern, edge_id: str) -> tuple[Piece, Edge]:
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


def _levelled(p: Pt, q: Pt, apex: Pt) -> Pt:
    """The point nearest to ``apex`` from which both ends of the mouth are equally far: legs of one length."""
    mx, my = (p[0] + q[0]) / 2.0, (p[1] + q[1]) / 2.0
    dx, dy = q[0] - p[0], q[1] - p[1]
    along = ((apex[0] - mx) * dx + (apex[1] - my) * dy) / (dx * dx + dy * dy)
    return (apex[0] - along * dx, apex[1] - along * dy)


def _turn_deg(about: Pt, source: Pt, target: Pt) -> float:
    a = math.atan2(source[1] - about[1], source[0] - about[0])
    b = math.atan2(target[1] - about[1], target[0] - about[0])
    return (math.degrees(b - a) + 180.0) % 360.0 - 180.0


def _holds_grain(piece: Piece, apex: Pt, edges: tuple[Edge, ...]) -> bool:
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


def _moved_notch(notch: Notch, edge: Edge, before: EdgeId, after: EdgeId, low: float, high: float) -> Notch:
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


def _runs_over(pattern: Pattern, old: EdgeId, new: tuple[EdgeId, EdgeId]) -> Pattern:
    """Let seams that ran over ``old`` run over its two parts; the dart between them is closed when it is sewn."""
    for seam in pattern.seams_of(old):
        runs = []
        for run in (seam.a, seam.b):
            parts: list[RunPart] = []
            for part in run:
                if pattern.resolve(part.edge) != old:
                    parts.append(part)
                    continue
                order = reversed(new) if part.reverse else new
                parts += [RunPart(part.piece, e, part.reverse) for e in order]
            runs.append(tuple(parts))
        pattern = pattern.with_seam(replace(seam, a=runs[0], b=runs[1]))
    return pattern
