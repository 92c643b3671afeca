"""One garment: all that is known of it, and the one door for all its changes."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Header, Response

from eke.actions import equal_halves, patterns, two_tracings
from eke.actions.history import ways_back
from eke.actions.pegs import pegs_of
from eke.actions.placed import findings_of
from eke.actions.previews import preview
from eke.actions.room import WORKROOM_LOG
from eke.web.house import House, HouseDep
from eke.web.models.common import ChangeSaid, DoneView, Model
from eke.web.models.garment import GarmentView, PegView, PreviewView, ProposalView, WalkView
from eke.web.models.halves import HalvesView, MiddleBy
from eke.web.models.tracings import ComparedView, LikePiecesView
from eke.web.views.done import done_view
from eke.web.views.garment import garment_view, preview_view, proposal_view, walk_view
from eke.web.views.halves import halves_view
from eke.web.views.pegs import peg_view
from eke.web.views.rounding import mm
from eke.web.views.tracings import compared_view

router = APIRouter(prefix="/api/garments/{garment}", tags=["garment"])


def sent(view: Model, etag: str | None = None) -> Response:
    """Return a model as an answer; it is checked already, so it is written only once."""
    headers = {"Cache-Control": "private, no-cache"}
    if etag is not None:
        headers["ETag"] = etag
    return Response(view.model_dump_json(), media_type="application/json", headers=headers)


def etag_of(house: House, garment: str) -> str:
    """Return a word that changes whenever a garment, the workroom that it lies in, or the server does.

    A newer server may tell more of the same revision.
    """
    with house.room.store.read() as reader:
        own = house.room.stored(garment, reader)
        return f'"{own.revision}.{reader.head(WORKROOM_LOG).revision}.{house.started}"'


@router.get("", response_model=GarmentView)
def garment(garment: str, house: HouseDep, if_none_match: Annotated[str | None, Header()] = None) -> Response:
    """Return a garment as it stands: pieces, seams, findings."""
    etag = etag_of(house, garment)
    if if_none_match is not None and etag in if_none_match:
        return Response(status_code=304, headers={"ETag": etag})
    state = house.room.garment(garment)
    return sent(garment_view(state, ways_back(house.room, state.id), house.room.outlines), etag)


@router.get("/pegs")
def pegs(garment: str, house: HouseDep) -> list[PegView]:
    """Return the nine steps of the job as they stand, in the order of the line."""
    return [peg_view(peg) for peg in pegs_of(house.room, garment)]


@router.post("/changes")
def change(garment: str, said: ChangeSaid, house: HouseDep) -> DoneView:
    """Make a change of any kind."""
    done = patterns.change(house.room, garment, said.kind, said.params, said.note, expected=said.expected)
    return done_view(done)


@router.post("/preview", response_model=PreviewView)
def what_if(garment: str, said: ChangeSaid, house: HouseDep) -> Response:
    """Return what a change would do; nothing is kept."""
    made = preview(house.room, garment, said.kind, said.params, expected=said.expected)
    return sent(preview_view(made, house.room.outlines))


@router.get("/proposals")
def proposals(garment: str, house: HouseDep) -> list[ProposalView]:
    """Return the seams that are probably meant, the surest first; those said already are not among them."""
    state = house.room.garment(garment)
    return [proposal_view(state.pattern, one) for one in patterns.proposed_seams(house.room, state.id)]


@router.get("/seams/{seam}/walk", response_model=WalkView)
def walk(garment: str, seam: str, house: HouseDep) -> Any:
    """Return both sides of a seam laid straight, side by side."""
    walked = patterns.walk_seam(house.room, garment, seam)
    found = findings_of(house.room.garment(garment).pattern)
    return sent(walk_view(walked, (f for f in found if walked.seam.id in f.finding.where)))


@router.get("/like-pieces")
def like_pieces(garment: str, house: HouseDep) -> list[LikePiecesView]:
    """Return pairs of pieces that may be two tracings of one, nearest first."""
    pairs = two_tracings.like_pieces(house.room, garment)
    return [LikePiecesView(first=one, second=other, apart_mm=mm(apart)) for one, other, apart in pairs]


@router.get("/pieces/{first}/beside/{second}")
def beside(garment: str, first: str, second: str, house: HouseDep) -> ComparedView:
    """Return how a second tracing of a piece lies on the first; ``trace.combine`` makes them one."""
    return compared_view(*two_tracings.compare_tracings(house.room, garment, first, second))


@router.get("/pieces/{piece}/halves")
def halves(
    garment: str, piece: str, house: HouseDep, edge: str | None = None, middle: MiddleBy | None = None
) -> HalvesView:
    """Return how far both halves of a piece, or of one edge of it, lie apart; ``true.halves`` makes them the same."""
    return halves_view(equal_halves.lay_halves(house.room, garment, piece, edge_id=edge, by=middle))
