"""Cloth: shapes by measure, flaws, holes, and what cannot be a cloth."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon

from eke.cloth import (
    Cloth,
    Flaw,
    four_sided,
    from_offsets,
    half_round,
    l_shape,
    oval,
    rectangle,
    round_cloth,
    useful_rectangle,
)
from eke.errors import BadInput, BadShape

LENGTHS = st.floats(50, 4000)


@given(LENGTHS, LENGTHS)
def test_a_rectangle_has_the_area_that_its_sides_say(width, length):
    cloth = Cloth("c", "sheet", rectangle(width, length), grain_deg=90)
    assert cloth.area_mm2 == pytest.approx(width * length)
    assert cloth.size_mm == pytest.approx((width, length))


def test_usable_width_of_44_inch_cloth():
    # 44–45 in cloth has 42 to 43.5 in between the selvedges (trade column), 10 to 20 mm a side
    outline = np.array(rectangle(44.5 * 25.4, 1000, selvedge_mm=15))
    assert 42 * 25.4 <= np.ptp(outline[:, 0]) <= 43.5 * 25.4


@given(st.floats(100, 3000))
def test_a_round_cloth_lies_inside_its_circle_and_fills_it(diameter):
    shape = Polygon(round_cloth(diameter))
    circle = Point(diameter / 2, diameter / 2)
    assert all(circle.distance(Point(p)) <= diameter / 2 + 1e-9 for p in shape.exterior.coords)
    assert shape.area <= math.pi * diameter**2 / 4
    assert shape.area >= math.pi * (diameter / 2 - 0.1) ** 2 - 1e-6
    assert Polygon(half_round(diameter)).area == pytest.approx(math.pi * diameter**2 / 8, rel=0.01)


@given(LENGTHS, LENGTHS)
def test_an_oval_is_never_larger_than_the_ellipse(width, length):
    area = Polygon(oval(width, length)).area
    assert 0.99 * math.pi * width * length / 4 <= area <= math.pi * width * length / 4 + 1e-6


def test_an_l_lacks_its_corner():
    assert Polygon(l_shape(1000, 2000, 300, 700)).area == pytest.approx(2_000_000 - 210_000)


@given(st.floats(300, 2000), st.floats(300, 2000), st.floats(-100, 100), st.floats(-100, 100))
def test_a_skew_cloth_comes_back_from_its_sides_and_one_diagonal(width, length, dx, dy):
    corners = np.array([(0, 0), (width, 0), (width + dx, length + dy), (dy, length)])
    sides = [float(np.linalg.norm(corners[(i + 1) % 4] - corners[i])) for i in range(4)]
    again = four_sided(*sides, float(np.linalg.norm(corners[2] - corners[0])))
    assert np.allclose(np.array(again), corners, atol=1e-6)


@given(st.lists(st.tuples(st.floats(10, 500), st.floats(10, 500)), min_size=2, max_size=9))
def test_offsets_from_a_thread_give_the_polygon_that_was_measured(sides):
    # trapezium rule between stations 100 mm apart is exact for straight edges
    stations = [(100.0 * i, left, right) for i, (left, right) in enumerate(sides)]
    widths = [left + right for left, right in sides]
    area = sum((a + b) / 2 * 100 for a, b in pairwise(widths))
    assert Polygon(from_offsets(stations)).area == pytest.approx(area)


def test_a_flaw_is_out_for_the_outside_and_good_enough_for_a_facing():
    stain = Flaw("f", ((100, 100), (300, 100), (300, 200), (100, 200)), "stain", quality=1)
    cloth = Cloth("c", "curtain", rectangle(1000, 1000)).with_flaw(stain)
    assert cloth.usable_area_mm2() == pytest.approx(980_000)
    assert cloth.usable_area_mm2(least=1) == pytest.approx(1_000_000)
    assert cloth.with_flaw(stain) == cloth


def test_a_hole_at_the_edge_becomes_part_of_the_outline():
    cloth = Cloth(
        "c", "curtain", rectangle(1000, 1000), holes=(((-50, 400), (50, 400), (50, 500), (-50, 500)),)
    )
    assert cloth.holes == ()
    assert cloth.area_mm2 == pytest.approx(1_000_000 - 5_000)


def test_touching_holes_become_one():
    squares = tuple(((x, 100), (x + 50, 100), (x + 50, 150), (x, 150)) for x in (100, 150))
    cloth = Cloth("c", "curtain", rectangle(1000, 1000), holes=squares)
    assert len(cloth.holes) == 1
    assert cloth.area_mm2 == pytest.approx(1_000_000 - 5_000)


def test_a_ring_is_put_right_way_round_and_unclosed():
    clockwise = [(0, 0), (0, 10), (10, 10), (10, 0), (0, 0)]
    assert Polygon(Cloth("c", "x", clockwise).outline).exterior.is_ccw
    assert len(Cloth("c", "x", clockwise).outline) == 4


SQUARE = rectangle(100, 100)


@pytest.mark.parametrize(
    ("make", "kind", "says"),
    [
        (
            lambda: Cloth("c", "rag", ((0, 0), (100, 100), (100, 0), (0, 100))),
            BadShape,
            "crosses itself .near 50, 50",
        ),
        (lambda: Cloth("c", "rag", ((0, 0), (100, 0), (200, 0))), BadShape, "crosses itself|no area"),
        (lambda: Cloth("c", "rag", ((0, 0), (0.5, 0), (0.5, 0.5))), BadShape, "no area"),
        (lambda: Cloth("c", "rag", ((0, 0), (1, 0))), BadShape, "2 corners"),
        (lambda: Cloth("c", "rag", ()), BadShape, "0 corners"),
        (lambda: Cloth("c", "rag", ((0, 0), (math.nan, 0), (5, 5))), BadShape, "proper number"),
        (lambda: Cloth("c", "rag", "abc"), BadShape, "x and y"),
        (
            lambda: Cloth("c", "rag", SQUARE, holes=(((200, 0), (210, 0), (210, 9)),)),
            BadShape,
            "does not lie in",
        ),
        (lambda: Cloth("c", "rag", SQUARE, holes=(rectangle(100, 100),)), BadShape, "nothing"),
        (
            lambda: Cloth("c", "rag", SQUARE, holes=(((40, -9), (60, -9), (60, 109), (40, 109)),)),
            BadShape,
            "parts “rag” into 2",
        ),
        (lambda: Cloth("c", "rag", SQUARE, shrink_warp_percent=100), BadInput, "cannot shrink"),
        (lambda: Cloth("c", "rag", SQUARE, weight_gsm=0), BadInput, "cannot weigh"),
        (lambda: Cloth("c", "rag", SQUARE, grain_deg=math.inf), BadInput, "direction"),
        (lambda: Cloth("c", "rag", SQUARE, nap="both"), BadInput, "none or one-way"),
        (lambda: Cloth("c", "rag", SQUARE, repeat_mm=(0, None)), BadInput, "repeat"),
        (
            lambda: Cloth("c", "rag", SQUARE).with_flaw(Flaw("f", ((200, 0), (210, 0), (210, 9)))),
            BadInput,
            "does not lie",
        ),
        (lambda: Flaw("f", SQUARE, quality=7), BadInput, "quality"),
        (lambda: rectangle(0, 100), BadInput, "width"),
        (lambda: rectangle(100, 100, selvedge_mm=50), BadInput, "leaves nothing"),
        (lambda: l_shape(100, 100, 100, 50), BadInput, "smaller than the cloth"),
        (lambda: four_sided(100, 100, 100, 100, 500), BadInput, "do not meet"),
        (lambda: from_offsets([(0, 1, 1)]), BadInput, "two places"),
    ],
)
def test_what_is_no_cloth_is_said_in_one_sentence(make, kind, says):
    with pytest.raises(kind, match=says):
        make()


@given(st.floats(60, 2000), st.floats(60, 2000), st.floats(0, 360))
def test_the_largest_rectangle_of_a_rectangle_is_itself_at_any_grain(width, length, grain):
    turn = math.radians(grain - 90)
    c, s = math.cos(turn), math.sin(turn)
    shape = Polygon([(x * c - y * s, x * s + y * c) for x, y in rectangle(width, length)])
    found = useful_rectangle([shape], grain)
    assert found is not None
    assert (found.width_mm, found.length_mm) == pytest.approx((width, length), abs=0.01)


@given(st.floats(300, 2000))
def test_the_largest_rectangle_of_a_circle_is_nearly_its_square(diameter):
    shape = Polygon(round_cloth(diameter))
    found = useful_rectangle([shape], 90)
    assert found is not None
    assert 0.93 * diameter**2 / 2 <= found.area_mm2 <= diameter**2 / 2 + 1e-6
    assert shape.buffer(1e-3).covers(Polygon(found.corners))


def test_the_largest_rectangle_beside_a_hole_and_its_words():
    cloth = Cloth("c", "x", rectangle(1000, 1000), holes=(((400, 400), (600, 400), (600, 600), (400, 600)),))
    found = useful_rectangle([cloth.polygon], 90)
    assert found is not None
    assert found.area_mm2 == pytest.approx(400_000, rel=1e-3)
    assert found.words == "100 × 40 cm"
    assert useful_rectangle([], 90) is None
