"""All that a running server holds, handed to every route.

::

    from eke.web.house import HouseDep

    router = APIRouter(prefix="/api", tags=["shelf"])

    @router.get("/shelf")
    def shelf(house: HouseDep) -> ShelfView:
        return shelf_view(house.room.shelf())

Routes are plain ``def`` functions: they run in threads, where the store may be used.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Final, Literal

from fastapi import Depends, Request

from eke.actions.photographs import SHELF
from eke.actions.room import WORKROOM_LOG, Room, now
from eke.jobs import Runner
from eke.store import Committed
from eke.web.events import Hub
from eke.web.jobs_board import Board
from eke.web.models.workroom import RevisionEvent
from eke.web.phone import PhoneDoor

About = Literal["history", "photographs", "lay", "ticks"]


_ABOUT: Final[Mapping[str, tuple[About, str]]] = {
    "photograph": ("photographs", "The photographs have changed."),
    "trace": ("photographs", "The photographs have changed."),
    "lay": ("lay", "There is a new lay."),
    "ticks": ("ticks", "The order of work has a tick more or less."),
}
"""Kinds of document that a window shows, by what of it changes."""


@dataclass(slots=True)
class House:
    """A workroom that is being served: the room, its workers, its jobs, its windows, its keys.

    ``key`` opens a window (it is in the first address, once per start); ``token`` is what the window's cookie
    then holds. They differ, so that neither is found where the other is written.
    """

    room: Room
    runner: Runner
    events: Hub
    board: Board
    phone: PhoneDoor
    port: int
    key: str = field(default_factory=lambda: secrets.token_urlsafe(24), repr=False)
    token: str = field(default_factory=lambda: secrets.token_urlsafe(24), repr=False)
    started: str = field(default_factory=now)

    @property
    def origin(self) -> str:
        """Where the windows come from."""
        return f"http://127.0.0.1:{self.port}"

    @property
    def first_address(self) -> str:
        """The address that opens a window."""
        return f"{self.origin}/?key={self.key}"

    def tell(self, committed: Committed) -> None:
        """Send what a commit changed to every window. The one place where revisions are published."""
        for log, revision in committed.revisions.items():
            sentence = self.room.said_at(log, revision)
            self.events.publish(RevisionEvent(log=log, revision=revision, sentence=sentence))
        for kind, subject in sorted(committed.documents, key=str):
            said = _ABOUT.get(kind)
            if said is None or subject is None:
                continue
            about, sentence = said
            log = WORKROOM_LOG if subject == SHELF else subject
            with self.room.store.read() as reader:
                revision = reader.head(log).revision
            self.events.publish(RevisionEvent(log=log, revision=revision, sentence=sentence, about=about))

    def close(self) -> None:
        """Stop all jobs, keep what they have found, and end all streams. The room stays open."""
        self.phone.close()
        self.board.close()
        self.events.close()


def make_house(room: Room, *, port: int, runner: Runner | None = None, key: str | None = None) -> House:
    """Return a house for an open workroom; ``key`` is the one that was printed, or a new one is made."""
    hub = Hub()
    runner = runner or Runner()
    house = House(room, runner, hub, Board(runner, hub), PhoneDoor(room, hub), port)
    if key is not None:
        house.key = key
    room.store.on_commit(house.tell)
    return house


async def house_of(request: Request) -> House:
    """Return the house that serves this request. In the event loop: a thread for so little would cost more."""
    found: House = request.app.state.house
    return found


HouseDep = Annotated[House, Depends(house_of)]
