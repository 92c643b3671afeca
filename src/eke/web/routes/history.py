"""Histories, of the workroom and of each garment: take back, do again, switch off, other numbers."""

from __future__ import annotations

from fastapi import APIRouter, Response

from eke.actions import history as histories
from eke.actions.room import Room
from eke.actions.steps import shown_step, step_pictures
from eke.web.house import HouseDep
from eke.web.models.common import AmendSaid, DoneView, Expected, SwitchSaid
from eke.web.models.garment import HistoryView, StepView
from eke.web.routes.garments import sent
from eke.web.views.done import done_view
from eke.web.views.history import history_view, step_view

router = APIRouter(prefix="/api", tags=["history"])


def _history(room: Room, garment: str | None, pictures: bool = False) -> HistoryView:
    drawn = step_pictures(room, garment) if pictures and garment is not None else None
    return history_view(histories.told(room, garment), drawn)


# ---- of a garment


@router.get("/garments/{garment}/history", response_model=HistoryView)
def garment_history(garment: str, house: HouseDep, pictures: bool = False) -> Response:
    """Return the steps of a garment, with small pictures where they are asked for."""
    return sent(_history(house.room, garment, pictures))


@router.get("/garments/{garment}/history/{change}", response_model=StepView)
def garment_step(garment: str, change: str, house: HouseDep) -> Response:
    """Return one step, the pieces before and after it."""
    return sent(step_view(shown_step(house.room, garment, change), house.room.outlines))


@router.post("/garments/{garment}/undo")
def garment_undo(garment: str, said: Expected, house: HouseDep) -> DoneView:
    """Take back the last step of a garment."""
    return done_view(histories.take_back(house.room, garment, expected=said.expected))


@router.post("/garments/{garment}/redo")
def garment_redo(garment: str, said: Expected, house: HouseDep) -> DoneView:
    """Do again what was taken back last."""
    return done_view(histories.do_again(house.room, garment, expected=said.expected))


@router.post("/garments/{garment}/history/{change}/switch")
def garment_switch(garment: str, change: str, said: SwitchSaid, house: HouseDep) -> DoneView:
    """Switch a step of a garment off, or on again."""
    return done_view(histories.switch_change(house.room, change, said.on, garment, expected=said.expected))


@router.post("/garments/{garment}/history/{change}/amend")
def garment_amend(garment: str, change: str, said: AmendSaid, house: HouseDep) -> DoneView:
    """Give a step of a garment other numbers; those not named stay."""
    return done_view(histories.amend_change(house.room, change, said.params, garment, expected=said.expected))


# ---- of the workroom: cloths, money, cuts, projects


@router.get("/workroom/history", response_model=HistoryView)
def workroom_history(house: HouseDep) -> Response:
    """Return the steps of the workroom."""
    return sent(_history(house.room, None))


@router.post("/workroom/undo")
def workroom_undo(said: Expected, house: HouseDep) -> DoneView:
    """Take back the last step of the workroom."""
    return done_view(histories.take_back(house.room, expected=said.expected))


@router.post("/workroom/redo")
def workroom_redo(said: Expected, house: HouseDep) -> DoneView:
    """Do again what was taken back last in the workroom."""
    return done_view(histories.do_again(house.room, expected=said.expected))


@router.post("/workroom/history/{change}/switch")
def workroom_switch(change: str, said: SwitchSaid, house: HouseDep) -> DoneView:
    """Switch a step of the workroom off, or on again."""
    return done_view(histories.switch_change(house.room, change, said.on, expected=said.expected))
