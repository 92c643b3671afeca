from collections.abc import Iterator
from pathlib import Path

import pytest

from eke.actions.room import Room, make_room
from helpers import tunic


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Room]:
    """An empty workroom."""
    with make_room(tmp_path / "room") as made:
        yield made


@pytest.fixture
def sewn(room: Room) -> Room:
    """A workroom with a project and a tunic whose sides and shoulders are sewn."""
    tunic.start_tunic(room)
    return room
