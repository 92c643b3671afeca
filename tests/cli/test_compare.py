"""``eke compare``: what a maker reads, what a machine reads, what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from cli.conftest import Run, document, one_sentence
from helpers.tunic import TUNIC


@pytest.fixture
def changed(eke: Run, tunic_room: Path) -> Run:
    """A tunic with a mock-up noted, taken in at the side since."""
    eke("true", TUNIC, "mockup.note", "noticed=wide")
    eke("fit", "take-in", TUNIC, "side", "--at", "0=0", "--at", "150=8", "--at", "340=0", "--reason", "wide")
    return eke


def test_what_a_maker_reads(changed: Run) -> None:
    said = changed("compare", TUNIC).stdout
    assert "Earlier: mock-up 1, as it was cut\nLater:   now\n" in said
    assert "  front differs by up to 4.0 mm, at side\n" in said
    assert "  Took in side by up to 8 mm\n" in said
    assert "side seam" in said
    assert said == changed("compare", TUNIC, "now", "mock-up 1").stdout


def test_what_a_machine_reads(changed: Run) -> None:
    told = document(changed("compare", TUNIC, "mock-up 1", "--json"))
    assert told["format"] == "eke-compared-1"
    assert (told["earlier"]["mock_ups"], told["later"]["now"]) == ([1], True)
    assert {p["name"]: p["how"] for p in told["pieces"]} == {"front": "changed", "back": "changed"}
    assert [s["fate"] for s in told["steps"]] == ["made", "made"]
    assert any(m["difference_mm"] for m in told["measures"])
    by_id = document(changed("compare", TUNIC, told["earlier"]["id"][:8], told["later"]["id"], "--json"))
    assert by_id == told


def test_what_was_switched_off_reads_so(changed: Run) -> None:
    steps = document(changed("history", "--garment", TUNIC, "--json"))["steps"]
    changed("switch", steps[-1]["id"], "off", "--garment", TUNIC)
    said = changed("compare", TUNIC).stdout
    assert "Took in side by up to 8 mm – made, and switched off\n" in said
    assert "2 pieces are the same" in said


def test_a_picture_is_written_and_none_replaced(changed: Run, tmp_path: Path) -> None:
    changed("compare", TUNIC, "--picture", "between.svg")
    here = tmp_path / "here" / "between.svg"
    drawn = here.read_bytes()
    assert b"<svg" in drawn
    assert one_sentence(changed("compare", TUNIC, "--picture", "between.svg", code=2))
    assert here.read_bytes() == drawn
    changed("compare", TUNIC, "--picture", "between.svg", "--force")
    assert one_sentence(changed("compare", TUNIC, "--picture", "between.odt", code=2))


def test_no_such_stage(changed: Run) -> None:
    for words in (("mock-up 9",), ("now", "nothing"), ("zzzzzz",)):
        assert "mock-up 1" in one_sentence(changed("compare", TUNIC, *words, code=2))
