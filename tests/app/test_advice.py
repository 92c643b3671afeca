"""Advice in the app: an armhole gapes, each remedy is looked at, made, found in the history with what was seen, undone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Locator, expect

from app.conftest import Serve, Window
from app.sewist import Sewist

pytestmark = pytest.mark.slow


def at_mock_ups(s: Sewist) -> dict[str, Any]:
    """Go to the mock-ups of the tunic; return the garment as the server tells it."""
    s.page.get_by_role("link", name="Tunic").click()
    s.settled()
    s.peg("Mock-ups")
    garment = s.told_by("workroom")["projects"][0]["garments"][0]["id"]
    told: dict[str, Any] = s.told_by(f"garments/{garment}")
    return told


def armhole_of(garment: dict[str, Any]) -> str:
    (found,) = [
        e["id"]
        for p in garment["pieces"]
        if p["name"] == "front"
        for e in p["edges"]
        if e["name"] == "armhole"
    ]
    return str(found)


def ask(s: Sewist, armhole: str) -> Locator:
    """Say that 12 mm gape at one armhole of the front; return the part with the advice."""
    part = s.part("Ask what to do")
    part.get_by_text("Something pulls, gapes or hangs").click()
    s.press("The armhole gapes", part)
    s.sees("Press the armhole, where the fold was pinned on the drawing.", part)
    s.touch_edge(armhole)
    s.writes("How much is pinned out at the armholes?", "12 mm", part)
    part.get_by_role("radio", name="on one half").check()
    s.settled()
    s.sees("12 mm at this place.", part)
    return part


def test_every_remedy_for_a_gaping_armhole_is_made_and_taken_back(
    tunic_folder: Path, serve: Serve, window: Window
) -> None:
    s = window(serve(tunic_folder))
    garment = at_mock_ups(s)
    address = f"garments/{garment['id']}"
    part = ask(s, armhole_of(garment))
    count = part.get_by_role("button", name="Look at it").count()
    assert count >= 4  # out of the side alone and shared, mixed with easing, lower at the shoulder
    for k in range(count):
        if k > 0:
            part = ask(s, armhole_of(garment))
        expect(part.get_by_role("button", name="Look at it")).to_have_count(count)
        part.get_by_role("button", name="Look at it").nth(k).click()
        s.settled()
        assert s.told_by(address)["pieces"] == garment["pieces"]  # looking changes nothing
        s.press("Make this change")
        assert s.told_by(address)["pieces"] != garment["pieces"]
        note = s.told_by(f"{address}/history")["lines"][-1]["note"]
        assert note.startswith("The armhole gapes, 12 mm on one half: ")
        s.sees("Something pulls, gapes or hangs", part)  # the conversation is over
        s.takes_back()
        assert s.told_by(address)["pieces"] == garment["pieces"]


def test_easing_is_noted_for_the_sewing_by_keyboard_alone(
    tunic_folder: Path, serve: Serve, window: Window
) -> None:
    s = window(serve(tunic_folder))
    garment = at_mock_ups(s)
    part = s.part("Ask what to do")
    part.get_by_text("Something pulls, gapes or hangs").press("Enter")
    part.get_by_role("button", name="The armhole gapes").press("Enter")
    part.get_by_role("combobox", name="Or choose the edge here").select_option(label="armhole of front")
    s.writes("How much is pinned out at the armholes?", "3 mm", part)
    part.get_by_role("radio", name="on one half").press("Space")
    s.settled()
    part.get_by_role("button", name="Note it for the sewing").press("Enter")
    s.settled()
    s.sees("Noted.", part)
    noticed = s.told_by(f"garments/{garment['id']}")["mock_ups"][-1]["noticed"]
    assert noticed == "The armhole gapes, 3 mm on one half: 3 mm eased onto a stay"
