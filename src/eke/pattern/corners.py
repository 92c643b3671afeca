"""Corners of a piece: neighbours, interior angles, and keeping edges joined when one of them moves.

All here works on paths and pieces only; seams are in :mod:`eke.pattern.measure` and beyond.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final, Literal

from eke.errors import BadInput, BadShape, ChangeConflict
from eke.geometry import Line, Move, Path, Pt, path_area_mm2, trouble_of
from eke.geometry.crossings import meetings
from eke.geometry.segments import distance, unit
from eke.geometry.tolerance import JOIN_MM
from eke.pattern.model import Dart, Edge, EdgePlace, Notch, Piece, Pleat

End = Literal["start", "end"]

RUN_ON_MM: Final = 300.0
"""Moved edges are run on straight by so much to find their new corner: more than any allowance, or any fit change, at
any angle that can be sewn."""
SMOOTH_CORNER_DEG: Final = 8.0
"""Edges that meet within this of a straight line have no corner to be found by crossing."""
ALONG_FOLD: Final = 1e-6
"""A corner on the fold moves only along it: the sine of the angle between its way and the fold is no greater."""
PLAIN_EDGE: Final = "edge"
"""What an edge is called that is sewn, and of which nothing more is known."""


def neighbour(piece: Piece, edge_id: str, end: End) -> Edge:
    """Return the edge that adjoins ``edge_id`` at its ``end``."""
    at = index_of(piece, edge_id)
    step = 1 if end == "end" else -1
    return piece.edges[(at + step) % len(piece.edges)]


def index_of(piece: Piece, edge_id: str) -> int:
    """Return the place of an edge in the piece's outline; never keep it, ids are what stays."""
    piece.edge(edge_id)
    return next(i for i, edge in enumerate(piece.edges) if edge.id == edge_id)


def called(piece: Piece, edge: Edge) -> str:
    """Return what to call an edge: its name; without one its kind, or what it lies between.

    "hem" where the piece has one hem; "edge between hem and armhole"; a number, counted from the piece's first
    corner, only where that would not tell it from every other edge of the piece.
    """
    if edge.name:
        return edge.name
    told = _unnamed(piece, edge)
    if told and [one.name or _unnamed(piece, one) for one in piece.edges].count(told) == 1:
        return told
    return f"{_noun(piece, edge)} {index_of(piece, edge.id) + 1}"


def _unnamed(piece: Piece, edge: Edge) -> str:
    """What is said of an edge without a name, perhaps of another one of the piece too; nothing where none is known."""
    if own := _landmark(piece, edge):
        return own
    beside = [_landmark(piece, neighbour(piece, edge.id, end)) for end in ("start", "end")]
    known = list(dict.fromkeys(words for words in beside if words))
    noun = _noun(piece, edge)
    if len(known) == 2:
        return f"{noun} between {known[0]} and {known[1]}"
    return f"{noun} beside {known[0]}" if known else ""


def _landmark(piece: Piece, edge: Edge) -> str:
    """What an edge is known by without looking at its neighbours: its name, or that it is the only one of its kind."""
    if edge.name:
        return edge.name
    noun = _noun(piece, edge)
    alone = sum(_noun(piece, one) == noun for one in piece.edges) == 1
    return noun if alone and noun != PLAIN_EDGE else ""


def _noun(piece: Piece, edge: Edge) -> str:
    if dart_at(piece, edge.id) is not None:
        return "dart leg"
    if pleat_at(piece, edge.id) is not None:
        return "pleat"
    return PLAIN_EDGE if edge.kind == "seam" else edge.kind


def dart_at(piece: Piece, edge_id: str) -> Dart | None:
    """Return the dart that the edge is a leg of, or nothing."""
    return next((d for d in piece.darts if edge_id in (d.first_leg, d.second_leg)), None)


def pleat_at(piece: Piece, edge_id: str) -> Pleat | None:
    """Return the tuck or pleat in whose mouth the edge lies, or nothing."""
    return next((p for p in piece.pleats if any(edge_id in mouth for mouth in p.mouths)), None)


def folds_away(piece: Piece, edge_id: str) -> bool:
    """Whether the edge is folded away when the piece is sewn: the leg of a dart, or the mouth of a tuck or pleat."""
    return dart_at(piece, edge_id) is not None or pleat_at(piece, edge_id) is not None


def corner_point(edge: Edge, end: End) -> Pt:
    """Return the point at an end of an edge."""
    return edge.path.start if end == "start" else edge.path.end


def tangent_out(path: Path, end: End) -> Pt:
    """Return the unit direction in which a path leaves its corner at ``end``, into the path."""
    if end == "start":
        return path.start_direction
    x, y = path.end_direction
    return (-x, -y)


def turn_deg(u: Pt, v: Pt) -> float:
    """Return the angle from ``u`` to ``v``, counter-clockwise positive, -180 to 180."""
    return math.degrees(math.atan2(u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1]))


def interior_angle_deg(piece: Piece, edge_id: str, end: End) -> float:
    """Return the angle inside the piece at an end of an edge, 0 to 360.

    A dart that opens right there is folded shut first: the angle is that to the edge beyond it.
    """
    edge = piece.edge(edge_id)
    beyond, move = beyond_darts(piece, edge_id, end)
    own = tangent_out(edge.path, end)
    other = move.apply_vector(tangent_out(beyond.path, "end" if end == "start" else "start"))
    # the outline runs counter-clockwise: inside lies from the outgoing edge round to the incoming one
    return turn_deg(own, other) % 360.0 if end == "start" else turn_deg(other, own) % 360.0


def beyond_darts(piece: Piece, edge_id: str, end: End) -> tuple[Edge, Move]:
    """Return the next edge at ``end`` that is not folded away, and the move that folds the darts and pleats between shut."""
    move = Move()
    edge = neighbour(piece, edge_id, end)
    for _ in range(len(piece.darts) + sum(len(p.mouths) for p in piece.pleats)):
        dart, pleat = dart_at(piece, edge.id), pleat_at(piece, edge.id)
        if dart is not None:
            shut, far = shut_move(piece, dart), (dart.first_leg, dart.second_leg)
        elif pleat is not None:
            mouth = next(m for m in pleat.mouths if edge.id in m)
            shut = pleat_shut_move(piece, pleat)
            shut, far = (shut if mouth == pleat.mouths[0] else shut.inverse()), mouth
        else:
            break
        move = (shut if end == "end" else shut.inverse()).then(move)
        edge = neighbour(piece, far[1] if end == "end" else far[0], end)
    return edge, move


def dart_apex(piece: Piece, dart: Dart) -> Pt:
    """Return the point of a dart."""
    return piece.edge(dart.first_leg).path.end


def dart_legs_mm(piece: Piece, dart: Dart) -> tuple[float, float]:
    """Return the lengths of both legs, first leg first."""
    return piece.edge(dart.first_leg).path.length_mm, piece.edge(dart.second_leg).path.length_mm


def dart_intake_mm(piece: Piece, dart: Dart) -> float:
    """Return how far the legs stand apart at the edge: what the dart takes up there."""
    return distance(piece.edge(dart.first_leg).path.start, piece.edge(dart.second_leg).path.end)


def dart_angle_deg(piece: Piece, dart: Dart) -> float:
    """Return the angle that the dart takes out, 0 to 360, measured between the ends of its legs at its point.

    With equal legs ``L`` and intake ``w`` it is ``2·asin(w / 2L)``.
    """
    apex = dart_apex(piece, dart)
    p, q = piece.edge(dart.first_leg).path.start, piece.edge(dart.second_leg).path.end
    return turn_deg((p[0] - apex[0], p[1] - apex[1]), (q[0] - apex[0], q[1] - apex[1])) % 360.0


def shut_move(piece: Piece, dart: Dart) -> Move:
    """Return the turn about the dart's point that lays its second leg on its first: the dart folded shut."""
    return Move.rotation(-dart_angle_deg(piece, dart), dart_apex(piece, dart))


def pleat_shut_move(piece: Piece, pleat: Pleat) -> Move:
    """Return the move that lays the second line of a tuck or pleat on its first: it folded shut.

    Where the maker took the lines out, what is left of it is known from its first mouth: it is shifted shut.
    """
    lines = {m.id: m.points for m in piece.marks}
    one, two = lines.get(pleat.first, ()), lines.get(pleat.second, ())
    if len(one) > 1 and len(two) > 1:
        return Move.between(two[0], two[-1], one[0], one[-1])
    under, back = (piece.edge(e).path for e in pleat.mouths[0])
    return Move.translation(under.start[0] - back.end[0], under.start[1] - back.end[1])


def pleat_intake_mm(piece: Piece, pleat: Pleat) -> float:
    """Return how much cloth a tuck or pleat takes up at its first mouth, straight across."""
    under, back = pleat.mouths[0]
    return distance(piece.edge(under).path.start, piece.edge(back).path.end)


def with_end_moved(edge: Edge, end: End, to: Pt) -> Edge:
    """Return the edge with one end put at ``to`` and the other kept.

    Straight edges stay straight. A curve follows smoothly: all of the shift at the moved end, none at the
    other, and the direction at both ends is kept.
    """
    path = edge.path
    shift = (to[0] - corner_point(edge, end)[0], to[1] - corner_point(edge, end)[1])
    if shift == (0.0, 0.0):
        return edge
    if (
        edge.shape == "straight"
        or edge.kind == "fold"
        or (len(path.segments) == 1 and isinstance(path.segments[0], Line))
    ):
        other = path.end if end == "start" else path.start
        if distance(other, to) <= JOIN_MM:
            raise BadShape(f"“{edge.name or edge.id}” would have no length left.")
        return replace(edge, path=Path.line(to, other) if end == "start" else Path.line(other, to))
    shares = [mm / path.length_mm for mm in path.joints_mm]
    segments = []
    here = path.start
    for i, segment in enumerate(path.segments):
        weights = []
        for share in (shares[i], shares[i + 1]):
            w = share if end == "end" else 1.0 - share
            weights.append(w * w * (3.0 - 2.0 * w))
        start = (
            here
            if i
            else (segment.start[0] + weights[0] * shift[0], segment.start[1] + weights[0] * shift[1])
        )
        there = (segment.end[0] + weights[1] * shift[0], segment.end[1] + weights[1] * shift[1])
        if i == len(path.segments) - 1 and end == "end":
            there = to
        if i == 0 and end == "start":
            start = to
        segments.append(segment.with_ends(start, there))
        here = there
    return replace(edge, path=Path(tuple(segments)))


def with_path(piece: Piece, edge_id: str, path: Path) -> Piece:
    """Return the piece with an edge's path exchanged; neighbours are brought to its ends, so it stays closed.

    Raises
    ------
    BadShape
        When the outline would cross itself or turn inside out.
    """
    at = index_of(piece, edge_id)
    edges = list(piece.edges)
    edges[at] = replace(edges[at], path=path)
    if len(edges) == 1:
        return sound(replace(piece, edges=tuple(edges)), piece)
    before, after = (at - 1) % len(edges), (at + 1) % len(edges)
    edges[before] = with_end_moved(edges[before], "end", path.start)
    edges[after] = with_end_moved(edges[after], "start", path.end)
    return sound(replace(piece, edges=tuple(edges)), piece)


def leaves_fold(piece: Piece, edge_id: str, end: End) -> bool:
    """Whether an end of an edge lies on the fold and would leave it if the edge grew along its own line there."""
    edge, other = piece.edge(edge_id), neighbour(piece, edge_id, end)
    if other.kind != "fold" or edge.kind == "fold":
        return False
    (x, y), (ux, uy) = tangent_out(edge.path, end), other.path.start_direction
    return abs(x * uy - y * ux) > ALONG_FOLD


def with_corner(piece: Piece, edge_id: str, end: End, to: Pt) -> Piece:
    """Return the piece with a corner moved; both edges follow. A corner on the fold slides along the fold."""
    edge = piece.edge(edge_id)
    other = neighbour(piece, edge_id, end)
    fold = next((e for e in (edge, other) if e.kind == "fold"), None)
    if fold is not None:
        (x0, y0), (ux, uy) = fold.path.start, fold.path.tangent_at(0.0)
        along = (to[0] - x0) * ux + (to[1] - y0) * uy
        to = (x0 + along * ux, y0 + along * uy)
    moved = with_end_moved(edge, end, to)
    follows = with_end_moved(other, "start" if end == "end" else "end", to)
    if other.id == edge.id:
        raise ChangeConflict(f"“{piece.name}” has no corner to move: it is one edge all round.")
    return sound(piece.with_edge(moved).with_edge(follows), piece)


def sound(made: Piece, before: Piece) -> Piece:
    """Return ``made`` if its outline is simple and counter-clockwise.

    Raises
    ------
    BadShape
        When it is not; the message says where.
    """
    outline = made.outline
    trouble = trouble_of(outline)
    if trouble is not None:
        x, y = trouble.at
        raise BadShape(
            f"The outline of “{before.name}” would cross itself near ({x:.0f}, {y:.0f}) mm. Nothing was changed.",
            at_mm=trouble.at,
            piece=before.id,
        )
    if path_area_mm2(outline) <= 0.0:
        raise BadShape(f"“{before.name}” would be turned inside out. Nothing was changed.", piece=before.id)
    return made


def place_at(edge: Edge, mm: float, like: EdgePlace | None = None) -> EdgePlace:
    """Return the place ``mm`` from the start of ``edge``, said in the way that ``like`` was: fraction or mm."""
    length = edge.path.length_mm
    mm = min(max(mm, 0.0), length)
    if like is None or like.fraction is not None:
        return EdgePlace(edge.id, fraction=mm / length)
    return EdgePlace(edge.id, mm=mm if like.from_end == "start" else length - mm, from_end=like.from_end)


def point_of(piece: Piece, place: EdgePlace) -> Pt:
    """Return the point of a place on one of the piece's edges."""
    edge = piece.edge(place.edge)
    return edge.path.point_at(edge.mm_of(place))


def notches_on(piece: Piece, edge_id: str) -> tuple[Notch, ...]:
    """Return the notches on an edge, in the order along it."""
    edge = piece.edge(edge_id)
    return tuple(sorted((n for n in piece.notches if n.at.edge == edge_id), key=lambda n: edge.mm_of(n.at)))


def rejoined(paths: Sequence[Path], corners: Sequence[Pt], name: str) -> list[Path]:
    """Return edges that were moved each by itself, lengthened or cut so that each meets the next.

    Parameters
    ----------
    paths
        The moved edges in order round the piece.
    corners
        Where each edge (by the same order) met the next one before: the corner is looked for near there.
    name
        Of the piece, for the message.

    Raises
    ------
    BadShape
        When two neighbours no longer meet.
    """
    made = list(paths)
    count = len(made)
    if count == 1:
        return made
    for i in range(count):
        j = (i + 1) % count
        one, two = made[i], made[j]
        if distance(one.end, two.start) <= JOIN_MM:
            made[j] = two.starting_at(one.end)
            continue
        u, v = one.end_direction, two.start_direction
        if abs(turn_deg(u, v)) <= SMOOTH_CORNER_DEG:
            # no corner to be found by crossing: step from one line to the other at the old corner
            made[j] = Path((Line(one.end, two.start), *two.segments))
            continue
        met = meeting(one, two, corners[i])
        if met is None:
            x, y = corners[i]
            raise BadShape(
                f"Two edges of “{name}” no longer meet near ({x:.0f}, {y:.0f}) mm once the allowance is taken off. "
                f"Check the allowance that was said for them.",
                at_mm=corners[i],
            )
        made[i], made[j] = met
    # the first edge was cut at its start last: the last edge ends there
    if distance(made[-1].end, made[0].start) > 0.0:
        made[0] = made[0].starting_at(made[-1].end)
    return made


def run_on(path: Path, end: End, by_mm: float = RUN_ON_MM) -> Path:
    """Return a path lengthened straight at one end."""
    if end == "start":
        (x, y), (ux, uy) = path.start, path.start_direction
        return Path.chained((Path.line((x - by_mm * ux, y - by_mm * uy), (x, y)), path))
    (x, y), (ux, uy) = path.end, path.end_direction
    return Path.chained((path, Path.line((x, y), (x + by_mm * ux, y + by_mm * uy))))


def meeting(before: Path, after: Path, corner: Pt) -> tuple[Path, Path] | None:
    """Return two neighbouring lines, lengthened straight or cut, so that they meet; nothing where they do not.

    Of several places where they meet the one nearest to the old ``corner`` is taken.
    """
    far, near = run_on(before, "end"), run_on(after, "start")
    found = meetings(far, near)
    if not found:
        return None
    best = min(found, key=lambda m: distance(m.point, corner))
    head = far.before(best.segment_a, best.t_a)
    return head, near.after(best.segment_b, best.t_b).starting_at(head.end)


def moved_piece(piece: Piece, move: Move) -> Piece:
    """Return the piece turned or shifted as a whole (not mirrored): edges, marks and grain."""
    if move.flips or not move.is_rigid:
        raise BadInput("A piece is only turned and shifted as a whole; its size stays.")
    grain: tuple[Pt, Pt] | None = None
    if piece.grain is not None:
        grain = (move.apply(piece.grain[0]), move.apply(piece.grain[1]))
    return replace(
        piece,
        edges=tuple(replace(e, path=e.path.moved(move)) for e in piece.edges),
        marks=tuple(replace(m, points=tuple(move.apply(p) for p in m.points)) for m in piece.marks),
        grain=grain,
    )


def grain_of(piece: Piece) -> Pt:
    """Return the unit direction of a piece's grain; up, where none was said."""
    if piece.grain is None or distance(*piece.grain) <= 0.0:
        return (0.0, 1.0)
    return unit(*piece.grain)


def upright(piece: Piece) -> Piece:
    """Return the piece turned so that its grain line runs along +y, by the smaller of the two turns."""
    if piece.grain is None:
        return piece
    (x0, y0), (x1, y1) = piece.grain
    if distance(piece.grain[0], piece.grain[1]) <= JOIN_MM:
        return replace(piece, grain=None)
    off = math.degrees(math.atan2(x1 - x0, y1 - y0))
    turn = (off + 90.0) % 180.0 - 90.0
    xa, ya, xb, yb = piece.outline.bounds
    return moved_piece(piece, Move.rotation(turn, ((xa + xb) / 2.0, (ya + yb) / 2.0)))
