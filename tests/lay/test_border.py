"""Straight edges on the border of the sheet: a cut that need not be made."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapes import box_points, broken_rules

from eke.lay import Part, Placement, Problem, Sheet
from eke.lay.prepare import prepare
from eke.lay.rest import border_shared
from eke.lay.search import registry
from eke.lay.search.compact import Compactor
from eke.lay.search.hand import Hand, Lay, Pace
from eke.lay.search.leftover import Rectangle, start_from


def loose(away: float, gap_edge: float = 0.0, seed: int = 0) -> tuple[Problem, Hand, Rectangle]:
    """Three boxes along the lower and left border of a sheet, each a little off it, and the rectangle beside them."""
    rng = np.random.default_rng(seed)
    off = rng.uniform(0.2, 1.0, 6) * away + gap_edge
    problem = Problem(
        [Part(name, box_points(100, 60)) for name in "abc"],
        (Sheet("s", box_points(500, 300)),),
        gap_parts_mm=2.0,
        gap_edge_mm=gap_edge,
    )
    places = [
        Placement("a", "s", 0.0, 100.0 + off[0], 0.0 + off[1]),
        Placement("b", "s", 0.0, 240.0 + off[2], 0.0 + off[3]),
        Placement("c", "s", 0.0, 0.0 + off[4], 100.0 + off[5]),
    ]
    begin = start_from(problem, places)
    assert begin is not None
    hand = Hand(
        prepare(begin.problem), 1, 0, Pace(None, 50, lambda: False, 1), lambda h: Lay((), (), True, 0, 0)
    )
    registry.lay_start(hand, begin.placements)
    rest = Rectangle(hand)
    assert hand.settle() <= 0.0
    return problem, hand, rest


def laid(hand: Hand) -> list[Placement]:
    return [p for p in hand.placements() if p.part in "abc"]


@settings(max_examples=10, deadline=None)
@given(st.floats(1.0, 12.0), st.integers(0, 1000))
def test_edges_near_the_border_come_to_lie_on_it(away: float, seed: int) -> None:
    problem, hand, rest = loose(away, seed=seed)
    size = rest.size
    assert Compactor(hand).to_border(rest)
    assert rest.size == size
    assert broken_rules(problem, laid(hand)) == []
    assert border_shared(problem, laid(hand)) == pytest.approx(100 + 100 + 60, abs=4.0)


def test_with_a_gap_along_the_border_there_is_nothing_to_share() -> None:
    problem, hand, rest = loose(6.0, gap_edge=5.0)
    assert not Compactor(hand).to_border(rest)
    assert border_shared(problem, laid(hand)) == 0.0


def test_what_lies_on_the_border_is_measured() -> None:
    problem = Problem([Part("a", box_points(100, 60), 2)], (Sheet("s", box_points(500, 300)),))
    corner = [Placement("a", "s", 0.0, 0.0, 0.0), Placement("a", "s", 0.0, 200.0, 10.0)]
    assert border_shared(problem, corner) == pytest.approx(160.0, abs=2.0)
    turned = [Placement("a", "s", 90.0, 60.0, 0.3), Placement("a", "s", 180.0, 500.0, 300.0)]
    assert border_shared(problem, turned) == pytest.approx(100 + 60 + 160, abs=2.0)
