"""Thread direction and repeats from pictures of cloth made here."""

import numpy as np
import pytest

from eke.capture.rectify import Rectified
from eke.capture.weave import read_repeat, read_weave


def woven(angle_deg, pitch=(1.0, 1.1), mm=0.25, size=900, seed=0, noise=4.0, slub=0.05):
    """A plain weave turned by an angle (y up), with yarns of uneven thickness."""
    rng = np.random.default_rng(seed)
    rows, cols = np.mgrid[0:size, 0:size]
    x, y = cols * mm, -rows * mm
    a = np.radians(angle_deg)
    u = x * np.cos(a) + y * np.sin(a)
    v = -x * np.sin(a) + y * np.cos(a)
    across = rng.normal(0, slub, 4000)[(v / pitch[1]).astype(int) % 4000]
    along = rng.normal(0, slub, 4000)[(u / pitch[0]).astype(int) % 4000]
    grey = 120 * np.exp(
        0.15 * np.sin(2 * np.pi * u / pitch[0]) * np.sin(2 * np.pi * v / pitch[1]) + across + along
    )
    grey = np.clip(grey + rng.normal(0, noise, grey.shape), 0, 255).astype(np.uint8)
    return Rectified(np.dstack([grey] * 3), mm, (0.0, 0.0), None, 0.1, lambda p: np.zeros(len(p)))  # type: ignore[arg-type]


def off_axes(found, want):
    return abs((found - want + 45) % 90 - 45)


@pytest.mark.parametrize("angle", [0.0, 3.0, 27.5, 45.0, 61.0, 88.8])
def test_thread_direction_to_half_a_degree(angle):
    rect = woven(angle)
    weave = read_weave(rect, np.ones((112, 112), bool), 8.0)
    assert weave is not None
    assert off_axes(weave.thread_deg, angle) < 0.5
    assert 0 <= weave.thread_deg < 180
    assert off_axes(weave.thread_deg, angle) < 3 * weave.sigma_deg + 0.1


def test_threads_finer_than_the_pixels_are_not_guessed():
    rng = np.random.default_rng(1)
    noise = np.clip(rng.normal(120, 6, (900, 900)), 0, 255).astype(np.uint8)
    rect = Rectified(np.dstack([noise] * 3), 0.4, (0.0, 0.0), None, 0.1, lambda p: np.zeros(len(p)))  # type: ignore[arg-type]
    assert read_weave(rect, np.ones((112, 112), bool), 8.0) is None


def test_a_cloth_too_small_for_a_patch_has_no_direction():
    assert read_weave(woven(10.0, size=340), np.zeros((42, 42), bool), 8.0) is None


@pytest.mark.parametrize("repeat", [12.0, 24.0, 37.0])
@pytest.mark.parametrize("angle", [0.0, 12.0])
def test_stripes_repeat_one_way_only(repeat, angle):
    mm, size = 0.8, 500
    rows, cols = np.mgrid[0:size, 0:size]
    a = np.radians(angle)
    u = (cols * np.cos(a) - rows * np.sin(a)) * mm
    rng = np.random.default_rng(2)
    dark = ((u % repeat) < 0.3 * repeat)[:, :, None]
    image = np.where(dark, [150, 60, 60], [210, 205, 200]) + rng.normal(0, 5, (size, size, 3))
    along, across = read_repeat(
        np.clip(image, 0, 255).astype(np.uint8), np.ones((size, size), bool), mm, angle
    )
    assert along == pytest.approx(repeat, rel=0.002)
    assert across is None


def test_checks_repeat_both_ways():
    mm, size = 0.8, 500
    rows, cols = np.mgrid[0:size, 0:size] * mm
    cell = ((cols % 30) < 15).astype(float) + ((rows % 20) < 10)
    image = np.dstack([230 - 50 * cell, 220 - 80 * cell, 215 - 80 * cell]).astype(np.uint8)
    along, across = read_repeat(image, np.ones((size, size), bool), mm, 0.0)
    assert along == pytest.approx(30.0, rel=0.002)
    assert across == pytest.approx(20.0, rel=0.002)


def test_plain_cloth_has_no_repeat():
    rng = np.random.default_rng(3)
    image = np.clip(rng.normal(120, 8, (500, 500, 3)), 0, 255).astype(np.uint8)
    assert read_repeat(image, np.ones((500, 500), bool), 0.8, 0.0) == (None, None)
