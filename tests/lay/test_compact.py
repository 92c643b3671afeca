"""Convex bodies, the lines between them, and what the linear programs do with them."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon
from shapes import broken_rules, star

from eke.lay import Part, Placement, Problem, Sheet, Strip, faults
from eke.lay.collide.tables import PF_X, PF_Y
from eke.lay.prepare import prepare
from eke.lay.search import registry, strip
from eke.lay.search.compact import Compactor
from eke.lay.search.convex import convex_bodies
from eke.lay.search.hand import Hand, Lay, Pace


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 100_000), st.integers(3, 30), st.booleans())
def test_bodies_are_convex_and_make_up_the_shape(seed: int, points: int, hole: bool) -> None:
    rng = np.random.default_rng(seed)
    shape = Polygon(star(rng, 100, points))
    if hole:
        shape = shape.difference(Polygon(star(rng, 20, 5)))
    bodies = [Polygon(b) for b in convex_bodies(shape)]
    assert abs(sum(b.area for b in bodies) - shape.area) < 1e-6 * max(1.0, shape.area)
    for body in bodies:
        assert body.convex_hull.area - body.area < 1e-6 * shape.area
        assert body.difference(shape.buffer(1e-7)).area < 1e-6 * shape.area


def test_a_convex_outline_is_one_body() -> None:
    hexagon = [(np.cos(a), np.sin(a)) for a in np.arange(6) * np.pi / 3]
    assert len(convex_bodies(Polygon(hexagon))) == 1


def row_of(seed: int) -> tuple[Problem, Hand]:
    """Stars in a row on a strip, with room between them."""
    rng = np.random.default_rng(seed)
    parts = [Part(f"p{k}", star(rng, 60, int(rng.integers(4, 10)))) for k in range(5)]
    problem = Problem(parts, strip=Strip(200.0), gap_parts_mm=1.0)
    hand = Hand(
        prepare(problem), seed, 0, Pace(None, 10, lambda: False, 1), lambda h: Lay((), (), True, 0, 0)
    )
    k = hand.ground.scale
    hand.state.piece_f[:, PF_X] = np.arange(5) * 130.0 * k + 100 * k
    hand.state.piece_f[:, PF_Y] = 100.0 * k
    strip.set_length(hand, 900.0 * k)
    hand.settle()
    return problem, hand


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 100_000))
def test_a_row_is_pressed_together_without_a_fault(seed: int) -> None:
    problem, hand = row_of(seed)
    if faults(problem, hand.placements()):
        return  # a star that was too high for the strip
    before = strip.length_now(hand)
    turns = [p.turn_deg for p in hand.placements()]
    assert Compactor(hand).shorten()
    assert strip.length_now(hand) < before
    assert faults(problem, hand.placements()) == []
    assert [p.turn_deg for p in hand.placements()] == turns


def heap_of(seed: int, over: float) -> tuple[Problem, Hand]:
    """Stars on an odd sheet, in rows, each pushed ``over`` mm into its neighbour on the left."""
    rng = np.random.default_rng(seed)
    parts = [Part(f"p{k}", star(rng, 50, int(rng.integers(4, 10)))) for k in range(6)]
    sheet = np.array([[0, 0], [520, 0], [540, 260], [300, 320], [0, 250]], float)
    problem = Problem(parts, (Sheet("s", sheet),), gap_parts_mm=1.0)
    hand = Hand(
        prepare(problem), seed, 0, Pace(None, 40, lambda: False, 1), lambda h: Lay((), (), True, 0, 0)
    )
    x, places = 60.0, []
    for k, part in enumerate(parts):
        low, high = Polygon(part.outline).bounds[0], Polygon(part.outline).bounds[2]
        if k == 3:
            x = 60.0
        places.append(Placement(part.id, "s", 0.0, x - low, 65.0 + 120.0 * (k // 3)))
        x += high - low - over
    registry.lay_start(hand, places)
    return problem, hand


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 100_000), st.floats(0.5, 12.0))
def test_what_lies_in_each_other_is_parted_or_left_as_it_was(seed: int, over: float) -> None:
    problem, hand = heap_of(seed, over)
    before = hand.placements()
    if hand.settle() <= 0.0:
        return  # jagged neighbours that did not meet
    if Compactor(hand).part():
        assert hand.settle() <= 0.0
        assert broken_rules(problem, hand.placements()) == []
        assert [p.turn_deg for p in hand.placements()] == [p.turn_deg for p in before]
    else:
        assert hand.placements() == before


def test_most_heaps_are_parted() -> None:
    parted = 0
    for seed in range(20):
        _, hand = heap_of(seed, 6.0)
        parted += hand.settle() > 0.0 and Compactor(hand).part()
    assert parted >= 12
