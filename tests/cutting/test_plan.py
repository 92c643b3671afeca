"""Lay plans: the verdict in words, what is left, when a plan is stale."""

import json
from dataclasses import replace

import pytest

from eke.changes import Log, Record, Registry, attempt
from eke.cloth import Cloth, Shelf, cloth_to_json, rectangle, washed, workroom_kinds
from eke.cutting import (
    cut_params,
    cut_pieces,
    from_answer,
    plan_from_json,
    plan_to_json,
    stale,
    to_problem,
)
from eke.errors import BadInput
from eke.lay import solve

from .conftest import flag, in_a_row, square_piece, turned_cloth

SHEET = Cloth("c", "sheet", rectangle(1000, 1000), grain_deg=90)


def laid_by_hand(pieces, cloth=SHEET):
    return from_answer(in_a_row(to_problem(pieces, [cloth])), pieces, [cloth], garment="g", revision="r1")


def test_all_fits_and_the_leftover_is_named():
    (piece,) = cut_pieces(square_piece())  # 230 × 355 cut
    plan = laid_by_hand([piece])
    assert plan.complete
    # 5 mm from the edges: above it 1000 × 640 is left, beside it 765 × 1000
    assert plan.sentence == "Everything fits, and a piece of 100 × 76 cm is left."
    assert plan.use_percent == pytest.approx(100 * 230 * 355 / 1e6)
    assert plan.leftovers[0].area_mm2 == pytest.approx(1e6 - 230 * 355)


def test_a_cloth_that_nothing_lies_on_stays_whole():
    (piece,) = cut_pieces(square_piece())
    spare = Cloth("d", "spare", rectangle(2000, 2000), grain_deg=90)
    answer = in_a_row(to_problem([piece], [SHEET]))
    plan = from_answer(replace(answer, problem=to_problem([piece], [SHEET, spare])), [piece], [SHEET, spare])
    assert (
        plan.sentence
        == "Everything fits on “sheet”, and a piece of 100 × 76 cm is left. “spare” stays whole."
    )


def test_what_does_not_fit_is_named_with_its_share():
    pieces = [flag("front"), flag("pocket facing"), flag("back", copies=3)]
    answer = in_a_row(to_problem(pieces, [SHEET]))
    short = replace(answer, placements=answer.placements[:1] + answer.placements[2:4])
    plan = from_answer(short, pieces, [SHEET])
    assert not plan.complete
    assert plan.sentence == "“pocket facing” and one of “back” do not fit: 40 % of what is to be cut."
    assert plan.short_mm2 == pytest.approx(2 * flag().area_mm2)


def test_what_is_no_plan_is_said():
    (piece,) = cut_pieces(square_piece())
    whole = plan_to_json(laid_by_hand([piece]))
    assert plan_from_json(whole) == laid_by_hand([piece])
    for broken in (
        {},
        {**whole, "format": "eke-lay-plan-9"},
        {**whole, "laid": [{}]},
        {**whole, "gaps_mm": 3},
    ):
        with pytest.raises(BadInput, match="Lay again"):
            plan_from_json(broken)


def test_a_pair_is_one_name_and_a_long_list_is_cut_short():
    pair = [flag("x", copies=1), flag("y", copies=1)]
    pair = [replace(pair[0], name="sleeve, as drawn"), replace(pair[1], name="sleeve, mirrored")]
    answer = in_a_row(to_problem(pair, [SHEET]))
    assert (
        "Both of “sleeve” do not fit" in from_answer(replace(answer, placements=()), pair, [SHEET]).sentence
    )
    assert (
        "One of “sleeve” does"
        in from_answer(replace(answer, placements=answer.placements[:1]), pair, [SHEET]).sentence
    )
    many = [flag(f"p{i}") for i in range(7)]
    sentence = from_answer(replace(answer, placements=()), many, [SHEET]).sentence
    assert sentence == "“p0”, “p1”, “p2”, “p3” and 3 more do not fit: 100 % of what is to be cut."


def test_a_plan_goes_stale_with_the_pieces_or_the_cloth_but_not_with_their_names():
    pieces = list(cut_pieces(square_piece()))
    plan = laid_by_hand(pieces)
    assert stale(plan, pieces, [SHEET], revision="r2") == ()
    assert stale(plan, [replace(pieces[0], name="x")], [replace(SHEET, name="y", weight_gsm=200)]) == ()
    assert "pieces have changed" in stale(plan, cut_pieces(square_piece(width=210)), [SHEET])[0]
    assert "“sheet” has changed" in stale(plan, pieces, [replace(SHEET, outline=rectangle(1000, 990))])[0]
    assert "not there any more" in stale(plan, pieces, [])[0]
    assert stale(plan, pieces, [replace(SHEET, nap="one-way")])


def test_washing_a_cloth_as_expected_leaves_the_plan_good():
    cloth = replace(SHEET, shrink_warp_percent=5.0)
    pieces = list(cut_pieces(square_piece()))
    plan = from_answer(in_a_row(to_problem(pieces, [cloth])), pieces, [cloth])
    assert plan.to_wash == ("c",)
    assert stale(plan, pieces, [washed(cloth)]) == ()


def test_a_plan_becomes_a_cut_in_the_workroom():
    pieces = list(cut_pieces(square_piece()))
    plan = laid_by_hand(pieces)
    registry, log = Registry(workroom_kinds()), Log()
    for n, (kind, params) in enumerate(
        [
            ("project.start", {"id": "p", "name": "Apron"}),
            ("garment.enter", {"id": "g", "name": "apron", "project": "p"}),
            ("cloth.add", {"cloth": cloth_to_json(SHEET)}),
            ("cut.confirm", cut_params(plan)),
        ]
    ):
        tried = attempt(log, Record(f"r{n}", log.head, kind, 1, params), registry, Shelf())
        log = tried.log
    cut = tried.replayed.state.cuts["r3"]
    assert cut.revision == "r1"
    assert cut.cut_mm2 == pytest.approx(230 * 355)


def test_the_packing_itself_goes_in_and_out_through_the_door():
    pieces = [flag("a", copies=2), flag("b", grain="bias"), *cut_pieces(square_piece())]
    cloths = [turned_cloth(700, 800, 33.0)]
    problem = to_problem(pieces, cloths)
    plan = from_answer(solve(problem, passes=20, seed=1, workers=1), pieces, cloths)
    assert plan.complete, plan.sentence
    assert plan_from_json(json.loads(json.dumps(plan_to_json(plan)))) == plan
    too_small = [turned_cloth(300, 400, 120.0)]
    plan = from_answer(solve(to_problem(pieces, too_small), passes=5, seed=1, workers=1), pieces, too_small)
    assert not plan.complete
    # what lacks is no more than what is off, less what is left over, and both are areas that the plan tells
    assert plan.sentence.startswith("Too little cloth, by ")
    lacking = plan.short_mm2 - sum(one.area_mm2 for one in plan.leftovers)
    assert f"by {lacking / 1e6:.2f} m²" in plan.sentence or f"by {lacking / 100:.0f} cm²" in plan.sentence
