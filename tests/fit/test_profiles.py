"""Profiles of amounts along an edge, and edges moved by them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from eke.fit.edges import FIT_MM, displaced, smooth_profile
from eke.geometry import Cubic, Path

knots = st.lists(
    st.tuples(st.integers(0, 700), st.one_of(st.integers(-9, 9), st.floats(-20.0, 20.0))),
    min_size=2,
    max_size=7,
    unique_by=lambda knot: knot[0],
)


@given(knots)
def test_the_profile_is_scipys_monotone_cubic(rows):
    at, amount = np.array(sorted(rows), dtype=float).T
    mm = np.linspace(-20.0, 720.0, 149)
    want = PchipInterpolator(at, amount)(np.clip(mm, at[0], at[-1]))
    assert smooth_profile([(float(a), float(b)) for a, b in rows])(mm) == pytest.approx(want, abs=1e-9)


@given(st.floats(-40.0, 40.0), st.floats(-40.0, 40.0), st.floats(-8.0, 8.0), st.floats(100.0, 500.0))
def test_a_moved_edge_lies_where_it_should(bend, back, most, place):
    path = Path((Cubic((0.0, 0.0), (200.0, bend), (400.0, back), (600.0, 0.0)),))
    profile = smooth_profile([(0.0, 0.0), (place, most), (path.length_mm, 0.0)])
    made = displaced(path, profile)
    at = np.linspace(0.0, path.length_mm, 61)
    points, tangents = path.places_at(at)
    want = points + profile(at)[:, None] * np.stack([-tangents[:, 1], tangents[:, 0]], axis=1)
    assert max(made.nearest((float(x), float(y))).distance_mm for x, y in want) <= FIT_MM * 1.5
