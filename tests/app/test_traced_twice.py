"""A pocket traced twice: laid on one another, edge by edge, made one, and taken back."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

from app.conftest import Serve, Window
from eke.actions.room import open_room
from helpers import tunic

pytestmark = pytest.mark.slow


def test_two_tracings_are_made_one(tunic_folder: Path, serve: Serve, window: Window) -> None:
    with open_room(tunic_folder) as room:
        for name, wider in (("pocket", 0.0), ("pocket again", 4.0)):
            ends = [(0.0, 0.0), (180.0 + wider, 0.0), (180.0 + wider, 200.0), (0.0, 200.0)]
            rows = [
                {"kind": "line", "points": [p, q]} for p, q in zip(ends, (*ends[1:], ends[0]), strict=True)
            ]
            room.change_garment(tunic.TUNIC, "trace.add", {"name": name, "segments": rows, "corners": ends})
    s = window(serve(tunic_folder))
    s.page.get_by_role("link", name="Tunic").click()
    s.settled()
    s.peg("Pattern")
    x, y = s.page.locator('[data-kind="piece"]').last.evaluate(
        "(one) => { const box = one.getBoundingClientRect(); return [box.x + box.width / 2, box.y + box.height / 2]; }"
    )
    s.page.mouse.click(x, y)
    s.settled()
    s.page.get_by_text("Traced twice?").click()
    s.settled()
    s.press("Lay it on this one")
    s.sees(re.compile(r"They lie up to \d"))
    if out := os.environ.get("EKE_LOOK"):
        s.page.wait_for_timeout(1500)
        s.page.screenshot(path=f"{out}/twice.png")
        s.page.set_viewport_size({"width": 390, "height": 844})
        s.page.wait_for_timeout(1500)
        s.page.screenshot(path=f"{out}/twice-phone.png")
        s.page.set_viewport_size({"width": 1280, "height": 800})
    s.press("Make one of them")
    s.reads("Took the mean of two tracings of")
    garment = s.told_by("workroom")["projects"][0]["garments"][0]["id"]
    assert len(s.told_by(f"garments/{garment}")["pieces"]) == 3
    assert "Taken back" in s.takes_back()
    assert len(s.told_by(f"garments/{garment}")["pieces"]) == 4
