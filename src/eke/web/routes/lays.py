"""The lay: looking at it, laying in a worker, by hand, what to give up, cutting."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query

from eke.actions import lay_by_hand, laying, lays
from eke.actions.work import LAY_JOB
from eke.cutting import plan_from_json
from eke.web.house import HouseDep
from eke.web.jobs_board import Ended
from eke.web.models.common import DoneView
from eke.web.models.lay import ByHandSaid, LaySaid, LayView, RolesSaid, RoleWord, StintView
from eke.web.models.workroom import JobView
from eke.web.views.done import done_view
from eke.web.views.lays import lay_view, placed, stint_view

router = APIRouter(prefix="/api", tags=["lay"])

Roles = Annotated[list[RoleWord] | None, Query()]


@router.get("/garments/{garment}/lay")
def look(garment: str, house: HouseDep, roles: Roles = None) -> LayView:
    """Return how the lay stands; before the first one, what is to be laid and on what."""
    found = lays.lay_of(house.room, garment, _roles(roles))
    return lay_view(found, house.room.shelf(), lay_by_hand.broken(found))


@router.post("/garments/{garment}/lay")
def lay(garment: str, said: LaySaid, house: HouseDep) -> JobView:
    """Lay the pieces in a worker; what it has found is kept when it ends or is stopped."""
    room = house.room
    about, args = lays.prepare_lay(
        room, garment, roles=_roles(said.roles), cloths=said.cloths, seconds=said.seconds, seed=said.seed,
        stints=said.stints, match_stripes=said.match_stripes, keep=placed(said.keep),
    )  # fmt: skip

    began_on = lays.moved_by_hand(room, about.garment, _roles(said.roles))

    def shown(value: dict[str, Any]) -> dict[str, Any]:
        return lay_view(about.with_plan(plan_from_json(value)), room.shelf()).model_dump(mode="json")

    def keep(value: dict[str, Any]) -> Ended:
        pinned = any(one.locked for one in said.keep)
        found, sentence = lays.keep_lay(room, value, by_hand=pinned, began_on=began_on)
        return Ended(sentence, lay_view(found, room.shelf()).model_dump(mode="json"))

    return house.board.start(
        "lay", about.garment, f"Laying “{about.name}”", LAY_JOB, args, on_improved=shown, on_done=keep
    )


@router.post("/garments/{garment}/lay/check")
def check(garment: str, said: ByHandSaid, house: HouseDep) -> LayView:
    """Say what is wrong with a lay made by hand; nothing is kept."""
    found, faults = lay_by_hand.check_by_hand(
        house.room, garment, placed(said.placements), _roles(said.roles)
    )
    return lay_view(found, house.room.shelf(), faults)


@router.put("/garments/{garment}/lay")
def keep_by_hand(garment: str, said: ByHandSaid, house: HouseDep) -> LayView:
    """Keep a lay made by hand, when nothing is wrong with it."""
    found = lay_by_hand.keep_by_hand(house.room, garment, placed(said.placements), _roles(said.roles))
    return lay_view(found, house.room.shelf(), lay_by_hand.broken(found))


@router.post("/garments/{garment}/lay/exchange")
def exchange(garment: str, said: RolesSaid, house: HouseDep) -> LayView:
    """Put the lay that is kept beside on the table, and the one on the table beside."""
    found = lays.exchange(house.room, garment, _roles(said.roles))
    return lay_view(found, house.room.shelf(), lay_by_hand.broken(found))


@router.get("/garments/{garment}/lay/stints")
def stints(garment: str, house: HouseDep, roles: Roles = None) -> list[StintView]:
    """Return what could be given up, least harm first."""
    return [stint_view(one) for one in lays.ways_out(house.room, garment, _roles(roles))]


@router.post("/garments/{garment}/lay/confirm")
def confirm(garment: str, said: RolesSaid, house: HouseDep) -> DoneView:
    """Note that the plan has been cut."""
    return done_view(laying.confirm_cut(house.room, garment, _roles(said.roles)))


def _roles(roles: list[RoleWord] | None) -> tuple[RoleWord, ...]:
    """Each role once; none said: what is seen."""
    return tuple(dict.fromkeys(roles or ["outer"]))
