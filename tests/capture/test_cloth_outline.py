"""The outline of a cloth from the points of its border."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d
from shapely.geometry import LinearRing, Polygon
from tests.capture.outline_drawings import both_ways

from eke.capture.cloth_border import _best_path
from eke.capture.cloth_outline import smooth_outline
from eke.capture.corners import resample_closed


def jittered(ring, sigma, seed):
    """Points 1.5 mm apart, off by what neighbours share over some 3 mm."""
    points = resample_closed(np.asarray(ring, float), 1.5)
    noise = gaussian_filter1d(np.random.default_rng(seed).normal(size=points.shape), 1.5, axis=0, mode="wrap")
    return points + sigma * noise / noise.std()


@pytest.mark.parametrize("seed", range(4))
def test_straight_edges_and_corners_of_a_jittered_border(seed):
    shape = [(0, 0), (620, 14), (600, 410), (330, 560), (8, 540)]
    outline = smooth_outline(jittered(shape, 0.25, seed))
    p95, most = both_ways(outline, resample_closed(np.array(shape, float), 0.5))
    assert p95 < 0.3
    assert most < 1.2
    assert LinearRing(outline).is_simple
    assert Polygon(outline).exterior.is_ccw


@pytest.mark.parametrize("radius", [20.0, 60.0, 400.0])
def test_a_round_cloth_stays_round(radius):
    t = np.linspace(0, 2 * np.pi, 2000, endpoint=False)
    circle = radius * np.column_stack([np.cos(t), np.sin(t)])
    outline = smooth_outline(jittered(circle, 0.2, 1))
    assert np.abs(np.hypot(*outline.T) - radius).max() < 0.7
    assert Polygon(outline).area == pytest.approx(np.pi * radius**2, rel=0.01)


@pytest.mark.parametrize("n", [9, 12, 40])
def test_a_tiny_ring_is_left_whole(n):
    t = np.linspace(0, 2 * np.pi, n, endpoint=False)
    ring = 1.5 * n / 6.3 * np.column_stack([np.cos(t), np.sin(t)])
    outline = smooth_outline(ring)
    assert len(outline) >= 3
    assert Polygon(outline).is_valid


@pytest.mark.parametrize("n", [30, 150, 700])
def test_the_best_path_follows_an_edge_all_the_way_round(n):
    offsets = np.arange(-23, 24) * 0.3
    edge = 3.0 * np.sin(2 * np.pi * np.arange(n) / n)
    odds = np.where(offsets[None, :] > edge[:, None], 2.0, -2.0)
    odds[::7] *= -0.2  # a profile that says the opposite is outvoted by its neighbours
    place, clear = _best_path(odds, offsets)
    assert np.abs(place - edge).max() < 0.61  # two places of the profile
    assert (np.delete(clear, np.s_[::7]) > 1.2).all()
