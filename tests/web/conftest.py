"""A fresh workroom, a house for it, and a window that has been let in."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from eke.actions.room import Room, make_room
from eke.web.app import make_app
from eke.web.house import House, make_house
from helpers import tunic

PORT = 8123


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Room]:
    """An empty workroom."""
    with make_room(tmp_path / "room") as made:
        yield made


@pytest.fixture
def house(room: Room) -> Iterator[House]:
    """A house for the workroom."""
    made = make_house(room, port=PORT)
    yield made
    made.close()


@pytest.fixture
def client(house: House) -> Iterator[TestClient]:
    """A window that has been let in: cookie, Origin and X-Eke as the app sends them."""
    with TestClient(
        make_app(house),
        base_url=house.origin,
        headers={"Origin": house.origin, "X-Eke": "1"},
        follow_redirects=False,
    ) as made:
        assert made.get("/", params={"key": house.key}).status_code == 303
        yield made


@pytest.fixture
def sewn(room: Room) -> Room:
    """A workroom with a project and a tunic whose sides and shoulders are sewn."""
    tunic.start_tunic(room)
    return room
