"""What a refusal is about, and what can be settled about a photograph by saying something of it."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.actions import found, photographs
from eke.actions.questions import Missing, answers_of, missing_of
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
        (NotTrustworthy("Is it a card?", reason="which reference"), "scale"),
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
    assert (missing_of(traced), traced.reason, traced.answers) == (None, None, ())


@pytest.mark.parametrize("taken", ["a4", "letter", "card"])
def test_what_was_taken_by_its_shape_is_a_question(
    sewn: Room, one: photographs.Photograph, taken: str
) -> None:
    """Boxes and books have such shapes, too. Each answer can be said as it stands, and then nothing is asked."""
    answers = answers_of(found.keep_found(sewn, one.id, seen(taken), one.said))
    assert answers[0]["references"][0]["kind"] == taken
    assert {answer["references"][0]["kind"] for answer in answers} == {"a4", "letter", "card"}
    for answer in answers:
        said = photographs.say_of_photograph(sewn, one.id, **answer)
        assert (said.state, answers_of(said)) == ("changed", ())
        assert answers_of(found.keep_found(sewn, one.id, seen(taken), said.said)) == ()


@pytest.mark.parametrize("sure", ["sheet", "a4+card"])
def test_what_is_sure_asks_nothing(sewn: Room, one: photographs.Photograph, sure: str) -> None:
    assert answers_of(one) == ()
    assert answers_of(found.keep_found(sewn, one.id, seen(sure), one.said)) == ()


@pytest.mark.parametrize("reason", ["no tilt", "uncertain"])
def test_square_corners_are_offered_until_they_are_said(
    sewn: Room, one: photographs.Photograph, reason: str
) -> None:
    no = NotTrustworthy("No.", reason=reason)
    assert answers_of(found.keep_refused(sewn, one.id, no, one.said)) == ({"square_paper": True},)
    said = photographs.say_of_photograph(sewn, one.id, square_paper=True)
    assert answers_of(found.keep_refused(sewn, one.id, no, said.said)) == ()


def test_what_a_refusal_asks_can_be_said(sewn: Room, one: photographs.Photograph) -> None:
    """The computation names what may lie there, with its corners; one press says it."""
    rows = [{"kind": "card", "corners_px": SQUARE}, {"kind": "letter", "corners_px": SQUARE}]
    why = NotTrustworthy("Is it a card?", reason="which reference", places_px=SQUARE, answers=rows)
    kept = found.keep_refused(sewn, one.id, why, one.said)
    assert [list(p) for p in kept.refused_px] == SQUARE
    answers = answers_of(photographs.photograph(sewn, one.id))
    assert answers == tuple({"references": [row]} for row in rows)
    said = photographs.say_of_photograph(sewn, one.id, **answers[1])
    assert (said.state, said.references[0]["kind"], answers_of(said)) == ("changed", "letter", ())


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
