"""A length that stays, a corner on a balance line, both halves the same: chosen by pointer or key, seen before made."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from app.conftest import Serve, Window
from app.sewist import Sewist
from eke.actions.room import open_room
from helpers import tunic, yoke

pytestmark = pytest.mark.slow


def look(s: Sewist, name: str) -> None:
    """Take pictures by day and night, wide and narrow, where somebody wants to see them (EKE_LOOK names a folder)."""
    out = os.environ.get("EKE_LOOK")
    if not out:
        return
    for night in ("no", "yes"):
        s.page.evaluate("(night) => { document.documentElement.dataset.night = night; }", night)
        for width, height in ((1280, 800), (390, 844)):
            s.page.set_viewport_size({"width": width, "height": height})
            s.page.wait_for_timeout(900)
            s.page.screenshot(path=f"{out}/{name}-{width}-{night}.png")
    s.page.evaluate("() => { document.documentElement.dataset.night = 'no'; }")
    s.page.set_viewport_size({"width": 1280, "height": 800})
    s.page.wait_for_timeout(300)


def at_pattern(folder: Path, serve: Serve, window: Window) -> tuple[Sewist, str]:
    """A tunic with a yoke that is drawn whole and a waist line on its front, in the room Pattern."""
    with open_room(folder) as room:
        yoke.take_yoke(room)
        line = {
            "piece": "front",
            "id": "w",
            "kind": "balance",
            "name": "waist",
            "points": [[0, 340], [190, 340]],
        }
        room.change_garment(tunic.TUNIC, "mark.set", line)
    s = window(serve(folder), refused=True)
    s.page.get_by_role("link", name="Tunic").click()
    s.settled()
    s.peg("Pattern")
    return s, s.told_by("workroom")["projects"][0]["garments"][0]["id"]


def edge_of(s: Sewist, garment: str, piece: str, name: str) -> dict[str, Any]:
    found = next(p for p in s.told_by(f"garments/{garment}")["pieces"] if p["name"] == piece)
    edge: dict[str, Any] = next(e for e in found["edges"] if e["name"] == name)
    return edge


def test_an_edge_is_made_so_long_held_lost_and_made_so_again(
    tunic_folder: Path, serve: Serve, window: Window
) -> None:
    s, garment = at_pattern(tunic_folder, serve, window)
    side = edge_of(s, garment, "front", "side")
    s.touch_edge(side["id"])
    s.page.keyboard.press("l")
    field = s.page.get_by_role("textbox", name="Make it")
    expect(field).to_be_focused()
    # a length that cannot be is told with the one that can, before anything is made
    field.fill("360 cm")
    field.press("Enter")
    s.sees(re.compile(r"the nearest that works is"))
    s.page.get_by_role("button", name=re.compile(r"^Take \d")).click()
    s.settled()
    field.fill("36 cm")
    field.press("Enter")
    s.settled()
    expect(s.page.locator(".ahead .would-line").first).to_be_attached()
    look(s, "length")
    s.page.keyboard.press("Tab")
    s.page.get_by_role("combobox", name="What stays").select_option("end")
    s.press("Make it so long")
    s.reads("Made “side of front” 36 cm long, to stay so")
    made = edge_of(s, garment, "front", "side")
    assert (made["length_mm"], made["held_mm"]) == (360.0, 360.0)
    s.sees("Its length: held at 36 cm")
    s.sees("Held at", s.part("Its numbers"))
    # a corner is moved later: it is told, and put right by its remedy
    s.page.keyboard.press("Escape")
    s.page.keyboard.press("Escape")
    s.page.evaluate("document.activeElement?.blur()")
    answer = s.context.request.post(
        f"{s.served.base}api/garments/{garment}/changes",
        data={"kind": "corner.move", "params": {"edge": side["id"], "end": "start", "to": [200, -18]}},
        headers={"X-Eke": "1", "Origin": s.served.base.rstrip("/")},
    )
    assert answer.ok, answer.text()
    s.settled()
    s.page.get_by_role("button", name=re.compile("is held at 36 cm")).first.click()
    s.settled()
    s.page.get_by_role("button", name=re.compile("long again; its end stays")).click()
    s.settled()
    assert edge_of(s, garment, "front", "side")["length_mm"] == 360.0
    assert "Taken back" in s.takes_back()


def test_a_corner_is_put_on_the_waist_line_by_keys_alone(
    tunic_folder: Path, serve: Serve, window: Window
) -> None:
    s, garment = at_pattern(tunic_folder, serve, window)
    # front is the first piece: its corners by C, the one between side and armhole is the third
    for _ in range(3):
        s.page.keyboard.press("c")
    s.sees("Corner between side and armhole")
    s.page.keyboard.press("l")
    way = s.page.get_by_role("button", name="Along side")
    expect(way).to_be_focused()
    expect(s.page.locator(".ahead .would-line").first).to_be_attached()
    look(s, "corner")
    s.page.keyboard.press("Enter")
    s.settled()
    s.reads("Put the corner of “front” between “side” and “armhole” on the waist line, to stay there")
    edge = edge_of(s, garment, "front", "armhole")
    assert edge["start_held_on"] == "the waist line"
    assert edge["segments"][0]["points"][0][1] == pytest.approx(340.0, abs=0.001)
    s.sees("It is held on the waist line")
    expect(s.page.get_by_role("img", name="Held on the waist line")).to_be_attached()
    s.press("Let it lie where it is")
    assert edge_of(s, garment, "front", "armhole")["start_held_on"] is None
    assert "Taken back" in s.takes_back()
    assert edge_of(s, garment, "front", "armhole")["start_held_on"] == "the waist line"


def test_both_halves_of_a_yoke_are_made_the_same(tunic_folder: Path, serve: Serve, window: Window) -> None:
    s, garment = at_pattern(tunic_folder, serve, window)
    before = edge_of(s, garment, "yoke", "right")["length_mm"]
    for _ in range(3):
        s.page.keyboard.press("p")
    s.page.keyboard.press("h")
    s.sees("Both halves of yoke")
    s.sees(re.compile(r"They lie up to \d"))
    keep = s.page.get_by_role("combobox", name="What is kept")
    keep.select_option(label="the left half")
    s.settled()
    expect(s.page.locator(".ahead .would-line").first).to_be_attached()
    look(s, "halves")
    # over another line nothing can be told: said in words, and another can be chosen
    middle = s.page.get_by_role("combobox", name="Its middle is")
    middle.select_option(label="across the grain")
    s.settled()
    s.sees(re.compile("yoke"), s.page.locator(".held"))
    expect(s.page.get_by_role("button", name="Make both the same")).to_have_count(0)
    middle.select_option(label="along the grain")
    s.settled()
    s.press("Make both the same")
    s.reads(re.compile(r"Made both halves of “yoke” like its left half; they lay up to"))
    left, right = (edge_of(s, garment, "yoke", name)["length_mm"] for name in ("left", "right"))
    assert right == pytest.approx(left, abs=0.002)
    assert 0.5 < abs(right - before) < 3.0
    # one edge alone, over its middle: it is the same already
    s.touch_edge(edge_of(s, garment, "yoke", "neck")["id"])
    s.page.keyboard.press("h")
    s.sees("Both halves are the same.")
    s.press("Leave them as they are")
    assert "Taken back" in s.takes_back()
    assert edge_of(s, garment, "yoke", "right")["length_mm"] == before
