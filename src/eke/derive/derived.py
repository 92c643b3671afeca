"""What a recipe yields, and the shared step of parting a piece along a line.

Derived edges keep their origin: a derived edge that lies on an edge of the source piece has the id
``recipe/source-edge`` and says so in :attr:`Derived.origin`; notches, seams and later edits find it there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from shapely.geometry import Point, Polygon

from eke.errors import BadInput
from eke.geometry.crossings import intersections
from eke.geometry.path import Path, Pt
from eke.pattern.model import Edge, EdgeId, EdgeKind, EdgePlace, Notch, Piece, PieceId

ON_EDGE_MM: Final = 0.01
"""A notch lies on a derived edge when it is nearer than this."""


@dataclass(frozen=True, slots=True)
class Derived:
    """One derived piece: made by ``recipe`` from ``source``; ``origin`` maps its edges to source edges."""

    piece: Piece
    recipe: str
    source: PieceId
    origin: Mapping[EdgeId, EdgeId]


def derived_id(recipe: str, source: str) -> str:
    """Return the id of what ``recipe`` makes of the piece or edge ``source``."""
    return f"{recipe}/{source}"


@dataclass(frozen=True, slots=True)
class Part:
    """One side of a parted outline: pieces of edges with the edge they come from, and the new edge."""

    edges: tuple[tuple[EdgeId, Path], ...]
    new: Path

    def length_of(self, edge_ids: Sequence[str]) -> float:
        """Length in mm of the named edges that lies on this side."""
        return sum(path.length_mm for edge_id, path in self.edges if edge_id in edge_ids)


def part_along(piece: Piece, line: Path) -> tuple[Part, Part]:
    """Part the outline of ``piece`` along ``line``, which must cross it at exactly two places.

    Raises
    ------
    BadInput
        When the line crosses the outline less or more than twice.
    """
    crossings: list[tuple[int, float, Pt, float]] = []
    for i, edge in enumerate(piece.edges):
        for meeting in intersections(edge.path, line):
            if all(
                np.hypot(meeting.point[0] - c[2][0], meeting.point[1] - c[2][1]) > ON_EDGE_MM
                for c in crossings
            ):
                crossings.append((i, meeting.at_a_mm, meeting.point, meeting.at_b_mm))
    if len(crossings) != 2:
        raise BadInput(
            f"The line across “{piece.name}” meets its outline {len(crossings)} times; it must cross it from side to "
            "side. Choose another width or another place."
        )
    (i, s, p, u), (j, t, q, v) = sorted(crossings, key=lambda c: (c[0], c[1]))
    across = line.slice(min(u, v), max(u, v))
    if u > v:
        across = across.reversed()
    across = across.with_ends(p, q)  # now from p to q
    return (
        Part(tuple(_walk(piece, (i, s), (j, t))), across.reversed()),
        Part(tuple(_walk(piece, (j, t), (i, s))), across),
    )


def _walk(piece: Piece, start: tuple[int, float], end: tuple[int, float]) -> list[tuple[EdgeId, Path]]:
    """The stretches of edges from one place on the outline to another, counter-clockwise."""
    count = len(piece.edges)
    found = []
    i, at = start
    j, until = end
    steps = (j - i) % count
    if steps == 0 and until <= at:
        steps = count
    for k in range(steps + 1):
        edge = piece.edges[(i + k) % count]
        a = at if k == 0 else 0.0
        b = until if k == steps else edge.path.length_mm
        if b - a > ON_EDGE_MM:
            found.append((edge.id, edge.path.slice(a, b)))
    return found


def piece_from(
    part: Part,
    source: Piece,
    *,
    recipe: str,
    name: str,
    new_name: str,
    new_kind: EdgeKind = "opening",
    new_allowance_mm: float | None = None,
) -> Derived:
    """Return the derived piece that one side of a parted outline makes.

    Edges keep kind, name and allowance of the edge they come from; notches and marks that lie on this side
    come along; the grain stays, moved into the piece where it would lie outside.
    """
    edges: list[Edge] = []
    origin: dict[EdgeId, EdgeId] = {}
    for edge_id, path in part.edges:
        known = source.edge(edge_id)
        new_id = EdgeId(derived_id(recipe, edge_id))
        while new_id in origin:
            new_id = EdgeId(f"{new_id}.b")
        origin[new_id] = edge_id
        edges.append(replace(known, id=new_id, path=path))
    last, first = edges[-1].path.end, edges[0].path.start
    edges.append(
        Edge(
            EdgeId(f"{derived_id(recipe, source.id)}/new"),
            part.new.with_ends(last, first),
            kind=new_kind,
            name=new_name,
            allowance_mm=new_allowance_mm,
            shape="fair",
        )
    )
    fold = next((new for new, old in origin.items() if old == source.fold), None)
    made = Piece(
        PieceId(derived_id(recipe, source.id)), name, tuple(edges), fold=fold, tracing=source.tracing
    )
    made = with_shaping_of(made, source, recipe, origin)
    return Derived(with_marks_of(made, source, recipe), recipe, source.id, origin)


def with_shaping_of(piece: Piece, source: Piece, recipe: str, origin: Mapping[EdgeId, EdgeId]) -> Piece:
    """Return ``piece`` with the darts, pleats and gathers of ``source`` whose edges all lie on it."""
    new = {old: made for made, old in origin.items()}
    darts = tuple(
        replace(
            dart,
            id=derived_id(recipe, dart.id),
            first_leg=new[dart.first_leg],
            second_leg=new[dart.second_leg],
        )
        for dart in source.darts
        if dart.first_leg in new and dart.second_leg in new
    )
    pleats = tuple(
        replace(
            pleat,
            id=derived_id(recipe, pleat.id),
            mouths=tuple((new[under], new[back]) for under, back in pleat.mouths),
            first=derived_id(recipe, pleat.first),
            second=derived_id(recipe, pleat.second),
        )
        for pleat in source.pleats
        if all(edge in new for mouth in pleat.mouths for edge in mouth)
    )
    gathers = tuple(
        replace(
            gather,
            id=derived_id(recipe, gather.id),
            edge=new[gather.edge],
            start=None if gather.start is None else derived_id(recipe, gather.start),
            end=None if gather.end is None else derived_id(recipe, gather.end),
        )
        for gather in source.gathers
        if gather.edge in new
    )
    return replace(piece, darts=darts, pleats=pleats, gathers=gathers)


def with_marks_of(piece: Piece, source: Piece, recipe: str) -> Piece:
    """Return ``piece`` with the notches, marks and grain of ``source`` that lie on it."""
    notches = []
    for notch in source.notches:
        edge = source.edge(notch.at.edge)
        place = edge.path.point_at(edge.mm_of(notch.at))
        for own in piece.edges:
            near = own.path.nearest(place)
            if near.distance_mm <= ON_EDGE_MM and 0.0 < near.at_mm < own.path.length_mm:
                at = EdgePlace(own.id, mm=near.at_mm)
                notches.append(Notch(derived_id(recipe, notch.id), at, notch.count))
                break
    shape = Polygon(piece.outline.flatten()).buffer(ON_EDGE_MM)
    marks = tuple(
        replace(mark, id=derived_id(recipe, mark.id))
        for mark in source.marks
        if all(shape.covers(Point(p)) for p in mark.points)
    )
    return replace(piece, notches=tuple(notches), marks=marks, grain=_grain_within(piece, source.grain))


def _grain_within(piece: Piece, grain: tuple[Pt, Pt] | None) -> tuple[Pt, Pt] | None:
    """The grain line where it lies on the piece, else a parallel through its middle."""
    if grain is None:
        return None
    shape = Polygon(piece.outline.flatten())
    if all(shape.covers(Point(p)) for p in grain):
        return grain
    middle = shape.representative_point()
    direction = np.array(grain[1]) - np.array(grain[0])
    direction = direction / np.hypot(*direction)
    x0, y0, x1, y1 = shape.bounds
    half = 0.25 * min(x1 - x0, y1 - y0)
    a, b = (
        np.array([middle.x, middle.y]) - half * direction,
        np.array([middle.x, middle.y]) + half * direction,
    )
    return ((float(a[0]), float(a[1])), (float(b[0]), float(b[1])))
