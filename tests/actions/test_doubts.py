"""What a refusal is about, and what can be settled about a photograph by saying something of it."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.actions import found, photographs
from eke.actions.doubts import Missing, doubts_of, missing_of
from eke.actions.room import Room
from eke.errors import BadInput, BadPicture, EkeError, NotTrustworthy
from helpers import pictures, tunic

TUNIC = tunic.TUNIC
SQUARE = [[0, 0], [100, 0], [100, 100], [0, 100]]


def seen(reference: str, **more: Any) -> dict[str, Any]:
    """A tracing of one square, as far as its keeping and its questions look at it."""
    scale = {"reference": reference, "uncertainty_percent": 1.0}
    return {
        "scale": scale,
        "pieces": [{"name": "1", "outline_px": SQUARE}],
        "cloths": [],
        "warnings": [],
        **more,
    }


@pytest.fixture
def one(sewn: Room) -> photographs.Photograph:
    return photographs.take_in_photograph(sewn, TUNIC, pictures.plain_jpeg(), "a.jpg")


@pytest.mark.parametrize(
    ("error", "missing"),
    [
        (NotTrustworthy("No sheet.", reason="no reference"), "scale"),
        (NotTrustworthy("Bent.", reason="not flat"), "scale"),
        (NotTrustworthy("4.4 % off.", reason="uncertain"), "scale"),
        (NotTrustworthy("Nothing to trace.", reason="nothing found"), "outline"),
        (NotTrustworthy("No closed outline."), "outline"),
        (NotTrustworthy("Dark.", reason="dark"), "picture"),
        (NotTrustworthy("Tilted.", reason="tilt"), "picture"),
        (NotTrustworthy("New.", reason="a reason of a later day"), "picture"),
        (BadPicture("Cut short."), "picture"),
        (BadInput("The touch lies outside the picture."), "said"),
    ],
)
def test_a_refusal_is_about_what_is_missing(
    sewn: Room, one: photographs.Photograph, error: EkeError, missing: Missing
) -> None:
    kept = found.keep_refused(sewn, one.id, error, one.said)
    assert missing_of(kept) == missing
    assert missing_of(photographs.photograph(sewn, one.id)) == missing
    traced = found.keep_found(sewn, one.id, seen("a4"), one.said)
    assert (missing_of(traced), traced.reason, traced.doubts) == (None, None, ())


def test_a_card_that_nobody_named_is_a_question(sewn: Room, one: photographs.Photograph) -> None:
    """Boxes and books have its shape, too. Each answer can be said as it stands, and then nothing is asked."""
    traced = found.keep_found(sewn, one.id, seen("card"), one.said)
    (doubt,) = doubts_of(traced)
    assert [c["references"][0]["kind"] for c in doubt.choices] == ["card", "letter", "a4", "sheet"]
    for choice in doubt.choices:
        said = photographs.say_of_photograph(sewn, one.id, **choice)
        assert (said.state, doubts_of(said)) == ("changed", ())
        assert doubts_of(found.keep_found(sewn, one.id, seen("card"), said.said)) == ()


def test_what_is_sure_asks_nothing(sewn: Room, one: photographs.Photograph) -> None:
    assert doubts_of(one) == ()
    assert doubts_of(found.keep_found(sewn, one.id, seen("a4"), one.said)) == ()


def test_a_sheet_of_the_other_kind_can_be_said(sewn: Room, one: photographs.Photograph) -> None:
    said = photographs.say_of_photograph(sewn, one.id, references=[{"kind": "a4", "corners_px": SQUARE}])
    kept = found.keep_refused(sewn, one.id, NotTrustworthy("Letter.", reason="a4 or letter"), said.said)
    (doubt,) = doubts_of(kept)
    assert [dict(r) for r in doubt.choices[0]["references"]] == [{"kind": "letter", "corners_px": SQUARE}]
    photographs.say_of_photograph(sewn, one.id, **doubt.choices[0])


@pytest.mark.parametrize("reason", ["no tilt", "uncertain"])
def test_square_corners_are_offered_until_they_are_said(
    sewn: Room, one: photographs.Photograph, reason: str
) -> None:
    no = NotTrustworthy("No.", reason=reason)
    (doubt,) = doubts_of(found.keep_refused(sewn, one.id, no, one.said))
    assert doubt.choices == ({"square_paper": True},)
    said = photographs.say_of_photograph(sewn, one.id, square_paper=True)
    assert doubts_of(found.keep_refused(sewn, one.id, no, said.said)) == ()


def test_the_computations_own_doubts_come_first(sewn: Room, one: photographs.Photograph) -> None:
    row = {
        "sentence": "It may be a card or a Letter sheet.",
        "choices": [{"references": [{"kind": "letter"}]}],
    }
    (told,) = doubts_of(found.keep_found(sewn, one.id, seen("card", doubts=[row]), one.said))
    assert (told.sentence, list(told.choices)) == (row["sentence"], row["choices"])
    refusal = NotTrustworthy("No.", reason="uncertain", doubts=[row])
    (told,) = doubts_of(found.keep_refused(sewn, one.id, refusal, one.said))
    assert (told.sentence, list(told.choices)) == (row["sentence"], row["choices"])


# ---- turned on its way into the pattern

places = st.lists(st.tuples(st.floats(-2000, 2000), st.floats(-2000, 2000)), max_size=6)
quarters = st.sampled_from((0, 90, 180, 270))


@given(places, quarters, quarters)
def test_quarter_turns_add_up_to_the_last_digit(
    points: list[tuple[float, float]], first: int, second: int
) -> None:
    both = found.turned(found.turned(points, first), second)
    assert both == found.turned(points, (first + second) % 360)
    assert found.turned(points, 0) == [list(p) for p in points]


def test_a_quarter_turn_is_counter_clockwise_and_nothing_between() -> None:
    assert found.turned([(1.0, 0.0)], 90) == [[0.0, 1.0]]
    with pytest.raises(BadInput, match="quarter turns"):
        found.turned([(1.0, 0.0)], 45)
