"""Paths against quadrature, closed forms, and themselves moved, reversed and cut."""

from __future__ import annotations

import json
import math
import pickle
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import ellipe

from eke.errors import BadInput, BadShape
from eke.geometry import Cubic, Line, Move, Path, path_from_json, path_to_json

from .strategies import paths, point, rigid_moves, share


def quadrature_mm(path: Path) -> float:
    """Arc length by SciPy's adaptive quadrature, cut at the places where the speed is least."""
    total = 0.0
    for s in path.segments:
        p0, p1, p2, p3 = (np.array(p) for p in s.control())
        c1, c2, c3 = 3 * (p1 - p0), 6 * (p2 - 2 * p1 + p0), 3 * (p3 - 3 * p2 + 3 * p1 - p0)
        slow = np.polynomial.Polynomial(
            [c1 @ c1, 2 * c1 @ c2, c2 @ c2 + 2 * c1 @ c3, 2 * c2 @ c3, c3 @ c3]
        ).deriv()
        cuts = [float(r.real) for r in slow.roots() if 0 < r.real < 1]
        cuts = sorted({0.0, 1.0, *cuts})

        def speed(t: float, c1: np.ndarray = c1, c2: np.ndarray = c2, c3: np.ndarray = c3) -> float:
            return float(np.hypot(*(c1 + c2 * t + c3 * t * t)))

        for a, b in pairwise(cuts):
            total += quad(speed, a, b, epsabs=1e-12, epsrel=1e-13, limit=200)[0]
    return total


@given(paths())
def test_arc_length_agrees_with_quadrature(path: Path) -> None:
    assert path.length_mm == pytest.approx(quadrature_mm(path), rel=1e-9)


@pytest.mark.parametrize(
    "control",
    [
        [(0, 0), (100, 100), (0, 100), (100, 0)],  # a true cusp: the curve stops and turns
        [(0, 0), (0, 0), (100, 100), (100, 100)],  # both control points on the ends
        [(0, 0), (300, 0), (-200, 0), (100, 0)],  # runs back and forth on one line
        [(0, 0), (1e-3, 200), (1e-3, -200), (2e-3, 0)],
    ],
)
def test_arc_length_of_awkward_curves(control: list[tuple[float, float]]) -> None:
    path = Path((Cubic(*control),))
    assert path.length_mm == pytest.approx(quadrature_mm(path), rel=1e-9)
    assert path.point_at(path.length_mm / 3) is not None
    for part in (0.1, 0.5, 0.9):
        head, tail = path.split(part * path.length_mm)
        assert head.length_mm + tail.length_mm == pytest.approx(path.length_mm, rel=1e-9)


def test_circle_against_its_closed_form() -> None:
    # a cubic of 45° has a radial error of 4.2e-6 of the radius, so the circumference cannot be nearer
    for turn in (30.0, 90.0, 237.0, 360.0):
        arc = Path.arc((3.0, -4.0), 70.0, 10.0, 10.0 + turn)
        assert arc.length_mm == pytest.approx(math.radians(turn) * 70.0, rel=5e-6)
        assert arc.curvature_at(arc.length_mm * 0.4) == pytest.approx(1 / 70.0, rel=2e-3)
    assert Path.arc((0, 0), 70.0, 0, 360).is_closed


def test_ellipse_against_the_complete_elliptic_integral() -> None:
    a, b = 150.0, 100.0
    ellipse = Path.arc((0.0, 0.0), 1.0, 0.0, 360.0).moved(Move.scale(a, b))
    assert ellipse.length_mm == pytest.approx(4 * a * ellipe(1 - (b / a) ** 2), rel=5e-6)


@given(paths(), share)
def test_split_lengths_add_and_join_gives_the_whole_back(path: Path, part: float) -> None:
    mm = part * path.length_mm
    head, tail = path.split(mm)
    assert head.length_mm == pytest.approx(mm, rel=1e-8, abs=1e-7)
    assert head.length_mm + tail.length_mm == pytest.approx(path.length_mm, rel=1e-9)
    assert head.end == tail.start
    again = head.joined(tail)
    assert again.point_at(path.length_mm * 0.37) == pytest.approx(
        path.point_at(path.length_mm * 0.37), abs=1e-6
    )


@given(paths(), share, share)
def test_slice_is_the_stretch_between(path: Path, one: float, other: float) -> None:
    a, b = sorted((one * path.length_mm, other * path.length_mm))
    assume(b - a > 1e-3)
    stretch = path.slice(a, b)
    assert stretch.length_mm == pytest.approx(b - a, abs=1e-6)
    assert stretch.start == pytest.approx(path.point_at(a), abs=1e-6)
    assert stretch.end == pytest.approx(path.point_at(b), abs=1e-6)


def test_slice_of_a_closed_path_runs_on_over_its_start() -> None:
    square = Path.polyline([(0, 0), (10, 0), (10, 10), (0, 10)], closed=True)
    around = square.slice(35.0, 5.0)
    assert (around.start, around.end, around.length_mm) == ((0.0, 5.0), (5.0, 0.0), 10.0)


@given(paths(), share)
def test_reversed_walks_the_same_points(path: Path, part: float) -> None:
    back = path.reversed()
    mm = part * path.length_mm
    assert back.length_mm == pytest.approx(path.length_mm, rel=1e-12)
    assert back.point_at(path.length_mm - mm) == pytest.approx(path.point_at(mm), abs=1e-6)
    assert back.reversed() == path


@given(paths())
def test_reversed_is_as_long_to_the_last_digit_whether_or_not_it_was_asked_before(path: Path) -> None:
    """Else a replay of a garment would differ from the garment by rounding."""
    unasked = Path(path.segments).reversed()
    assert unasked.length_mm == path.length_mm == path.reversed().length_mm


@given(paths(), rigid_moves(), share)
def test_rigid_moves_keep_lengths_and_carry_places(path: Path, move: Move, part: float) -> None:
    moved = path.moved(move)
    mm = part * path.length_mm
    assert moved.length_mm == pytest.approx(path.length_mm, rel=1e-9)
    assert moved.point_at(mm) == pytest.approx(move.apply(path.point_at(mm)), abs=1e-5)
    before, after = path.curvature_at(mm), moved.curvature_at(mm)
    if math.isfinite(before) and abs(before) < 1.0:
        assert after == pytest.approx(-before if move.flips else before, abs=1e-3 * max(1.0, abs(before)))


@given(paths(), st.floats(0.25, 4.0))
def test_scaling_scales_lengths(path: Path, factor: float) -> None:
    assert path.moved(Move.scale(factor)).length_mm == pytest.approx(factor * path.length_mm, rel=1e-9)


@given(paths(), point)
def test_nearest_is_no_farther_than_any_sample(path: Path, pt: tuple[float, float]) -> None:
    found = path.nearest(pt)
    samples = path.points_at(np.linspace(0, path.length_mm, 1501))
    least = float(np.hypot(samples[:, 0] - pt[0], samples[:, 1] - pt[1]).min())
    assert found.distance_mm <= least + 1e-9
    assert math.dist(found.point, pt) == pytest.approx(found.distance_mm, abs=1e-9)
    assert path.point_at(found.at_mm) == pytest.approx(found.point, abs=1e-5)


@given(paths(), st.sampled_from([1.0, 0.05]))
def test_flatten_stays_within_its_tolerance(path: Path, tolerance_mm: float) -> None:
    flat = Path.polyline(path.flatten(tolerance_mm))
    for p in path.points_at(np.linspace(0, path.length_mm, 40)):
        assert flat.nearest((float(p[0]), float(p[1]))).distance_mm <= tolerance_mm + 1e-9


@given(paths())
def test_bounds_hold_the_path_and_no_more(path: Path) -> None:
    x0, y0, x1, y1 = path.bounds
    flat = path.flatten(0.001)
    assert (x0, y0) == pytest.approx(tuple(flat.min(axis=0)), abs=0.002)
    assert (x1, y1) == pytest.approx(tuple(flat.max(axis=0)), abs=0.002)


@given(paths())
def test_json_gives_the_same_path_back(path: Path) -> None:
    assert path_from_json(json.loads(json.dumps(path_to_json(path)))) == path
    assert pickle.loads(pickle.dumps(path)) == path


@given(paths(), share)
def test_many_places_at_once_are_the_places_one_by_one(path: Path, part: float) -> None:
    mm = part * path.length_mm
    assert tuple(path.points_at([mm])[0]) == pytest.approx(path.point_at(mm), abs=1e-7)
    assert tuple(path.tangents_at([mm])[0]) == pytest.approx(path.tangent_at(mm), abs=1e-6)


def test_tangent_at_a_corner_has_two_sides() -> None:
    corner = Path.polyline([(0, 0), (10, 0), (10, 10)])
    assert corner.tangent_at(10.0, side="before") == (1.0, 0.0)
    assert corner.tangent_at(10.0) == (0.0, 1.0)
    assert corner.normal_at(5.0) == (0.0, 1.0)


def test_tangent_where_a_control_point_lies_on_its_end() -> None:
    curve = Path((Cubic((0, 0), (0, 0), (10, 10), (20, 10)),))
    assert curve.tangent_at(0.0) == pytest.approx((math.sqrt(0.5), math.sqrt(0.5)))


def test_smooth_path_through_points_of_a_circle_is_the_circle() -> None:
    circle = [(100 * math.cos(a), 100 * math.sin(a)) for a in np.linspace(0, 2 * math.pi, 12, endpoint=False)]
    smooth = Path.from_points(circle, closed=True)
    assert smooth.is_closed
    assert smooth.length_mm == pytest.approx(200 * math.pi, rel=1e-4)
    radii = np.hypot(*smooth.flatten().T)
    assert radii == pytest.approx(np.full_like(radii, 100.0), abs=0.01)


def test_with_ends_is_a_similarity() -> None:
    path = Path((Cubic((0, 0), (30, 40), (70, 40), (100, 0)),)).with_ends((5.0, 5.0), (5.0, 205.0))
    assert path.start == (5.0, 5.0)
    assert path.end == (5.0, 205.0)
    assert path.segments[0].points[1] == pytest.approx((5.0 - 80.0, 65.0))


@pytest.mark.parametrize(
    ("make", "error", "words"),
    [
        (lambda: Path(()), BadShape, "two points"),
        (lambda: Path((Line((0, 0), (1, 0)), Line((2, 0), (3, 0)))), BadShape, "gap of 1 mm"),
        (lambda: Path((Line((0, 0), (math.nan, 0)),)), BadShape, "no number"),
        (lambda: Path.polyline([(1, 1), (1, 1)]), BadShape, "two different points"),
        (lambda: Path.line((0, 0), (10, 0)).split(10.0), BadInput, "between its ends"),
        (lambda: Path.line((0, 0), (10, 0)).point_at(11.0), BadInput, "10.0 mm long"),
        (lambda: Path.line((0, 0), (10, 0)).slice(5.0, 5.0), BadInput, "no length"),
        (lambda: path_from_json([["Q", 1, 2, 3, 4]]), BadInput, "unknown kind"),
        (lambda: path_from_json([["L", 1, "x", 3, 4]]), BadInput, "no number"),
        (lambda: Move.mirror((1, 1), (1, 1)), BadInput, "two different points"),
        (lambda: Move.scale(0.0).inverse(), BadInput, "taken back"),
    ],
)
def test_what_cannot_be_is_said_in_words(make, error, words) -> None:
    with pytest.raises(error, match=words):
        make()


@given(rigid_moves(), rigid_moves(), point)
def test_moves_compose_and_undo(one: Move, other: Move, pt: tuple[float, float]) -> None:
    assert one.then(other).apply(pt) == pytest.approx(other.apply(one.apply(pt)), abs=1e-6)
    assert one.then(one.inverse()).apply(pt) == pytest.approx(pt, abs=1e-6)
    assert one.is_rigid
    assert not Move.scale(1.01).is_rigid
    assert one.then(other).flips == (one.flips != other.flips)
    assert tuple(one.apply_array(np.array([pt]))[0]) == pytest.approx(one.apply(pt), abs=1e-9)


def test_move_between_two_pairs_of_points() -> None:
    move = Move.between((0, 0), (10, 0), (5, 5), (5, 25))
    assert move.is_rigid
    assert move.apply((0, 0)) == pytest.approx((5, 5))
    assert move.apply((10, 0)) == pytest.approx((5, 15))


@pytest.mark.parametrize("tilt_deg", [0.0, 37.0, 90.0])
def test_a_straight_cubic_is_nearest_to_its_own_points(tilt_deg: float) -> None:
    """A cubic with its arms at the thirds runs evenly along its chord; a point on it lies 0 from it."""
    u = np.array([np.cos(np.radians(tilt_deg)), np.sin(np.radians(tilt_deg))])
    path = Path((Cubic(*(tuple((100.0 * k / 3.0 * u).tolist()) for k in range(4))),))  # type: ignore[arg-type]
    for mm in np.linspace(0.0, 100.0, 161):
        found = path.nearest(tuple((mm * u).tolist()))  # type: ignore[arg-type]
        assert found.distance_mm == pytest.approx(0.0, abs=1e-9)
        assert found.at_mm == pytest.approx(mm, abs=1e-6)
