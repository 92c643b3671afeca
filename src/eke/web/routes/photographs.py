"""Photographs: taking in, describing, tracing, making pieces and cloths of what was found."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, Final

from fastapi import APIRouter, Form, Query, Request, Response, UploadFile

from eke.actions import found as found_actions
from eke.actions import glances
from eke.actions import photographs as actions
from eke.actions.photographs import SHELF, Photograph
from eke.actions.straightened import longest_side, shown_photo, straightened, straightened_word
from eke.actions.work import TRACE_JOB
from eke.errors import BadInput, EkeError, HonestNo
from eke.formats.images import MAX_BYTES
from eke.units import Money
from eke.web.house import House, HouseDep
from eke.web.jobs_board import Ended
from eke.web.models.common import DoneView
from eke.web.models.photographs import CornersSaid, PhotographSaid, PhotographView, TakeCloth, TakePiece
from eke.web.models.workroom import JobView
from eke.web.routes.joined import start_joining
from eke.web.views.done import done_view
from eke.web.views.photographs import photograph_view

router = APIRouter(prefix="/api", tags=["photographs"])

SHOWN_PX: Final = 1600
"""Longest side of a picture on a screen, unless the window asks for another."""
LongestPx = Annotated[int, Query(ge=1, le=20_000)]
JPEG: Final[dict[int | str, dict[str, Any]]] = {200: {"content": {"image/jpeg": {}}}}


@router.get("/subjects/{subject}/photographs")
def photographs(subject: str, house: HouseDep) -> list[PhotographView]:
    """Return the photographs of a garment, or of the shelf, in the order in which they came."""
    pictures = actions.photographs_of(house.room, subject)
    there = _there(house, pictures[0].subject) if pictures else frozenset()
    with house.room.store.read() as reader:
        seen = [glances.kept_glance(reader, p) for p in pictures]
    running = [house.board.running("trace", p.id) for p in pictures]
    return [photograph_view(p, there, j, g) for p, j, g in zip(pictures, running, seen, strict=True)]


@router.post("/subjects/{subject}/photographs")
def take_in(
    subject: str, file: UploadFile, house: HouseDep, cloth: Annotated[bool, Form()] = False
) -> PhotographView:
    """Keep a photograph; it is on disk before the answer."""
    # one byte more than is opened, so that what is too large is refused in words
    data = file.file.read(MAX_BYTES + 1)
    return _shown(
        house, actions.take_in_photograph(house.room, subject, data, file.filename or "", cloth=cloth)
    )


@router.get("/photographs/{photograph}")
def photograph(photograph: str, house: HouseDep) -> PhotographView:
    """Return one photograph."""
    return _shown(house, actions.photograph(house.room, photograph))


@router.patch("/photographs/{photograph}")
def say(photograph: str, said: PhotographSaid, house: HouseDep) -> PhotographView:
    """Say how a photograph is to be read; what is left out stays."""
    return _shown(
        house,
        actions.say_of_photograph(
            house.room,
            photograph,
            references=None if said.references is None else [r.model_dump() for r in said.references],
            square_paper=said.square_paper,
            touches=None if said.touches is None else [t.model_dump() for t in said.touches],
            strokes=None if said.strokes is None else [s.model_dump() for s in said.strokes],
            cloth=said.cloth,
            name=said.name,
        ),
    )


@router.post("/photographs/{photograph}/glance")
def glance(photograph: str, house: HouseDep) -> PhotographView:
    """Look at a photograph quickly, unless that has been done: is it worth going on with it?"""
    glances.glance_at(house.room, photograph)
    return _shown(house, actions.photograph(house.room, photograph))


@router.delete("/photographs/{photograph}")
def put_aside(photograph: str, house: HouseDep) -> DoneView:
    """Take a photograph off the table; it can be brought back."""
    running = house.board.running("trace", photograph)
    done = actions.put_aside(house.room, photograph)
    if running is not None:
        house.board.stop(running.id)
    return done_view(done)


@router.post("/photographs/{photograph}/bring-back")
def bring_back(photograph: str, house: HouseDep) -> DoneView:
    """Put a photograph back on the table."""
    return done_view(actions.bring_back(house.room, photograph))


@router.post("/photographs/{photograph}/trace")
def trace(photograph: str, house: HouseDep) -> JobView:
    """Trace a photograph in a worker; what is found, or why nothing is, is kept when it ends."""
    room = house.room
    with room.store.read() as reader:
        picture = actions.photograph(room, photograph, reader)
        data = reader.photo_bytes(picture.photo)
    if picture.parts:
        return start_joining(house, picture)
    said = picture.said

    def keep(found: dict[str, Any]) -> Ended:
        found_actions.keep_found(room, picture.id, found, said)
        return Ended(
            found_actions.found_sentence(found), {"photograph": picture.id, "subject": picture.subject}
        )

    def refuse(error: EkeError) -> str:
        if isinstance(error, HonestNo | BadInput):  # an answer, and no mishap of the computation
            found_actions.keep_refused(room, picture.id, error, said)
        return error.message

    return house.board.start(
        "trace", picture.id, f"Tracing “{picture.name}”", TRACE_JOB,
        {"data": data, **found_actions.trace_words(picture)},
        on_done=keep, on_failed=refuse,
    )  # fmt: skip


@router.put("/photographs/{photograph}/outlines/{which}/corners")
def move_corners(photograph: str, which: str, said: CornersSaid, house: HouseDep) -> PhotographView:
    """Keep where the maker put the corners of an outline; tracing again forgets them."""
    return _shown(house, found_actions.move_corners(house.room, photograph, which, said.corners))


@router.post("/photographs/{photograph}/pieces")
def take_piece(photograph: str, said: TakePiece, house: HouseDep) -> DoneView:
    """Make a piece of an outline that was found, or trace a piece again with it."""
    return done_view(
        found_actions.take_piece(
            house.room, photograph, said.which, said.name, traced_as=said.traced_as,
            traced_allowance_mm=said.traced_allowance_mm, traced_by=said.traced_by, worn=said.worn, role=said.role, count=said.count, pairs=said.pairs,
            again=said.again, answers=said.answers, corners=said.corners, turn_deg=said.turn_deg,
        )
    )  # fmt: skip


@router.post("/photographs/{photograph}/cloths")
def take_cloth(photograph: str, said: TakeCloth, house: HouseDep) -> DoneView:
    """Put a cloth that was found on the shelf."""
    price = None if said.price is None else Money.parse(said.price, said.currency)
    return done_view(
        found_actions.take_cloth(
            house.room, photograph, said.which, said.name, said=said.said, price=price, project=said.project
        )
    )


@router.get("/photographs/{photograph}/straightened.jpg", response_class=Response, responses=JPEG)
def from_above(
    photograph: str, request: Request, house: HouseDep, longest_px: LongestPx = SHOWN_PX
) -> Response:
    """Return a traced photograph as seen from straight above; it covers ``straightened_box``."""
    picture = actions.photograph(house.room, photograph)
    word = f"{straightened_word(picture)}-{longest_side(longest_px)}"
    return _jpeg(request, word, lambda: straightened(house.room, photograph, longest_px), "private, no-cache")


@router.get("/photos/{sha256}", response_class=Response, responses=JPEG)
def photo(sha256: str, request: Request, house: HouseDep, longest_px: LongestPx = SHOWN_PX) -> Response:
    """Return a photograph, upright, as JPEG. Its address is its content, so it never changes."""
    word = f"{sha256}-{longest_side(longest_px)}"
    with house.room.store.read() as reader:
        reader.photo(sha256)
    return _jpeg(
        request,
        word,
        lambda: shown_photo(house.room, sha256, longest_px),
        "private, max-age=31536000, immutable",
    )


def _jpeg(request: Request, word: str, make: Callable[[], bytes], keep: str) -> Response:
    headers = {"ETag": f'"{word}"', "Cache-Control": keep}
    if headers["ETag"] in request.headers.get("if-none-match", ""):
        return Response(status_code=304, headers=headers)
    return Response(make(), media_type="image/jpeg", headers=headers)


def _shown(house: House, picture: Photograph) -> PhotographView:
    with house.room.store.read() as reader:
        seen = glances.kept_glance(reader, picture)
    running = house.board.running("trace", picture.id)
    return photograph_view(picture, _there(house, picture.subject), running, seen)


def _there(house: House, subject: str) -> frozenset[str]:
    """Ids of the pieces of the garment, and of cloths on the shelf or cut from it."""
    shelf = house.room.shelf()
    ids = {*shelf.cloths, *(c.id for cut in shelf.cuts.values() for c in cut.cloths)}
    if subject != SHELF:
        pattern = house.room.garment(subject).pattern
        ids |= {*pattern.pieces, *(a for a in pattern.aliases if pattern.resolve(a) in pattern.pieces)}
    return frozenset(ids)
