"""Lengthen or shorten at a level line, on every piece that it crosses.

The piece is cut square to its grain at the place and spread (or folded out) by the amount; where the line leaves it
over a seam, it goes on from the same distance along the seam on the other side, square to the grain there, until it
meets no more pieces. Straight side edges are redrawn straight, curves blended.

Params
------
edge, with fraction or mm (from_end) or notch
    A place on the line, on any of the pieces.
by_mm
    How much longer; below 0 shortens, folding out the band just below the line.
only
    Ids of the pieces that may be cut; all where not given.
not_over
    Ids of seams that the line does not go over.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from typing import Any

from eke.changes import Context
from eke.errors import BadInput
from eke.fit import reading as read
from eke.fit.parts import seams_over
from eke.fit.spread import crossed, spread
from eke.geometry import Pt
from eke.geometry.segments import distance
from eke.pattern.corners import dart_at
from eke.pattern.measure import run_of
from eke.pattern.model import Edge, Pattern, Piece

LEVEL_DEG = 60.0
"""An edge that runs flatter than this against the grain is a level seam (a waist): the line does not cross it."""


def lines_across(
    pattern: Pattern, piece: Piece, start: Pt, only: Collection[str] = (), not_over: Collection[str] = ()
) -> dict[str, Pt]:
    """Return, for every piece that a level line crosses, a point that it passes through there."""
    found: dict[str, Pt] = {}
    todo: list[tuple[Piece, Pt]] = [(piece, start)]
    while todo:
        here, through = todo.pop(0)
        if here.id in found or (only and here.id not in only):
            continue
        down = down_of(here)
        found[here.id] = through
        for at in crossed(here, through, (-down[1], down[0])):
            edge = here.edges[at.index]
            if dart_at(here, edge.id) is None and _steep(here, edge, at.mm):
                todo += _over_seams(pattern, edge, at.mm, not_over)
    return found


def lengthen(
    pattern: Pattern,
    piece: Piece,
    start: Pt,
    by_mm: float,
    change_id: str,
    only: Collection[str] = (),
    not_over: Collection[str] = (),
) -> Pattern:
    """Return the pattern longer by ``by_mm`` (below 0: shorter) at the level line through ``start`` on ``piece``."""
    for piece_id, through in lines_across(pattern, piece, start, only, not_over).items():
        here = pattern.piece(piece_id)
        made = spread(here, through, down_of(here), by_mm, change_id)
        pattern = seams_over(pattern.with_piece(made.piece), made.parted)
    return pattern


def down_of(piece: Piece) -> Pt:
    """Return the unit vector down a piece, against its grain; grain that leans the other way counts as up."""
    if piece.grain is None or distance(*piece.grain) <= 1e-6:
        return (0.0, -1.0)
    (x0, y0), (x1, y1) = piece.grain
    length = math.copysign(math.hypot(x1 - x0, y1 - y0), y1 - y0)
    return ((x0 - x1) / length, (y0 - y1) / length)


def _steep(piece: Piece, edge: Edge, mm: float) -> bool:
    u, d = edge.path.tangent_at(mm), down_of(piece)
    return abs(u[0] * d[0] + u[1] * d[1]) >= math.cos(math.radians(LEVEL_DEG))


def _over_seams(pattern: Pattern, edge: Edge, mm: float, not_over: Collection[str]) -> list[tuple[Piece, Pt]]:
    made: list[tuple[Piece, Pt]] = []
    for seam in pattern.seams_of(edge.id):
        if seam.id in not_over or seam.b_mirrored:
            continue
        a, b = run_of(pattern, seam.a), run_of(pattern, seam.b)
        for own, other in ((a, b), (b, a)):
            for stretch in own.stretches:
                if stretch.edge.id != edge.id:
                    continue
                along = stretch.from_mm + (edge.path.length_mm - mm if stretch.part.reverse else mm)
                piece, point = other.point_at(along * other.length_mm / own.length_mm)
                near = min(piece.edges, key=lambda e: e.path.nearest(point).distance_mm)
                if _steep(piece, near, near.path.nearest(point).at_mm):
                    made.append((piece, point))
    return made


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    piece, edge, at = read.place_on(state, params)
    by_mm = read.number(params, "by_mm")
    if abs(by_mm) < 0.1:
        raise BadInput("Say how much longer or shorter.")
    only = [state.resolve(p) for p in read.texts(params, "only")]
    if only and piece.id not in only:
        raise BadInput(f"The line starts on “{piece.name}”, which is not among the pieces that it may cut.")
    return lengthen(
        state,
        piece,
        edge.path.point_at(at.mm),
        by_mm,
        context.record_id,
        only,
        read.texts(params, "not_over"),
    )


def _say(params: read.Params) -> str:
    done = "Lengthened" if read.over(params, "by_mm") else "Shortened"
    return f"{done} by {read.mm(params, 'by_mm')} at a line from {read.called(params, 'an edge')}"


KIND = read.named("fit.lengthen", _apply, _say, "edge", "only")
