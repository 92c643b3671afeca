"""A wearer's usual changes by the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from eke.actions.room import open_room
from helpers import tunic

from .conftest import Run, document, one_sentence


@pytest.fixture
def two(eke: Run, tunic_room: Path) -> Run:
    """A tunic that was lengthened and a blouse, for one wearer."""
    eke("garment", "say", tunic.TUNIC, "wearer=the eldest")
    eke("garment", "enter", "Blouse", "--project", tunic.PROJECT, "--fact", "wearer=the eldest")
    with open_room(tunic_room) as room:
        tunic.take_tunic(room, "Blouse")
        tunic.sew_tunic(room, "Blouse")
    eke("fit", "take-in", tunic.TUNIC, "side", "--at", "0=0", "--at", "150=8", "--at", "340=0")
    return eke


def test_usual_changes_are_listed_made_and_put_aside(two: Run) -> None:
    listed = two("fit", "usual", "Blouse").stdout
    assert (
        "1 On the last garment for the eldest, “Tunic”, you took in the seam “side” by up to 8 mm." in listed
    )
    (offer,) = document(two("fit", "usual", "Blouse", "--json"))["offers"]
    assert offer["kind"] == "fit.take_in"
    assert "is not for this garment" in two("fit", "usual", "Blouse", "--not-here", "1").stdout
    assert (
        "Not for this garment: took in the seam “side” by up to 8 mm." in two("fit", "usual", "Blouse").stdout
    )
    two("undo", "--garment", "Blouse")
    assert "by up to 6 mm" in two("fit", "usual", "Blouse", "--do", "1", "--by", "6").stdout
    assert "Nothing more is usual" in two("fit", "usual", "Blouse").stdout


def test_what_cannot_be_meant_is_said(two: Run) -> None:
    for words in (("--do", "2"), ("--by", "3"), ("--do", "1", "--not-here", "1"), ("--do", "1", "--by", "0")):
        assert one_sentence(two("fit", "usual", "Blouse", *words, code=2))
    two("garment", "say", "Blouse", "wearer=")
    assert "Nobody is named" in two("fit", "usual", "Blouse").stdout
