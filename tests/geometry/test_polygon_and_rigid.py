"""Areas, centres and simplicity against shapely; laying one line on another against known moves."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from eke.errors import BadShape
from eke.geometry import (
    Cubic,
    Move,
    Path,
    best_move,
    centroid,
    contains,
    counter_clockwise,
    path_area_mm2,
    register,
    require_simple,
    signed_area_mm2,
    trouble_of,
)

from .strategies import paths, point, rigid_moves

BLOB = Path(
    (
        Cubic((0, 0), (100, -40), (180, 0), (200, 60)),
        Cubic((200, 60), (220, 140), (120, 260), (60, 220)),
        Cubic((60, 220), (-20, 180), (40, 80), (0, 0)),
    )
)


@given(paths())
def test_area_agrees_with_the_flattened_area(path: Path) -> None:
    fine = path.flatten(0.001)
    closed = np.vstack([fine, fine[:1]])
    assert path_area_mm2(path) == pytest.approx(signed_area_mm2(closed[:-1]), abs=0.002 * path.length_mm)


@given(rigid_moves())
def test_area_and_centre_move_with_the_shape(move: Move) -> None:
    flat = BLOB.flatten()[:-1]
    moved = move.apply_array(flat)
    assert signed_area_mm2(moved) == pytest.approx(
        signed_area_mm2(flat) * (-1 if move.flips else 1), rel=1e-9
    )
    assert centroid(moved) == pytest.approx(move.apply(centroid(flat)), abs=1e-6)
    theirs = shapely.Polygon(moved)
    assert abs(signed_area_mm2(moved)) == pytest.approx(theirs.area, rel=1e-9)
    assert centroid(moved) == pytest.approx((theirs.centroid.x, theirs.centroid.y), abs=1e-6)
    assert signed_area_mm2(counter_clockwise(moved)) > 0


@given(point)
def test_inside_agrees_with_shapely(pt: tuple[float, float]) -> None:
    flat = BLOB.moved(Move.scale(3.0)).flatten()[:-1]
    polygon = shapely.Polygon(flat)
    if polygon.boundary.distance(shapely.Point(pt)) > 1e-9:
        assert contains(flat, pt) == polygon.contains(shapely.Point(pt))


def test_trouble_is_found_with_its_place() -> None:
    assert trouble_of(BLOB) is None
    bow = Path.polyline([(0, 0), (10, 10), (10, 0), (0, 10)], closed=True)
    found = trouble_of(bow)
    assert found is not None
    assert found.at == pytest.approx((5.0, 5.0))
    spike = Path.polyline([(0, 0), (10, 0), (10, 10), (5, 10), (5, 15), (5, 10), (0, 10)], closed=True)
    assert trouble_of(spike) is not None
    with pytest.raises(BadShape, match=r"“Front” crosses itself near \(5, 5\)"):
        require_simple(bow, "Front")
    with pytest.raises(BadShape):
        require_simple(Path.polyline([(0, 0), (10, 0)], closed=True), "Strip")


def test_centre_of_nothing_is_refused() -> None:
    with pytest.raises(BadShape, match="no centre"):
        centroid(np.array([[0.0, 0.0], [1.0, 0.0], [2.0, 0.0]]))


@settings(max_examples=15, deadline=None)
@given(rigid_moves(), st.integers(0, 2))
def test_registration_finds_the_move_whatever_the_start(move: Move, start: int) -> None:
    turned = Path(BLOB.segments[start:] + BLOB.segments[:start])
    fixed = turned.moved(move)
    found = register(BLOB, fixed.reversed() if move.flips else fixed, may_flip=True)
    assert found.greatest_mm < 0.01
    assert found.move.flips == move.flips
    assert found.move.apply((100.0, 50.0)) == pytest.approx(move.apply((100.0, 50.0)), abs=0.02)


def test_registration_tells_how_far_two_tracings_differ() -> None:
    bumpy = Path(
        tuple(
            s.with_ends((s.start[0] + 1.0 * (i == 1), s.start[1]), (s.end[0] + 1.0 * (i == 0), s.end[1]))
            for i, s in enumerate(BLOB.segments)
        )
    )
    found = register(bumpy, BLOB)
    assert 0.2 < found.greatest_mm < 1.0


def test_best_move_of_matched_points() -> None:
    pts = np.array([[0.0, 0.0], [10.0, 0.0], [0.0, 5.0]])
    move = Move.rotation(30.0, (3.0, 3.0))
    got = best_move(pts, move.apply_array(pts))
    assert got.turn_deg == pytest.approx(30.0)
    assert math.dist(got.apply((7.0, 7.0)), move.apply((7.0, 7.0))) < 1e-9
