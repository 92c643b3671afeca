"""The door between the two conventions of grain: a piece cut crosswise must be caught."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Polygon

from eke.cloth import Cloth, Flaw, rectangle
from eke.cutting import (
    CutPiece,
    Gaps,
    check_lay,
    cut_pieces,
    from_answer,
    from_placements,
    grain_of,
    piece_with_grain_along_x,
    placed,
    to_problem,
)
from eke.cutting import door as the_door
from eke.errors import BadInput, EkeError
from eke.lay import FULL_QUALITY, Placement

from .conftest import flag, half_piece, in_a_row, turned_cloth

GRAINS = st.one_of(st.sampled_from([0.0, 90.0, 180.0, 270.0]), st.floats(0, 359.9))


def warp_along(one, piece: CutPiece) -> float:
    """Direction of a laid piece's grain from two of its corners alone: flag's (0, 0) → (0, 300) is its grain."""
    foot, top = np.array(one.outline[0]), np.array(one.outline[-1])
    return math.degrees(math.atan2(*(top - foot)[::-1])) % 360


def angle(a, b):
    return abs((a - b + 180) % 360 - 180)


@given(GRAINS, st.sampled_from([0.0, 180.0]))
def test_every_piece_lies_on_the_warp_however_the_cloth_lies(grain, turn):
    cloth = turned_cloth(900, 700, grain)
    problem = to_problem([flag("a"), flag("b", copies=2)], [cloth])
    plan = from_answer(in_a_row(problem, turn), [flag("a"), flag("b", copies=2)], [cloth])
    assert len(plan.laid) == 3
    for one in plan.laid:
        assert angle(warp_along(one, flag()), grain + turn) < 1e-6
        assert cloth.polygon.buffer(1e-6).covers(Polygon(one.outline))


@pytest.mark.parametrize("broken", [0.0, 45.0, 180.0])
def test_a_broken_door_is_caught(monkeypatch, broken):
    """With the warp put anywhere but along +y inside the packing, the check refuses the lay as off the grain.

    (180° would do no harm on plain cloth; on cloth with a direction it turns every piece upside down.)
    """
    cloth = turned_cloth(900, 700, 30.0, nap="one-way")
    pieces = [flag("a"), flag("b")]
    monkeypatch.setattr(the_door, "turn_into_lay_deg", lambda cloth: broken - cloth.grain_deg)
    answer = in_a_row(to_problem(pieces, [cloth]))
    # the lay stays on the cloth only at some turns; what matters is that the grain is what is found wrong
    laid = from_placements(answer.placements, pieces, [cloth])
    kinds = {fault.kind for fault in check_lay(laid, pieces, [cloth])}
    assert "grain" in kinds
    with pytest.raises(EkeError, match="does not hold"):
        from_answer(answer, pieces, [cloth])


def test_a_door_that_only_turns_one_way_is_caught(monkeypatch):
    cloth = turned_cloth(900, 900, 0.0)
    answer = in_a_row(to_problem([flag("a")], [cloth]))
    real = the_door.turn_of
    monkeypatch.setattr(the_door, "turn_of", lambda cloth: 0.0 * real(cloth))
    faults = check_lay(from_placements(answer.placements, [flag("a")], [cloth]), [flag("a")], [cloth])
    assert any(fault.kind == "grain" and fault.amount == pytest.approx(90, abs=0.1) for fault in faults)


def test_a_case_with_the_grain_along_x_comes_in_the_right_way():
    # nesting-case-1: cloth grain along x, piece grain along its own x, turn 0 keeps the grain
    along_x = [(0.0, 0.0), (300.0, 0.0), (260.0, 40.0), (90.0, 60.0), (90.0, 120.0), (0.0, 120.0)]
    piece = CutPiece("p", "p", "p", "outer", piece_with_grain_along_x(along_x))
    cloth = Cloth("c", "c", rectangle(1000, 400), grain_deg=0.0)
    plan = from_answer(in_a_row(to_problem([piece], [cloth])), [piece], [cloth])
    (one,) = plan.laid
    # back in the case's own frame the piece must be its old outline, moved only
    here = np.array(one.outline)
    here = here[np.lexsort(here.T)] - here.min(axis=0)
    there = np.array(along_x)[np.lexsort(np.array(along_x).T)]
    assert np.allclose(here, there, atol=1e-9)


@pytest.mark.parametrize(
    ("rule", "nap", "turns"),
    [
        ("along", "none", (0, 180)),
        ("along", "one-way", (0,)),
        ("bias", "none", (45, 135, 225, 315)),
        ("bias", "one-way", (45, 315)),
        ("cross", "none", (0, 90, 180, 270)),
        ("cross", "one-way", (0,)),
        ("any", "none", None),
    ],
)
def test_turns_by_grain_rule_and_nap(rule, nap, turns):
    # nap, pile and one-way prints: all tops one way (extension layout page and school book)
    cloth = Cloth("c", "c", rectangle(900, 900), grain_deg=90, nap=nap)
    (part,) = to_problem([flag("a", grain=rule)], [cloth]).parts
    assert part.turns == turns
    assert not part.mirror_allowed


def test_one_cloth_with_a_direction_binds_all_and_mirroring_needs_two_like_faces():
    plain = Cloth("c", "c", rectangle(900, 900), grain_deg=90, same_face=True)
    velvet = Cloth("d", "d", rectangle(900, 900), grain_deg=90, same_face=True, nap="one-way")
    right_side = Cloth("e", "e", rectangle(900, 900), grain_deg=90)
    assert to_problem([flag()], [plain]).parts[0].mirror_allowed
    assert to_problem([flag()], [plain, velvet]).parts[0].turns == (0.0,)
    assert not to_problem([flag()], [plain, right_side]).parts[0].mirror_allowed


def test_a_piece_wrong_side_up_is_caught_on_cloth_with_a_right_side():
    cloth = Cloth("c", "c", rectangle(900, 900), grain_deg=90)
    laid = from_placements([Placement("flag", "c", 0.0, 500.0, 100.0, mirrored=True)], [flag()], [cloth])
    assert [f.kind for f in check_lay(laid, [flag()], [cloth])] == ["face"]
    two_faced = Cloth("c", "c", rectangle(900, 900), grain_deg=90, same_face=True)
    assert check_lay(laid, [flag()], [two_faced]) == ()


def test_flaws_become_zones_and_what_is_good_for_nothing_is_cut_off():
    burn = Flaw("b", ((0, 300), (900, 300), (900, 340), (0, 340)), "burn", 0)
    faded = Flaw("f", ((0, 0), (900, 0), (900, 100), (0, 100)), "faded", 1)
    cloth = Cloth("c", "c", rectangle(900, 1000), grain_deg=90, flaws=(burn, faded))
    problem = to_problem([flag("a"), flag("b", hidden=True, least_quality=1)], [cloth])
    assert [sheet.id for sheet in problem.sheets] == ["c", "c#2"]
    assert [len(sheet.zones) for sheet in problem.sheets] == [0, 1]
    assert [part.min_quality for part in problem.parts] == [FULL_QUALITY, 1.0]
    laid = from_placements([Placement("a", "c#2", 0.0, 10.0, -0.0), Placement("b", "c#2", 0.0, 300.0, 0.0)],
                           [flag("a"), flag("b", least_quality=1)], [cloth])  # fmt: skip
    assert {one.cloth for one in laid} == {"c"}
    assert [
        (f.kind, f.pieces) for f in check_lay(laid, [flag("a"), flag("b", least_quality=1)], [cloth])
    ] == [("quality", ("a",))]


def test_an_unwashed_cloth_is_laid_as_it_will_be():
    cloth = Cloth(
        "c", "c", rectangle(1000, 1000), grain_deg=90, shrink_warp_percent=6, shrink_weft_percent=2.5
    )
    (sheet,) = to_problem([flag()], [cloth]).sheets
    assert np.ptp(np.asarray(sheet.outline), axis=0) == pytest.approx((975, 940))


def test_what_lies_already_is_not_laid_on():
    cloth = Cloth("c", "c", rectangle(1000, 1000), grain_deg=90)
    problem = to_problem([flag()], [cloth], taken={"c": [((0, 0), (1000, 0), (1000, 500), (0, 500))]})
    low = np.asarray(problem.sheets[0].outline).min(axis=0)[1]
    assert low == pytest.approx(502)


@given(st.floats(0, 360), st.floats(-50, 50), st.floats(-50, 50), st.booleans())
def test_the_check_sees_how_a_piece_was_turned(turn, x, y, over):
    piece = flag()
    outline = placed(piece.outline, turn, x, y, mirrored=over)
    from eke.cutting import Laid

    direction, mirrored, misfit = grain_of(Laid("flag", "flag", "c", turn, x, y, over, outline), piece)
    assert misfit < 1e-6
    assert mirrored == over
    assert angle(direction, 90 + turn) < 1e-4


@pytest.mark.parametrize(
    ("laid_at", "kind"),
    [
        ([(0, 700, 100)], "outside"),
        ([(0, 100, 100), (0, 110, 100)], "overlap"),
        ([(0, 100, 100), (0, 221, 100)], "gap"),
        ([(90, 500, 100)], "grain"),
        ([(0, 395, 350)], "gap"),
        ([(0, 400, 350)], "outside"),
        ([(0, 100, 100)] * 3, "copies"),
    ],
)
def test_each_kind_of_fault_is_found(laid_at, kind):
    hole = ((516, 400), (600, 400), (600, 500), (516, 500))
    cloth = Cloth("c", "c", rectangle(800, 800), grain_deg=90, holes=(hole,))
    piece = flag("a", copies=2)
    laid = from_placements([Placement("a", "c", t, x, y) for t, x, y in laid_at], [piece], [cloth])
    assert kind in {f.kind for f in check_lay(laid, [piece], [cloth], gaps=Gaps(2, 0, 3))}


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: to_problem([], [Cloth("c", "c", rectangle(9, 9), grain_deg=90)]), "cutting list is empty"),
        (lambda: to_problem([flag()], []), "No cloth"),
        (
            lambda: to_problem([flag()], [Cloth("c", "sheet", rectangle(900, 900))]),
            "which way the warp of “sheet”",
        ),
        (lambda: Gaps(-1), "0 mm or more"),
        (
            lambda: to_problem(
                cut_pieces(half_piece(), unfold=False), [Cloth("c", "c", rectangle(900, 900), grain_deg=90)]
            ),
            "listed as a half",
        ),
        (lambda: from_placements([Placement("x", "c", 0, 0, 0)], [flag()], []), "not both"),
        (lambda: flag("a", copies=0), "at least once"),
        (lambda: flag("a", grain="up"), "along, cross, bias or any"),
    ],
)
def test_what_cannot_be_laid_is_said(make, says):
    with pytest.raises(BadInput, match=says):
        make()


def test_free_pieces_need_no_grain():
    cloth = Cloth("c", "felt", rectangle(900, 900))
    plan = from_answer(in_a_row(to_problem([flag(grain="any")], [cloth])), [flag(grain="any")], [cloth])
    assert plan.complete
