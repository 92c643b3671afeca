"""The pegged line: how each step of the job stands, from an empty garment to a cut one."""

from __future__ import annotations

import json

import numpy as np
import pytest
from PIL import Image

from eke.actions import (
    cards,
    cloths,
    fitting,
    found,
    history,
    laying,
    money,
    patterns,
    photographs,
    projects,
    ticks,
)
from eke.actions.pegs import Peg, pegs_of
from eke.actions.room import Room
from eke.actions.sketches import Sketch
from eke.errors import NotTrustworthy
from eke.units import Money
from helpers import tunic

TUNIC, PROJECT = tunic.TUNIC, tunic.PROJECT
ROOMS = ["tracing", "pattern", "mock-ups", "cloth", "lay", "paper", "making", "ledger", "journal"]


def stand(room: Room) -> dict[str, str]:
    return {peg.room: peg.state for peg in pegs_of(room, TUNIC)}


def peg(room: Room, word: str) -> Peg:
    return next(one for one in pegs_of(room, TUNIC) if one.room == word)


def picture(tmp_path) -> bytes:
    file = tmp_path / "page.png"
    Image.fromarray(np.full((600, 800, 3), 240, dtype=np.uint8)).save(file)
    return file.read_bytes()


def size(sketch: Sketch) -> int:
    return len(json.dumps([np.round(line.points, 1).tolist() for line in sketch.lines]))


@pytest.fixture
def bare(room: Room) -> Room:
    """A project with a garment of which nothing is known."""
    projects.start_project(room, PROJECT)
    projects.enter_garment(room, PROJECT, TUNIC)
    return room


def test_nine_pegs_in_order_and_all_empty(bare: Room) -> None:
    pegs = pegs_of(bare, TUNIC)
    assert [one.room for one in pegs] == ROOMS
    assert {one.state for one in pegs} == {"empty"}
    assert all(one.sentence.endswith(".") for one in pegs)
    assert all(one.picture is None for one in pegs)


def test_a_sewn_pattern(sewn: Room) -> None:
    assert stand(sewn) == {
        "tracing": "good",
        "pattern": "attention",  # the back's side is longer
        "mock-ups": "empty",
        "cloth": "attention",
        "lay": "empty",
        "paper": "good",
        "making": "good",
        "ledger": "good",
        "journal": "good",
    }
    assert peg(sewn, "tracing").sentence == "2 pieces traced, each within 0.5 mm."
    assert "to look at" in peg(sewn, "pattern").sentence


def test_a_pattern_without_questions_is_good(sewn: Room) -> None:
    for finding in patterns.findings(sewn, TUNIC):
        if finding.severity != "note":
            params = {"code": finding.code, "where": list(finding.where)}
            patterns.change(sewn, TUNIC, "finding.settle", params)
    assert peg(sewn, "pattern").state == "good"


# ---------------------------------------------------------------- photographs


def test_a_photograph_that_was_not_traced_asks_for_it(bare: Room, tmp_path) -> None:
    taken = photographs.take_in_photograph(bare, TUNIC, picture(tmp_path), "page.png")
    assert (peg(bare, "tracing").state, peg(bare, "tracing").sentence) == (
        "attention",
        "One photograph to trace.",
    )
    assert peg(bare, "tracing").picture.photo == taken.photo
    refusal = NotTrustworthy("The sheet lies out of focus. Take it again from nearer.")
    found.keep_refused(bare, taken.id, refusal, taken.said)
    assert (
        peg(bare, "tracing").sentence == "“page.png”: The sheet lies out of focus. Take it again from nearer."
    )
    photographs.put_aside(bare, taken.id)
    assert peg(bare, "tracing").state == "empty"


def test_what_was_found_is_told_until_a_piece_is_made_of_it(bare: Room, tmp_path) -> None:
    taken = photographs.take_in_photograph(bare, TUNIC, picture(tmp_path), "page.png")
    found.keep_found(bare, taken.id, two_squares(), taken.said)
    told = peg(bare, "tracing")
    assert (told.state, told.picture.photo) == ("attention", taken.photo)
    assert told.sentence == "2 outlines found on one photograph; none of them is in the pattern yet."
    found.take_piece(bare, taken.id, "1", "pocket")
    assert peg(bare, "tracing").state == "good"
    history.take_back(bare, TUNIC)
    assert peg(bare, "tracing").sentence == told.sentence


def two_squares() -> dict[str, object]:
    """What a tracing of two squares keeps, as far as pieces and pegs look at it."""

    def square(name: str, x: float) -> dict[str, object]:
        ring = [[x, 0.0], [x + 100.0, 0.0], [x + 100.0, 100.0], [x, 100.0]]
        sides = [[a, b] for a, b in zip(ring, [*ring[1:], ring[0]], strict=True)]
        return {
            "name": name, "outline": ring, "outline_px": ring, "corners": ring, "corners_px": ring, "marks": [],
            "segments": [{"kind": "line", "points": side} for side in sides], "uncertainty_mm": 0.5,
        }  # fmt: skip

    scale = {"reference": "a4", "uncertainty_percent": 0.2}
    return {"scale": scale, "pieces": [square("1", 0.0), square("2", 200.0)], "cloths": [], "warnings": []}


# ---------------------------------------------------------------- mock-ups


def test_what_a_mock_up_showed_waits_for_a_fit_change(sewn: Room) -> None:
    patterns.change(sewn, TUNIC, "mockup.note", {"noticed": "wide at the waist"})
    assert peg(sewn, "mock-ups").state == "attention"
    assert peg(sewn, "mock-ups").sentence == "Mock-up 1: wide at the waist. Nothing is altered for it yet."
    done = fitting.take_in(sewn, TUNIC, "side", [(0, 0), (150, 8), (340, 0)])
    good = peg(sewn, "mock-ups")
    assert (good.state, good.sentence) == (
        "good",
        "One mock-up, one fit change. Last: Took in side by up to 8 mm.",
    )
    assert good.picture is not None
    history.switch_change(sewn, done.id, False, TUNIC)
    assert peg(sewn, "mock-ups").state == "attention"
    history.take_back(sewn, TUNIC)
    patterns.change(sewn, TUNIC, "mockup.note", {"noticed": "better, but short"})
    assert peg(sewn, "mock-ups").state == "attention"


# ---------------------------------------------------------------- cloth, lay, cut


def kept_cloth(room: Room, width: float = 900.0, length: float = 700.0) -> None:
    outline = cloths.typed_outline("rectangle", [width, length])
    cloths.add_cloth(room, "blue", outline, grain_deg=90.0, washed=True)
    cloths.reserve_cloth(room, "blue", PROJECT)


def lay(room: Room) -> None:
    laying.lay_garment(room, TUNIC, roles=["outer"], seconds=None, passes=1, seed=1)


def test_from_cloth_to_cut(sewn: Room) -> None:
    kept_cloth(sewn)
    assert (peg(sewn, "cloth").state, peg(sewn, "cloth").sentence) == ("good", "“blue” kept for it.")
    assert peg(sewn, "lay").sentence == "Lay the pieces on the cloth."
    lay(sewn)
    laid = peg(sewn, "lay")
    assert laid.state == "good"
    assert [line.ink for line in laid.picture.lines].count("piece") == 2
    hem = patterns.find_edge(sewn.garment(TUNIC).pattern, "front.hem").id
    patterns.change(sewn, TUNIC, "edge.set", {"edge": hem, "allowance_mm": 60.0})
    assert peg(sewn, "lay").state == "outdated"
    history.take_back(sewn, TUNIC)
    assert peg(sewn, "lay").state == "good"
    laying.confirm_cut(sewn, TUNIC, ["outer"])
    cut = peg(sewn, "lay")
    assert (cut.state, cut.sentence) == ("good", "Cut: 2 pieces.")
    assert "Cut from “blue”" in peg(sewn, "cloth").sentence
    history.take_back(sewn)
    assert peg(sewn, "lay").sentence != cut.sentence


def test_a_lay_that_is_short_asks_for_attention(sewn: Room) -> None:
    kept_cloth(sewn, 450.0, 620.0)
    lay(sewn)
    assert peg(sewn, "lay").state == "attention"


def test_a_lay_on_a_cloth_that_is_gone_is_outdated(sewn: Room) -> None:
    kept_cloth(sewn)
    lay(sewn)
    cloths.release_cloth(sewn, "blue", PROJECT)
    cloths.discard_cloth(sewn, "blue")
    assert peg(sewn, "lay").state == "outdated"
    assert peg(sewn, "cloth").state == "attention"


# ---------------------------------------------------------------- making up and money


def test_ticks_are_counted(sewn: Room) -> None:
    steps = ticks.steps_of(sewn, TUNIC)
    assert peg(sewn, "making").sentence.startswith(f"{len(steps)} steps of work.")
    ticks.tick(sewn, TUNIC, steps[0].id, True)
    assert peg(sewn, "making").sentence == f"1 of {len(steps)} steps done. Next: {steps[1].sentence}"
    for step in steps[1:]:
        ticks.tick(sewn, TUNIC, step.id, True)
    assert peg(sewn, "making").sentence == f"All {len(steps)} steps are done."


def test_a_fact_that_makes_no_sense_hangs_on_one_peg_only(sewn: Room) -> None:
    patterns.change(sewn, TUNIC, "fact.set", {"name": "wearer_age_years", "value": "nine-ish"})
    states = stand(sewn)
    assert states["making"] == "attention"
    assert states["paper"] == "good"


def test_over_the_budget(sewn: Room) -> None:
    money.buy(sewn, "cloth", Money.parse("9", "EUR"), projects={PROJECT: "1"})
    assert peg(sewn, "ledger").sentence == "9.00 EUR of 12.00 EUR spent, 3.00 EUR left."
    money.buy(sewn, "thread", Money.parse("4.50", "EUR"), projects={PROJECT: "1"})
    over = peg(sewn, "ledger")
    assert (over.state, over.sentence) == ("attention", "13.50 EUR spent, 1.50 EUR over the budget.")
    assert "attention" in [line.ink for line in over.picture.lines]


# ---------------------------------------------------------------- pictures and cards


def test_pictures_are_small_and_lie_in_their_boxes(sewn: Room) -> None:
    kept_cloth(sewn)
    lay(sewn)
    fitting.take_in(sewn, TUNIC, "side", [(0, 0), (150, 8), (340, 0)])
    drawn = [one.picture for one in pegs_of(sewn, TUNIC) if one.picture is not None]
    assert len(drawn) >= 8
    for sketch in drawn:
        assert size(sketch) < 9000
        for line in sketch.lines:
            assert len(line.points) >= 2
            assert (line.points >= -1e-6).all()
            assert (line.points <= np.array([sketch.width, sketch.height]) + 1e-6).all()


def test_a_card_is_kept_until_its_garment_moves_on(sewn: Room) -> None:
    def attention() -> int:
        (table,) = cards.tables(sewn)
        return table.garments[0].attention

    def document():
        with sewn.store.read() as reader:
            return reader.documents(cards.CARD)

    asking = [f for f in patterns.findings(sewn, TUNIC) if f.severity != "note"]
    assert attention() == len(asking)
    (kept,) = document()
    assert attention() == len(asking)
    assert document() == (kept,)
    params = {"code": asking[0].code, "where": list(asking[0].where)}
    patterns.change(sewn, TUNIC, "finding.settle", params)
    assert attention() == len(asking) - 1
    history.take_back(sewn, TUNIC)
    assert attention() == len(asking)


def test_tables_say_what_is_left(sewn: Room) -> None:
    money.buy(sewn, "cloth", Money.parse("9", "EUR"), projects={PROJECT: "1"})
    (table,) = cards.tables(sewn)
    assert (str(table.budget), str(table.left)) == ("12.00 EUR", "3.00 EUR")
    assert (table.garments[0].name, table.garments[0].pieces) == (TUNIC, 2)
    assert len(table.garments[0].picture.lines) == 2
