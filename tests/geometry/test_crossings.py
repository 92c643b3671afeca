"""Crossings against closed forms and shapely."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from eke.geometry import Cubic, Move, Path, intersections, line_crossings, self_crossings

from .strategies import paths, rigid_moves


def test_two_circles_cross_where_pythagoras_says() -> None:
    a, b = Path.arc((0, 0), 100, 0, 360), Path.arc((150, 0), 100, 0, 360)
    points = sorted(c.point[1] for c in intersections(a, b))
    assert points == pytest.approx([-math.sqrt(100**2 - 75**2), math.sqrt(100**2 - 75**2)], abs=1e-3)


@settings(max_examples=50)
@given(paths(), paths())
def test_crossings_agree_with_chopped_curves_in_shapely(a: Path, b: Path) -> None:
    found = intersections(a, b)
    for c in found:
        assert a.point_at(c.at_a_mm) == pytest.approx(c.point, abs=1e-4)
        assert b.point_at(c.at_b_mm) == pytest.approx(c.point, abs=1e-4)
    cut = shapely.LineString(a.flatten(0.01)).intersection(shapely.LineString(b.flatten(0.01)))
    theirs = [g for g in getattr(cut, "geoms", [cut]) if g.geom_type == "Point"]
    for p in theirs:
        # chopped curves may only touch where the true ones pass each other: look at the true gap first
        gap = b.nearest(a.nearest((p.x, p.y)).point).distance_mm
        u, v = (path.tangent_at(path.nearest((p.x, p.y)).at_mm) for path in (a, b))
        # and at their angle: what runs on top of each other for a while does not cross
        if gap < 1e-6 and abs(u[0] * v[1] - u[1] * v[0]) > 0.02:
            assert min((math.dist((p.x, p.y), c.point) for c in found), default=math.inf) < 0.5
    assert len(found) == len(intersections(b, a))


def test_loop_of_one_cubic_is_found_and_a_plain_curve_is_clean() -> None:
    loop = Path((Cubic((0, 0), (200, 100), (-100, 100), (100, 0)),))
    (crossing,) = self_crossings(loop)
    assert crossing.point == pytest.approx((50.0, 30.0))
    assert crossing.at_a_mm + crossing.at_b_mm == pytest.approx(loop.length_mm)  # it is symmetric
    assert self_crossings(Path.arc((0, 0), 50, 0, 360)) == ()
    assert self_crossings(Path.polyline([(0, 0), (10, 0), (10, 10), (0, 10)], closed=True)) == ()


@given(rigid_moves())
def test_bow_crosses_once_wherever_it_lies(move: Move) -> None:
    bow = Path.polyline([(0, 0), (100, 100), (100, 0), (0, 100)], closed=True).moved(move)
    (crossing,) = self_crossings(bow)
    assert crossing.point == pytest.approx(move.apply((50.0, 50.0)), abs=1e-6)


def test_touching_ends_count_and_shared_stretches_do_not() -> None:
    a = Path.line((0, 0), (10, 0))
    assert len(intersections(a, Path.line((10, 0), (20, 5)))) == 1
    assert intersections(a, Path.line((2, 0), (8, 0))) == ()


@given(paths(), st.floats(-200.0, 200.0), st.floats(-200.0, 200.0), st.floats(0.0, 180.0))
def test_an_endless_line_crosses_where_a_long_one_does(path, x, y, deg):
    u = (math.cos(math.radians(deg)), math.sin(math.radians(deg)))
    steps = np.linspace(0.0, path.length_mm, 400)
    off = (path.points_at(steps) - (x, y)) @ (-u[1], u[0])
    found = line_crossings(path, (x, y), u)
    for mm, point in found:
        assert math.dist(path.point_at(mm), point) < 1e-6
        assert abs((point[0] - x) * -u[1] + (point[1] - y) * u[0]) < 1e-6
    assert [mm for mm, _ in found] == sorted(mm for mm, _ in found)
    # wherever the path surely changes sides, one is found
    sides = (np.sign(off[1:]) * np.sign(off[:-1]) < 0) & (
        np.minimum(np.abs(off[1:]), np.abs(off[:-1])) > 0.01
    )
    for k in np.flatnonzero(sides):
        assert any(steps[k] - 0.1 <= mm <= steps[k + 1] + 0.1 for mm, _ in found)
    assert line_crossings(path, (x, 1e5), (1.0, 0.0)) == ()


def test_a_line_along_an_edge_crosses_nothing_and_a_corner_counts_once():
    square = Path.polyline([(0, 0), (10, 0), (10, 10), (0, 10)], closed=True)
    assert [p for _, p in line_crossings(square, (5.0, 3.0), (1.0, 0.0))] == [(10.0, 3.0), (0.0, 3.0)]
    corners = line_crossings(square, (0.0, 0.0), (math.sqrt(0.5), math.sqrt(0.5)))
    assert {tuple(map(round, p)) for _, p in corners} == {(0, 0), (10, 10)}
    assert len(corners) == 2
