"""What a garment measures when it is sewn, beside the body."""

from __future__ import annotations

from fastapi import APIRouter

from eke.actions import measures as taking
from eke.web.house import HouseDep
from eke.web.models.measures import MeasureView
from eke.web.views.measures import measure_view

router = APIRouter(prefix="/api/garments/{garment}", tags=["garment"])


@router.get("/measures")
def measures(garment: str, house: HouseDep) -> list[MeasureView]:
    """Return the finished measures: rounds with the wearing ease, hems, then lengths of seams and centres."""
    return [measure_view(one) for one in taking.measures(house.room, garment).finished]
