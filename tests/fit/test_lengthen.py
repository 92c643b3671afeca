"""Lengthening and shortening at a line: all pieces that it crosses, and nothing else."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.errors import BadInput
from eke.fit import add_dart
from eke.geometry import Move
from eke.pattern.checking import check
from eke.pattern.model import EdgePlace
from eke.pattern.walking import walk
from fit.bodies import apart, area, block, bodice, do, length, moved, pattern_of, same_shape, seam


def test_front_and_back_follow_the_line_over_the_side_seam():
    before = bodice()
    after = do(before, "fit.lengthen", edge="front-side", mm=60.0, by_mm=25.0)
    for piece in ("front", "back"):
        assert length(after, f"{piece}-side") == pytest.approx(245.0, abs=1e-6)
        assert length(after, f"{piece}-fold") == pytest.approx(
            length(before, f"{piece}-fold") + 25.0, abs=1e-6
        )
        # a rectangle there: area grows by 25 times the width
        assert area(after.piece(piece)) - area(before.piece(piece)) == pytest.approx(25.0 * 240.0, abs=0.5)
        for edge in ("hem", "armhole", "shoulder", "neck"):
            assert length(after, f"{piece}-{edge}") == pytest.approx(
                length(before, f"{piece}-{edge}"), abs=1e-6
            )
    assert after.piece("sleeve") == before.piece("sleeve")
    assert walk(after, "side").difference_mm == pytest.approx(0.0, abs=1e-6)
    # the notch is above the line: it stays at its place on the cloth, farther from the hem now
    front = after.piece("front")
    notch = next(n for n in front.notches if n.id == "front-s")
    edge = front.edge(notch.at.edge)
    assert edge.path.point_at(edge.mm_of(notch.at)) == pytest.approx((240.0, 80.0), abs=1e-6)
    assert after.piece("front").marks == before.piece("front").marks


def test_a_line_through_the_armhole_takes_the_sleeve_cap_along():
    before = bodice()
    after = do(before, "fit.lengthen", edge="front-armhole", fraction=0.5, by_mm=6.0)
    for edge in ("front-armhole", "back-armhole", "sleeve-cap-a", "sleeve-cap-b"):
        assert length(after, edge) > length(before, edge) + 2.0, edge
    alone = do(before, "fit.lengthen", edge="front-armhole", fraction=0.5, by_mm=6.0, not_over=["armhole"])
    assert alone.piece("sleeve") == before.piece("sleeve")
    assert alone.piece("back") == before.piece("back")
    # 4.22: what was left behind is found
    assert (
        any(f.code.startswith("seam") for f in check(alone))
        or abs(walk(alone, "armhole").difference_mm) > 1.5
    )


def test_only_some_pieces():
    before = bodice()
    after = do(before, "fit.lengthen", edge="front-side", mm=60.0, by_mm=25.0, only=["front"])
    assert after.piece("back") == before.piece("back")
    assert walk(after, "side").difference_mm == pytest.approx(25.0, abs=1e-6)


def test_a_line_through_a_dart_lengthens_its_legs():
    before = pattern_of(block(300.0, 500.0))
    edge = before.edge("block-top")[1]
    before = add_dart(before, edge.id, EdgePlace(edge.id, mm=150.0), 30.0, (150.0, 300.0), "d")
    after = do(before, "fit.lengthen", edge="block-side", mm=400.0, by_mm=20.0)
    dart = after.piece("block").darts[0]
    first, second = (after.edge(leg)[1].path for leg in (dart.first_leg, dart.second_leg))
    assert first.length_mm == pytest.approx(math.hypot(220.0, 15.0), abs=1e-6)
    assert second.length_mm == pytest.approx(first.length_mm, abs=1e-9)
    assert first.end == pytest.approx((150.0, 280.0), abs=1e-9)


@given(st.floats(30.0, 180.0), st.floats(1.0, 60.0))
def test_longer_then_shorter_is_as_before(at, by):
    before = bodice()
    there = do(before, "fit.lengthen", edge="front-side", mm=at, by_mm=by)
    back = do(there, "fit.lengthen", change="c2", edge="front-side", mm=at + by, by_mm=-by)
    for piece in ("front", "back"):
        same_shape(back.piece(piece), before.piece(piece))


def test_curves_come_back_within_a_pencil_line():
    before = bodice()
    at = before.edge("front-armhole")[1].path.length_mm * 0.5
    there = do(before, "fit.lengthen", edge="front-armhole", mm=at, by_mm=8.0, not_over=["armhole"])
    whole = length(there, "front-armhole")
    start = there.edge("front-armhole")[1].path
    # the same level as before: the part above the line did not move
    level = before.edge("front-armhole")[1].path.point_at(at)
    place = start.nearest(level).at_mm
    assert 0.0 < place < whole
    back = do(
        there, "fit.lengthen", change="c2", edge="front-armhole", mm=place, by_mm=-8.0, not_over=["armhole"]
    )
    same_shape(back.piece("front"), before.piece("front"), 0.4)


@pytest.mark.parametrize(
    "move", [Move.translation(50.0, 70.0), Move.rotation(20.0), Move.mirror((0, 0), (0, 1))]
)
def test_moved_in_is_moved_out(move):
    params = {"edge": "front-side", "fraction": 0.5, "by_mm": 17.0}
    want = moved(do(bodice(), "fit.lengthen", **params), move)
    got = do(moved(bodice(), move), "fit.lengthen", **params)
    for piece in ("front", "back"):
        assert apart(got.piece(piece).outline, want.piece(piece).outline) < 1e-3


def test_refusals_name_what_would_work():
    before = bodice()
    with pytest.raises(BadInput, match=r"up to 59.5 mm can be folded out"):
        do(before, "fit.lengthen", edge="front-side", mm=60.0, by_mm=-80.0)
    with pytest.raises(BadInput, match=r"corner|times"):
        do(before, "fit.lengthen", edge="front-side", mm=0.0, by_mm=10.0)
    with pytest.raises(BadInput, match="not among the pieces"):
        do(before, "fit.lengthen", edge="front-side", mm=60.0, by_mm=10.0, only=["back"])
    with pytest.raises(BadInput, match="how much"):
        do(before, "fit.lengthen", edge="front-side", mm=60.0, by_mm=0.0)


def test_seams_of_other_lengths_are_met_in_proportion():
    made = pattern_of(block(200.0, 400.0, "a"), block(200.0, 404.0, "b"))
    made = seam(made, "s", [("a-side", False)], [("b-side", False)], ease_mm=-4.0)
    after = do(made, "fit.lengthen", edge="a-side", mm=100.0, by_mm=10.0)
    assert walk(after, "s").difference_mm == pytest.approx(0.0, abs=1e-6)
