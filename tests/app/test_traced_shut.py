"""What was traced sewn shut is opened at the window: a dart, a dart inside, a pleat, gathers; and taken back."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from app.conftest import Serve, Window
from app.sewist import Sewist
from eke.actions import patterns
from eke.actions.room import make_room
from helpers import tunic

pytestmark = pytest.mark.slow

MARK = """id => {
  const line = document.querySelector(`[data-kind="mark"][data-id="${id}"]`);
  const at = line.getPointAtLength(line.getTotalLength() / 2).matrixTransform(line.getScreenCTM());
  return [at.x, at.y];
}"""
"""Where the middle of a drawn mark is on the screen."""
LINES = {
    "bust": ("front", [[190.0, 200.0], [110.0, 260.0]]),
    "waist": ("front", [[70.0, 130.0], [72.0, 330.0]]),
    "pleat": ("back", [[110.0, 489.0], [112.0, 370.0]]),
}


@pytest.fixture
def lined_folder(tmp_path: Path) -> Path:
    """A workroom with a tunic on which three lines were traced."""
    with make_room(tmp_path / "room") as room:
        tunic.start_tunic(room)
        for name, (piece, points) in LINES.items():
            mark = {"piece": piece, "kind": "line", "points": points, "name": name}
            patterns.change(room, tunic.TUNIC, "mark.set", mark)
    return tmp_path / "room"


def garment_of(s: Sewist) -> dict[str, Any]:
    (project,) = s.told_by("workroom")["projects"]
    told: dict[str, Any] = s.told_by(f"garments/{project['garments'][0]['id']}")
    return told


def piece(s: Sewist, name: str) -> dict[str, Any]:
    (found,) = [one for one in garment_of(s)["pieces"] if one["name"] == name]
    return found


def opens_form(s: Sewist, name: str) -> None:
    """Press a traced line and say that it was sewn shut."""
    (mark,) = [m for p in garment_of(s)["pieces"] for m in p["marks"] if m["name"] == name]
    s.page.mouse.click(*s.page.evaluate(MARK, mark["id"]))
    s.page.get_by_role("button", name="It is a dart, tuck or pleat").click()
    s.settled()


@pytest.mark.parametrize("size", [(1280, 800), (390, 844)])
def test_lines_that_were_traced_shut_are_opened(
    lined_folder: Path, serve: Serve, window: Window, size: tuple[int, int]
) -> None:
    s = window(serve(lined_folder), size=size, refused=True)
    s.page.get_by_role("link", name="Tunic").click()
    s.settled()
    if size[0] > 600:
        s.peg("Pattern")
    does = s.page.get_by_role("button", name="Open it")

    opens_form(s, "bust")
    s.page.get_by_label("folded: half").check()
    across = s.page.get_by_label("Measured across", exact=True)
    across.fill("20 cm")
    across.press("Enter")
    # too wide is told before anything is done, with the most that works, folded as it was measured
    s.page.get_by_role("button", name="Use 4.9 cm").click()
    s.settled()
    expect(does).to_be_enabled()
    across.fill("1.2 cm")
    across.press("Enter")
    s.settled()
    does.click()
    s.settled()
    (dart,) = piece(s, "front")["darts"]
    assert dart["intake_mm"] == pytest.approx(24.0, abs=0.01)

    opens_form(s, "waist")
    before = piece(s, "front")["edges"]
    s.page.get_by_role("button", name="Mark it").click()
    s.settled()
    assert piece(s, "front")["edges"] == before
    assert "dart" in {m["kind"] for m in piece(s, "front")["marks"]}

    opens_form(s, "pleat")
    s.page.get_by_role("combobox", name="This line is").select_option(label="a pleat")
    s.settled()
    does.click()
    s.settled()
    (pleat,) = piece(s, "back")["pleats"]
    assert pleat["intake_mm"] == pytest.approx(20.0, abs=0.01)
    s.page.get_by_role("button", name="Take it back").click()
    s.settled()
    assert piece(s, "back")["pleats"] == []


def test_an_edge_is_said_to_be_gathered_and_then_not(
    lined_folder: Path, serve: Serve, window: Window
) -> None:
    s = window(serve(lined_folder), refused=True)
    s.page.get_by_role("link", name="Tunic").click()
    s.settled()
    s.peg("Pattern")
    (hem,) = [e for e in piece(s, "back")["edges"] if e["name"] == "hem"]
    line = MARK.replace('data-kind="mark"', 'data-kind="edge"')
    s.page.mouse.click(*s.page.evaluate(line, hem["id"]))
    s.page.get_by_role("button", name="Gathers and ease").click()
    s.settled()
    # Esc puts back what was typed, then leaves the form
    start = s.page.get_by_role("textbox", name="From")
    start.fill("3")
    start.press("Escape")
    expect(start).to_have_value("0")
    start.press("Escape")
    expect(start).not_to_be_attached()
    s.page.mouse.click(*s.page.evaluate(line, hem["id"]))
    s.page.keyboard.press("Shift+G")
    expect(s.page.get_by_role("radio", name="gathered")).to_be_focused()
    # how full is typed as a sewist says it, with a comma too; what cannot be sewn is told in words
    times = s.page.get_by_label("Pulled flat")
    expect(times).to_have_value("1.5")
    times.fill("9")
    times.press("Enter")
    s.sees("9 times as long is no fullness that can be sewn")
    times.fill("1,75")
    times.press("Enter")
    s.settled()
    s.page.get_by_role("button", name="It is meant").click()
    s.settled()
    (gather,) = piece(s, "back")["gathers"]
    assert gather["ratio"] == pytest.approx(1.75)
    s.page.mouse.click(*s.page.evaluate(line, hem["id"]))
    s.page.get_by_role("button", name="Gathers and ease").click()
    s.page.get_by_role("button", name="Not any more").click()
    s.settled()
    assert piece(s, "back")["gathers"] == []
