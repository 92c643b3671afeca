"""A wearer's usual changes; each is made by the one route for changes, with what is offered here."""

from __future__ import annotations

from fastapi import APIRouter

from eke.actions import usual as usuals
from eke.web.house import HouseDep
from eke.web.models.common import DoneView
from eke.web.models.usual import UsualSaid, UsualView, WearerSaid
from eke.web.views.done import done_view
from eke.web.views.usual import usual_view

router = APIRouter(prefix="/api/garments/{garment}", tags=["garment"])


@router.get("/usual")
def usual(garment: str, house: HouseDep) -> UsualView:
    """Return what was changed on other garments of the same wearer and not on this one."""
    return usual_view(usuals.usual(house.room, garment))


@router.post("/usual")
def usual_said(garment: str, said: UsualSaid, house: HouseDep) -> DoneView:
    """Say that a usual change is not for this garment, or may be offered again."""
    act = usuals.here_again if said.offered else usuals.not_here
    return done_view(act(house.room, garment, said.key, expected=said.expected))


@router.post("/wearer")
def wearer(garment: str, said: WearerSaid, house: HouseDep) -> DoneView:
    """Say whom a garment is made for."""
    return done_view(usuals.made_for(house.room, garment, said.name, expected=said.expected))
