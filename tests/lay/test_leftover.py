"""The most useful leftover: how it is measured, and that the search makes it larger without breaking a rule."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box
from shapely.ops import unary_union
from shapes import box_points, broken_rules, laid, star

from eke.lay import Part, Placement, Problem, Sheet, Strip, Zone, solve
from eke.lay.rest import connected_area, edges_of, is_free, leftovers, pushed_out, useful_rectangle, worth_of
from eke.lay.search.hand import MOVES_A_LOOK
from eke.lay.search.moves import TRIED_PER_MOVE

L_SHAPE = np.array([[0, 0], [400, 0], [400, 180], [180, 180], [180, 400], [0, 400.0]])


def area(b: tuple[float, float, float, float] | None) -> float:
    return 0.0 if b is None else (b[2] - b[0]) * (b[3] - b[1])


# ---- the measure


def test_rectangles_that_are_known() -> None:
    assert useful_rectangle(box(0, 0, 300, 200)) == pytest.approx((0, 0, 300, 200))
    assert area(useful_rectangle(Polygon(L_SHAPE))) == pytest.approx(400 * 180)
    ring = box(0, 0, 300, 200).difference(box(100, 50, 120, 150))
    assert useful_rectangle(ring) == pytest.approx((120, 0, 300, 200))
    # the largest in a right-angled triangle has half its area
    assert area(useful_rectangle(Polygon([(0, 0), (900, 0), (0, 600)]))) == pytest.approx(135_000, rel=0.01)
    # in a circle it is the square
    assert area(useful_rectangle(Polygon(_circle(300)))) == pytest.approx(180_000, rel=0.02)
    assert useful_rectangle(Polygon()) is None


def test_a_piece_for_a_pocket_is_more_useful_than_a_long_strip() -> None:
    strip_and_block = box(0, 0, 1000, 42).union(box(0, 42, 210, 152))
    assert useful_rectangle(strip_and_block) == pytest.approx((0, 0, 210, 152))
    assert useful_rectangle(strip_and_block, wide=1e-9) == pytest.approx((0, 0, 1000, 42))


@given(st.floats(1, 400), st.floats(1, 400), st.floats(1, 2))
def test_more_cloth_is_never_less_useful(width: float, height: float, more: float) -> None:
    before = worth_of((0, 0, width, height))
    assert 0 < before <= width * height
    assert worth_of((0, 0, width * more, height)) >= before
    assert worth_of((0, 0, height, width)) == before


def _circle(r: float) -> np.ndarray:
    t = np.linspace(0, 2 * math.pi, 200, endpoint=False)
    return np.column_stack([r * np.cos(t), r * np.sin(t)])


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 100_000))
def test_a_rectangle_lies_inside_and_touches_on_all_sides(seed: int) -> None:
    rng = np.random.default_rng(seed)
    rest = Polygon(star(rng, 300, 14))
    for _ in range(3):
        x, y = rng.uniform(-150, 150, 2)
        rest = rest.difference(Polygon(star(rng, 60, 7) + np.array([x, y])))
    found = useful_rectangle(rest)
    assert found is not None
    assert rest.buffer(1e-4).covers(box(*found))
    edges = edges_of(rest)
    inner = box(*found).buffer(-1e-3).bounds
    if inner[2] > inner[0] and inner[3] > inner[1]:
        assert is_free(inner, edges)
    assert area(pushed_out(found, edges)) == pytest.approx(area(found), rel=1e-6)


def test_a_narrow_bridge_does_not_connect() -> None:
    two = unary_union([box(0, 0, 100, 100), box(100, 48, 140, 52), box(140, 0, 200, 100)])
    assert connected_area(two, 10.0) == pytest.approx(10_000, rel=0.02)
    assert connected_area(two, 2.0) == pytest.approx(two.area, rel=0.02)
    assert connected_area(two, 0.0) == pytest.approx(two.area)
    assert connected_area(two, 500.0) == 0.0


def test_holes_zones_and_pieces_are_no_leftover() -> None:
    sheet = Sheet(
        "s", box_points(300, 100), (box_points(10, 100, 200, 0),), (Zone(box_points(20, 100), 1.0),)
    )
    problem = Problem([Part("a", box_points(30, 100))], (sheet,))
    (left,) = leftovers(problem, [Placement("a", "s", 0.0, 20.0, 0.0)])
    assert left.rectangle == pytest.approx((50, 0, 200, 100))
    assert left.rest_mm2 == pytest.approx(300 * 100 - 10 * 100 - 20 * 100 - 30 * 100)
    assert left.words == "15 × 10 cm"


# ---- the search


def six_boxes(**rules: float) -> Problem:
    """Six squares on half of a sheet: in two rows of three they leave a rectangle of 320 × 220."""
    return Problem([Part("a", box_points(100, 100), 6)], (Sheet("s", box_points(320, 420)),), **rules)


def test_the_leftover_grows_to_nearly_all_there_is() -> None:
    answer = solve(six_boxes(), passes=900, seed=1, leftover=800, workers=1)
    assert answer.complete
    assert broken_rules(answer.problem or six_boxes(), answer.placements) == []
    (left,) = answer.leftovers
    assert left.rectangle_mm2 > 0.9 * 320 * 220
    assert answer.verdict.sentence.startswith("Everything is on. A piece of ")
    without = solve(six_boxes(), passes=900, seed=1, leftover=0, workers=1)
    assert without.leftovers[0].rectangle_mm2 < left.rectangle_mm2


def test_the_same_leftover_twice() -> None:
    first, again = (solve(six_boxes(gap_parts_mm=2.0), passes=200, seed=4, leftover=120) for _ in range(2))
    assert first.placements == again.placements
    assert first.leftovers == again.leftovers
    assert first.passes == again.passes


@settings(max_examples=6, deadline=None)
@given(st.integers(0, 100_000))
def test_every_rule_holds_for_a_tidied_lay(seed: int) -> None:
    rng = np.random.default_rng(seed)
    parts = [
        Part(f"p{k}", star(rng, float(rng.uniform(30, 70)), int(rng.integers(4, 8))), 1,
             [None, (0.0, 180.0)][int(rng.integers(2))], mirror_allowed=bool(rng.integers(2)))
        for k in range(5)
    ]  # fmt: skip
    sheets = (
        Sheet("s", L_SHAPE, (box_points(20, 20, 80, 80),)),
        Sheet("t", box_points(180, 150), zones=(Zone(box_points(50, 150), 1.0),)),
    )
    problem = Problem(parts, sheets, gap_parts_mm=3, gap_edge_mm=2, gap_hole_mm=6)
    told: list[float] = []
    answer = solve(
        problem, passes=400, seed=seed, leftover=60, workers=1,
        listener=lambda p: told.append(p.answer.area_share),
    )  # fmt: skip
    assert broken_rules(problem, answer.placements) == []
    assert told == sorted(told)
    for left in answer.leftovers:
        gone = [laid(problem, p) for p in answer.placements if p.sheet == left.sheet]
        if left.rectangle is not None:
            assert unary_union(gone).intersection(box(*left.rectangle)).area < 0.1


def test_half_pieces_stay_on_the_fold() -> None:
    fold = ((0.0, 400.0), (0.0, 0.0))
    half = Part("half", box_points(100, 120), 2, (0.0, 180.0), mirror_allowed=True, on_fold=3)
    problem = Problem([half, Part("b", box_points(80, 80), 2)], (Sheet("s", box_points(300, 400), fold=fold),),
                      gap_parts_mm=2.0)  # fmt: skip
    answer = solve(problem, passes=300, leftover=200, workers=1)
    assert answer.complete
    for p in answer.placements:
        if p.part == "half":
            assert laid(problem, p).bounds[0] == pytest.approx(0.0, abs=0.02)


def test_stop_is_obeyed_while_the_leftover_grows() -> None:
    looked: list[int] = []
    complete: list[int] = []

    def stop() -> bool:
        looked.append(1)
        return bool(complete) and len(looked) > complete[0] + 20

    problem = six_boxes()
    answer = solve(
        problem, seconds=600, leftover=500, workers=1, stop=stop,
        listener=lambda p: complete.append(len(looked)) if p.answer.complete and not complete else None,
    )  # fmt: skip
    assert answer.complete
    assert answer.tried <= (len(looked) + 2) * TRIED_PER_MOVE * MOVES_A_LOOK


def test_a_part_may_be_called_like_the_rectangle() -> None:
    problem = Problem([Part("the rest", box_points(90, 90), 2)], (Sheet("s", box_points(300, 200)),))
    answer = solve(problem, passes=100, leftover=50, workers=1)
    assert answer.complete
    assert {p.part for p in answer.placements} == {"the rest"}


def test_a_strip_and_a_lay_that_falls_short_have_no_leftover() -> None:
    assert solve(Problem([Part("a", box_points(50, 50), 3)], strip=Strip(100.0)), passes=20).leftovers == ()
    short = solve(Problem([Part("a", box_points(90, 90), 2)], (Sheet("s", box_points(100, 150)),)), passes=20)
    assert short.leftovers == ()
