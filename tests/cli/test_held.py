"""``eke true`` with lengths, balance lines and halves: edges and lines by name."""

from __future__ import annotations

from pathlib import Path

from cli.conftest import Run, document, one_sentence
from eke.actions.room import open_room
from helpers import yoke
from helpers.tunic import TUNIC


def test_a_length_is_made_and_found_again_when_it_is_lost(eke: Run, tunic_room: Path) -> None:
    said = eke("true", TUNIC, "true.length", "edge=front.side", "length_mm=352", "keep=start").stdout
    assert "Made “side” 352.0 mm long, to stay so" in said
    eke("true", TUNIC, "corner.move", "edge=front.side", "end=end", "to=182,356")
    found = document(eke("seam", "walk", TUNIC, "--json"))["findings"]
    number = next(i for i, f in enumerate(found, start=1) if f["code"] == "length-held")
    assert "is held at 352.0 mm" in found[number - 1]["sentence"]
    eke("seam", "walk", TUNIC, "--fix", str(number))
    assert "length-held" not in {
        f["code"] for f in document(eke("seam", "walk", TUNIC, "--json"))["findings"]
    }
    assert "nearest that works is" in one_sentence(
        eke("true", TUNIC, "true.length", "edge=front.side", "length_mm=3520", code=2)
    )
    assert "be of any length" in eke("true", TUNIC, "held.drop", "edge=front.side").stdout


def test_a_corner_is_put_on_a_balance_line_by_name(eke: Run, tunic_room: Path) -> None:
    eke("true", TUNIC, "mark.set", "piece=front", "kind=balance", "name=waist", "points=[[0,340],[190,340]]")
    said = eke("true", TUNIC, "true.on_line", "edge=front.side", "end=end", "line=waist").stdout
    assert "Put the corner of “front” between “side” and “armhole” on the waist line, to stay there" in said
    refused = eke("true", TUNIC, "true.on_line", "edge=back.side", "end=end", "line=waist", code=2)
    assert "Draw one on it first" in one_sentence(refused)


def test_both_halves_are_made_the_same(eke: Run, tunic_room: Path) -> None:
    with open_room(tunic_room) as room:
        yoke.take_yoke(room)
    said = eke("true", TUNIC, "true.halves", "piece=yoke", "take=right").stdout
    assert "Made both halves of “yoke” like its right half; they lay up to " in said
    again = eke("true", TUNIC, "true.halves", "piece=yoke").stdout
    assert "they lay up to 0.0 mm apart" in again
    assert "half on its fold" in one_sentence(eke("true", TUNIC, "true.halves", "piece=front", code=2))
