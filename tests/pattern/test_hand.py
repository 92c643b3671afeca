"""What the hand that traced adds to what a photograph is worth."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.errors import BadInput
from eke.pattern.hand import HAND_MM, WORN_MM, with_hand


@given(st.floats(0.0, 20.0), st.sampled_from([None, *HAND_MM]), st.booleans())
def test_a_hand_never_makes_a_line_surer_and_never_adds_more_than_its_own(
    photo_mm: float, by: str | None, worn: bool
) -> None:
    own = [HAND_MM[by]] if by else []  # type: ignore[index]
    own += [WORN_MM] if worn else []
    told = with_hand(photo_mm, by, worn)
    assert photo_mm <= told <= photo_mm + sum(own) + 1e-12
    assert told == pytest.approx(math.sqrt(photo_mm**2 + sum(v * v for v in own)))


def test_thin_cloth_is_less_sure_than_a_pen() -> None:
    assert with_hand(0.5, "cloth") > with_hand(0.5, "pins") > with_hand(0.5, "pen") > with_hand(0.5)


def test_another_tool_is_refused_with_those_that_are_known() -> None:
    with pytest.raises(BadInput, match="pen, pins, cloth"):
        with_hand(0.5, "scissors")
