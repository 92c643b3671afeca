"""Confirming a cut, and taking it back."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from shapely.geometry import Polygon

from eke.cloth.cloth import Cloth, clean_ring
from eke.cloth.offcuts import KERF_MM, LEAST_AREA_MM2, LEAST_WIDTH_MM, as_cloths, rest_of
from eke.cloth.shelf import Cut, CutPlacement, Holding, Reservation, Shelf
from eke.cloth.shelf_changes import (
    TOUCHING_MM2,
    Params,
    flaws_since,
    need,
    need_list,
    need_map,
    overlap_mm2,
)
from eke.errors import BadInput, ChangeConflict
from eke.ledger import Use, split_whole

NewId = Callable[[str, str, int], str]
"""Makes the id of the n-th offcut from the parent's id and the id of the change."""


def confirm_cut(shelf: Shelf, params: Params, change_id: str, new_id: NewId) -> Shelf:
    """The pieces have been cut: the rest of each cloth becomes offcuts.

    ``params`` are ``{garment, revision, placements: [{piece, name, cloth, outline}, …], kerf_mm?,
    least_width_mm?, least_area_mm2?}``; outlines are cut outlines in the frame of the cloth as it lay (an
    unwashed cloth is cut as it lies: wash it first).

    Raises
    ------
    ChangeConflict
        When a cloth is not there any more, or is kept for another project.
    BadInput
        When a piece does not lie on its cloth or over another.
    """
    project, garment = shelf.garment(need(params, "garment"))
    placements = tuple(_placement(value) for value in need_list(params, "placements"))
    cloths = tuple(shelf.cloth(id_) for id_ in dict.fromkeys(p.cloth for p in placements))
    for cloth in cloths:
        _free_to_cut(shelf, cloth, project.id, [p for p in placements if p.cloth == cloth.id])
    sizes = {
        "kerf_mm": _size(params, "kerf_mm", KERF_MM),
        "least_width_mm": _size(params, "least_width_mm", LEAST_WIDTH_MM),
        "least_area_mm2": _size(params, "least_area_mm2", LEAST_AREA_MM2),
    }
    after, offcut_ids, cut_mm2, waste_mm2 = shelf, [], 0.0, 0.0
    for cloth in cloths:
        rest = rest_of(cloth, [Polygon(p.outline) for p in placements if p.cloth == cloth.id], **sizes)
        ids = [new_id(cloth.id, change_id, n) for n in range(len(rest.kept))]
        offcuts = as_cloths(cloth, rest.kept, ids)
        holding = shelf.holdings[cloth.id]
        used, *left = shared_units(holding.units, [cloth.area_mm2 - sum(p.area for p in rest.kept),
                                                   *(p.area for p in rest.kept)])  # fmt: skip
        others = [r for r in shelf.reserved_by(cloth.id) if r.project != project.id and r.part is not None]
        after = after.without_cloth(cloth.id)
        for offcut, units in zip(offcuts, left, strict=True):
            after = after.with_cloth(offcut, Holding(holding.item, units))
            passed_on = tuple(
                replace(r, cloth=offcut.id)
                for r in others
                if overlap_mm2(offcut, r.part, None) > TOUCHING_MM2
            )
            after = replace(after, reservations=(*after.reservations, *passed_on))
        after = replace(after, ledger=after.ledger.with_use(Use(change_id, holding.item, garment.id, used)))
        offcut_ids += ids
        cut_mm2 += rest.cut_mm2
        waste_mm2 += rest.waste_mm2
    cut = Cut(
        change_id,
        garment.id,
        need(params, "revision"),
        placements,
        cloths,
        tuple(shelf.holdings[cloth.id] for cloth in cloths),
        tuple(r for cloth in cloths for r in shelf.reserved_by(cloth.id)),
        tuple(offcut_ids),
        cut_mm2,
        waste_mm2,
    )
    return replace(after, cuts={**after.cuts, change_id: cut})


def take_back_cut(shelf: Shelf, params: Params) -> Shelf:
    """``{cut}``: the cut was never made after all: its cloths come back whole, its offcuts go.

    Flaws that were marked on the offcuts meanwhile are kept on the cloth.

    Raises
    ------
    ChangeConflict
        When one of its offcuts has since been cut, reserved or thrown away, with the names.
    """
    cut = shelf.cuts.get(need(params, "cut"))
    if cut is None:
        raise ChangeConflict(f"There is no cut “{params['cut']}” to take back.", cut=params["cut"])
    _unused(shelf, cut)
    after = replace(shelf, cuts={k: c for k, c in shelf.cuts.items() if k != cut.id})
    offcuts = [shelf.cloths[id_] for id_ in cut.offcuts]
    for id_ in cut.offcuts:
        after = after.without_cloth(id_)
    for cloth, holding in zip(cut.cloths, cut.holdings, strict=True):
        mine = [offcut for offcut in offcuts if offcut.parent == cloth.id]
        whole = replace(cloth, flaws=(*cloth.flaws, *flaws_since(cloth, mine)))
        after = after.with_cloth(whole, holding)
    return replace(
        after, reservations=(*after.reservations, *cut.reservations), ledger=after.ledger.without_use(cut.id)
    )


def shared_units(units: int, areas_mm2: list[float]) -> list[int]:
    """Share whole ledger units by area; they add up to ``units`` exactly."""
    weights = [max(0, math.floor(area)) for area in areas_mm2]
    if not any(weights):
        weights[0] = 1
    return list(split_whole(units, weights))


def _placement(value: Any) -> CutPlacement:
    if not isinstance(value, dict):
        raise BadInput("A cut lists its pieces with their cloth and cut outline.")
    placed = need_map({"placement": value}, "placement")
    name = str(placed.get("name") or need(placed, "piece"))
    outline = clean_ring(placed.get("outline", ()), f"“{name}”")
    return CutPlacement(need(placed, "piece"), name, need(placed, "cloth"), outline)


def _free_to_cut(shelf: Shelf, cloth: Cloth, project: str, placements: list[CutPlacement]) -> None:
    for other in shelf.reserved_by(cloth.id):
        if other.project == project:
            continue
        name = shelf.project_name(other.project)
        if other.part is None:
            raise ChangeConflict(
                f"“{cloth.name}” is kept for “{name}”. Release it there before it is cut.", cloth=cloth.id
            )
        for placement in placements:
            if overlap_mm2(cloth, placement.outline, other.part) > TOUCHING_MM2:
                raise ChangeConflict(
                    f"“{placement.name}” lies on the part of “{cloth.name}” that is kept for “{name}”. Move it, or "
                    "release that part first.",
                    cloth=cloth.id,
                    piece=placement.piece,
                )


def _unused(shelf: Shelf, cut: Cut) -> None:
    """Refuse when an offcut of the cut is not there as it was left."""
    for other in shelf.cuts.values():
        for cloth in other.cloths:
            if cloth.id in cut.offcuts:
                raise ChangeConflict(
                    f"The cut for “{shelf.garment_name(cut.garment)}” cannot be taken back: “{cloth.name}” has since been "
                    f"cut for “{shelf.garment_name(other.garment)}”. Take that cut back first.",
                    cut=cut.id,
                    used_in=other.id,
                    cloth=cloth.id,
                )
    for id_ in cut.offcuts:
        if id_ not in shelf.cloths:
            raise ChangeConflict(
                f"The cut for “{shelf.garment_name(cut.garment)}” cannot be taken back: one of its offcuts has left the "
                "shelf.",
                cut=cut.id,
                cloth=id_,
            )
        kept: tuple[Reservation, ...] = tuple(r for r in shelf.reserved_by(id_) if not _passed_on(cut, r))
        for reservation in kept:
            raise ChangeConflict(
                f"The cut for “{shelf.garment_name(cut.garment)}” cannot be taken back: “{shelf.cloths[id_].name}” is now "
                f"kept for “{shelf.project_name(reservation.project)}”. Release it there first.",
                cut=cut.id,
                cloth=id_,
                project=reservation.project,
            )


def _passed_on(cut: Cut, reservation: Reservation) -> bool:
    """Whether a reservation on an offcut is only what the cut itself passed on from the whole cloth."""
    return any((r.project, r.part) == (reservation.project, reservation.part) for r in cut.reservations)


def _size(params: Params, name: str, default: float) -> float:
    value = params.get(name, default)
    if isinstance(value, bool) or not isinstance(value, int | float) or not value >= 0:
        raise BadInput(f"“{name}” needs a number of 0 or more.")
    return float(value)
