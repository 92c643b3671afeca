"""What holds in every room: nothing leaves the machine, the console is silent, anybody can use it, nothing moves
for those who asked for rest."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from app.conftest import ROOT, Serve, Window
from app.places import go, places_of
from app.sewist import Sewist
from eke.actions import projects
from eke.actions.room import make_room

pytestmark = pytest.mark.slow

AXE = ROOT / "frontend" / "node_modules" / "axe-core" / "axe.min.js"
GRAVE = ("serious", "critical")
EXEMPT: dict[str, str] = {}
"""Rules of axe that are not asked, each with the reason."""
RUN = """async rules => {
  const off = Object.fromEntries(rules.map(rule => [rule, { enabled: false }]));
  const found = await axe.run(document, { rules: off, resultTypes: ['violations'] });
  return found.violations.flatMap(one => one.nodes.map(node => (
    { impact: node.impact ?? one.impact, told: `${one.id}: ${node.target.join(' ')} ${node.failureSummary}` })));
}"""
MOVING = """() => document.getAnimations()
  .filter(one => one.playState === 'running' && one.effect.getComputedTiming().activeDuration > 1)
  .map(one => `${one.animationName ?? one.transitionProperty} of ${one.effect.target?.className}`)"""


@pytest.fixture
def empty_folder(tmp_path: Path) -> Path:
    """A workroom with a project and a garment, and nothing in them."""
    folder = tmp_path / "empty"
    with make_room(folder) as room:
        projects.start_project(room, "Summer")
        projects.enter_garment(room, "Summer", "Pinafore", {})
    return folder


@pytest.mark.parametrize("folder", ["empty_folder", "demo_folder"])
def test_anybody_can_use_every_room(
    folder: str, request: pytest.FixtureRequest, serve: Serve, window: Window
) -> None:
    if not AXE.is_file():
        pytest.skip("axe-core is not there: make app")
    served = serve(request.getfixturevalue(folder))
    found: dict[str, list[str]] = {}
    for size in ((1280, 800), (390, 844)):
        s = window(served, size=size, has_touch=size[0] < 500, reduced_motion="reduce", bypass_csp=True)
        s.page.add_init_script(path=AXE)
        for night in ("no", "yes"):
            s.page.evaluate("night => localStorage.setItem('eke.night', night)", night)
            s.reload()
            for place in places_of(s):
                go(s, place)
                told = grave(s)
                if told:
                    found[f"{place} at {size[0]}, night: {night}"] = told
        s.close()
    assert found == {}


def grave(s: Sewist) -> list[str]:
    told: list[dict[str, Any]] = s.page.evaluate(RUN, list(EXEMPT))
    return sorted({one["told"] for one in told if one["impact"] in GRAVE})


def test_a_fault_would_be_found(empty_folder: Path, serve: Serve, window: Window) -> None:
    if not AXE.is_file():
        pytest.skip("axe-core is not there: make app")
    s = window(serve(empty_folder), bypass_csp=True)
    s.page.add_script_tag(path=AXE)
    assert grave(s) == []
    plant = """() => {
      const button = document.body.appendChild(document.createElement('button'));
      const pale = document.body.appendChild(document.createElement('p'));
      pale.textContent = 'hardly to be read';
      Object.assign(pale.style, { color: '#ddd', background: '#fff', position: 'fixed', top: 0 });
      button.animate([{ opacity: 0 }, { opacity: 1 }], 5000);
    }"""
    s.page.evaluate(plant)
    assert {one.split(":")[0] for one in grave(s)} == {"button-name", "color-contrast"}
    assert s.page.evaluate(MOVING) != []


def test_nothing_leaves_the_machine_and_the_console_is_silent(
    demo_folder: Path, serve: Serve, window: Window
) -> None:
    s = window(serve(demo_folder))  # the window looks at both when it closes
    places = places_of(s)
    assert len(places) >= 22
    for place in places:
        go(s, place)
        expect(s.main).to_contain_text(re.compile(r"\S"))
        assert s.page.get_by_role("alert").count() == 0
        s.page.keyboard.press("?")
        s.page.keyboard.press("Escape")
    assert s.trouble == []


def test_nothing_moves_for_those_who_asked_for_rest(demo_folder: Path, serve: Serve, window: Window) -> None:
    s = window(serve(demo_folder), reduced_motion="reduce")
    moving: set[str] = set()
    for place in places_of(s):
        s.page.goto(f"{s.served.base}#{place}")
        for _ in range(6):
            moving |= {f"{place}: {one}" for one in s.page.evaluate(MOVING)}
            s.page.wait_for_timeout(50)
        s.settled()
        s.page.keyboard.press("Tab")
        moving |= {f"{place}: {one}" for one in s.page.evaluate(MOVING)}
    assert moving == set()
