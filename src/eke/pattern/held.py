"""What is held: an edge of a fixed length, a point on a balance line. Whether it is still so, and letting it go.

Words
-----
held
    What the maker said is to stay so. Nothing forbids a later change to move it: what no longer holds is a finding with
    its remedies. Only the steps that match seams (:mod:`eke.pattern.trueing`, :mod:`eke.pattern.matching`) keep to it
    by themselves.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any, Final

from eke.errors import BadInput, ChangeConflict, NotFound
from eke.findings import Finding, Fix
from eke.geometry import Pt
from eke.pattern.balance import line_name, read_on
from eke.pattern.corners import End, called, corner_point, leaves_fold, neighbour, point_of
from eke.pattern.model import Edge, HeldLength, HeldPoint, Mark, Pattern, Piece
from eke.pattern.tolerances import Tolerances, graded

HELD_FINE_MM: Final = 0.5
"""What is held may be off by so much: a pencil line's width."""


# ---------------------------------------------------------------- lengths


def length_held(pattern: Pattern, edge_id: str) -> tuple[str, HeldLength] | None:
    """Return the held length that an edge is part of, with its id; nothing where its length is free."""
    edge_id = pattern.resolve(edge_id)
    for key, held in pattern.held_lengths.items():
        if any(pattern.resolve(edge) == edge_id for edge in held.edges):
            return key, held
    return None


def length_now_mm(pattern: Pattern, held: HeldLength) -> float:
    """Return how long held edges are in all. Raises :class:`NotFound` for an edge that is gone."""
    return sum(
        pattern.edge(edge)[1].path.length_mm for edge in dict.fromkeys(map(pattern.resolve, held.edges))
    )


def length_words(pattern: Pattern, held: HeldLength) -> str:
    """Return what to call held edges: "“waist” of “front”"."""
    found = [pattern.edge(edge) for edge in held.edges]
    return " + ".join(f"“{called(piece, edge)}” of “{piece.name}”" for piece, edge in found)


# ---------------------------------------------------------------- points


def where_held(pattern: Pattern, held: HeldPoint) -> tuple[Piece, Pt, str]:
    """Return the piece of a held point, the point, and what to call it. Raises :class:`NotFound` when it is gone."""
    if held.edge is not None:
        piece, edge = pattern.edge(held.edge)
        return piece, corner_point(edge, held.end), corner_words(piece, edge, held.end)
    for piece in pattern.pieces.values():
        for notch in piece.notches:
            if notch.id == held.point:
                edge = piece.edge(notch.at.edge)
                return (
                    piece,
                    point_of(piece, notch.at),
                    f"the notch on “{called(piece, edge)}” of “{piece.name}”",
                )
        for mark in piece.marks:
            if mark.id == held.point:
                what = f"“{mark.name}”" if mark.name else f"the {mark.kind}"
                return piece, mark.points[0], f"{what} of “{piece.name}”"
    raise NotFound("The notch or mark that was held on a balance line is gone.", point=held.point)


def corner_words(piece: Piece, edge: Edge, end: End) -> str:
    """Return what to call a corner: "the corner of “front” between “side” and “hem”"."""
    other = neighbour(piece, edge.id, end)
    before, after = (other, edge) if end == "start" else (edge, other)
    return f"the corner of “{piece.name}” between “{called(piece, before)}” and “{called(piece, after)}”"


def line_of(piece: Piece, line: str) -> Mark:
    """Return a balance line of a piece by the id of its mark, or by its name.

    Raises
    ------
    NotFound
        When the piece has no such line; the message names those that it has.
    """
    lines = [m for m in piece.marks if m.kind == "balance" and len(m.points) > 1]
    wanted = " ".join(line.casefold().split())
    for mark in lines:
        if mark.id == line:
            return mark
    named = [m for m in lines if line_name(m) == wanted]
    if len(named) == 1:
        return named[0]
    names = ", ".join(f"“{m.name}”" for m in lines if m.name)
    has = f"It has {names}." if names else "Draw one on it first."
    raise NotFound(f"“{piece.name}” has no balance line “{line}”. {has}", piece=piece.id, line=line)


def line_words(mark: Mark) -> str:
    """Return what to call a balance line: "the waist line"."""
    name = mark.name.strip()
    if not name:
        return "the balance line"
    return f"the {name}" if name.casefold().endswith("line") else f"the {name} line"


def off_line(pattern: Pattern, held: HeldPoint) -> tuple[Piece, Pt, str, Mark, float]:
    """Return the piece, the point, its name, the line, and how far the point lies from the line in mm.

    Raises
    ------
    NotFound
        When the point or the line is gone.
    """
    piece, point, words = where_held(pattern, held)
    mark = line_of(piece, held.line)
    return piece, point, words, mark, read_on(mark).nearest(point).distance_mm


def point_held(
    pattern: Pattern, piece: Piece, *, corner: str | None = None, point: str | None = None
) -> str | None:
    """Return the id under which a corner (the edge that starts there), a notch or a mark is held, or nothing."""
    for key, held in pattern.held_points.items():
        if point is not None and held.point == point:
            return key
        if corner is not None and held.edge is not None and _corner_of(pattern, piece, held) == corner:
            return key
    return None


def _corner_of(pattern: Pattern, piece: Piece, held: HeldPoint) -> str | None:
    """The edge that starts at a held corner, where it is one of this piece."""
    edge_id = pattern.resolve(str(held.edge))
    if not any(e.id == edge_id for e in piece.edges):
        return None
    return edge_id if held.end == "start" else neighbour(piece, edge_id, "end").id


# ---------------------------------------------------------------- both


def held_of(pattern: Pattern, piece: Piece) -> tuple[Mapping[str, float], Mapping[str, str]]:
    """Return what is held of a piece: lengths in mm by edge, and lines in words by point.

    A point is a notch, a mark, or for a corner the edge that starts there.
    """
    own = {str(edge.id) for edge in piece.edges}
    lengths = {
        edge: held.mm
        for held in pattern.held_lengths.values()
        for edge in map(pattern.resolve, held.edges)
        if edge in own
    }
    inside = {*(n.id for n in piece.notches), *(m.id for m in piece.marks)}
    points = {}
    for held in pattern.held_points.values():
        key = held.point if held.edge is None else _corner_of(pattern, piece, held)
        if key is None or (held.edge is None and key not in inside):
            continue
        try:
            points[key] = line_words(line_of(piece, held.line))
        except NotFound:
            points[key] = "a balance line that is gone"
    return lengths, points


def let_go(pattern: Pattern, key: str) -> Pattern:
    """Return the pattern in which a length or a point is held no longer.

    Raises
    ------
    ChangeConflict
        When nothing is held under that id.
    """
    if key not in pattern.held_lengths and key not in pattern.held_points:
        raise ChangeConflict("That is held no longer. There is nothing to let go.", held=key)
    return replace(
        pattern,
        held_lengths={k: h for k, h in pattern.held_lengths.items() if k != key},
        held_points={k: h for k, h in pattern.held_points.items() if k != key},
    )


def let_go_all(pattern: Pattern, *, piece: Piece | None = None, point: str | None = None) -> Pattern:
    """Return the pattern in which nothing of a piece, or not that notch or mark, is held: what goes is held no longer."""
    edges = set() if piece is None else {str(e.id) for e in piece.edges}
    points = {point} if piece is None else {*(n.id for n in piece.notches), *(m.id for m in piece.marks)}

    def lies(edge: str | None) -> bool:
        return edge is not None and pattern.resolve(edge) in edges

    lengths = {k: h for k, h in pattern.held_lengths.items() if not all(lies(e) for e in h.edges)}
    kept = {
        k: h for k, h in pattern.held_points.items() if not lies(h.edge) and h.point not in points - {None}
    }
    if len(lengths) == len(pattern.held_lengths) and len(kept) == len(pattern.held_points):
        return pattern
    return replace(pattern, held_lengths=lengths, held_points=kept)


def refuse_merged(pattern: Pattern, piece: Piece, first: str, second: str) -> None:
    """Refuse to make two neighbours one where that would end what is held.

    Raises
    ------
    ChangeConflict
        When the corner between them is held on a balance line, or only one of them in its length.
    """
    if point_held(pattern, piece, corner=second) is not None:
        raise ChangeConflict(
            "The corner between the two edges is held on a balance line. Let it go first.",
            edges=(first, second),
        )
    for held in pattern.held_lengths.values():
        parts = {pattern.resolve(edge) for edge in held.edges}
        if (first in parts) != (second in parts):
            raise ChangeConflict(
                f"{length_words(pattern, held)} is held at {held.mm:.1f} mm, and the other edge is not. Let its length go "
                "first.",
                edges=(first, second),
            )


def merged_holds(pattern: Pattern, second: str) -> Mapping[str, HeldLength]:
    """Return the held lengths once an edge has gone on in the one before it."""
    return {
        key: replace(held, edges=tuple(e for e in held.edges if pattern.resolve(e) != second))
        for key, held in pattern.held_lengths.items()
    }


def ended_by(before: Pattern, after: Pattern) -> str | None:
    """Return in words the first thing that was held in ``before`` and is so no longer in ``after``, or nothing."""
    for held in before.held_lengths.values():
        try:
            was, now = length_now_mm(before, held) - held.mm, length_now_mm(after, held) - held.mm
        except NotFound:
            continue  # what is gone is found as such
        if abs(now) > max(HELD_FINE_MM, abs(was) + 1e-6):
            return f"{length_words(after, held)}, held at {held.mm:.1f} mm, would become {held.mm + now:.1f} mm long"
    for point in before.held_points.values():
        try:
            was, now = off_line(before, point)[4], off_line(after, point)[4]
            _, _, words, line, _ = off_line(after, point)
        except NotFound:
            continue
        if now > max(HELD_FINE_MM, was + 1e-6):
            return f"{words}, held on {line_words(line)}, would lie {now:.1f} mm off it"
    return None


def held_findings(pattern: Pattern, tolerances: Tolerances) -> Iterator[Finding]:
    """Yield what is held and no longer so: edges of another length, points off their balance line."""
    for key, held in pattern.held_lengths.items():
        try:
            now = length_now_mm(pattern, held)
        except NotFound as gone:
            yield _gone(key, f"An edge was to be {held.mm:.1f} mm long. {gone.message}")
            continue
        off = now - held.mm
        severity = graded(off, HELD_FINE_MM, max(tolerances.length_note_mm, HELD_FINE_MM))
        if severity is None:
            continue
        piece, edge = pattern.edge(held.edges[0])
        made: dict[str, Any] = {"edge": str(edge.id), "length_mm": held.mm}
        stays: tuple[tuple[str, str], ...] = (
            ("start", "its start stays"), ("end", "its end stays"), ("middle", "both ends move"),
        )  # fmt: skip
        order = sorted(stays, key=lambda row: row[0] != held.keep)
        words = length_words(pattern, held)
        yield Finding(
            "length-held",
            severity,
            f"{words} is held at {held.mm:.1f} mm and is {now:.1f} mm long now, {abs(off):.1f} mm too "
            f"{'long' if off > 0.0 else 'short'}.",
            (str(piece.id), *map(str, held.edges)),
            edge.path.point_at(edge.path.length_mm / 2.0),
            off,
            HELD_FINE_MM,
            (
                *(
                    Fix("true.length", {**made, "keep": keep}, f"Make it {held.mm:.1f} mm long again; {how}")
                    for keep, how in order
                ),
                Fix(
                    "true.length",
                    {**made, "length_mm": round(now, 3), "keep": held.keep},
                    f"Hold it at {now:.1f} mm from now on",
                ),
                Fix("held.drop", {"held": key}, "Let it be of any length"),
            ),
        )
    for key, point in pattern.held_points.items():
        try:
            piece, at, words, line, off = off_line(pattern, point)
        except (NotFound, BadInput) as gone:
            yield _gone(key, f"A point was to lie on a balance line. {gone.message}")
            continue
        severity = graded(off, HELD_FINE_MM, max(tolerances.notch_note_mm, HELD_FINE_MM))
        if severity is None:
            continue
        named = line_words(line)
        yield Finding(
            "point-off-line",
            severity,
            f"{words[:1].upper()}{words[1:]} is held on {named} and lies {off:.1f} mm off it.",
            (str(piece.id), str(point.edge or point.point), str(line.id)),
            at,
            off,
            HELD_FINE_MM,
            (*_back(pattern, piece, point, named), Fix("held.drop", {"held": key}, "Let it lie where it is")),
        )


def _back(pattern: Pattern, piece: Piece, held: HeldPoint, named: str) -> Iterator[Fix]:
    put = f"Put it back on {named}"
    if held.edge is None:
        on = "notch" if any(n.id == held.point for n in piece.notches) else "mark"
        how = "along its edge" if on == "notch" else "along the grain"
        yield Fix("true.on_line", {on: held.point, "line": held.line}, f"{put}, {how}")
        return
    edge = piece.edge(pattern.resolve(held.edge))
    other = neighbour(piece, edge.id, held.end)
    far: End = "start" if held.end == "end" else "end"
    ways = [
        (held.along == "edge", "edge", edge, held.end),
        (held.along == "grain", "grain", edge, held.end),
        (False, "edge", other, far),
    ]
    for _, along, one, end in sorted(ways, key=lambda way: not way[0]):
        if along == "edge" and leaves_fold(piece, one.id, end):
            continue  # it slides along the fold only
        how = "along the grain" if along == "grain" else f"along “{called(piece, one)}”"
        params = {"edge": str(one.id), "end": end, "line": held.line, "along": along}
        yield Fix("true.on_line", params, f"{put}, {how}")


def _gone(key: str, sentence: str) -> Finding:
    return Finding(
        "target-gone",
        "ask",
        sentence,
        (key,),
        fixes=(Fix("held.drop", {"held": key}, "Let it go"),),
    )
