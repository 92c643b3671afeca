"""Photographs of one paper or cloth, joined into one that is read like any other."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter

from eke.actions import found as found_actions
from eke.actions import joined as actions
from eke.actions.photographs import Photograph
from eke.errors import BadInput, EkeError, HonestNo
from eke.web.house import House, HouseDep
from eke.web.jobs_board import Ended
from eke.web.models.joined import JoinSaid
from eke.web.models.workroom import JobView

router = APIRouter(prefix="/api", tags=["photographs"])


@router.post("/joined")
def join(said: JoinSaid, house: HouseDep) -> JobView:
    """Lay photographs together; the job's ``subject`` is the photograph that joins them, and is there at once."""
    return start_joining(house, actions.lay_together(house.room, said.photographs))


def start_joining(house: House, picture: Photograph) -> JobView:
    """Join the parts of a photograph in a worker; what is found, or why nothing is, is kept when it ends."""
    room, said = house.room, picture.said

    def keep(made: dict[str, Any]) -> Ended:
        actions.keep_joined(room, picture.id, made, said)
        sentence = found_actions.found_sentence(made["found"])
        return Ended(sentence, {"photograph": picture.id, "subject": picture.subject})

    def refuse(error: EkeError) -> str:
        if isinstance(error, HonestNo | BadInput):  # an answer, and no mishap of the computation
            found_actions.keep_refused(room, picture.id, error, said)
        return error.message

    return house.board.start(
        "trace", picture.id, f"Joining {len(picture.parts)} photographs", actions.JOIN_JOB,
        actions.join_words(room, picture), on_done=keep, on_failed=refuse,
    )  # fmt: skip
