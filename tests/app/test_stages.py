"""What a mock-up was cut from beside now: drawn over one another, measured, and what was changed in between."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from playwright.sync_api import expect

from app.conftest import Serve, Window
from eke.actions import fitting, history, patterns
from eke.actions.room import open_room
from helpers import tunic

pytestmark = pytest.mark.slow


def test_a_mock_up_is_compared_with_now(tunic_folder: Path, serve: Serve, window: Window) -> None:
    with open_room(tunic_folder) as room:
        hem = patterns.find_edge(room.garment(tunic.TUNIC).pattern, "front.hem")
        patterns.change(room, tunic.TUNIC, "mockup.note", {"noticed": "short, and wide at the waist"})
        knots = [(0.0, 0.0), (150.0, 8.0), (340.0, 0.0)]
        taken = fitting.take_in(room, tunic.TUNIC, "side", knots, reason="wide")
        patterns.change(room, tunic.TUNIC, "fit.hem", {"edge": hem.id, "by_mm": 25.0})
        history.switch_change(room, taken.id, False, tunic.TUNIC)
    s = window(serve(tunic_folder))
    s.page.get_by_role("link", name="Tunic").click()
    s.settled()
    s.peg("Mock-ups")
    s.page.get_by_role("button", name="Compare mock-up 1 with now").click()
    s.settled()
    slip = s.part("Two stages compared")
    earlier, later = (slip.get_by_role("combobox", name=name) for name in ("Earlier", "Later"))
    expect(earlier.locator("option:checked")).to_have_text("Mock-up 1 was cut from this")
    expect(later.locator("option:checked")).to_have_text("Now")
    # drawn over one another: both pieces changed, each with its earlier line
    expect(s.page.locator('[data-how="changed"] .line.before')).to_have_count(2)
    s.sees("up to 25 mm at hem", s.part("Pieces"))
    row = s.part("Measures of the sewn garment").get_by_role("row").filter(has_text="side seam")
    expect(row).to_contain_text("+25 mm")
    changes = s.part("What was changed")
    s.sees("Made hem of front 2.5 cm longer", changes)
    off = changes.get_by_role("listitem").filter(has_text="Took in side by up to 8 mm")
    expect(off).to_contain_text("made, and switched off")
    if out := os.environ.get("EKE_LOOK"):
        s.page.wait_for_timeout(1500)
        s.page.screenshot(path=f"{out}/stages.png")
        s.page.set_viewport_size({"width": 390, "height": 844})
        s.page.wait_for_timeout(1500)
        s.page.screenshot(path=f"{out}/stages-phone.png")
        s.page.set_viewport_size({"width": 1280, "height": 800})
    # another later stage, by keyboard: before the hem, with the side taken in
    later.focus()
    later.select_option(label="Took in side by up to 8 mm")
    s.settled()
    expect(s.part("Pieces")).to_contain_text("up to 4 mm at side")
    expect(changes).not_to_contain_text("hem")
    s.page.keyboard.press("Escape")
    slip.get_by_role("button", name="Back to the mock-ups").click()
    s.page.get_by_role("button", name="Compare two stages", exact=True).click()
    s.settled()
    expect(earlier.locator("option:checked")).to_have_text("Mock-up 1 was cut from this")

    # from the journal too
    s.peg("Journal")
    s.page.get_by_role("button", name="Compare two stages of Tunic").click()
    s.settled()
    s.sees("up to 25 mm at hem", s.part("Pieces"))
