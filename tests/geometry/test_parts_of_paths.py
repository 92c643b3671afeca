"""Parts of paths by segment and parameter, paths one after the other, and what they know without their arc lengths."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.errors import BadShape
from eke.geometry import Cubic, Line, Move, Path, intersections, path_area_mm2
from eke.geometry.crossings import meetings
from eke.geometry.smooth import smooth_control

from .strategies import paths, point, share


@given(paths(), st.data())
def test_the_parts_at_a_parameter_are_those_at_its_arc_length(path, data):
    segment = data.draw(st.integers(0, len(path.segments) - 1))
    t = data.draw(st.floats(0.05, 0.95))
    before, after = path.before(segment, t), path.after(segment, t)
    assert before.start == path.start
    assert after.end == path.end
    assert math.dist(before.end, after.start) < 1e-9
    assert before.length_mm + after.length_mm == pytest.approx(path.length_mm, rel=1e-8)
    if 1e-3 < before.length_mm < path.length_mm - 1e-3:
        head, tail = path.split(before.length_mm)
        assert math.dist(head.end, before.end) < 1e-6
        assert tail.length_mm == pytest.approx(after.length_mm, rel=1e-7, abs=1e-6)


def test_a_part_at_a_joint_leaves_no_sliver():
    path = Path.polyline([(0.0, 0.0), (10.0, 0.0), (20.0, 5.0)])
    assert path.before(0, 1.0) == path.before(1, 0.0) == Path.line((0.0, 0.0), (10.0, 0.0))
    assert path.after(0, 1.0) == path.after(1, 0.0) == Path.line((10.0, 0.0), (20.0, 5.0))
    with pytest.raises(BadShape):
        path.before(0, 0.0)
    with pytest.raises(BadShape):
        path.after(1, 1.0)


@given(paths())
def test_a_path_is_its_segments_one_after_the_other(path):
    assert Path.chained(Path((segment,)) for segment in path.segments) == path


def test_paths_with_a_gap_are_no_path():
    with pytest.raises(BadShape, match=r"gap of 0\.5 mm"):
        Path.chained((Path.line((0.0, 0.0), (10.0, 0.0)), Path.line((10.5, 0.0), (20.0, 0.0))))
    with pytest.raises(BadShape):
        Path.chained(())


@given(paths(), point)
def test_another_start_keeps_the_rest(path, start):
    made = path.starting_at(start)
    assert made.start == start
    assert made.segments[1:] == path.segments[1:]
    assert made.end == path.end


@given(paths())
def test_directions_at_the_ends_need_no_length(path):
    assert path.start_direction == path.tangent_at(0.0)
    assert path.end_direction == path.tangent_at(path.length_mm, side="before")


@given(paths())
def test_the_other_way_round_it_is_as_long(path):
    known = path.length_mm
    assert path.reversed().length_mm == known
    again = Path(path.reversed().segments)
    assert again.length_mm == pytest.approx(known, rel=1e-9)


@given(paths(), share)
def test_points_and_directions_together_are_those_apart(path, part):
    mms = [0.0, part * path.length_mm, path.length_mm]
    points, directions = path.places_at(mms)
    assert np.array_equal(points, path.points_at(mms))
    assert np.array_equal(directions, path.tangents_at(mms))
    assert math.dist(points[1], path.point_at(mms[1])) < 1e-6


def test_not_moved_is_the_same():
    path = Path.line((0.0, 0.0), (10.0, 3.0))
    assert path.moved(Move()) is path


@given(paths(), paths())
def test_paths_meet_where_they_cross(one, other):
    found = meetings(one, other)
    for met in found:
        assert math.dist(one.segments[met.segment_a].point(met.t_a), met.point) < 1e-6
        assert math.dist(other.segments[met.segment_b].point(met.t_b), met.point) < 1e-6
    for crossing in intersections(one, other):
        assert any(math.dist(crossing.point, met.point) < 1e-3 for met in found)


def test_a_path_through_points_on_a_circle_keeps_to_it():
    angles = np.linspace(0.0, 2.0, 6)
    control = smooth_control(100.0 * np.stack([np.cos(angles), np.sin(angles)], axis=1))
    radii = np.hypot(*Path.from_control(control).flatten(0.001).T)
    assert np.abs(radii - 100.0).max() < 0.01


@given(paths())
def test_the_area_is_that_of_the_flattened_outline(path):
    ring = path if path.start == path.end else path.joined(Path((Line(path.end, path.start),)))
    x, y = (ring.flatten(0.001) - np.array(ring.start)).T
    polygon = 0.5 * float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]))
    assert path_area_mm2(path) == pytest.approx(polygon, abs=0.002 * ring.length_mm + 1e-6)


@given(paths(most=2), point)
def test_nothing_sampled_is_nearer_than_the_nearest(path, pt):
    found = path.nearest(pt)
    assert math.dist(path.point_at(found.at_mm), found.point) < 1e-6
    assert math.dist(found.point, pt) == pytest.approx(found.distance_mm, abs=1e-9)
    for segment in path.segments:
        for k in range(201):
            assert found.distance_mm <= math.dist(segment.point(k / 200.0), pt) + 1e-9


def test_the_nearest_point_of_a_curve_that_begins_with_its_control_point():
    curve = Path((Cubic((0.0, 0.0), (0.0, 0.0), (60.0, 10.0), (60.0, 10.0)),))
    near = curve.point_at(0.2)
    assert curve.nearest(near).distance_mm < 1e-9
    assert curve.nearest(near).at_mm == pytest.approx(0.2, abs=1e-6)
