"""Stages of a garment, and two of them beside each other."""

from __future__ import annotations

from fastapi import APIRouter, Response

from eke.actions import revisions as comparing
from eke.web.house import HouseDep
from eke.web.models.revisions import StageView, TwoStagesView
from eke.web.routes.garments import sent
from eke.web.views.revisions import stage_view, two_stages_view

router = APIRouter(prefix="/api/garments/{garment}", tags=["history"])


@router.get("/stages")
def stages(garment: str, house: HouseDep) -> list[StageView]:
    """Return every stage that the garment can be looked at in, in the order in which they were reached."""
    return [stage_view(one) for one in comparing.stages(house.room, garment)]


@router.get("/compare", response_model=TwoStagesView)
def compare(garment: str, house: HouseDep, earlier: str | None = None, later: str | None = None) -> Response:
    """Return what differs between two stages, each an id, "now" or "mock-up 2"; without them the newest mock-up and now."""
    found = comparing.compare_stages(house.room, garment, earlier, later)
    return sent(two_stages_view(found, house.room.outlines))
