"""Rings that cross themselves: judged by Shapely's own test of simplicity and validity."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LinearRing, Polygon

from eke.capture.fitting import flatten_segments
from eke.capture.simple_rings import simple_chain, simple_ring


def circle(n=400, r=100.0):
    t = np.linspace(0, 2 * np.pi, n, endpoint=False)
    return np.column_stack([r * np.cos(t), r * np.sin(t)])


def test_a_simple_ring_is_left_alone():
    ring = circle()
    same, moved = simple_ring(ring)
    assert same is ring
    assert moved == 0.0


def test_a_curl_of_a_tenth_of_a_millimetre_is_cut_off():
    ring = circle()
    at = ring[50]
    curl = at + np.array([[0.1, 0.05], [-0.06, 0.1], [-0.1, -0.1], [0.1, 0.0]])
    crossed = np.concatenate([ring[:51], curl, ring[51:]])
    assert not LinearRing(crossed).is_simple
    fixed, moved = simple_ring(crossed)
    assert LinearRing(fixed).is_simple
    assert 0.0 < moved < 0.2
    assert LinearRing(fixed).hausdorff_distance(LinearRing(ring)) < 0.2
    assert Polygon(fixed).exterior.is_ccw


def test_a_long_tail_that_was_cut_off_is_told_in_millimetres():
    # a keyhole: the ring goes out to (140, 0), round, and comes back over itself
    ring = np.array([[0, 0], [100, 0], [140, -10], [150, 10], [100, -3], [100, 100], [0, 100]], float)
    assert not LinearRing(ring).is_simple
    fixed, moved = simple_ring(ring)
    assert LinearRing(fixed).is_simple
    assert 30.0 < moved < 60.0


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.floats(0.05, 1.5))
def test_any_jittered_ring_becomes_simple_and_stays_where_it_was(seed, size):
    rng = np.random.default_rng(seed)
    ring = circle(500, 60.0) + rng.normal(0, size, (500, 2))
    fixed, moved = simple_ring(ring)
    assert LinearRing(fixed).is_simple
    assert moved <= 8 * size + 1.0
    assert abs(Polygon(fixed).area / Polygon(circle(500, 60.0)).area - 1) < 0.1


def test_a_chain_keeps_the_pieces_that_do_not_cross():
    a, b, c, d = (np.array(p, float) for p in ((0, 0), (200, 0), (200, 150), (0, 150)))
    over = np.array([200.3, -0.4])  # the side begins below the hem and leans over it
    chain = (
        np.array([a, [200.2, 0.2]]),
        np.array([[200.2, 0.2], over]),
        np.array([over, [199.9, 0.6], [199.9, 0.9], c]),
        np.array([c, [130, 170], [70, 170], d]),
        np.array([d, a]),
    )
    crossed = flatten_segments(chain, 0.05)
    assert not LinearRing(crossed).is_simple
    controls, moved = simple_chain(chain, 0.05)
    flat = flatten_segments(controls, 0.05)
    assert LinearRing(flat).is_simple
    assert moved < 0.7
    assert any(k is chain[3] for k in controls)
    assert any(k is chain[4] for k in controls)
    for k, piece in enumerate(controls):
        assert np.allclose(piece[-1], controls[(k + 1) % len(controls)][0])
    assert b[0] == 200.0
