"""A proof must be one: it is never given where a lay is known, and it is given where it can be."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Polygon, box
from shapes import box_points, star

from eke.lay import Part, Placement, Problem, Sheet, Zone, faults, solve
from eke.lay.search.proofs import fits_nowhere, proof_by_area, proof_by_part

L_SHAPE = np.array([[0, 0], [400, 0], [400, 180], [180, 180], [180, 400], [0, 400.0]])


def one(part: Part, sheet: Sheet, **rules: float) -> bool:
    return fits_nowhere(part, sheet, Problem([part], (sheet,), **rules))


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 100_000), st.sampled_from([None, (0.0,), (0.0, 90.0)]), st.floats(0.0, 5.0))
def test_a_part_that_was_cut_from_a_sheet_is_never_proved_off_it(
    seed: int, turns: object, tilt: float
) -> None:
    """The part is what a random star leaves of the sheet, so it lies there exactly."""
    rng = np.random.default_rng(seed)
    sheet = Polygon(star(rng, 300, 12))
    got = sheet.intersection(affinity.translate(Polygon(star(rng, 250, 9)), *rng.uniform(-60, 60, 2)))
    got = max(getattr(got, "geoms", [got]), key=lambda g: g.area)
    if got.area < 100.0 or not got.is_valid:
        return
    # turned back by an angle that it may be turned by, and moved
    a = 0.0 if turns is not None else float(rng.uniform(0, 360))
    t = float(rng.uniform(-tilt, tilt)) if turns is not None else 0.0
    drawn = affinity.translate(affinity.rotate(got, a + t, origin=(0, 0)), 700, -300)
    part = Part("p", np.asarray(drawn.exterior.coords)[:-1], 1, turns, tilt if turns else 0.0)  # type: ignore[arg-type]
    assert not one(part, Sheet("s", np.asarray(sheet.exterior.coords)[:-1]))


def test_a_bar_too_long_for_each_arm() -> None:
    """Its area, greatest width, least width and box are all less than the sheet's: only its shape forbids it."""
    sheet = Sheet("s", L_SHAPE)
    assert one(Part("bar", box_points(260, 200), 1, (0.0, 90.0)), sheet)
    assert one(Part("bar", box_points(260, 200), 1, None), sheet)
    assert not one(Part("bar", box_points(260, 175), 1, None), sheet)
    assert not one(Part("bar", box_points(399, 179), 1, (0.0, 90.0)), sheet)


def test_turns_and_tilt_count() -> None:
    slanted = np.asarray(affinity.rotate(box(0, 0, 300, 60), 20).exterior.coords)[:-1]
    sheet = Sheet("s", slanted)
    bar = box_points(280, 50)
    assert one(Part("bar", bar, 1, (0.0, 180.0)), sheet)
    assert one(Part("bar", bar, 1, (0.0,), 8.0), sheet)
    assert not one(Part("bar", bar, 1, (0.0,), 21.0), sheet)
    assert not one(Part("bar", bar, 1, None), sheet)


def test_holes_gaps_zones_and_locked_pieces_count() -> None:
    part = Part("p", box_points(180, 180), 1, (0.0, 90.0), min_quality=2.0)
    plain = Sheet("s", box_points(220, 220))
    assert not one(part, plain)
    assert one(part, Sheet("s", box_points(220, 220), (box_points(8, 8, 106, 106),)))
    assert one(part, plain, gap_edge_mm=25.0)
    assert one(part, Sheet("s", box_points(220, 220), zones=(Zone(box_points(60, 60, 80, 80), 1.0),)))
    lock = Placement("l", "s", 0.0, 90.0, 90.0)
    small = Part("l", box_points(40, 40))
    assert fits_nowhere(part, plain, Problem([part, small], (plain,), locked=(lock,)))


def test_a_mirrored_part_fits_where_the_other_hand_does_not() -> None:
    hand = np.array([[0, 0], [100, 0], [0, 60.0]])
    sheet = Sheet("s", np.array([[0, 0], [104, 0], [104, 63.0]]))
    assert one(Part("t", hand), sheet)
    assert not one(Part("t", hand, mirror_allowed=True), sheet)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 100_000))
def test_area_is_never_short_where_a_lay_is_known(seed: int) -> None:
    """Squares on a grid with just the gaps that are asked: such a lay is sound, so there is no proof."""
    rng = np.random.default_rng(seed)
    gap, edge = float(rng.choice([0.0, 2.0, 5.0])), float(rng.choice([0.0, 4.0]))
    side, n = float(rng.uniform(30, 90)), int(rng.integers(1, 5))
    width = n * side + (n - 1) * gap + 2 * edge
    problem = Problem(
        [Part("a", box_points(side, side), n * n, min_quality=float(rng.choice([1.0, 2.0])))],
        (Sheet("s", box_points(width, width)),), gap_parts_mm=gap, gap_edge_mm=edge,
    )  # fmt: skip
    places = [
        Placement("a", "s", 0.0, edge + i * (side + gap), edge + j * (side + gap))
        for i in range(n) for j in range(n)
    ]  # fmt: skip
    assert faults(problem, places) == []
    assert proof_by_area(problem) is None
    assert proof_by_part(problem, ["a"]) is None


def test_gaps_and_quality_make_the_area_short() -> None:
    fits = [Part("a", box_points(50, 50), 4)]
    sheet = Sheet("s", box_points(101, 101), zones=(Zone(box_points(60, 101), 1.0),))
    assert proof_by_area(Problem(fits, (sheet,))) is None
    said = proof_by_area(Problem(fits, (sheet,), gap_parts_mm=3.0))
    assert said is not None
    assert "3 mm between" in said
    fussy = [Part("a", box_points(50, 50), 2, min_quality=2.0)]
    assert "better cloth" in (proof_by_area(Problem(fussy, (sheet,))) or "")


def test_the_verdict_has_the_proof_and_the_rest_is_laid() -> None:
    bar = Part("bar", box_points(260, 200), 1, None)
    small = Part("small", box_points(80, 80), 2)
    answer = solve(Problem([bar, small], (Sheet("s", L_SHAPE),)), passes=60, workers=1)
    assert answer.unplaced == {"bar": 1}
    assert answer.verdict.proof == (
        "“bar” fits nowhere on “s”, even with nothing else there, in any way that it may lie."
    )


@pytest.mark.parametrize("scale", [0.2, 30.0])
def test_a_proof_does_not_depend_on_size(scale: float) -> None:
    sheet = Sheet("s", L_SHAPE * scale)
    assert one(Part("bar", box_points(260 * scale, 210 * scale), 1, None), sheet)
    assert not one(Part("bar", box_points(260 * scale, 170 * scale), 1, None), sheet)
