"""One piece, drawn or derived, in its own frame."""

from __future__ import annotations

import math
from collections.abc import Mapping

from eke.actions.outlines import Outlines
from eke.actions.previews import Standing
from eke.derive import PRESETS, allowance_of
from eke.errors import EkeError
from eke.pattern import gathers
from eke.pattern.corners import called, dart_apex, dart_intake_mm, interior_angle_deg, pleat_intake_mm
from eke.pattern.held import held_of
from eke.pattern.model import Edge, Gather, Notch, Pattern, Piece
from eke.web.models.common import Segment
from eke.web.models.garment import (
    CutView,
    DartView,
    EdgeView,
    GatherView,
    MarkView,
    NotchView,
    PieceView,
    PleatView,
)
from eke.web.views.rounding import mm, mm_or_none, point, points

HOME = PRESETS["home"]


def piece_views(standing: Standing, outlines: Outlines) -> tuple[list[PieceView], list[PieceView]]:
    """Return the drawn pieces and the derived ones of a pattern."""
    seams = seams_by_edge(standing.pattern)
    drawn = [piece_view(p, standing.pattern, outlines, seams) for p in standing.pattern.pieces.values()]
    derived = [
        piece_view(d.piece, standing.pattern, outlines, {}, recipe=d.recipe)
        for d in standing.derivation.pieces.values()
    ]
    return drawn, derived


def one_piece_view(piece: Piece | None, standing: Standing, outlines: Outlines) -> PieceView | None:
    """Return one piece of a pattern that may not be kept, or nothing."""
    if piece is None:
        return None
    made = next((d for d in standing.derivation.pieces.values() if d.piece.id == piece.id), None)
    seams = {} if made else seams_by_edge(standing.pattern)
    return piece_view(piece, standing.pattern, outlines, seams, recipe=made.recipe if made else None)


def seams_by_edge(pattern: Pattern) -> dict[str, list[str]]:
    """Return the ids of the seams that each edge belongs to."""
    found: dict[str, list[str]] = {}
    for seam in pattern.seams.values():
        for part in seam.parts():
            ids = found.setdefault(pattern.resolve(part.edge), [])
            if seam.id not in ids:
                ids.append(seam.id)
    return found


def piece_view(
    piece: Piece,
    pattern: Pattern,
    outlines: Outlines,
    seams: Mapping[str, list[str]],
    *,
    recipe: str | None = None,
) -> PieceView:
    """Return one piece with its cut outline."""
    tracing = pattern.tracings.get(piece.tracing) if piece.tracing is not None else None
    lengths, lines = held_of(pattern, piece)
    return PieceView(
        id=piece.id,
        name=piece.name,
        edges=[
            _edge_view(piece, edge, seams.get(edge.id, []), lengths.get(edge.id), lines.get(edge.id))
            for edge in piece.edges
        ],
        notches=[_notch_view(piece, notch, lines.get(notch.id)) for notch in piece.notches],
        marks=[
            MarkView(id=m.id, kind=m.kind, name=m.name, points=points(m.points), held_on=lines.get(m.id))
            for m in piece.marks
        ],
        darts=[
            DartView(
                id=dart.id,
                first_leg=dart.first_leg,
                second_leg=dart.second_leg,
                apex=point(dart_apex(piece, dart)),
                intake_mm=mm(dart_intake_mm(piece, dart)),
            )
            for dart in piece.darts
        ],
        pleats=[
            PleatView(id=p.id, mouths=[(a, b) for a, b in p.mouths], intake_mm=mm(pleat_intake_mm(piece, p)))
            for p in piece.pleats
        ],
        gathers=[_gather_view(piece, gather) for gather in piece.gathers],
        grain=None if piece.grain is None else (point(piece.grain[0]), point(piece.grain[1])),
        fold=piece.fold,
        cuts=[CutView(role=cut.role, count=cut.count, pairs=cut.pairs) for cut in piece.cuts],
        cut_outline=points(outlines.cut(pattern, piece)),
        recipe=recipe,
        tracing=piece.tracing,
        uncertainty_mm=None if tracing is None else mm(tracing.uncertainty_mm),
    )


def _gather_view(piece: Piece, gather: Gather) -> GatherView:
    low, high = gathers.span_mm(piece, gather)
    return GatherView(
        id=gather.id,
        edge=gather.edge,
        from_mm=mm(low),
        to_mm=mm(high),
        how=gather.how,
        ratio=gather.ratio,
        words=gathers.told(piece, gather),
        wave=points(gathers.wave_of(piece, gather)),
    )


def _edge_view(
    piece: Piece, edge: Edge, seams: list[str], held_mm: float | None, start_held_on: str | None
) -> EdgeView:
    return EdgeView(
        id=edge.id,
        name=edge.name,
        called=called(piece, edge),
        kind=edge.kind,
        shape=edge.shape,
        segments=[Segment(points=points(segment.points)) for segment in edge.path.segments],
        length_mm=mm(edge.path.length_mm),
        allowance_mm=mm(allowance_of(edge, HOME)),
        own_allowance=edge.allowance_mm is not None and edge.kind != "fold",
        traced_as=edge.traced_as,
        traced_allowance_mm=mm(edge.traced_allowance_mm),
        start_angle_deg=mm_or_none(_angle(piece, edge)),
        seams=seams,
        held_mm=mm_or_none(held_mm),
        start_held_on=start_held_on,
    )


def _angle(piece: Piece, edge: Edge) -> float | None:
    try:
        return interior_angle_deg(piece, edge.id, "start")
    except EkeError:  # an edge of no length has no direction
        return None


def _notch_view(piece: Piece, notch: Notch, held_on: str | None) -> NotchView:
    edge = piece.edge(notch.at.edge)
    at = edge.mm_of(notch.at)
    nx, ny = edge.path.normal_at(at)  # to the left: inwards
    return NotchView(
        id=notch.id,
        edge=edge.id,
        at=point(edge.path.point_at(at)),
        out_deg=mm(math.degrees(math.atan2(-ny, -nx))),
        mm=mm(at),
        count=notch.count,
        held_on=held_on,
    )
