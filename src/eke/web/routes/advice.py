"""Advice on what a mock-up showed; nothing is applied here."""

from __future__ import annotations

from fastapi import APIRouter

from eke.actions import advice as advising
from eke.pattern.model import EdgeId, EdgePlace
from eke.web.house import HouseDep
from eke.web.models.advice import EffectView, FitAdviceSaid, FitAdviceView, ShowingView
from eke.web.models.common import ChangeSaid
from eke.web.views.advice import advice_view, effect_view, showing_view

router = APIRouter(prefix="/api/garments/{garment}", tags=["garment"])


@router.get("/advice")
def showings(garment: str, house: HouseDep) -> list[ShowingView]:
    """Return what a mock-up may show, from the neck down."""
    house.room.garment(garment)
    return [showing_view(one) for one in advising.showings()]


@router.post("/advice")
def advice(garment: str, said: FitAdviceSaid, house: HouseDep) -> FitAdviceView:
    """Return the remedies that are possible at a place; nothing is kept."""
    told = advising.advice(
        house.room,
        garment,
        said.showing,
        EdgePlace(EdgeId(said.edge), mm=said.mm),
        said.amount_mm,
        whole=said.whole,
        cloth=said.cloth,
        expected=said.expected,
    )
    return advice_view(told)


@router.post("/advice/effect")
def effect(garment: str, said: ChangeSaid, house: HouseDep) -> EffectView:
    """Return what one remedy does to the seams; nothing is kept."""
    return effect_view(advising.effect(house.room, garment, said.kind, said.params, expected=said.expected))
