"""The shelf: cloths from typed measures, what is said of them, flaws, keeping them for a project."""

from __future__ import annotations

from fastapi import APIRouter

from eke.actions import cloths, shelf
from eke.actions.history import ways_back
from eke.actions.room import WORKROOM_LOG, find_cloth_id
from eke.units import Money
from eke.web.house import HouseDep
from eke.web.models.cloth import ClothDescribed, ClothSaid, ClothView, FlawSaid, ProjectNamed, ShelfView
from eke.web.models.common import DoneView
from eke.web.views.done import done_view
from eke.web.views.shelf import cloth_view, shelf_view

router = APIRouter(prefix="/api", tags=["shelf"])


@router.get("/shelf")
def look(house: HouseDep) -> ShelfView:
    """Return the shelf."""
    with house.room.store.read() as reader:
        found, revision = house.room.shelf(reader), reader.head(WORKROOM_LOG).revision
    return shelf_view(found, revision, ways_back(house.room))


@router.get("/cloths/{cloth}")
def one(cloth: str, house: HouseDep) -> ClothView:
    """Return one cloth."""
    found = house.room.shelf()
    return cloth_view(found.cloths[find_cloth_id(found, cloth)], found)


@router.post("/cloths")
def add(said: ClothSaid, house: HouseDep) -> DoneView:
    """Put a cloth on the shelf from typed measures or a drawn outline."""
    return done_view(
        shelf.put_on_shelf(
            house.room, said.name, shape=said.shape, measures_mm=said.measures_mm, outline=said.outline, said=said.said,
            price=None if said.price is None else Money.parse(said.price, said.currency), project=said.project,
        )
    )  # fmt: skip


@router.patch("/cloths/{cloth}")
def describe(cloth: str, said: ClothDescribed, house: HouseDep) -> DoneView:
    """Say words of a cloth anew."""
    price = None if said.price is None else Money.parse(said.price, said.currency)
    return done_view(shelf.describe(house.room, cloth, said.said, price=price, expected=said.expected))


@router.post("/cloths/{cloth}/flaws")
def mark_flaw(cloth: str, said: FlawSaid, house: HouseDep) -> DoneView:
    """Mark a place on a cloth as flawed."""
    return done_view(cloths.mark_flaw(house.room, cloth, said.polygon, said.kind, said.quality))


@router.post("/cloths/{cloth}/flaws/{flaw}/drop")
def drop_flaw(cloth: str, flaw: str, house: HouseDep) -> DoneView:
    """Take a marked flaw off again."""
    return done_view(shelf.drop_flaw(house.room, cloth, flaw))


@router.post("/cloths/{cloth}/wash")
def wash(cloth: str, house: HouseDep) -> DoneView:
    """Note that a cloth has been washed."""
    return done_view(cloths.wash_cloth(house.room, cloth))


@router.post("/cloths/{cloth}/discard")
def discard(cloth: str, house: HouseDep) -> DoneView:
    """Take a cloth off the shelf uncut."""
    return done_view(cloths.discard_cloth(house.room, cloth))


@router.post("/cloths/{cloth}/keep")
def keep(cloth: str, said: ProjectNamed, house: HouseDep) -> DoneView:
    """Keep a cloth for a project."""
    return done_view(cloths.reserve_cloth(house.room, cloth, said.project))


@router.post("/cloths/{cloth}/let-go")
def let_go(cloth: str, said: ProjectNamed, house: HouseDep) -> DoneView:
    """Let a cloth go from a project."""
    return done_view(cloths.release_cloth(house.room, cloth, said.project))
