"""A wearer's usual changes: whom it is for is said, what came before is looked at and made, and taken back."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from app.conftest import Serve, Window
from app.sewist import Sewist
from eke.actions import patterns, projects, usual
from eke.actions.room import make_room
from helpers import tunic

pytestmark = pytest.mark.slow

WEARER = "the eldest"


@pytest.fixture
def two_folder(tmp_path: Path) -> Path:
    """A tunic for the eldest, with a wedge out of the back neck and a longer body; a blouse for nobody yet."""
    folder = tmp_path / "room"
    with make_room(folder) as room:
        tunic.start_tunic(room)
        usual.made_for(room, tunic.TUNIC, WEARER)
        pattern = room.garment(tunic.TUNIC).pattern
        neck, armhole, side = (
            patterns.find_edge(pattern, f"back.{e}").id for e in ("neck", "armhole", "side")
        )
        wedge = {"edge": neck, "fraction": 0.8, "width_mm": 8.0, "to": {"edge": armhole, "fraction": 0.5}}
        patterns.change(room, tunic.TUNIC, "fit.wedge", wedge, "the back neck stands off")
        longer = {"edge": side, "mm": 120.0, "by_mm": 15.0}
        patterns.change(room, tunic.TUNIC, "fit.lengthen", longer, "short in the body")
        projects.enter_garment(room, tunic.PROJECT, "Blouse")
        tunic.take_tunic(room, "Blouse")
        tunic.sew_tunic(room, "Blouse")
    return folder


def blouse(s: Sewist) -> dict[str, Any]:
    return garment_of(s, "Blouse")


def garment_of(s: Sewist, name: str) -> dict[str, Any]:
    (project,) = s.told_by("workroom")["projects"]
    (found,) = [g for g in project["garments"] if g["name"] == name]
    told: dict[str, Any] = s.told_by(f"garments/{found['id']}")
    return told


def neck_mm(garment: dict[str, Any]) -> float:
    (found,) = [
        e for p in garment["pieces"] if p["name"] == "back" for e in p["edges"] if e["name"] == "neck"
    ]
    length: float = found["length_mm"]
    return length


def test_what_was_changed_on_the_last_garment_is_offered_on_the_next(
    two_folder: Path, serve: Serve, window: Window
) -> None:
    s = window(serve(two_folder))
    s.page.get_by_role("link", name="Blouse").click()
    s.settled()
    s.peg("Mock-ups")
    card, plan = s.part("Usual changes"), s.part("The change")
    s.sees("Say whom it is made for", card)
    name = card.get_by_role("combobox", name="Made for")
    name.fill(WEARER)
    name.press("Enter")
    s.settled()
    s.reads(f"Noted that it is made for {WEARER}.")
    s.sees("you took a wedge of 8 mm out at the neck of back, near the centre. Do it here too?", card)
    s.sees("you lengthened by 15 mm", card)

    before = blouse(s)
    wedge = card.get_by_role("listitem").filter(has_text="wedge")
    s.press("Look at it", wedge)
    s.sees("Took a wedge of 8 mm out at neck of back.", plan)
    expect(plan.get_by_role("textbox", name="Why")).to_have_value(
        f"Usual for {WEARER}, as on “Tunic”: the back neck stands off"
    )
    assert blouse(s)["revision"] == before["revision"], "looking keeps nothing"
    s.press("Make this change", plan)
    after = blouse(s)
    assert neck_mm(before) - neck_mm(after) > 3.0
    assert neck_mm(after) == pytest.approx(neck_mm(garment_of(s, "Tunic")), abs=0.05)
    expect(wedge).to_have_count(0)

    s.press("Not for this garment", card.get_by_role("listitem").filter(has_text="lengthened"))
    s.reads("Noted that a usual change is not for this garment: lengthened by 15 mm")
    s.sees("Nothing more is usual", card)
    card.get_by_text("One usual change is not for this garment").click()
    s.press("Offer it again", card)
    s.sees("you lengthened by 15 mm", card)
    for _ in range(3):
        s.takes_back()
    s.sees("you took a wedge of 8 mm", card)
    assert [p["edges"] for p in blouse(s)["pieces"]] == [p["edges"] for p in before["pieces"]]
