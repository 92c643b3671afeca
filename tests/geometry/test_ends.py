"""A new direction at an end of a path: exact there, both ends kept, and the line moved by as little as that takes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.errors import BadInput
from eke.geometry import Cubic, Path, deviation_mm, straightness_mm, with_end_direction
from eke.geometry.ends import BEND_REACH_MM, BEND_SHARE

DIPS = 4.0 / 27.0
"""The greatest value of u (1 - u)²."""


def unit(deg: float) -> tuple[float, float]:
    return (math.cos(math.radians(deg)), math.sin(math.radians(deg)))


def apart_mm(made: Path, path: Path) -> float:
    return deviation_mm(made, path.points_at(np.linspace(0.0, path.length_mm, 200)))


@given(
    st.floats(5.0, 400.0), st.floats(20.0, 200.0), st.floats(-20.0, 20.0), st.sampled_from(["start", "end"])
)
def test_a_round_line_stays_round_however_tight_it_is(
    radius: float, sweep: float, off: float, end: str
) -> None:
    path = Path.arc((0.0, 0.0), radius, 0.0, sweep)
    leaves = 90.0 if end == "start" else sweep - 90.0
    made = with_end_direction(path, end, unit(leaves + off))
    got = made.start_direction if end == "start" else tuple(-v for v in made.end_direction)
    assert got == pytest.approx(unit(leaves + off), abs=1e-9)
    assert (made.start, made.end) == (path.start, path.end)
    reach = min(BEND_REACH_MM, BEND_SHARE * path.length_mm)
    # a bound by arithmetic: the push is r |w| u (1 - u)², and |w| = 2 sin(off / 2); a tenth for places slid along the line
    assert apart_mm(made, path) <= 1.1 * DIPS * reach * 2.0 * math.sin(math.radians(abs(off)) / 2.0) + 1e-6
    kept = path.length_mm - reach
    far = made.slice(made.length_mm - kept, made.length_mm) if end == "start" else made.slice(0.0, kept)
    whole = path.slice(reach, path.length_mm) if end == "start" else path.slice(0.0, kept)
    assert apart_mm(far, whole) < 1e-6


def test_a_line_in_which_it_runs_already_is_left_to_the_last_thousandth() -> None:
    path = Path.arc((0.0, 0.0), 20.0, 0.0, 170.0)
    made = with_end_direction(path, "end", unit(80.0))
    assert apart_mm(made, path) < 1e-3
    # straight for a while: at most by what the round falls off meanwhile, and by its turn there spread over the reach
    square = with_end_direction(path, "end", unit(80.0), 4.0)
    assert straightness_mm(square.slice(square.length_mm - 4.0, square.length_mm)) < 1e-9
    reach = BEND_SHARE * path.length_mm
    assert apart_mm(square, path) < 4.0**2 / (2.0 * 20.0) + DIPS * reach * 4.0 / 20.0


@given(st.floats(-170.0, 170.0), st.floats(1.0, 20.0))
def test_any_turn_is_made_and_what_is_to_be_straight_is_straight(off: float, straight: float) -> None:
    path = Path.line((0.0, 0.0), (150.0, 0.0))
    made = with_end_direction(path, "start", unit(off), straight)
    assert made.start_direction == pytest.approx(unit(off), abs=1e-9)
    assert straightness_mm(made.slice(0.0, straight)) < 1e-9
    joint = made.slice(straight, made.length_mm)
    assert joint.start_direction == pytest.approx(unit(off), abs=1e-6)


def test_a_curve_without_a_handle_turns_too() -> None:
    path = Path((Cubic((0.0, 0.0), (0.0, 0.0), (60.0, 30.0), (100.0, 30.0)),))
    made = with_end_direction(path, "start", (1.0, 0.0))
    assert made.start_direction == pytest.approx((1.0, 0.0), abs=1e-9)
    assert apart_mm(made, path) < DIPS * 60.0 * 0.5


def test_what_is_too_short_to_be_straight_so_far_is_refused() -> None:
    with pytest.raises(BadInput, match="too short"):
        with_end_direction(Path.line((0, 0), (12, 0)), "start", (0, 1), 10.0)
