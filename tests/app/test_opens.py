"""The quick ones: the app opens on nothing and begins; everything needed for one change is on the keys."""

from __future__ import annotations

import re
from pathlib import Path

from playwright.sync_api import expect

from app.conftest import Serve, Window
from app.job import JOB
from app.sewist import Sewist


def test_it_opens_on_nothing_and_a_project_begins(tmp_path: Path, serve: Serve, window: Window) -> None:
    s = window(serve(tmp_path / "room"))
    s.sees("Begin with a garment you love")
    for step in JOB[:2]:
        step.do(s)
        step.kept(s) if step is JOB[1] else None
    s.home()
    assert s.takes_back().startswith("Taken back: Entered “Pinafore”")
    expect(s.page.get_by_role("link", name="Pinafore")).to_have_count(0)
    assert s.does_again().startswith("Done again: Entered “Pinafore”")
    expect(s.page.get_by_role("link", name="Pinafore")).to_be_visible()


def focused(s: Sewist) -> str:
    """Return what is in hand: its words."""
    told: str = s.page.evaluate(
        "document.activeElement.getAttribute('aria-label') ?? document.activeElement.innerText"
    )
    return told


def tab_to(s: Sewist, words: str, most: int = 40) -> None:
    for _ in range(most):
        s.page.keyboard.press("Tab")
        if words in focused(s):
            return
    raise AssertionError(f"“{words}” is not reached by Tab")


def test_by_keys_alone_to_a_straightened_edge_and_back(
    tunic_folder: Path, serve: Serve, window: Window
) -> None:
    s = window(serve(tunic_folder))
    s.sees("What shall be made again?")
    tab_to(s, "Tunic")
    s.page.keyboard.press("Enter")
    expect(s.part("Notes on the pattern")).to_be_visible()
    s.settled()
    card = s.part("What can be done with it")
    s.page.keyboard.press("p")
    expect(card).to_be_visible()
    for _ in range(12):
        s.page.keyboard.press("e")
        s.page.wait_for_timeout(60)
        if card.get_by_role("textbox", name="Name of the edge").input_value() == "armhole":
            break
    else:
        raise AssertionError("no armhole on the way round")
    expect(s.part("Its numbers")).to_contain_text("curved")
    s.page.keyboard.press("Shift+S")
    s.reads(re.compile("Straightened .*armhole"))
    s.settled()
    expect(s.part("Its numbers")).to_contain_text("straight")
    s.page.keyboard.press("Control+z")
    s.reads(re.compile("Taken back: Straightened .*armhole"))
    s.settled()
    expect(s.part("Its numbers")).to_contain_text("curved")
