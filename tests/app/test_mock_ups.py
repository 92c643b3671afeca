"""Changing the fit from the drawing: an edge is pressed, a change chosen, its place pressed, made and taken back."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from app.conftest import Serve, Window
from app.sewist import Sewist

pytestmark = pytest.mark.slow

PLACE = """([edge, share]) => {
  const line = document.querySelector(`[data-kind="edge"][data-id="${edge}"]`);
  const at = line.getPointAtLength(line.getTotalLength() * share).matrixTransform(line.getScreenCTM());
  return [at.x, at.y];
}"""
"""Where a place of a drawn edge is on the screen."""


def garment_of(s: Sewist) -> dict[str, Any]:
    """The tunic as the server tells it now."""
    (project,) = s.told_by("workroom")["projects"]
    told: dict[str, Any] = s.told_by(f"garments/{project['garments'][0]['id']}")
    return told


def edge(garment: dict[str, Any], piece: str, name: str) -> dict[str, Any]:
    (found,) = [
        one for p in garment["pieces"] if p["name"] == piece for one in p["edges"] if one["name"] == name
    ]
    return found


def points_at(s: Sewist, what: dict[str, Any], share: float) -> None:
    """Press an edge on the drawing."""
    x, y = s.page.evaluate(PLACE, [what["id"], share])
    s.page.mouse.click(x, y)


def test_a_wedge_and_a_hem_are_made_from_the_drawing_and_taken_back(
    tunic_folder: Path, serve: Serve, window: Window
) -> None:
    s = window(serve(tunic_folder))
    s.page.get_by_role("link", name="Tunic").click()
    s.settled()
    s.peg("Mock-ups")
    before = garment_of(s)
    beside, plan = s.part("What can be done with it"), s.part("The change")

    points_at(s, edge(before, "front", "neck"), 0.4)
    beside.get_by_role("button", name="Take out a wedge").click()
    s.writes("Width", "0.6", plan)
    points_at(s, edge(before, "front", "armhole"), 0.6)
    s.settled()
    expect(plan.get_by_role("combobox", name="Ends at")).to_have_value(
        f"edge|{edge(before, 'front', 'armhole')['id']}"
    )
    s.press("Make this change", plan)
    s.settled()
    after = garment_of(s)
    gone = edge(before, "front", "neck")["length_mm"] - edge(after, "front", "neck")["length_mm"]
    assert 4.0 < gone < 8.0, gone  # 6 mm at the edge, trued across the joint
    assert edge(after, "front", "side")["length_mm"] == edge(before, "front", "side")["length_mm"]

    # the second from the list, without the drawing
    s.page.get_by_role("combobox", name="Or choose an edge").select_option(edge(after, "back", "hem")["id"])
    beside.get_by_role("button", name="Make the hem longer or shorter").click()
    s.writes("Longer by", "3", plan)
    s.settled()
    s.press("Make this change", plan)
    s.settled()
    longer = garment_of(s)
    for piece in ("front", "back"):
        grown = edge(longer, piece, "side")["length_mm"] - edge(after, piece, "side")["length_mm"]
        assert grown == pytest.approx(30.0, abs=0.2)

    s.takes_back()
    s.takes_back()
    s.settled()
    again = garment_of(s)
    assert [p["edges"] for p in again["pieces"]] == [p["edges"] for p in before["pieces"]]
