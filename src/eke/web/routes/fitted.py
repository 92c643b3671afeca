"""A traced mock-up piece: how it lies on its pattern piece, and carrying over what was moved."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query

from eke.actions.fitted import Sides, carry_fitted, offer_fitted
from eke.errors import BadInput
from eke.web.house import HouseDep
from eke.web.models.common import DoneView
from eke.web.models.fitted import CarrySaid, FittedView
from eke.web.views.done import done_view
from eke.web.views.fitted import fitted_view

router = APIRouter(prefix="/api/garments/{garment}", tags=["garment"])


@router.get("/pieces/{piece}/fitted/{traced}")
def fitted(
    garment: str, piece: str, traced: str, house: HouseDep, both: Annotated[list[str] | None, Query()] = None
) -> FittedView:
    """Return where a traced mock-up piece differs from the piece it was cut from; at edges in ``both`` the mate moves too."""
    sides: dict[str, Sides] = dict.fromkeys(both or (), "both")
    offered = offer_fitted(house.room, garment, piece, traced, sides)
    return fitted_view(offered, house.room.garment(garment).pattern)


@router.post("/carry")
def carry(garment: str, said: CarrySaid, house: HouseDep) -> DoneView:
    """Carry what was moved at the chosen edges to the pattern, as changes that can each be taken back."""
    twice = set(said.this) & set(said.both)
    if twice:
        raise BadInput("An edge is carried over on one piece or on both, not in two ways.")
    chosen: dict[str, Sides] = {**dict.fromkeys(said.this, "this"), **dict.fromkeys(said.both, "both")}
    made = carry_fitted(house.room, garment, said.piece, said.traced, chosen, expected=said.expected)
    return done_view(made.last)
