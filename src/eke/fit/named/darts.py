"""What the dart changes share: the dart's neighbours, and drawing its legs anew."""

from __future__ import annotations

from dataclasses import replace

from eke.errors import BadInput, ChangeConflict
from eke.fit.parts import trued
from eke.fit.slide import with_edges_kept
from eke.geometry import Path, Pt
from eke.geometry.segments import distance
from eke.pattern.corners import index_of, sound
from eke.pattern.editing import merge_edges
from eke.pattern.model import Dart, Edge, Pattern, Piece

LEAST_LEG_MM = 20.0
"""A shorter dart cannot be sewn to a point."""


def beside(piece: Piece, dart: Dart) -> tuple[Edge, Edge]:
    """Return the edges before and after a dart."""
    one, two = index_of(piece, dart.first_leg), index_of(piece, dart.second_leg)
    return piece.edges[one - 1], piece.edges[(two + 1) % len(piece.edges)]


def mouth(piece: Piece, dart: Dart) -> tuple[Pt, Pt]:
    """Return the ends of a dart's legs at the edge, first leg first."""
    return piece.edge(dart.first_leg).path.start, piece.edge(dart.second_leg).path.end


def levelled(p: Pt, q: Pt, apex: Pt) -> Pt:
    """Return the point nearest to ``apex`` from which ``p`` and ``q`` are equally far: legs of one length."""
    dx, dy = q[0] - p[0], q[1] - p[1]
    along = ((apex[0] - (p[0] + q[0]) / 2.0) * dx + (apex[1] - (p[1] + q[1]) / 2.0) * dy) / (
        dx * dx + dy * dy
    )
    return (apex[0] - along * dx, apex[1] - along * dy)


def towards(p: Pt, q: Pt, by_mm: float) -> Pt:
    """Return the point ``by_mm`` from ``p`` on the way to ``q``."""
    length = distance(p, q)
    return (p[0] + (q[0] - p[0]) * by_mm / length, p[1] + (q[1] - p[1]) * by_mm / length)


def with_dart_drawn(piece: Piece, dart: Dart, before: Path, apex: Pt, after: Path) -> Piece:
    """Return the piece with a dart between two edges drawn anew, its legs from their ends to ``apex``."""
    if min(distance(before.end, apex), distance(after.start, apex)) < LEAST_LEG_MM:
        raise BadInput(f"A dart shorter than {LEAST_LEG_MM:g} mm cannot be sewn to a point.")
    one, two = beside(piece, dart)
    new = {
        one.id: before,
        dart.first_leg: Path.line(before.end, apex),
        dart.second_leg: Path.line(apex, after.start),
        two.id: after,
    }
    edges = [replace(e, path=new[e.id]) if e.id in new else e for e in piece.edges]
    return sound(with_edges_kept(piece, edges), piece)


def bridged(pattern: Pattern, piece: Piece, dart: Dart) -> tuple[Pattern, str]:
    """Return the pattern without a dart, the edge drawn across its mouth, and the id of that edge.

    The edges before and after it become one where they are one line of the garment; else a corner stays.
    """
    before, after = beside(piece, dart)
    if before.id == after.id:
        raise BadInput("The edge goes right round to the dart. Put a corner on it first.")
    p, q = mouth(piece, dart)
    whole = trued(before.path, after.path, keep_straight=True)
    head, tail = whole.split(whole.nearest(((p[0] + q[0]) / 2.0, (p[1] + q[1]) / 2.0)).at_mm)
    edges = tuple(
        replace(e, path=head) if e.id == before.id else replace(e, path=tail) if e.id == after.id else e
        for e in piece.edges
    )
    kept = with_edges_kept(piece, list(edges))
    legs = (dart.first_leg, dart.second_leg)
    made = replace(
        kept,
        edges=tuple(e for e in kept.edges if e.id not in legs),
        notches=tuple(n for n in kept.notches if n.at.edge not in legs),
        darts=tuple(d for d in kept.darts if d.id != dart.id),
    )
    pattern = pattern.with_piece(sound(made, piece))
    try:
        return merge_edges(pattern, before.id, after.id), before.id
    except ChangeConflict:
        return pattern, before.id
