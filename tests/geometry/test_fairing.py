"""Fair curves: within the stated deviation, few cubics, no kink, no bump that was not there."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eke.errors import BadInput, BadShape
from eke.geometry import (
    Cubic,
    Move,
    Path,
    curvature_extrema,
    deviation_mm,
    fair_path,
    fit_cubics,
    looks_straight,
    straightness_mm,
)

SHAPES = {
    "armhole": Path(
        (
            Cubic((0, 0), (20, -60), (30, -90), (80, -110)),
            Cubic((80, -110), (110, -122), (130, -121), (150, -118)),
        )
    ),
    "cap": Path(
        (Cubic((0, 0), (60, 0), (90, 80), (150, 80)), Cubic((150, 80), (210, 80), (240, 0), (300, 0)))
    ),
    "half ellipse": Path.arc((0, 0), 100, 0, 180).moved(Move.scale(1.5, 1)),
    "quarter circle": Path.arc((0, 0), 100, 0, 90),
    "shallow": Path((Cubic((0, 0), (60, 4), (120, 4), (180, 0)),)),
}


def noisy(path: Path, rms_mm: float, seed: int, n: int = 150) -> np.ndarray:
    """Points of ``path`` with noise across it that is correlated over three points, ends exact."""
    mms = np.linspace(0, path.length_mm, n)
    noise = np.convolve(np.random.default_rng(seed).normal(0, 1, n), np.ones(3) / 3, "same")
    noise *= rms_mm / noise.std()
    noise[0] = noise[-1] = 0.0
    t = path.tangents_at(mms)
    return path.points_at(mms) + noise[:, None] * np.stack([-t[:, 1], t[:, 0]], axis=1)


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("seed", [1, 2])
def test_a_noisy_tracing_becomes_few_smooth_cubics_near_the_truth(name: str, seed: int) -> None:
    true = SHAPES[name]
    points = noisy(true, 0.2, seed)
    fit = fit_cubics(points, 0.8)
    assert fit.deviation_mm <= 0.8
    assert deviation_mm(fit.path, points) == pytest.approx(fit.deviation_mm, abs=0.01)
    assert len(fit.path.segments) <= 2
    assert deviation_mm(fit.path, true.points_at(np.linspace(0, true.length_mm, 60))) < 0.6
    assert fit.extrema <= len(curvature_extrema(true)) + 1
    assert fit.path.start == pytest.approx(true.start)
    assert fit.path.end == pytest.approx(true.end)


@pytest.mark.parametrize("name", SHAPES)
def test_joints_have_no_kink(name: str) -> None:
    fit = fit_cubics(noisy(SHAPES[name], 0.1, 3), 0.25)
    for mm in fit.path.joints_mm[1:-1]:
        u, v = fit.path.tangent_at(mm, side="before"), fit.path.tangent_at(mm)
        assert math.degrees(
            math.atan2(u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1])
        ) == pytest.approx(0.0, abs=1e-6)


def test_an_exact_cubic_comes_back_as_one_cubic() -> None:
    true = Path((Cubic((0, 0), (40, 90), (160, 90), (200, 0)),))
    fit = fit_cubics(true.points_at(np.linspace(0, true.length_mm, 90)), 0.05)
    assert len(fit.path.segments) == 1
    assert fit.deviation_mm < 0.02


@settings(max_examples=10, deadline=None)
@given(st.floats(-60.0, 60.0), st.floats(-60.0, 60.0))
def test_directions_at_the_ends_are_kept_when_fixed(a_deg: float, b_deg: float) -> None:
    points = noisy(SHAPES["quarter circle"], 0.1, 5)
    start, end = Move.rotation(90.0 + a_deg / 10), Move.rotation(180.0 + b_deg / 10)
    fit = fit_cubics(points, 1.5, start_tangent=start.apply((5.0, 0.0)), end_tangent=end.apply((5.0, 0.0)))
    assert fit.path.tangent_at(0.0) == pytest.approx(start.apply((1.0, 0.0)), abs=1e-9)
    assert fit.path.tangent_at(fit.path.length_mm, side="before") == pytest.approx(
        end.apply((1.0, 0.0)), abs=1e-9
    )


@settings(max_examples=8, deadline=None)
@given(st.floats(-180, 180), st.booleans())
def test_fairing_moves_with_the_line(turn_deg: float, mirrored: bool) -> None:
    move = Move.rotation(turn_deg).then(Move.translation(30, -70))
    if mirrored:
        move = move.then(Move.mirror((0, 0), (1, 3)))
    true = SHAPES["armhole"]
    here, there = fair_path(true.moved(move), 0.3), fair_path(true, 0.3)
    assert len(here.path.segments) == len(there.path.segments)
    assert (
        deviation_mm(here.path, there.path.moved(move).points_at(np.linspace(0, here.path.length_mm, 20)))
        < 0.02
    )


def test_a_tighter_deviation_needs_no_fewer_cubics() -> None:
    points = noisy(SHAPES["cap"], 0.15, 4)
    counts = [len(fit_cubics(points, d).path.segments) for d in (3.0, 1.0, 0.3)]
    assert counts == sorted(counts)


def test_extrema_of_known_curves() -> None:
    assert curvature_extrema(SHAPES["quarter circle"]) == ()
    half = SHAPES["half ellipse"]
    (top,) = curvature_extrema(half)
    assert top == pytest.approx(half.length_mm / 2, rel=0.02)


def test_straightness() -> None:
    assert straightness_mm(Path.arc((0, 0), 100, 0, 90)) == pytest.approx(
        100 * (1 - math.sqrt(0.5)), abs=0.06
    )
    assert looks_straight(Path.polyline([(0, 0), (50, 0.15), (100, 0)]))
    assert not looks_straight(SHAPES["shallow"])


def test_what_cannot_be_faired_is_said() -> None:
    with pytest.raises(BadInput, match="above 0 mm"):
        fit_cubics(np.array([[0.0, 0.0], [1.0, 0.0]]), 0.0)
    with pytest.raises(BadShape, match="corner"):
        fit_cubics(Path.arc((0, 0), 10, 0, 360).flatten(), 0.1)
    with pytest.raises(BadShape, match="two different"):
        fit_cubics(np.array([[1.0, 1.0], [1.0, 1.0]]), 0.1)


@pytest.mark.parametrize("count", [2, 3, 30, 200])
@pytest.mark.parametrize("noise_mm", [0.0, 1e-9, 1e-5, 1e-3, 0.1])
@pytest.mark.parametrize("turn_rad", [None, 0.0, 1e-8, 1e-3, 0.05])
def test_a_straight_line_is_its_own_fair_curve(count: int, noise_mm: float, turn_rad: float | None) -> None:
    """Points of a line, with and without tremor, and with a direction that is asked for at the start."""
    chance = np.random.default_rng(count)
    points = np.column_stack([np.linspace(0.0, 400.0, count), noise_mm * chance.standard_normal(count)])
    tangent = None if turn_rad is None else (float(np.cos(turn_rad)), float(np.sin(turn_rad)))
    fit = fit_cubics(points, 2.0, start_tangent=tangent)
    assert fit.deviation_mm <= 2.0
    assert fit.path.length_mm == pytest.approx(400.0, rel=2e-3)
    assert fit.path.start == pytest.approx(tuple(points[0]))
    assert fit.path.end == pytest.approx(tuple(points[-1]))
