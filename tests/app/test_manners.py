"""Nobody is kept out: by keyboard alone, read aloud, in other light and with less motion."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import pytest
from playwright.sync_api import Page

from app.conftest import ROOT, Serve, Window
from app.job import without_revision
from app.sewist import Sewist

AXE: Final = ROOT / "frontend" / "node_modules" / "axe-core" / "axe.min.js"
ROOMS: Final = ("tracing", "pattern", "mock-ups", "cloth", "lay", "paper", "making", "ledger", "journal")
GRAVE: Final = ("serious", "critical")
FIND: Final = """async () => {
  const tags = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'];
  const found = await axe.run(document, { runOnly: { type: 'tag', values: tags }, resultTypes: ['violations'] });
  return found.violations.map(one => [one.impact, one.id, one.nodes.map(n => n.html.slice(0, 120))]);
}"""
"""Ask axe-core for what breaks the success criteria of WCAG 2.2 at level AA."""
MOVING: Final = """() => document.getAnimations({ subtree: true })
  .filter(one => one.playState === 'running' && (one.effect?.getComputedTiming().duration ?? 0) > 50).length"""


def barriers(page: Page) -> list[Any]:
    """Return what axe-core finds grave on a page as it stands."""
    if page.evaluate("typeof axe") == "undefined":
        page.evaluate(AXE.read_text(encoding="utf-8"))
    return [one for one in page.evaluate(FIND) if one[0] in GRAVE]


def garment_of(s: Sewist) -> str:
    """Return the id of the garment with the most pieces."""
    cards = [g for p in s.told_by("workroom")["projects"] for g in p["garments"]]
    found: str = max(cards, key=lambda g: g["pieces"])["id"]
    return found


def visit(s: Sewist, route: str) -> None:
    """Go to a place by its address."""
    s.page.goto(f"{s.served.base}#{route}")
    s.settled()


def everywhere(s: Sewist) -> dict[str, list[Any]]:
    """Return what axe-core finds in every room, by day and by night."""
    garment, found = garment_of(s), {}
    for night in ("no", "yes"):
        s.page.evaluate("night => localStorage.setItem('eke.night', night)", night)
        s.reload()
        for route in ("/", "/shelf", *(f"/g/{garment}/{room}" for room in ROOMS)):
            visit(s, route)
            if there := barriers(s.page):
                found[f"{route} {'by night' if night == 'yes' else 'by day'}"] = there
    return found


def test_axe_is_there_and_finds_what_is_wrong(tunic_folder: Path, serve: Serve, window: Window) -> None:
    s = window(serve(tunic_folder))
    s.settled()
    s.page.evaluate("() => document.body.insertAdjacentHTML('beforeend', '<button id=nameless></button>')")
    assert any("nameless" in place for _, _, places in barriers(s.page) for place in places)


@pytest.mark.slow
@pytest.mark.parametrize("size", [(1280, 800), (390, 844)], ids=["wide", "phone"])
def test_no_room_of_the_demo_keeps_anybody_out(
    demo_folder: Path, serve: Serve, window: Window, size: tuple[int, int]
) -> None:
    assert everywhere(window(serve(demo_folder), size=size)) == {}


@pytest.mark.slow
def test_no_empty_room_keeps_anybody_out(tmp_path: Path, serve: Serve, window: Window) -> None:
    s = window(serve(tmp_path / "room"))
    s.settled()
    assert barriers(s.page) == []
    s.writes("Name of the project", "Summer")
    s.press("Begin")
    s.writes("Name of the garment", "Bag")
    s.press("Add")
    assert everywhere(s) == {}


def test_by_keyboard_alone(tunic_folder: Path, serve: Serve, window: Window) -> None:
    s = window(serve(tunic_folder))
    s.settled()
    keys = s.page.keyboard
    for _ in range(30):
        keys.press("Tab")
        if s.page.evaluate("document.activeElement.textContent").strip().startswith("Tunic"):
            break
    else:
        raise AssertionError("the garment is not reached by Tab")
    keys.press("Enter")
    s.settled()
    assert s.page.url.endswith("/pattern")
    garment = garment_of(s)
    before = without_revision(s.told_by(f"garments/{garment}"))
    keys.press("e")
    keys.press("Shift+S")
    s.settled()
    s.reads("Straightened “hem of front”")
    assert without_revision(s.told_by(f"garments/{garment}")) != before
    keys.press("Control+z")
    s.settled()
    s.reads("Taken back: Straightened “hem of front”")
    assert without_revision(s.told_by(f"garments/{garment}")) == before


def test_less_motion_means_none(tunic_folder: Path, serve: Serve, window: Window) -> None:
    s = window(serve(tunic_folder), reduced_motion="reduce")
    s.settled()
    garment = garment_of(s)
    for room in ROOMS:
        s.page.goto(f"{s.served.base}#/g/{garment}/{room}")
        s.page.wait_for_timeout(120)
        assert s.page.evaluate(MOVING) == 0, room
        s.settled()
