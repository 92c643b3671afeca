"""Convex bodies, the lines between them, and what the linear programs do with them."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon
from shapes import star

from eke.lay import Part, Problem, Strip, faults
from eke.lay.collide.tables import PF_X, PF_Y
from eke.lay.prepare import prepare
from eke.lay.search import strip
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
