"""The page for the phone: opening it, looking how it stands, closing it."""

from __future__ import annotations

from fastapi import APIRouter

from eke.web.house import HouseDep
from eke.web.models.workroom import PhoneSaid, PhoneView

router = APIRouter(prefix="/api", tags=["phone"])


@router.get("/phone")
def look(house: HouseDep) -> PhoneView:
    """Return how it stands."""
    return house.phone.view()


@router.post("/phone")
def open_it(said: PhoneSaid, house: HouseDep) -> PhoneView:
    """Open the page to the home network for ten minutes, for pictures of one garment or of the shelf."""
    return house.phone.open(said.subject, cloth=said.cloth)


@router.delete("/phone")
def close_it(house: HouseDep) -> PhoneView:
    """Close it; what has arrived stays."""
    return house.phone.close()
