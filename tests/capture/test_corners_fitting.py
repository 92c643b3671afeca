"""Corners and fitted edges on point chains whose truth is known."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.capture.outline_drawings import away, bodice, cubic, line, wavered

from eke.capture.corners import corner_places, resample_closed
from eke.capture.fitting import bezier, fit_edge, flatten_segments
from eke.capture.outline_edges import _edges, confirmed


def test_corners_of_a_wavering_outline():
    points, corners, _ = bodice()
    for seed in range(5):
        ring = resample_closed(wavered(points, np.random.default_rng(seed)), 0.5)
        found = ring[corner_places(ring, 0.5)]
        assert len(found) == len(corners)
        assert np.hypot(*(found[:, None] - corners[None]).transpose(2, 0, 1)).min(axis=0).max() < 2.0


@pytest.mark.parametrize("radius", [12.0, 25.0, 80.0])
def test_a_round_bend_is_no_corner(radius):
    t = np.linspace(0, 2 * np.pi, 2000, endpoint=False)
    squeezed = np.column_stack([radius * np.cos(t), 1.6 * radius * np.sin(t)])
    assert corner_places(resample_closed(squeezed, 0.5), 0.5) == []


@pytest.mark.parametrize("turn_deg", [20.0, 45.0, 90.0, 140.0])
def test_the_angle_of_a_kite(turn_deg):
    half = np.radians(180 - turn_deg) / 2
    tip = np.array([0.0, 0.0])
    arms = [120 * np.array([np.cos(s), np.sin(s)]) for s in (-half, half)]
    far = np.array([400.0, 0.0])
    ring = np.concatenate([line(tip, arms[0]), line(arms[0], far), line(far, arms[1]), line(arms[1], tip)])
    even = resample_closed(ring, 0.5)
    found = even[corner_places(even, 0.5)]
    assert np.hypot(*found.T).min() < 1.0


def test_a_line_stays_one_line_in_spite_of_waver():
    rng = np.random.default_rng(2)
    s = np.arange(0, 300, 0.5)
    waver = np.interp(s, np.arange(0, 301, 15), rng.normal(0, 0.08, 21))
    chain = fit_edge(np.column_stack([s, waver]))
    assert [len(c) for c in chain.controls] == [2]


def test_one_cubic_is_found_again():
    p = np.array([(0, 0), (60, 0), (100, 50), (100, 120)], float)
    points = cubic(*p)
    chain = fit_edge(points)
    assert len(chain.controls) == 1
    assert (
        away(bezier(chain.controls[0], np.linspace(0, 1, 50)), np.vstack([points, points[::-1]])).max() < 0.05
    )


def test_a_line_running_into_a_curve():
    points = np.concatenate([line((0, 0), (120, 0)), cubic((120, 0), (160, 0), (190, 30), (190, 80))])
    chain = fit_edge(points)
    assert 2 <= len(chain.controls) <= 3
    assert chain.rms_mm < 0.08
    for a, b in zip(chain.controls[:-1], chain.controls[1:], strict=True):
        u, v = a[-1] - a[-2], b[1] - b[0]
        turn = np.degrees(np.arctan2(u[0] * v[1] - u[1] * v[0], u @ v))
        assert abs(turn) < 0.2


@pytest.mark.parametrize("radius", [24.0, 30.0])
@pytest.mark.parametrize("seed", [1, 3])
def test_the_sides_and_round_corners_of_a_pocket(radius, seed):
    """Down one side, round two corners and up the other: five pieces, where two or three leave it by a millimetre."""
    k = 0.5523 * radius  # a quarter of a circle as one cubic, to 0.03 % (common in computer graphics)
    w, h = 170.0, 160.0
    bow = np.concatenate(
        [
            line((0, h), (0, radius)),
            cubic((0, radius), (0, radius - k), (radius - k, 0), (radius, 0)),
            line((radius, 0), (w - radius, 0)),
            cubic((w - radius, 0), (w - radius + k, 0), (w, radius - k), (w, radius)),
            line((w, radius), (w, h)),
        ]
    )
    chain = fit_edge(wavered(bow, np.random.default_rng(seed), size_mm=0.12))
    dense = np.concatenate([bezier(c, np.linspace(0, 1, 300)) for c in chain.controls])
    inner = dense[(dense[:, 1] < h - 12)]
    off = np.hypot(*(inner[:, None] - bow[None]).transpose(2, 0, 1)).min(axis=1)
    assert off.max() < 0.5
    assert len(chain.controls) <= 6


def test_pinned_ends_are_exact():
    points = cubic((0, 0), (60, 0), (100, 50), (100, 120))[4:-4]
    start, end = np.array([-0.3, 0.1]), np.array([100.2, 120.4])
    chain = fit_edge(points).pinned(points, start, end)
    assert np.array_equal(chain.controls[0][0], start)
    assert np.array_equal(chain.controls[-1][-1], end)
    assert chain.rms_mm < 0.2


@given(
    st.lists(st.tuples(st.floats(-200, 200), st.floats(-200, 200)), min_size=4, max_size=4, unique=True),
)
def test_flattening_keeps_to_its_tolerance(control):
    p = np.array(control)
    flat = flatten_segments([p, np.array([p[-1], p[0]])])
    dense = bezier(p, np.linspace(0, 1, 400))
    # the polyline is closed; the curve lies along its first part
    assert away(dense, flat).max() < 0.0501


def test_two_points_are_needed():
    with pytest.raises(ValueError, match="two points"):
        fit_edge(np.zeros((1, 2)))


def ring_with(top: list[tuple[float, float]]) -> tuple[np.ndarray, list[int]]:
    """A rectangle of 300 x 200 mm with other points along its top, every 0.5 mm; and where its corners are."""
    corners = np.array([(0, 0), (300, 0), (300, 200), *top, (0, 200)], float)
    ring = resample_closed(corners, 0.5)
    return ring, sorted(int(np.argmin(np.hypot(*(ring - c).T))) for c in corners)


@pytest.mark.parametrize(
    ("top", "kept"),
    [
        (
            [(154.0, 200.0), (147.0, 198.8), (140.0, 200.0)],
            4,
        ),  # what a double notch does to the middle of a broad line
        ([(150.0, 200.0), (150.0, 193.0)], 6),  # a step that was drawn
        ([(150.0, 200.0), (146.0, 230.0), (142.0, 200.0)], 7),  # and a tab
    ],
)
def test_a_blot_in_a_straight_edge_makes_no_corners(top, kept):
    ring, corners = ring_with(top)
    good = np.ones(len(ring), bool)
    left, _, chains = confirmed(corners, lambda at: _edges(ring, good, at, 2, {}))
    assert len(left) == kept
    assert len(chains) == kept
