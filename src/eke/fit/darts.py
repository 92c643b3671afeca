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
from eke.errors import BadInput
from eke.geometry.path import Path, Pt
from eke.pattern.corners import sound
from eke.pattern.model import Dart, Edge, EdgeId, EdgePlace, Pattern
from eke.pattern.parted import go_on_in_parts
from eke.pattern.pivot import live_edge, parted_notch

MIN_LEG_MM: Final = 20.0
"""A shorter dart cannot be sewn to a point."""

LEAST_INTAKE_MM: Final = 0.1
"""Less than a tenth of a millimetre nobody draws, and nothing turns about it."""


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
    piece, edge = live_edge(pattern, edge_id)
    length = edge.path.length_mm
    centre = edge.mm_of(at)
    if not intake_mm >= LEAST_INTAKE_MM:
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
    notches = tuple(parted_notch(n, edge, ids[0], ids[3], low, high) for n in piece.notches)
    made = sound(replace(piece, edges=edges, notches=notches, darts=(*piece.darts, dart)), piece)
    return go_on_in_parts(pattern.with_piece(made), edge.id, (ids[0], ids[3]))


def _levelled(p: Pt, q: Pt, apex: Pt) -> Pt:
    """The point nearest to ``apex`` from which both ends of the mouth are equally far: legs of one length."""
    mx, my = (p[0] + q[0]) / 2.0, (p[1] + q[1]) / 2.0
    dx, dy = q[0] - p[0], q[1] - p[1]
    along = ((apex[0] - mx) * dx + (apex[1] - my) * dy) / (dx * dx + dy * dy)
    return (apex[0] - along * dx, apex[1] - along * dy)
