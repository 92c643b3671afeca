"""Darts made wider, split, shortened, removed, eased and trued."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.errors import BadInput, ChangeConflict
from eke.fit import add_dart
from eke.geometry import Move
from eke.pattern.corners import dart_angle_deg, dart_apex, dart_intake_mm, dart_legs_mm, interior_angle_deg
from eke.pattern.gathers import span_mm
from eke.pattern.measure import run_length_mm
from eke.pattern.model import EdgePlace
from eke.pattern.walking import walk
from fit.bodies import area, block, bodice, do, half, length, moved, pattern_of, same_shape, seam

APEX = (150.0, 300.0)


def darted():
    """A block 300 wide and 500 high with a dart of 30 at the middle of its top, sewn there to a band of 270."""
    made = pattern_of(block(300.0, 500.0), block(270.0, 40.0, "band"))
    made = seam(made, "waist", [("block-top", True)], [("band-hem", False)])
    edge = made.edge("block-top")[1]
    return add_dart(made, edge.id, EdgePlace(edge.id, mm=150.0), 30.0, APEX, "d")


def dart_of(pattern, name="block", number=0):
    piece = pattern.piece(name)
    return piece, piece.darts[number]


def test_intake_changes_at_the_edge_and_the_point_stays():
    before = darted()
    _, dart = dart_of(before)
    for intake in (44.0, 12.0):
        after = do(before, "fit.dart_intake", dart=dart.id, intake_mm=intake)
        piece, now = dart_of(after)
        assert dart_intake_mm(piece, now) == pytest.approx(intake, abs=1e-6)
        assert dart_apex(piece, now) == pytest.approx(APEX, abs=1e-6)
        one, two = dart_legs_mm(piece, now)
        assert one == pytest.approx(two, abs=1e-9)
        # the seam closes over the dart: 300 less what it takes up
        assert run_length_mm(after, after.seam("waist").a) == pytest.approx(300.0 - intake, abs=1e-6)
        assert walk(after, "waist").difference_mm == pytest.approx(30.0 - intake, abs=1e-6)


@given(st.floats(5.0, 120.0), st.floats(5.0, 120.0))
def test_intake_there_and_back(first, second):
    before = darted()
    _, dart = dart_of(before)
    there = do(before, "fit.dart_intake", dart=dart.id, intake_mm=first)
    there = do(there, "fit.dart_intake", dart=dart.id, intake_mm=second)
    back = do(there, "fit.dart_intake", dart=dart.id, intake_mm=30.0)
    same_shape(back.piece("block"), before.piece("block"))


def about(piece, dart, point):
    """The angle of a dart's mouth seen from a point."""
    p, q = piece.edge(dart.first_leg).path.start, piece.edge(dart.second_leg).path.end
    u, v = (p[0] - point[0], p[1] - point[1]), (q[0] - point[0], q[1] - point[1])
    return math.degrees(math.atan2(u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1]))


@pytest.mark.parametrize(("edge", "share"), [("block-side", 0.5), ("block-centre", 0.3), ("block-hem", 0.7)])
def test_the_angles_of_a_split_dart_add_up(edge, share):
    before = darted()
    piece, dart = dart_of(before)
    whole = dart_angle_deg(piece, dart)
    after = do(before, "fit.dart_split", change="s", dart=dart.id, edge=edge, fraction=0.45, share=share)
    made = after.piece("block")
    old, new = made.darts
    assert about(made, new, APEX) == pytest.approx(share * whole, abs=1e-6)
    assert about(made, old, APEX) == pytest.approx((1 - share) * whole, abs=1e-6)
    for d in made.darts:
        one, two = dart_legs_mm(made, d)
        assert one == pytest.approx(two, abs=1e-6)
        assert math.dist(dart_apex(made, d), APEX) == pytest.approx(25.0, abs=1e-6)
    # no stretch of the outline changed its length
    for name in ("hem", "side", "top", "centre"):
        was = sum(e.path.length_mm for e in piece.edges if e.name == name)
        assert sum(e.path.length_mm for e in made.edges if e.name == name) == pytest.approx(was, abs=1e-6)


def test_a_split_in_a_sewn_edge_closes_in_the_seam():
    before = darted()
    _, dart = dart_of(before)
    after_edge = before.seam("waist").a[0].edge
    after = do(before, "fit.dart_split", change="s", dart=dart.id, edge=after_edge, fraction=0.5)
    assert len(after.seam("waist").a) == 3
    assert walk(after, "waist").difference_mm == pytest.approx(0.0, abs=1e-6)


def test_shortened_from_the_point():
    before = darted()
    _, dart = dart_of(before)
    after = do(before, "fit.dart_shorten", dart=dart.id, by_mm=40.0)
    piece, now = dart_of(after)
    assert dart_apex(piece, now) == pytest.approx((150.0, 340.0), abs=1e-6)
    assert dart_intake_mm(piece, now) == pytest.approx(30.0, abs=1e-9)
    back = do(after, "fit.dart_shorten", dart=dart.id, by_mm=-40.0)
    same_shape(back.piece("block"), before.piece("block"))


def test_removed_is_the_block_again():
    before = darted()
    _, dart = dart_of(before)
    after = do(before, "fit.dart_remove", dart=dart.id)
    same_shape(after.piece("block"), block(300.0, 500.0))
    assert not after.piece("block").darts
    assert len(after.piece("block").edges) == 4
    assert walk(after, "waist").difference_mm == pytest.approx(30.0, abs=1e-6)
    # the ids of both parts lead to the edge that is left
    for part in before.seam("waist").a:
        assert after.edge(part.edge)[1].name == "top"


def test_eased_is_no_difference():
    before = darted()
    _, dart = dart_of(before)
    after = do(before, "fit.dart_to_ease", dart=dart.id)
    assert after.seam("waist").ease_mm == pytest.approx(30.0, abs=1e-6)
    assert walk(after, "waist").difference_mm == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("beside_mm", [None, 25.0, 60.0])
def test_gathered_over_its_mouth_is_no_difference(beside_mm):
    before = darted()
    _, dart = dart_of(before)
    said = {} if beside_mm is None else {"beside_mm": beside_mm}
    after = do(before, "fit.dart_to_ease", dart=dart.id, how="gathered", **said)
    assert not after.piece("block").darts
    assert walk(after, "waist").difference_mm == pytest.approx(0.0, abs=1e-6)
    assert after.seam("waist").ease_mm == pytest.approx(before.seam("waist").ease_mm)
    (gather,) = after.piece("block").gathers
    low, high = span_mm(after.piece("block"), gather)
    assert high - low == pytest.approx(30.0 + 2.0 * (beside_mm or 30.0), abs=1e-6)
    assert (high - low) * (1.0 - 1.0 / gather.ratio) == pytest.approx(30.0, abs=1e-6)


def test_gathers_that_would_be_too_full_are_told_how_far_to_go():
    before = darted()
    _, dart = dart_of(before)
    with pytest.raises(BadInput) as no:
        do(before, "fit.dart_to_ease", dart=dart.id, how="gathered", beside_mm=1.0)
    least = no.value.data["least_mm"]
    assert least == pytest.approx(3.0)
    assert (
        do(before, "fit.dart_to_ease", dart=dart.id, how="gathered", beside_mm=least + 0.01)
        .piece("block")
        .gathers
    )


def test_the_cap_is_trued_with_the_dart_folded_shut():
    # a dart drawn into a straight side leaves a bend when it is closed
    before = pattern_of(half("front", 110.0))
    edge = before.edge("front-side")[1]
    before = add_dart(before, edge.id, EdgePlace(edge.id, mm=120.0), 40.0, (90.0, 190.0), "d")
    piece, dart = dart_of(before, "front")
    first = piece.edges[[e.id for e in piece.edges].index(dart.first_leg) - 1]
    bent = interior_angle_deg(piece, first.id, "end")
    assert abs(bent - 180.0) > 5.0
    after = do(before, "fit.dart_cap", dart=dart.id)
    made, now = dart_of(after, "front")
    one, two = dart_legs_mm(made, now)
    assert one == pytest.approx(two, abs=1e-6)
    assert interior_angle_deg(made, first.id, "end") == pytest.approx(180.0, abs=0.1)
    assert dart_apex(made, now) == dart_apex(piece, dart)
    assert dart_angle_deg(made, now) == pytest.approx(dart_angle_deg(piece, dart), abs=1e-6)
    assert length(after, "front-armhole") == length(before, "front-armhole")


@pytest.mark.parametrize(
    "move", [Move.translation(40.0, 9.0), Move.rotation(50.0), Move.mirror((0, 0), (0, 1))]
)
def test_moved_in_is_moved_out(move):
    before = darted()
    _, dart = dart_of(before)
    for kind, params in (
        ("fit.dart_intake", {"intake_mm": 50.0}),
        ("fit.dart_shorten", {"by_mm": 30.0}),
        ("fit.dart_remove", {}),
        ("fit.dart_cap", {}),
        ("fit.dart_split", {"edge": "block-side", "fraction": 0.5}),
    ):
        want = moved(do(before, kind, dart=dart.id, **params), move)
        got = do(moved(before, move), kind, dart=dart.id, **params)
        same_shape(got.piece("block"), want.piece("block"), 1e-3)
        assert area(got.piece("block")) == pytest.approx(area(want.piece("block")), abs=0.1)


def test_refusals_name_what_would_work():
    before = darted()
    _, dart = dart_of(before)
    with pytest.raises(BadInput, match="up to 290 mm would go"):
        do(before, "fit.dart_intake", dart=dart.id, intake_mm=400.0)
    with pytest.raises(BadInput, match="at least 1 mm"):
        do(before, "fit.dart_intake", dart=dart.id, intake_mm=0.0)
    with pytest.raises(BadInput, match="by 180 mm at most"):
        do(before, "fit.dart_shorten", dart=dart.id, by_mm=190.0)
    with pytest.raises(BadInput, match="leave"):
        do(before, "fit.dart_shorten", dart=dart.id, by_mm=-400.0)
    with pytest.raises(BadInput, match="between the ends"):
        do(before, "fit.dart_split", dart=dart.id, edge="block-side", mm=0.0)
    with pytest.raises(BadInput, match="same piece"):
        do(before, "fit.dart_split", dart=dart.id, edge="band-side", fraction=0.5)
    with pytest.raises(BadInput, match="above 0 and below 1"):
        do(before, "fit.dart_split", dart=dart.id, edge="block-side", fraction=0.5, share=1.0)
    for kind in ("intake", "shorten", "split", "remove", "to_ease", "cap"):
        with pytest.raises((BadInput, ChangeConflict)):
            do(before, f"fit.dart_{kind}", dart="gone", intake_mm=10.0, by_mm=5.0)
    lonely = bodice()
    edge = lonely.edge("front-hem")[1]
    lonely = add_dart(lonely, edge.id, EdgePlace(edge.id, mm=120.0), 20.0, (120.0, 90.0), "d")
    with pytest.raises(BadInput, match="nothing to ease it onto"):
        do(lonely, "fit.dart_to_ease", dart=lonely.piece("front").darts[0].id)
