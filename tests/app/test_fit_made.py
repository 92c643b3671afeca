"""Fit changes, each made as it is first offered: pressed on the drawing, looked at, made, and taken back."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from bench.pattern import tops
from playwright.sync_api import expect

from app.conftest import Serve, Window
from app.places import go
from app.sewist import Sewist
from app.test_mock_ups import edge, points_at
from app.test_trueing import look
from eke.actions.room import make_room
from helpers.drafted import start_drafted

pytestmark = pytest.mark.slow

Told = dict[str, Any]


@pytest.fixture
def drafted_folder(tmp_path: Path) -> Path:
    """A workroom with a blouse that has a sleeve, and a jacket with a side panel and a sleeve in two parts."""
    folder = tmp_path / "room"
    with make_room(folder) as room:
        start_drafted(room, "Drafts", tops.blouse(), tops.jacket())
    return folder


def told(s: Sewist, name: str) -> Told:
    (project,) = s.told_by("workroom")["projects"]
    garment = next(one for one in project["garments"] if one["name"] == name)
    found: Told = s.told_by(f"garments/{garment['id']}")
    return found


def length(garment: Told, piece: str, *names: str) -> float:
    return sum(float(edge(garment, piece, name)["length_mm"]) for name in names)


def curve_points(garment: Told, piece: str, name: str) -> list[list[float]]:
    """The ends of the segments of an edge."""
    return [
        p for row in edge(garment, piece, name)["segments"] for p in (row["points"][0], row["points"][-1])
    ]


def made(
    s: Sewist,
    garment: str,
    at: tuple[str, str, float],
    change: str,
    says: str,
    holds: Callable[[Told, Told], None],
) -> None:
    """Press a place on the drawing, begin the change as it is offered there, make it, and take it back."""
    before = told(s, garment)
    go(s, f"/g/{before['id']}/mock-ups")
    s.page.wait_for_timeout(300)  # the drawing goes to its pieces
    piece, name, share = at
    points_at(s, edge(before, piece, name), share)
    s.settled()
    beside, plan = s.part("What can be done with it"), s.part("The change")
    offered = beside.get_by_role("button", name=change, exact=True)
    if not offered.is_visible():
        beside.get_by_text("More that can be changed here").click()
    offered.click()
    s.sees(re.compile(says), plan.locator(".would"))
    look(s, change)
    s.press("Make this change", plan)
    s.reads(re.compile(says))
    expect(plan).to_have_count(0)
    look(s, f"{change}, made")
    holds(before, told(s, garment))
    assert "Taken back" in s.takes_back()
    assert told(s, garment)["pieces"] == before["pieces"]


def test_changes_are_made_as_they_are_first_offered(
    drafted_folder: Path, serve: Serve, window: Window
) -> None:
    s = window(serve(drafted_folder), refused=True)

    def bust(was: Told, now: Told) -> None:
        assert length(now, "front", "hem") == pytest.approx(length(was, "front", "hem") + 10.0, abs=0.2)
        for same in ("armhole", "shoulder", "neck"):
            assert length(now, "front", same) == pytest.approx(length(was, "front", same), abs=0.5)
        (front,) = [p for p in now["pieces"] if p["name"] == "front"]
        assert len(front["darts"]) == 1

    made(
        s,
        "blouse",
        ("front", "armhole", 0.5),
        "More or less room for the bust",
        "more room over the bust",
        bust,
    )

    def longer(was: Told, now: Told) -> None:
        for piece in ("front", "back"):
            assert length(now, piece, "side") == pytest.approx(length(was, piece, "side") + 20.0, abs=0.01)

    made(s, "blouse", ("front", "side", 0.4), "Lengthen or shorten here", "Lengthened by 2 cm", longer)

    def sloped(was: Told, now: Told) -> None:
        for piece in ("front", "back"):
            assert length(now, piece, "side") == pytest.approx(length(was, piece, "side") - 6.0, abs=0.01)
            assert length(now, piece, "shoulder") == pytest.approx(length(was, piece, "shoulder"), abs=0.01)

    slope = "Slope the shoulder more or less"
    made(s, "blouse", ("back", "shoulder", 0.5), slope, "Brought the tip of shoulder down", sloped)

    def fitted(was: Told, now: Told) -> None:
        armhole = length(was, "front", "armhole") + length(was, "back", "armhole")
        assert length(was, "sleeve", "cap") > armhole + 20.0
        assert length(now, "sleeve", "cap") == pytest.approx(armhole, abs=0.01)

    cap = "Fit the sleeve cap to the armhole"
    made(s, "blouse", ("sleeve", "cap", 0.3), cap, "Fitted the sleeve cap", fitted)

    def joined(was: Told, now: Told) -> None:
        assert {p["name"] for p in was["pieces"]} - {p["name"] for p in now["pieces"]} == {"side panel"}
        assert [len(p["darts"]) for p in now["pieces"] if p["name"] == "front"] == [1]

    # the sides do not lie on one another all along: it begins with as far as they do
    made(
        s,
        "jacket",
        ("front", "panel seam", 0.3),
        "Join the two pieces",
        "Joined panel seam for 2[0-9.]+ cm",
        joined,
    )

    def half(was: Told, now: Told) -> None:
        # 1 cm in the middle of the centre seam: half of it on the edge that is drawn once
        was_x, now_x = (min(p[0] for p in curve_points(one, "back", "centre")) for one in (was, now))
        assert was_x == pytest.approx(0.0, abs=0.01)
        inmost = max(p[0] for p in curve_points(now, "back", "centre"))
        assert inmost == pytest.approx(5.0, abs=0.3)
        assert now_x == pytest.approx(0.0, abs=0.3)

    made(s, "blouse", ("back", "centre", 0.5), "Take in or let out the seam", "Took in centre", half)

    # no bust on a back, no slope on a side
    blouse = told(s, "blouse")
    go(s, f"/g/{blouse['id']}/mock-ups")
    points_at(s, edge(blouse, "back", "side"), 0.5)
    beside = s.part("What can be done with it")
    beside.get_by_text("More that can be changed here").click()
    for never in ("More or less room for the bust", slope, cap, "Join the two pieces"):
        expect(beside.get_by_role("button", name=never, exact=True)).to_have_count(0)
