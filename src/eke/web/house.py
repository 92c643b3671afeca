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
from dataclasses import dataclass, field
from typing import Annotated

from fastapi import Depends, Request

from eke.actions.room import Room, now
from eke.jobs import Runner
from eke.web.events import Hub
from eke.web.jobs_board import Board


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
    port: int
    key: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    token: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    started: str = field(default_factory=now)

    @property
    def origin(self) -> str:
        """Where the windows come from."""
        return f"http://127.0.0.1:{self.port}"

    @property
    def first_address(self) -> str:
        """The address that opens a window."""
        return f"{self.origin}/?key={self.key}"

    def close(self) -> None:
        """Stop all jobs, keep what they have found, and end all streams. The room stays open."""
        self.board.close()
        self.events.close()


def make_house(room: Room, *, port: int, runner: Runner | None = None) -> House:
    """Return a house for an open workroom."""
    hub = Hub()
    runner = runner or Runner()
    return House(room, runner, hub, Board(runner, hub), port)


def house_of(request: Request) -> House:
    """Return the house that serves this request."""
    found: House = request.app.state.house
    return found


HouseDep = Annotated[House, Depends(house_of)]
