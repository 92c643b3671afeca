"""Wedges: the angles and losses of the trade, what stays, what is carried, what is refused."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.errors import BadInput, EkeError, NotFound
from eke.fit import add_dart, dart_angle_deg
from eke.geometry import Move
from eke.pattern.corners import dart_angle_deg as angle_of
from eke.pattern.measure import width_at_mm
from eke.pattern.model import EdgePlace
from eke.pattern.trueing import straightness_of
from eke.pattern.walking import walk
from fit.bodies import apart, area, block, bodice, do, half, length, moved, pattern_of


def test_sway_back_of_the_trade():
    # trade: a wedge of 12 at the centre back to 0 at a side 240 away is 2.862°; centre back -12, side as before
    before = pattern_of(block(240.0, 600.0))
    after = do(
        before,
        "fit.wedge",
        edge="block-centre",
        mm=200.0,
        width_mm=12.0,
        to={"edge": "block-side", "mm": 400.0},
    )
    assert length(after, "block-centre") == pytest.approx(588.0, abs=0.05)
    assert length(after, "block-side") == pytest.approx(600.0, abs=0.05)
    (x0, y0), (x1, y1) = after.edge("block-hem")[1].path.start, after.edge("block-hem")[1].path.end
    hem = math.degrees(math.atan2(y1 - y0, x1 - x0))
    (x0, y0), (x1, y1) = after.edge("block-top")[1].path.end, after.edge("block-top")[1].path.start
    top = math.degrees(math.atan2(y1 - y0, x1 - x0))
    assert abs(top - hem) == pytest.approx(2.862, abs=0.01)
    # the lapped triangle is gone, but for what the blended joint gives back
    assert area(before.piece("block")) - area(after.piece("block")) == pytest.approx(12 * 240 / 2, abs=60.0)


def test_gape_lapped_to_the_hem_takes_from_the_bust_too():
    # trade: a line of 600 with the bust at 380 above the hinge, 12 lapped at the neck: 7.6 lost at the bust
    before = pattern_of(block(240.0, 600.0))
    after = do(
        before, "fit.wedge", edge="block-top", mm=120.0, width_mm=12.0, to={"edge": "block-hem", "mm": 120.0}
    )
    # a chord at bust height between two places that lie on either side of the line
    side, centre = after.edge("block-side")[1].path, after.edge("block-centre")[1].path
    now = math.dist(side.point_at(380.0), centre.point_at(600.0 - 380.0))
    assert 240.0 - now == pytest.approx(7.6, abs=0.15)
    assert length(after, "block-top") == pytest.approx(228.0, abs=0.1)


def test_neck_gape_to_mid_armhole_leaves_the_bust():
    before = bodice()
    after = do(
        before,
        "fit.wedge",
        edge="front-neck",
        fraction=0.5,
        width_mm=6.0,
        to={"edge": "front-armhole", "fraction": 0.5},
    )
    assert length(after, "front-neck") == pytest.approx(length(before, "front-neck") - 6.0, abs=0.3)
    for edge in ("armhole", "shoulder", "side", "hem", "fold"):
        assert length(after, f"front-{edge}") == pytest.approx(length(before, f"front-{edge}"), abs=0.3)
    assert width_at_mm(after.piece("front"), 200.0) == width_at_mm(before.piece("front"), 200.0)
    # the ids stay, so the seams still run over the same edges; the notch is at its place on the cloth
    assert after.seams == before.seams
    assert walk(after, "armhole").difference_mm == pytest.approx(
        walk(before, "armhole").difference_mm, abs=0.3
    )


def test_armhole_gape_into_the_bust_dart():
    before = bodice()
    apex = (110.0, 190.0)
    before = add_dart(
        before, "front-side", EdgePlace(before.edge("front-side")[1].id, mm=150.0), 20.0, apex, "d"
    )
    dart = before.piece("front").darts[0]
    was = angle_of(before.piece("front"), dart)
    after = do(before, "fit.wedge", edge="front-armhole", fraction=0.5, width_mm=8.0, to={"dart": dart.id})
    piece, now = after.piece("front"), after.piece("front").darts[0]
    mouth = before.edge("front-armhole")[1].path
    (x, y), (ux, uy) = (f(mouth.length_mm / 2) for f in (mouth.point_at, mouth.tangent_at))
    tip = before.edge(dart.first_leg)[1].path.end
    reach = math.dist((x, y), tip)
    squarely = ((x - tip[0]) * uy - (y - tip[1]) * ux) / reach
    wedge = dart_angle_deg(8.0 / squarely, reach)
    # angles add
    assert angle_of(piece, now) == pytest.approx(was + wedge, abs=0.01)
    legs = [piece.edge(leg).path.length_mm for leg in (now.first_leg, now.second_leg)]
    assert legs[0] == pytest.approx(legs[1], abs=1e-6)
    # the dart meets the armhole slantingly; the jog that is trued there is worth some of a millimetre
    assert length(after, "front-armhole") == pytest.approx(length(before, "front-armhole") - 8.0, abs=1.0)
    assert length(after, "front-shoulder") == pytest.approx(120.0, abs=1e-6)
    side = [e.id for e in piece.edges if e.name == "side"]
    assert sum(length(after, e) for e in side) == pytest.approx(
        sum(length(before, e) for e in side), abs=1e-6
    )


def test_broad_back_swings_out_and_keeps_the_armhole():
    # trade: the shoulder gains the amount, the armhole keeps its length within 1, the shoulder is redrawn straight
    before = bodice()
    after = do(
        before,
        "fit.broaden",
        edge="back-shoulder",
        fraction=0.5,
        by_mm=10.0,
        to={"edge": "back-armhole", "notch": "back-n"},
    )
    assert length(after, "back-shoulder") == pytest.approx(130.0, abs=0.5)
    assert length(after, "back-armhole") == pytest.approx(length(before, "back-armhole"), abs=0.5)
    assert straightness_of(after, "back-shoulder") == pytest.approx(0.0, abs=1e-9)
    # 4.22: the front shoulder has not followed, and walking says so
    assert walk(after, "shoulder").difference_mm == pytest.approx(-10.0, abs=0.5)


def test_in_and_out_again_is_the_piece_as_it_was():
    before = bodice()
    there = do(
        before,
        "fit.wedge",
        edge="front-neck",
        fraction=0.5,
        width_mm=-9.0,
        to={"edge": "front-armhole", "mm": 120.0},
    )
    back = do(
        there,
        "fit.wedge",
        change="c2",
        edge="front-neck",
        fraction=0.5,
        width_mm=9.0,
        to={"edge": "front-armhole", "mm": 120.0},
    )
    assert apart(back.piece("front").outline, before.piece("front").outline) < 0.6


@pytest.mark.parametrize(
    "move", [Move.translation(300.0, -90.0), Move.rotation(37.0, (10.0, 20.0)), Move.mirror((0, 0), (0, 1))]
)
def test_moved_in_is_moved_out(move):
    params = {
        "edge": "front-neck",
        "fraction": 0.4,
        "width_mm": 7.0,
        "to": {"edge": "front-armhole", "fraction": 0.3},
    }
    flipped = {
        **params,
        "fraction": 0.6,
        "to": {"edge": "front-armhole", "fraction": 0.7},
    }
    straight = do(bodice(), "fit.wedge", **params)
    other = do(moved(bodice(), move), "fit.wedge", **(flipped if move.flips else params))
    want = moved(straight, move)
    assert apart(other.piece("front").outline, want.piece("front").outline) < 0.01
    for p, q in zip(other.piece("front").marks[0].points, want.piece("front").marks[0].points, strict=True):
        assert p == pytest.approx(q, abs=1e-6)
    for a, b in zip(other.piece("front").notches, want.piece("front").notches, strict=True):
        ea, eb = other.piece("front").edge(a.at.edge), want.piece("front").edge(b.at.edge)
        pa, pb = ea.path.point_at(ea.mm_of(a.at)), eb.path.point_at(eb.mm_of(b.at))
        assert pa == pytest.approx(pb, abs=0.05)


@given(st.floats(0.15, 0.85), st.floats(0.15, 0.85), st.floats(-15.0, 15.0).filter(lambda w: abs(w) > 0.2))
def test_any_sensible_wedge_leaves_a_sound_piece(at, to, width):
    before = pattern_of(half("front", 110.0))
    try:
        after = do(
            before,
            "fit.wedge",
            edge="front-neck",
            fraction=at,
            width_mm=width,
            to={"edge": "front-armhole", "fraction": to},
        )
    except EkeError as refused:
        assert isinstance(refused, BadInput)  # noqa: PT017
        return
    for edge in ("shoulder", "side", "hem", "fold"):
        assert length(after, f"front-{edge}") == pytest.approx(length(before, f"front-{edge}"), abs=1e-6)
    assert abs(area(after.piece("front")) - area(before.piece("front"))) < abs(width) * 300.0


def test_marks_on_the_turned_part_go_with_it():
    before = bodice()
    after = do(
        before,
        "fit.wedge",
        edge="front-side",
        mm=60.0,
        width_mm=10.0,
        to={"edge": "front-fold", "fraction": 1.0},
    )
    # the fold stays, the upper part holds it; the lower part has no mark and no grain
    assert after.piece("front").marks == before.piece("front").marks
    assert after.piece("front").grain == before.piece("front").grain


def test_refusals_name_what_would_work():
    before = bodice()
    place = {"edge": "front-armhole", "fraction": 0.5}
    neck = length(before, "front-neck")
    with pytest.raises(BadInput, match=f"there {2 * (20 - 1)}.0 mm would go"):
        do(before, "fit.wedge", edge="front-neck", mm=20.0, width_mm=60.0, to=place)
    with pytest.raises(BadInput, match="a fold stays straight"):
        do(before, "fit.wedge", edge="front-fold", mm=100.0, width_mm=6.0, to=place)
    with pytest.raises(BadInput, match="at the end of"):
        do(before, "fit.wedge", edge="front-neck", mm=neck, width_mm=6.0, to=place)
    with pytest.raises(BadInput, match=r"inside “front”.*the nearest is"):
        do(before, "fit.wedge", edge="front-neck", mm=60.0, width_mm=6.0, to={"point": [120.0, 200.0]})
    with pytest.raises(BadInput, match="stays on one piece"):
        do(before, "fit.wedge", edge="front-neck", mm=60.0, width_mm=6.0, to={"edge": "back-side", "mm": 9})
    with pytest.raises(BadInput, match=r"leaves “front”|more squarely"):
        do(
            before,
            "fit.wedge",
            edge="front-armhole",
            mm=10.0,
            width_mm=4.0,
            to={"edge": "front-armhole", "fraction": 1.0},
        )
    with pytest.raises(NotFound):
        do(before, "fit.wedge", edge="gone", mm=60.0, width_mm=6.0, to=place)
    with pytest.raises(BadInput, match="how wide"):
        do(before, "fit.wedge", edge="front-neck", mm=60.0, width_mm=0.0, to=place)
    assert dart_angle_deg(30.0, 200.0) == pytest.approx(8.602, abs=0.001)
