"""Shapes whose edges run along each other, or whose corners lie on each other: no edge crosses, yet they overlap."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapes import box_points

from eke.lay import Part, Placement, Problem, Sheet, verify
from eke.lay.prepare import prepare
from eke.lay.search import registry
from eke.lay.search.hand import Hand, Lay, Pace

BAR = np.roll(box_points(260, 45), 2, axis=0)
"""Its first point lies at the top: whether a point on a border counts as inside depends on the side of the border."""


def loss_of(problem: Problem, places: list[Placement]) -> float:
    """Return the kernels' loss of a lay as it is, between pieces."""
    hand = Hand(prepare(problem), 0, 0, Pace(None, 1, lambda: False, 1), lambda h: Lay((), (), True, 0, 0))
    registry.lay_start(hand, places)
    hand.settle()
    return float(hand.state.loss[:, : hand.n].sum())


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 259), st.sampled_from([0.0, 180.0]))
def test_bars_that_lie_in_line_and_in_each_other(off: int, turn: float) -> None:
    problem = Problem([Part("bar", BAR, 2, (0.0, 180.0))], (Sheet("s", box_points(900, 45)),))
    shift = (260.0, 45.0) if turn else (0.0, 0.0)
    places = [
        Placement("bar", "s", 0.0, 100.0, 0.0),
        Placement("bar", "s", turn, 100.0 + off + shift[0], shift[1]),
    ]
    assert verify.faults(problem, places)
    assert loss_of(problem, places) > 0.0
    assert loss_of(problem, places[::-1]) > 0.0


@pytest.mark.parametrize("small", [(60.0, 20.0), (10.0, 4.0), (200.0, 45.0)])
@pytest.mark.parametrize("corner", range(4))
def test_a_small_box_in_the_corner_of_a_large_one(small: tuple[float, float], corner: int) -> None:
    large = box_points(260, 120)
    problem = Problem(
        [Part("large", large), Part("small", box_points(*small))], (Sheet("s", box_points(400, 300)),)
    )
    at = np.array([[0, 0], [260 - small[0], 0], [260 - small[0], 120 - small[1]], [0, 120 - small[1]]])[
        corner
    ]
    places = [
        Placement("large", "s", 0.0, 50.0, 50.0),
        Placement("small", "s", 0.0, 50.0 + at[0], 50.0 + at[1]),
    ]
    assert verify.faults(problem, places)
    assert loss_of(problem, places) > 0.0
    assert loss_of(problem, places[::-1]) > 0.0


def test_the_same_shape_on_itself_overlaps_and_beside_itself_does_not() -> None:
    problem = Problem([Part("bar", BAR, 2)], (Sheet("s", box_points(900, 120)),))
    first = Placement("bar", "s", 0.0, 10.0, 10.0)
    assert loss_of(problem, [first, first]) > 0.0
    assert loss_of(problem, [first, Placement("bar", "s", 0.0, 10.0, 55.01)]) == 0.0
    assert loss_of(problem, [first, Placement("bar", "s", 0.0, 270.01, 10.0)]) == 0.0
