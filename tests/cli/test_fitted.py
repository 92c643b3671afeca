"""``eke fit traced``: what is told, what is carried over, what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from actions.test_fitted import edge_id, taken_in, trace
from cli.conftest import Run, document, one_sentence
from eke.actions.room import open_room
from helpers.tunic import TUNIC


@pytest.fixture
def fitted(tunic_room: Path) -> Path:
    """A tunic, and its front traced again after 9 mm were pinned at the waist."""
    with open_room(tunic_room) as room:
        trace(room, taken_in(room))
    return tunic_room


def test_it_is_told_and_then_carried_over(eke: Run, fitted: Path) -> None:
    said = eke("fit", "traced", TUNIC, "front", "fitted front").stdout
    assert "worth 1.0 mm" in said
    assert "  hem: as it was, within what the tracing is worth\n" in said
    assert "  side: up to " in said
    assert "--carry “side” leaves" in said
    told = document(eke("fit", "traced", TUNIC, "front", "fitted front", "--json"))
    assert [c["kind"] for c in told["changes"]] == ["fit.take_in"]
    assert told["turned_over"] is False
    done = document(eke("fit", "traced", TUNIC, "front", "fitted front", "--carry", "side", "--json"))
    assert len(done["steps"]) == 2
    with open_room(fitted) as room:
        pattern = room.garment(TUNIC).pattern
        assert len(pattern.pieces) == 2
        (mock_up,) = pattern.mock_ups.values()
        assert mock_up.changes == (done["steps"][0]["id"],)
        assert edge_id(room, "front.side")


def test_what_is_refused(eke: Run, fitted: Path) -> None:
    for words in (("--carry", "sleeve"), ("--carry", "hem"), ("--carry", "side", "--carry-both", "side")):
        one_sentence(eke("fit", "traced", TUNIC, "front", "fitted front", *words, code=2))
    one_sentence(eke("fit", "traced", TUNIC, "front", "back", code=2))
