"""Full and small bust: what the trade says stays, what is added, and the way back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.errors import BadInput
from eke.fit import add_dart
from eke.geometry import Move
from eke.pattern.corners import dart_angle_deg, dart_apex, dart_legs_mm
from eke.pattern.measure import run_length_mm, width_at_mm
from eke.pattern.model import EdgePlace
from eke.pattern.walking import walk
from fit.bodies import bodice, do, length, moved, same_shape

APEX = (95.0, 190.0)
PLACES = {"edge": "front-hem", "mm": 95.0, "armhole": {"edge": "front-armhole", "notch": "front-n"}}
NEW = {**PLACES, "side": {"edge": "front-side", "mm": 170.0}, "apex": list(APEX)}


def with_dart():
    before = bodice()
    edge = before.edge("front-side")[1]
    before = add_dart(before, edge.id, EdgePlace(edge.id, mm=170.0), 30.0, APEX, "d")
    return before, before.piece("front").darts[0]


def test_full_bust_without_a_dart_makes_one():
    # trade: 50 of girth is 25 on each half; armhole, shoulder and neck stay; the side still fits the back
    before = bodice()
    after = do(before, "fit.bust", by_mm=25.0, **NEW)
    front = after.piece("front")
    dart = front.darts[0]
    assert width_at_mm(front, 20.0) - width_at_mm(before.piece("front"), 60.0) == pytest.approx(25.0, abs=0.1)
    assert length(after, "front-hem") == pytest.approx(240.0 + 25.0, abs=0.1)
    assert length(after, "front-armhole") == pytest.approx(length(before, "front-armhole"), abs=0.5)
    assert length(after, "front-shoulder") == length(before, "front-shoulder")
    assert length(after, "front-neck") == length(before, "front-neck")
    assert length(after, "front-fold") > length(before, "front-fold") + 5.0
    one, two = dart_legs_mm(front, dart)
    assert one == pytest.approx(two, abs=1e-6)
    # with the dart closed the side is as long as before, and as the back
    assert walk(after, "side").difference_mm == pytest.approx(0.0, abs=1e-6)
    # the hem is level and square to the fold
    hem = after.edge("front-hem")[1].path
    assert hem.start[1] == pytest.approx(hem.end[1], abs=1e-6)


def test_the_dart_that_is_there_takes_the_angle_up():
    before, dart = with_dart()
    was = dart_angle_deg(before.piece("front"), dart)
    after = do(before, "fit.bust", by_mm=20.0, dart=dart.id, **PLACES)
    piece, now = after.piece("front"), after.piece("front").darts[0]
    assert now.id == dart.id
    apex = dart_apex(piece, now)
    assert apex[0] - APEX[0] == pytest.approx(20.0, abs=1e-6)
    assert dart_angle_deg(piece, now) > was + 3.0
    assert run_length_mm(after, after.seam("side").a) == pytest.approx(
        run_length_mm(before, before.seam("side").a), abs=1e-6
    )


@given(st.floats(2.0, 30.0))
def test_small_after_full_is_as_before(by):
    before, dart = with_dart()
    there = do(before, "fit.bust", by_mm=by, dart=dart.id, **PLACES)
    back = do(there, "fit.bust", change="c2", by_mm=-by, dart=dart.id, **PLACES)
    same_shape(back.piece("front"), before.piece("front"), 0.3)
    assert dart_angle_deg(back.piece("front"), back.piece("front").darts[0]) == pytest.approx(
        dart_angle_deg(before.piece("front"), dart), abs=0.1
    )


@pytest.mark.parametrize(
    "move", [Move.translation(12.0, 80.0), Move.rotation(30.0), Move.mirror((0, 0), (0, 1))]
)
def test_moved_in_is_moved_out(move):
    before, dart = with_dart()
    params = {**PLACES, "by_mm": 18.0, "dart": dart.id}
    flipped = {**params, "mm": 240.0 - 95.0} if move.flips else params
    want = moved(do(before, "fit.bust", **params), move)
    got = do(moved(before, move), "fit.bust", **flipped)
    same_shape(got.piece("front"), want.piece("front"), 0.1)
    for p, q in zip(got.piece("front").grain, want.piece("front").grain, strict=True):
        assert p == pytest.approx(q, abs=1e-6)


def test_refusals_name_what_would_work():
    before, dart = with_dart()
    with pytest.raises(BadInput, match=r"It can go \d+ mm narrower"):
        do(before, "fit.bust", by_mm=-60.0, dart=dart.id, **PLACES)
    with pytest.raises(BadInput, match="Say which dart"):
        do(bodice(), "fit.bust", by_mm=-5.0, **NEW)
    with pytest.raises(BadInput, match="another size"):
        do(bodice(), "fit.bust", by_mm=200.0, **NEW)
    with pytest.raises(BadInput, match="outside"):
        do(bodice(), "fit.bust", by_mm=20.0, **{**NEW, "apex": [500.0, 190.0]})
    with pytest.raises(BadInput, match="on one piece"):
        do(bodice(), "fit.bust", by_mm=20.0, **{**NEW, "side": {"edge": "back-side", "mm": 170.0}})
    with pytest.raises(BadInput, match="above the bust point"):
        do(bodice(), "fit.bust", by_mm=20.0, **{**NEW, "armhole": {"edge": "front-side", "mm": 195.0}})
    with pytest.raises(BadInput, match="opens on the side"):
        do(bodice(), "fit.bust", by_mm=20.0, **{**NEW, "side": {"edge": "front-shoulder", "mm": 60.0}})
