"""A lay, its pieces and its cloths, as the app shows them; outlines to a thousandth of a millimetre."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from eke.actions.lays import Lay, Placed
from eke.cloth import Shelf
from eke.cutting import CutPiece, Laid, LayFault, Leftover, matched_lines, total_area_mm2
from eke.stint import Stint
from eke.web.models.lay import (
    BesideView,
    CutPieceView,
    LaidView,
    LayFaultView,
    LayView,
    LeftoverView,
    MissingView,
    PlacementSaid,
    StintView,
)
from eke.web.views.shelf import cloth_view, ring_view


def lay_view(lay: Lay, shelf: Shelf, faults: Sequence[LayFault] = ()) -> LayView:
    """Return a lay; without a plan nothing lies yet."""
    plan = lay.plan
    return LayView(
        garment=lay.garment,
        roles=list(lay.roles),
        cloths=[cloth_view(c, shelf) for c in lay.cloths],
        cut_pieces=cut_piece_views(lay),
        laid=[] if plan is None else [laid_view(one) for one in plan.laid],
        missing=_missing(lay),
        complete=plan is not None and plan.complete,
        sentence=lay.sentence,
        proof=None if plan is None else plan.proof,
        use_percent=None if plan is None else round(plan.use_percent, 2),
        on_percent=_on_percent(lay),
        leftovers=[] if plan is None else [_leftover(one) for one in plan.leftovers],
        seconds=None if plan is None or plan.seconds <= 0.0 else plan.seconds,
        stale=list(lay.stale),
        to_wash=list(lay.to_wash),
        faults=fault_views(faults),
        gap_pieces_mm=lay.gaps.pieces_mm,
        gap_edge_mm=lay.gaps.edge_mm,
        gap_hole_mm=lay.gaps.hole_mm,
        cut=lay.cut,
        given_up=[stint_view(one) for one in lay.stints],
        seed=0 if plan is None else plan.seed,
        made=lay.made,
        match_stripes=plan is not None and plan.match_stripes,
        stripe_lines=sorted({name for names in matched_lines(lay.pieces).values() for name in names}),
        beside=None if lay.beside is None else _beside(lay.beside, shelf),
    )


def _beside(lay: Lay, shelf: Shelf) -> BesideView:
    laid = () if lay.plan is None else lay.plan.laid
    used = {one.cloth for one in laid}
    return BesideView(
        made=lay.made,
        cloths=[cloth_view(c, shelf) for c in lay.cloths if c.id in used],
        laid=[laid_view(one) for one in laid],
        complete=lay.plan is not None and lay.plan.complete,
        sentence=lay.sentence,
        on_percent=_on_percent(lay),
        given_up=[stint_view(one) for one in lay.stints],
        stale=list(lay.stale),
        cut=lay.cut,
    )


def _missing(lay: Lay) -> list[MissingView]:
    if lay.plan is None:
        return [MissingView(piece=p.id, name=p.name, count=p.copies) for p in lay.pieces]
    return [MissingView(piece=m.piece, name=m.name, count=m.count) for m in lay.plan.missing]


def _on_percent(lay: Lay) -> float:
    whole = total_area_mm2(lay.pieces)
    if lay.plan is None or whole <= 0.0:
        return 0.0
    return round(100.0 * max(0.0, whole - lay.plan.short_mm2) / whole, 2)


def _leftover(one: Leftover) -> LeftoverView:
    width_mm, height_mm = (
        (0.0, 0.0) if one.rectangle is None else (one.rectangle.width_mm, one.rectangle.length_mm)
    )
    return LeftoverView(
        cloth=one.cloth,
        width_mm=round(width_mm, 1),
        height_mm=round(height_mm, 1),
        area_mm2=round(one.area_mm2, 1),
        outline=[] if one.rectangle is None else ring_view(one.rectangle.corners),
    )


def cut_piece_views(lay: Lay) -> list[CutPieceView]:
    """Return the pieces as they are cut; how they may lie is what holds on all cloths of the lay."""
    one_way = any(cloth.nap == "one-way" for cloth in lay.cloths)
    may_mirror = bool(lay.cloths) and all(cloth.same_face for cloth in lay.cloths)
    return [_cut_piece(piece, one_way=one_way, may_mirror=may_mirror) for piece in lay.pieces]


def _cut_piece(piece: CutPiece, *, one_way: bool, may_mirror: bool) -> CutPieceView:
    turns = piece.turns(one_way=one_way)
    return CutPieceView(
        id=piece.id,
        piece=piece.piece,
        name=piece.name,
        role=piece.role,
        copies=piece.copies,
        outline=ring_view(piece.outline),
        net=ring_view(piece.net),
        grain=piece.grain,
        turns_deg=None if turns is None else list(turns),
        tilt_deg=piece.tilt_deg if piece.grain != "any" else 0.0,
        may_mirror=may_mirror,
        hidden=piece.hidden,
        least_quality=piece.least_quality,
    )


def laid_view(one: Laid) -> LaidView:
    """Return one piece where it lies."""
    return LaidView(
        id=one.id,
        piece=one.piece,
        name=one.name,
        cloth=one.cloth,
        x_mm=one.x_mm,
        y_mm=one.y_mm,
        turn_deg=one.turn_deg,
        mirrored=one.mirrored,
        outline=ring_view(one.outline),
        locked=one.locked,
    )


def fault_views(faults: Iterable[LayFault]) -> list[LayFaultView]:
    """Return what is wrong with a lay."""
    from eke.actions.lay_by_hand import fault_rows

    return [LayFaultView.model_validate(row) for row in fault_rows(tuple(faults))]


def stint_view(one: Stint) -> StintView:
    """Return one thing that could be given up, or has been."""
    return StintView(
        id=one.id,
        kind=one.kind,
        sentence=one.sentence,
        harm=one.harm,
        saves_mm2=one.saved_mm2,
        enough=one.enough,
    )


def placed(said: Iterable[PlacementSaid]) -> tuple[Placed, ...]:
    """Return placements as the maker said them."""
    return tuple(Placed(**one.model_dump()) for one in said)
