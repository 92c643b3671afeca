"""Walking seams: lengths, notches, joins, folds, darts; values of the trade and what the fixes do."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.errors import BadInput
from eke.geometry import Move, Path
from eke.pattern import corners, darts
from eke.pattern.checking import check, check_seam
from eke.pattern.corners import dart_angle_deg, dart_intake_mm, interior_angle_deg, moved_piece, shut_move
from eke.pattern.model import Dart, EdgeId, EdgePlace, Notch, Pattern, PieceId, RunPart
from eke.pattern.tolerances import Tolerances
from eke.pattern.walking import walk

from .samples import Story, bodice, darted, rectangle, seam


def codes(pattern: Pattern) -> list[str]:
    return sorted(f.code for f in check(pattern) if f.code != "seam-unsaid")


def test_a_true_bodice_has_nothing_wrong_but_unsaid_seams() -> None:
    found = check(bodice())
    assert {f.code for f in found} == {"seam-unsaid"}
    assert sorted(f.where[1] for f in found) == ["back-armhole", "back-neck", "front-armhole", "front-neck"]


def test_corners_add_to_180_at_the_shoulder_and_the_fold_is_square() -> None:
    # trade values: joined corners 180°, folds 90° (common practice)
    walked = walk(bodice(), "shoulder")
    assert len(walked.joins) == 2
    for join in walked.joins:
        assert join.angle_a_deg == pytest.approx(90.0, abs=1e-6)
        assert join.off_deg == pytest.approx(0.0, abs=1e-6)
    front = bodice().piece("front")
    assert interior_angle_deg(front, "front-fold", "start") == pytest.approx(90.0)
    assert interior_angle_deg(front, "front-fold", "end") == pytest.approx(90.0)


@pytest.mark.parametrize(
    ("by_mm", "severity"), [(1.4, None), (2.0, "note"), (2.9, "note"), (3.2, "ask"), (12.0, "ask")]
)
def test_length_tolerances_of_the_trade(by_mm: float, severity: str | None) -> None:
    # below 1.5 mm nothing, to 3 mm a note, above it the maker is asked (Threads 200, 2018: 1/16 and 1/8 in)
    story = Story(bodice())
    story.do("corner.move", edge="back-side", end="end", to=[640.0, 220.0 + by_mm])
    found = [f for f in check_seam(story.state, "side") if f.code == "seam-length"]
    assert [f.severity for f in found] == ([severity] if severity else [])
    if found:
        assert found[0].amount == pytest.approx(-by_mm, abs=1e-6)
        assert f"{by_mm:.1f} mm apart" in found[0].sentence


def test_a_seam_without_a_name_is_told_by_its_pieces() -> None:
    story = Story(bodice())
    story.do("corner.move", edge="back-side", end="end", to=[640.0, 225.0])
    nameless = story.state.with_seam(replace(story.state.seam("side"), name=""))
    (found,) = [f for f in check_seam(nameless, "side") if f.code == "seam-length"]
    assert found.sentence.startswith("The seam between “")
    assert "seam side" not in found.sentence


def test_tolerances_can_be_set_and_must_rise() -> None:
    story = Story(bodice())
    story.do("corner.move", edge="back-side", end="end", to=[640.0, 224.0])
    assert check_seam(story.state, "side", Tolerances(length_fine_mm=5.0, length_note_mm=6.0)) == ()
    with pytest.raises(BadInput, match="must be 0 or more and rise"):
        Tolerances(length_fine_mm=2.0, length_note_mm=1.0)


def test_seam_ease_is_counted_and_a_short_eased_side_is_a_fault_of_its_own() -> None:
    pattern = (
        Pattern().with_piece(rectangle("cap", 100, 320)).with_piece(rectangle("body", 100, 300, at=(200, 0)))
    )
    eased = seam("s", [("cap", "cap-right", False)], [("body", "body-left", True)], ease_mm=20.0)
    assert check_seam(pattern.with_seam(eased), "s") == ()
    plain = replace(eased, ease_mm=0.0)
    assert [f.code for f in check_seam(pattern.with_seam(plain), "s")] == ["seam-length"]
    wrong_side = replace(eased, ease_mm=-20.0)
    (found,) = check_seam(pattern.with_seam(wrong_side), "s")
    assert found.code == "seam-ease-missing"
    assert found.severity == "ask"


def with_notches(pattern: Pattern, piece: str, edge: str, places, count: int = 1) -> Pattern:
    own = pattern.piece(piece)
    notches = tuple(
        Notch(f"{edge}-{i}", EdgePlace(EdgeId(edge), mm=mm), count) for i, mm in enumerate(places)
    )
    return pattern.with_piece(replace(own, notches=(*own.notches, *notches)))


def two_panels(a_mm: float = 400.0, b_mm: float = 400.0, **facts) -> Pattern:
    pattern = (
        Pattern().with_piece(rectangle("a", 100, a_mm)).with_piece(rectangle("b", 100, b_mm, at=(200, 0)))
    )
    return pattern.with_seam(seam("s", [("a", "a-right", False)], [("b", "b-left", True)], **facts))


def test_notches_are_compared_at_equal_seam_distance() -> None:
    pattern = with_notches(with_notches(two_panels(), "a", "a-right", [100, 300]), "b", "b-left", [298, 94])
    # run B is walked against its edge: 400 - 298 = 102 and 400 - 94 = 306
    walked = walk(pattern, "s")
    assert [round(p.apart_mm, 6) for p in walked.pairs] == [2.0, 6.0]
    found = [f for f in check_seam(pattern, "s") if f.code == "notch-apart"]
    assert [(f.severity, round(f.amount, 6)) for f in found] == [("note", 2.0), ("ask", 6.0)]


def test_ease_between_two_notches_moves_only_what_lies_behind() -> None:
    pattern = two_panels(412.0, 400.0, ease_mm=12.0, ease_between=("a-right-0", "a-right-1"))
    pattern = with_notches(with_notches(pattern, "a", "a-right", [100, 312]), "b", "b-left", [300, 100])
    walked = walk(pattern, "s")
    assert [p.apart_mm for p in walked.pairs] == pytest.approx([0.0, 0.0])
    assert check_seam(pattern, "s") == () or {f.code for f in check_seam(pattern, "s")} <= {
        "notch-confusable"
    }
    assert max(abs(off) for _, off in walked.running()) < 1e-9
    even = replace(pattern.seam("s"), ease_between=None)
    spread = walk(pattern.with_seam(even), "s")
    assert spread.pairs[0].apart_mm == pytest.approx(12.0 * 100 / 412, abs=1e-6)


def test_double_notches_find_double_mates_and_lonely_ones_are_told() -> None:
    pattern = with_notches(two_panels(), "a", "a-right", [100], count=2)
    pattern = with_notches(pattern, "b", "b-left", [300], count=1)
    found = [f for f in check_seam(pattern, "s") if f.code == "notch-alone"]
    assert len(found) == 2


def test_notches_that_look_the_same_from_both_ends_are_told_and_a_double_one_helps() -> None:
    pattern = with_notches(with_notches(two_panels(), "a", "a-right", [100, 300]), "b", "b-left", [300, 100])
    story = Story(pattern)
    (found,) = [f for f in check_seam(pattern, "s") if f.code == "notch-confusable"]
    story.do(found.fixes[0].kind, **found.fixes[0].params)
    assert not [f for f in check_seam(story.state, "s") if f.code.startswith("notch")]


@given(st.floats(5.0, 60.0), st.floats(100.0, 300.0))
def test_dart_angle_is_two_asin_w_over_2l(intake: float, leg: float) -> None:
    piece = darted(intake, leg)
    dart = Dart("d", EdgeId("leg-1"), EdgeId("leg-2"))
    # derived: an intake w on legs L opens 2·asin(w/2L)
    assert dart_angle_deg(piece, dart) == pytest.approx(
        2 * math.degrees(math.asin(intake / (2 * leg))), abs=1e-9
    )
    assert dart_intake_mm(piece, dart) == pytest.approx(intake)
    shut = shut_move(piece, dart)
    assert shut.apply(piece.edge("leg-2").path.end) == pytest.approx(piece.edge("leg-1").path.start, abs=1e-9)


def test_dart_of_30_at_200_takes_8_602_degrees() -> None:
    assert dart_angle_deg(darted(30, 200), Dart("d", EdgeId("leg-1"), EdgeId("leg-2"))) == pytest.approx(
        8.602, abs=5e-4
    )


def test_a_dart_is_folded_shut_for_walking_and_for_angles() -> None:
    piece = replace(darted(30, 200), darts=(Dart("d", EdgeId("leg-1"), EdgeId("leg-2")),))
    band = rectangle("band", 270, 40, at=(500, 0))
    pattern = Pattern().with_piece(piece).with_piece(band)
    top = [("skirt", "top-1", False), ("skirt", "top-2", False)]
    pattern = pattern.with_seam(seam("waist", top, [("band", "band-top", False)]))
    assert walk(pattern, "waist").difference_mm == pytest.approx(0.0)
    # a straight edge dips by the dart's angle once the dart is closed: it must be capped
    angle = interior_angle_deg(piece, "top-1", "end")
    assert angle == pytest.approx(180.0 + 8.602, abs=1e-2)
    assert "seam-unsaid" not in {f.code for f in check(pattern) if f.where[-1] in ("leg-1", "leg-2")}


def test_cap_of_a_dart_lies_on_the_mirrored_neighbour() -> None:
    piece = replace(darted(30, 200), darts=(Dart("d", EdgeId("leg-1"), EdgeId("leg-2")),))
    cap = darts.dart_cap(Pattern().with_piece(piece), "d")
    assert cap[0] == pytest.approx(150.0)
    # mirrored in the leg, the level edge rises by twice the leg's lean over half of the intake
    lean = math.asin(15 / 200)
    assert cap[1] == pytest.approx(500 + 15 * math.tan(2 * lean), abs=1e-6)


def test_unequal_legs_are_told_and_trued() -> None:
    piece = darted(30, 200)
    story = Story(Pattern().with_piece(piece))
    story.do("dart.say", first_leg="leg-1", second_leg="leg-2")
    story.do("corner.move", edge="leg-2", end="end", to=[135.0, 504.0])
    (found,) = [f for f in check(story.state) if f.code == "dart-legs"]
    assert found.severity == "ask"
    story.do(found.fixes[0].kind, **found.fixes[0].params)
    assert not [f for f in check(story.state) if f.code == "dart-legs"]


def test_centre_back_seam_of_a_pair_is_walked_with_its_own_mirror_image() -> None:
    pattern = Pattern().with_piece(rectangle("back", 200, 400))
    pattern = pattern.with_seam(
        seam("cb", [("back", "back-left", False)], [("back", "back-left", False)], b_mirrored=True)
    )
    walked = walk(pattern, "cb")
    assert walked.difference_mm == 0.0
    # a corner of 90° twice: the hem runs on straight over the seam
    assert [j.off_deg for j in walked.joins] == pytest.approx([0.0] * len(walked.joins))


def test_run_over_two_pieces_is_as_long_as_both() -> None:
    story = Story(bodice())
    length = (
        story.state.edge("front-armhole")[1].path.length_mm
        + story.state.edge("back-armhole")[1].path.length_mm
    )
    sleeve = rectangle("band", length, 60, at=(1000, 0))
    pattern = story.state.with_piece(sleeve)
    armhole = [("front", "front-armhole", False), ("back", "back-armhole", True)]
    pattern = pattern.with_seam(seam("armhole", armhole, [("band", "band-hem", False)]))
    walked = walk(pattern, "armhole")
    assert walked.difference_mm == pytest.approx(0.0, abs=1e-9)
    # the front notch is met 90 mm in, the back one 90 mm before the end
    assert [n.at_mm for n in walked.a.notches()] == pytest.approx([90.0, length - 90.0])
    # and the two armhole edges now are one line at the side and at the shoulder
    assert all(abs(j.off_deg) < 1e-6 for j in walk(pattern, "side").joins)


def test_an_edge_that_is_gone_is_a_finding_and_not_a_crash() -> None:
    pattern = bodice().without_piece("back")
    assert [f.code for f in check(pattern) if f.code != "seam-unsaid"] == ["target-gone", "target-gone"]


@given(st.floats(-180, 180), st.floats(-500, 500), st.floats(-500, 500))
def test_findings_do_not_depend_on_where_the_pieces_lie(turn: float, dx: float, dy: float) -> None:
    story = Story(bodice())
    story.do("corner.move", edge="back-shoulder", end="start", to=[590.0, 385.0])
    move = Move.rotation(turn, (10.0, 20.0)).then(Move.translation(dx, dy))
    moved = story.state.with_piece(moved_piece(story.state.piece("back"), move))
    before = [(f.code, f.where, f.severity) for f in check(story.state)]
    after = [(f.code, f.where, f.severity) for f in check(moved)]
    assert sorted(before) == sorted(after)
    assert len(before) > 4


def test_settled_findings_are_respected_until_reopened() -> None:
    story = Story(bodice())
    story.do("corner.move", edge="front-neck", end="end", to=[0.0, 290.0])
    # dropping the corner with the direction kept is no fault; a V neck is
    story.do("true.straighten", edge="front-neck")
    (found,) = [f for f in check(story.state) if f.code == "fold-square"]
    settle = next(x for x in found.fixes if x.kind == "finding.settle")
    story.do(settle.kind, **settle.params)
    assert not [f for f in check(story.state) if f.code == "fold-square"]
    story.do("finding.reopen", **settle.params)
    assert [f for f in check(story.state) if f.code == "fold-square"]


def test_all_kinds_that_fixes_name_exist() -> None:
    import inspect
    import re

    from eke.pattern import checking
    from eke.pattern.kinds import pattern_kinds

    named = set(re.findall(r'Fix\(\s*"([a-z_.]+)"', inspect.getsource(checking)))
    assert len(named) > 8
    assert named <= {k.name for k in pattern_kinds()}


def test_width_across_the_grain() -> None:
    from eke.pattern.measure import width_at_mm

    assert width_at_mm(rectangle("r", 120, 300), 100.0) == pytest.approx(120.0)
    assert width_at_mm(bodice().piece("front"), 100.0) == pytest.approx(240.0)
    assert width_at_mm(rectangle("r", 120, 300), 500.0) == 0.0
    assert corners.corner_point(rectangle("r", 1, 2).edges[0], "end") == (1.0, 0.0)
    assert RunPart(PieceId("a"), EdgeId("b")).reverse is False
    assert Path.line((0, 0), (1, 0)).length_mm == 1.0
