"""Offsets against closed forms, shapely and themselves."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given
from hypothesis import strategies as st

from eke.errors import BadInput, BadShape
from eke.geometry import Cubic, Move, Path, offset_edge, path_area_mm2, self_crossings

from .strategies import gentle_curves, rigid_moves


def test_offset_of_a_quarter_circle_is_a_quarter_circle() -> None:
    # derived: concave quarter of radius 70 → 94.25 inside (r 60), 125.66 outside (r 80)
    quarter = Path.arc((0, 0), 70, 0, 90)
    assert offset_edge(quarter, 10).length_mm == pytest.approx(94.25, abs=0.1)
    assert offset_edge(quarter, -10).length_mm == pytest.approx(125.66, abs=0.1)


def test_offset_of_a_closed_ring_is_closed() -> None:
    ring = offset_edge(Path.arc((0, 0), 100, 0, 360), -15)
    assert ring.is_closed
    assert path_area_mm2(ring) == pytest.approx(math.pi * 115**2, rel=1e-4)


@given(gentle_curves(), st.floats(-20.0, 20.0))
def test_out_and_in_again_returns(path: Path, mm: float) -> None:
    radius = 1 / max(float(np.abs(path.curvatures_at(np.linspace(0, path.length_mm, 80))).max()), 1e-9)
    assume(radius > abs(mm) * 1.2)
    back = offset_edge(offset_edge(path, mm), -mm)
    for p in back.points_at(np.linspace(0, back.length_mm, 25)):
        assert path.nearest((float(p[0]), float(p[1]))).distance_mm <= 0.05
    assert back.start == pytest.approx(path.start, abs=0.05)
    assert back.end == pytest.approx(path.end, abs=0.05)


@given(gentle_curves(), st.floats(2.0, 25.0), rigid_moves())
def test_offset_of_the_moved_is_the_moved_offset(path: Path, mm: float, move: Move) -> None:
    here = offset_edge(path.moved(move), -mm if move.flips else mm)
    there = offset_edge(path, mm).moved(move)
    assert here.length_mm == pytest.approx(there.length_mm, abs=0.05)
    assert here.point_at(here.length_mm * 0.3) == pytest.approx(
        there.point_at(there.length_mm * 0.3), abs=0.05
    )


@given(gentle_curves(), st.floats(2.0, 15.0), st.booleans())
def test_offset_agrees_with_shapely(path: Path, mm: float, left: bool) -> None:
    mm = mm if left else -mm
    curvature = path.curvatures_at(np.linspace(0, path.length_mm, 80))
    assume(float((mm * curvature).max()) < 0.9)
    ours = shapely.LineString(offset_edge(path, mm).flatten(0.01))
    theirs = shapely.LineString(path.flatten(0.002)).offset_curve(mm, quad_segs=64)
    # the engine beneath simplifies its input by up to a hundredth of the distance
    assert ours.hausdorff_distance(theirs) <= 0.02 + 0.01 * abs(mm)


@given(gentle_curves(), st.floats(0.0, 20.0), st.floats(0.0, 20.0))
def test_running_distance_is_even_by_arc_length(path: Path, d0: float, d1: float) -> None:
    curvature = path.curvatures_at(np.linspace(0, path.length_mm, 80))
    assume(float((max(d0, d1) * curvature).max()) < 0.9)
    moved = offset_edge(path, d0, d1)
    for part in (0.0, 0.31, 0.5, 0.77, 1.0):
        mm = part * path.length_mm
        (x, y), (nx, ny), d = path.point_at(mm), path.normal_at(mm), d0 + (d1 - d0) * part
        assert moved.nearest((x + d * nx, y + d * ny)).distance_mm <= 0.02


def test_small_corners_inside_an_edge_are_mitred_outside_and_trimmed_inside() -> None:
    bent = Path.polyline([(0, 0), (100, 0), (100, 80)])
    assert offset_edge(bent, 10) == Path.polyline([(0, 10), (90, 10), (90, 80)])
    assert offset_edge(bent, -10) == Path.polyline([(0, -10), (110, -10), (110, 80)])


def test_swallow_tail_of_a_tight_bend_is_cut_away() -> None:
    valley = Path((Cubic((-100, 100), (-5, -40), (5, -40), (100, 100)),))
    inside = offset_edge(valley, 30)
    assert self_crossings(inside) == ()
    gaps = [valley.nearest((float(x), float(y))).distance_mm for x, y in inside.flatten()]
    assert min(gaps) >= 30 - 0.05


def test_offset_that_leaves_nothing_is_refused_with_the_value_that_works() -> None:
    with pytest.raises(BadShape, match=r"Use less than 5\.0 mm"):
        offset_edge(Path.arc((0, 0), 5, 0, 90), 30)
    with pytest.raises(BadInput, match="number"):
        offset_edge(Path.line((0, 0), (1, 0)), math.nan)


@pytest.mark.parametrize("kink_deg", [0.0, 1e-6, 1e-4, 0.01, 0.3, 2.0, 8.0, -1e-4, -0.01, -0.3, -2.0, -8.0])
@pytest.mark.parametrize("mm", [10.0, -10.0])
def test_kinks_of_any_size_inside_an_edge_leave_no_fold(kink_deg: float, mm: float) -> None:
    # a traced outline has its joints rounded to four decimals: the kinks there are noise, not corners
    a = Path((Cubic((0, 0), (40, 2), (70, 3), (100, 3)),))
    b = (
        a.moved(Move.translation(-100, -3))
        .reversed()
        .moved(Move.rotation(180))
        .moved(Move.rotation(kink_deg))
    )
    path = a.joined(b.moved(Move.translation(100, 3)))
    made = offset_edge(path, mm)
    assert self_crossings(made) == ()
    directions = made.tangents_at(np.linspace(0, made.length_mm, 400))
    assert directions[:, 0].min() > 0.9
    gaps = [path.nearest((float(x), float(y))).distance_mm for x, y in made.flatten()]
    assert min(gaps) > 10.0 - 0.1
    assert max(gaps) < 10.0 + 0.1
