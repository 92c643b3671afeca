"""A mock-up piece that was traced after the fitting: laid on its piece, looked at, carried over, and taken back."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import expect

from app.conftest import Serve, Window
from eke.actions import patterns
from eke.actions.room import make_room
from helpers import tunic
from helpers.fitting import TUNIC, taken_in, trace

pytestmark = pytest.mark.slow

CARD = "A mock-up piece, traced after the fitting"


@pytest.fixture
def fitted_folder(tmp_path: Path) -> Path:
    """A tunic whose front was fitted and traced: 9 mm were pinned out at the side."""
    folder = tmp_path / "room"
    with make_room(folder) as room:
        tunic.start_tunic(room)
        patterns.change(room, TUNIC, "mockup.note", {"noticed": "wide at the waist"})
        trace(room, taken_in(room), photo="")
    return folder


def test_a_traced_mock_up_piece_is_carried_over(fitted_folder: Path, serve: Serve, window: Window) -> None:
    s = window(serve(fitted_folder))
    s.page.get_by_role("link", name="Tunic").click()
    s.settled()
    s.peg("Mock-ups")
    card = s.part(CARD)
    card.get_by_text("Lay it on its pattern piece").click()
    card.get_by_label("Traced piece").select_option(label="fitted front")
    card.get_by_label("It was cut from").select_option(label="front")
    s.sees("what lies nearer counts as not moved", card)
    side = card.get_by_role("listitem").filter(has_text="side")
    s.sees("inside", side)
    s.press("Look at it", side)
    s.sees("Took in side", s.part("The change"))
    side.get_by_label("Carry it over").check()
    s.sees("The piece sewn there moves by as much", side)
    s.press("Carry over one edge", card)
    s.settled()
    expect(card.get_by_role("listitem")).to_have_count(0)
    card.get_by_text("Lay it on its pattern piece").click()
    s.sees("No traced piece is waiting", card)
    for _ in range(3):
        s.takes_back()
    card.get_by_label("Traced piece").select_option(label="fitted front")
