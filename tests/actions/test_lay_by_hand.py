"""A lay by hand: where pieces lie, what is wrong, what is kept; laying on from it; what is given up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Polygon

from eke.actions import cloths, fitting, lay_by_hand, laying, lays, papers
from eke.actions.lays import Placed
from eke.actions.room import Room
from eke.actions.work import lay_job
from eke.cutting import Laid, LayPlan, placed, plan_from_json, plan_to_json, to_placements, to_problem
from eke.cutting.door import from_placements
from eke.errors import BadInput, ChangeConflict
from eke.jobs import Report
from eke.lay.search.leftover import score
from helpers import tunic

TUNIC, PROJECT = tunic.TUNIC, tunic.PROJECT
OUTER = ("outer",)


def shelve(room: Room, name: str, width: float = 1000.0, length: float = 700.0, **said: Any) -> str:
    words = {"grain_deg": 90.0, "washed": True} | said
    id_ = cloths.add_cloth(room, name, cloths.typed_outline("rectangle", [width, length]), **words).id
    cloths.reserve_cloth(room, name, PROJECT)
    return id_


@pytest.fixture
def ready(sewn: Room) -> Room:
    """A tunic and a cloth that holds it; nothing laid yet."""
    shelve(sewn, "blue")
    return sewn


def by_hand(plan: LayPlan, **more: Any) -> list[Placed]:
    return [as_placed(one, **more) for one in plan.laid]


def as_placed(one: Laid, **more: Any) -> Placed:
    said = Placed(one.id, one.piece, one.cloth, one.x_mm, one.y_mm, one.turn_deg, one.mirrored, one.locked)
    return replace(said, **more)


def laid_out(room: Room) -> LayPlan:
    return laying.lay_garment(room, TUNIC, roles=OUTER, seconds=None, passes=3, seed=1)


# ---------------------------------------------------------------- where a piece lies


def test_an_outline_is_the_piece_mirrored_turned_and_moved(ready: Room) -> None:
    """The contract of a laid piece, worked out with shapely alone."""
    laid_out(ready)
    lay = lays.lay_of(ready, TUNIC, OUTER)
    outlines = {piece.id: piece.outline for piece in lay.pieces}
    assert lay.plan is not None
    for one in lay.plan.laid:
        shape = Polygon(outlines[one.piece])
        if one.mirrored:
            shape = affinity.scale(shape, -1, 1, origin=(0, 0))
        shape = affinity.translate(affinity.rotate(shape, one.turn_deg, origin=(0, 0)), one.x_mm, one.y_mm)
        assert shape.hausdorff_distance(Polygon(one.outline)) < 0.01


@pytest.mark.parametrize("grain_deg", [0.0, 37.5, 90.0, 181.0])
@given(x=st.floats(-900, 900), y=st.floats(-900, 900), turn=st.floats(-720, 720), mirrored=st.booleans())
def test_there_and_back_through_the_door(
    grain_deg: float, x: float, y: float, turn: float, mirrored: bool
) -> None:
    from eke.cloth import Cloth
    from eke.cutting import CutPiece, laid_at

    piece = CutPiece("p/outer", "p", "p", "outer", ((0, 0), (80, 10), (60, 200), (5, 150)), grain="any")
    cloth = Cloth(
        "c",
        "c",
        ((-2000, -2000), (2000, -2000), (2000, 2000), (-2000, 2000)),
        grain_deg=grain_deg,
        washed=True,
    )
    one = laid_at(piece, "c", x, y, turn, mirrored=mirrored)
    assert one.outline == placed(piece.outline, turn % 360.0, x, y, mirrored=mirrored)
    problem = to_problem([piece], [cloth])
    back = from_placements(to_placements([one], [piece], [cloth], problem), [piece], [cloth])[0]
    np.testing.assert_allclose(back.outline, one.outline, atol=1e-6)
    assert (back.mirrored, back.cloth, back.id) == (mirrored, "c", "p/outer#1")


def test_a_turn_off_by_a_hair_is_put_right(ready: Room) -> None:
    plan = laid_out(ready)
    lay = lays.lay_of(ready, TUNIC, OUTER)
    problem = to_problem(lay.pieces, lay.cloths)
    off = [replace(one, turn_deg=one.turn_deg + 0.009) for one in plan.laid]
    turns = [p.turn_deg for p in to_placements(off, lay.pieces, lay.cloths, problem)]
    assert set(turns) <= {0.0, 180.0}


# ---------------------------------------------------------------- before the first lay


def test_before_the_first_lay_it_says_what_is_missing(sewn: Room) -> None:
    assert "No cloth is kept" in lays.lay_of(sewn, TUNIC, OUTER).sentence
    id_ = shelve(sewn, "blue", grain_deg=None)
    assert "which way the warp of “blue” runs" in lays.lay_of(sewn, TUNIC, OUTER).sentence
    cloths.describe_cloth(sewn, id_, grain_deg=90.0)
    lay = lays.lay_of(sewn, TUNIC, OUTER)
    assert (lay.plan, lay.sentence, len(lay.pieces)) == (None, "2 pieces wait to be laid.", 2)
    assert "nothing to cut from lining" in lays.lay_of(sewn, TUNIC, ("lining",)).sentence


def test_cloth_is_shown_as_it_will_be_when_washed(sewn: Room) -> None:
    id_ = shelve(sewn, "wool", 1000.0, 800.0, washed=False, shrink_warp_percent=10.0, shrink_weft_percent=5.0)
    lay = lays.lay_of(sewn, TUNIC, OUTER)
    assert np.ptp(np.array(lay.cloths[0].outline), axis=0) == pytest.approx([950.0, 720.0])
    plan = laid_out(sewn)
    assert lays.lay_of(sewn, TUNIC, OUTER).to_wash == (id_,)
    assert plan.complete
    cloths.wash_cloth(sewn, "wool")
    after = lays.lay_of(sewn, TUNIC, OUTER)
    assert (after.stale, after.to_wash) == ((), ())
    laying.confirm_cut(sewn, TUNIC, OUTER)  # washed now, so it may be cut
    assert lays.lay_of(sewn, TUNIC, OUTER).cut


# ---------------------------------------------------------------- checking and keeping


def test_what_the_program_laid_passes_by_hand(ready: Room) -> None:
    plan = laid_out(ready)
    lay, faults = lay_by_hand.check_by_hand(ready, TUNIC, by_hand(plan), OUTER)
    assert faults == ()
    assert lay.plan is not None
    assert (lay.plan.complete, lay.plan.sentence) == (plan.complete, plan.sentence)
    assert lay.plan.use_percent == pytest.approx(plan.use_percent)


@pytest.mark.parametrize(
    ("change", "kind"),
    [
        (lambda p: replace(p, x_mm=p.x_mm + 5000), "outside"),
        (lambda p: replace(p, turn_deg=p.turn_deg + 3), "grain"),
        (lambda p: replace(p, mirrored=not p.mirrored), "face"),
    ],
)
def test_what_is_wrong_names_the_copy_and_keeps_nothing(ready: Room, change: Any, kind: str) -> None:
    plan = laid_out(ready)
    moved = by_hand(plan)
    moved[0] = change(moved[0])
    _, faults = lay_by_hand.check_by_hand(ready, TUNIC, moved, OUTER)
    assert (kind, (moved[0].id,)) in {(f.kind, f.pieces) for f in faults}
    with pytest.raises(ChangeConflict) as refused:
        lay_by_hand.keep_by_hand(ready, TUNIC, moved, OUTER)
    assert refused.value.data["faults"] == lay_by_hand.fault_rows(faults)
    assert laying.kept_plan(ready, TUNIC, OUTER) == plan


def test_pieces_over_each_other_by_as_much_as_shapely_says(ready: Room) -> None:
    plan = laid_out(ready)
    one, two = plan.laid[:2]
    moved = by_hand(plan)
    step = np.array(Polygon(one.outline).centroid.coords[0]) - np.array(
        Polygon(two.outline).centroid.coords[0]
    )
    moved[1] = replace(moved[1], x_mm=two.x_mm + 0.2 * step[0], y_mm=two.y_mm + 0.2 * step[1])
    _, faults = lay_by_hand.check_by_hand(ready, TUNIC, moved, OUTER)
    found = next(f for f in faults if f.kind == "overlap")
    there = affinity.translate(Polygon(two.outline), *(0.2 * step))
    assert found.amount == pytest.approx(there.intersection(Polygon(one.outline)).area, rel=1e-6)
    assert set(found.pieces) == {one.id, two.id}


def test_a_lay_by_hand_is_kept_and_can_be_cut(ready: Room) -> None:
    lay = lays.lay_of(ready, TUNIC, OUTER)
    cloth = lay.cloths[0]
    places, x = [], 0.0
    for piece in lay.pieces:
        left, low, right, _ = piece.polygon.bounds
        places.append(Placed(f"{piece.id}#1", piece.id, cloth.id, x - left, -low, 0.0))
        x += right - left + 5.0
    xs, ys = np.array(cloth.outline).min(axis=0)
    places = [replace(p, x_mm=p.x_mm + xs, y_mm=p.y_mm + ys) for p in places]
    kept = lay_by_hand.keep_by_hand(ready, TUNIC, places, OUTER)
    assert kept.plan is not None
    assert (kept.plan.complete, kept.stale) == (True, ())
    laying.confirm_cut(ready, TUNIC, OUTER)
    assert len(ready.shelf().cuts) == 1


def test_an_unfinished_lay_is_kept_as_it_is(ready: Room) -> None:
    plan = laid_out(ready)
    kept = lay_by_hand.keep_by_hand(ready, TUNIC, by_hand(plan)[:1], OUTER)
    assert kept.plan is not None
    assert [m.count for m in kept.plan.missing] == [1]
    none = lay_by_hand.keep_by_hand(ready, TUNIC, [], OUTER)
    assert none.plan is not None
    assert (len(none.plan.missing), none.plan.use_percent) == (2, 0.0)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"piece": "nobody"}, "not on the cutting list"),
        ({"cloth": "nobody"}, "not kept for this project"),
        ({"id": "nobody#1"}, "there is no copy"),
        ({"x_mm": float("nan")}, "lies nowhere"),
        ({"turn_deg": float("inf")}, "lies nowhere"),
    ],
)
def test_what_is_not_there_cannot_lie(ready: Room, change: dict[str, Any], says: str) -> None:
    plan = laid_out(ready)
    places = [replace(by_hand(plan)[0], **change)]
    with pytest.raises(BadInput, match=says):
        lay_by_hand.check_by_hand(ready, TUNIC, places, OUTER)
    with pytest.raises(BadInput, match="two places"):
        lay_by_hand.check_by_hand(ready, TUNIC, by_hand(plan) * 2, OUTER)
    third = replace(by_hand(plan)[0], id=f"{plan.laid[0].piece}#3")
    with pytest.raises(BadInput, match="no copy"):
        lay_by_hand.check_by_hand(ready, TUNIC, [third], OUTER)


def test_what_was_cut_stays_cut(ready: Room) -> None:
    plan = laid_out(ready)
    laying.confirm_cut(ready, TUNIC, OUTER)
    lay = lays.lay_of(ready, TUNIC, OUTER)
    assert (lay.cut, lay.stale, [c.name for c in lay.cloths]) == (True, (), ["blue"])
    with pytest.raises(ChangeConflict, match="has been cut"):
        lay_by_hand.keep_by_hand(ready, TUNIC, by_hand(plan), OUTER)
    assert papers.lay_pages(ready, TUNIC, roles=OUTER)  # the plan that was cut can still be printed


# ---------------------------------------------------------------- laying on from it


def run(room: Room, keep: Sequence[Placed] = (), **more: Any) -> tuple[LayPlan, list[LayPlan]]:
    """Run the job in this process, as a worker would; return its plan and the better and better ones before."""
    better: list[LayPlan] = []

    def say(kind: str, value: Any) -> None:
        if kind == "improved":
            better.append(plan_from_json(value))

    _, args = lays.prepare_lay(room, TUNIC, roles=OUTER, keep=keep, **more)
    value = lay_job(Report(say), **{**args, "seconds": None, "passes": 30})
    lays.keep_lay(room, value, by_hand=bool(keep))
    return plan_from_json(value), better


def test_better_and_better_lays_are_handed_out(ready: Room) -> None:
    plan, better = run(ready)
    assert {one.id for one in better[-1].laid} == {one.id for one in plan.laid}
    on = [len(one.laid) for one in better]
    assert on == sorted(on)  # both pieces are of one class, so more on is better
    assert laying.kept_plan(ready, TUNIC, OUTER) == plan
    assert plan.roles == OUTER


def test_what_is_locked_stays_where_it_is(ready: Room) -> None:
    plan = laid_out(ready)
    there = as_placed(plan.laid[0], x_mm=plan.laid[0].x_mm, locked=True)
    after, better = run(ready, [there], seed=7)
    for one in [after, *better]:
        stayed = next(p for p in one.laid if p.id == there.id)
        np.testing.assert_allclose(stayed.outline, plan.laid[0].outline, atol=1e-6)
        assert stayed.locked
    assert after.complete
    assert laying.kept_plan(ready, TUNIC, OUTER).laid == after.laid


def test_copies_keep_their_numbers(sewn: Room) -> None:
    """Two fronts: the second is locked, the first is laid anew; the second stays the second."""
    shelve(sewn, "wide", 2200.0, 800.0)
    sewn.change_garment(TUNIC, "piece.cuts", {"piece": "front", "cuts": [{"role": "outer", "count": 2}]})
    plan = laid_out(sewn)
    second = next(one for one in plan.laid if one.id == "front/outer#2")
    after, _ = run(sewn, [as_placed(second, locked=True)])
    assert {one.id for one in after.laid} == {"front/outer#1", "front/outer#2", "back/outer#1"}
    stayed = next(one for one in after.laid if one.id == second.id)
    np.testing.assert_allclose(stayed.outline, second.outline, atol=1e-6)
    assert [one.id for one in after.laid if one.locked] == [second.id]


def test_what_the_maker_put_down_is_where_the_search_begins(ready: Room) -> None:
    """One piece was moved by hand to an end, the other is missing: the first stays while the other finds its place."""
    lay = lays.lay_of(ready, TUNIC, OUTER)
    cloth, piece = lay.cloths[0], lay.pieces[0]
    _, low, right, _ = piece.polygon.bounds
    edge = np.array(cloth.outline).max(axis=0)[0]
    there = Placed(f"{piece.id}#1", piece.id, cloth.id, float(edge - right), float(np.array(cloth.outline).min(axis=0)[1] - low), 0.0)  # fmt: skip
    after, _ = run(ready, [there])
    assert after.complete
    mine = next(one for one in after.laid if one.id == there.id)
    assert np.hypot(mine.x_mm - there.x_mm, mine.y_mm - there.y_mm) < 1.0
    assert not mine.locked


def test_what_cannot_stay_is_said_before_the_search(ready: Room) -> None:
    plan = laid_out(ready)
    before = laying.kept_plan(ready, TUNIC, OUTER)
    off = as_placed(plan.laid[0], locked=True, x_mm=plan.laid[0].x_mm + 4000)
    with pytest.raises(ChangeConflict, match="What is to stay cannot stay") as refused:
        lays.prepare_lay(ready, TUNIC, roles=OUTER, keep=[off])
    assert refused.value.data["faults"][0]["kind"] == "outside"
    assert laying.kept_plan(ready, TUNIC, OUTER) == before


def test_going_on_from_a_lay_that_is_complete_leaves_more_useful_cloth_and_never_less(ready: Room) -> None:
    plan = laid_out(ready)
    _, args = lays.prepare_lay(ready, TUNIC, roles=OUTER, keep=by_hand(plan)[:1])
    assert not args["tidy"]
    places = by_hand(plan)
    places[0] = replace(places[0], locked=True)
    _, args = lays.prepare_lay(ready, TUNIC, roles=OUTER, keep=places)
    assert args["tidy"]
    after, _ = run(ready, places)
    assert after.complete
    assert useful(ready, after) >= 0.99 * useful(ready, plan)  # what is left is measured on a raster
    stayed = next(one for one in after.laid if one.id == places[0].id)
    np.testing.assert_allclose(stayed.outline, plan.laid[0].outline, atol=1e-6)


def useful(room: Room, plan: LayPlan) -> float:
    """How useful what a plan leaves is, as the search weighs it."""
    lay = lays.lay_of(room, TUNIC, OUTER)
    problem = to_problem(lay.pieces, lay.cloths)
    return score(problem, to_placements(plan.laid, lay.pieces, lay.cloths, problem))


@pytest.mark.parametrize("seconds", [0.0, -1.0, float("nan"), float("inf")])
def test_a_time_that_is_none(ready: Room, seconds: float) -> None:
    with pytest.raises(BadInput, match="how many seconds"):
        lays.prepare_lay(ready, TUNIC, roles=OUTER, seconds=seconds)


def test_a_lay_stopped_early_does_not_take_the_place_of_a_better_one(ready: Room) -> None:
    plan = laid_out(ready)
    assert plan.complete
    half = replace(plan, laid=plan.laid[:1], missing=(replace_missing(plan),))
    kept, sentence = lays.keep_lay(ready, plan_to_json(half))
    assert "stays" in sentence
    assert kept.plan == plan
    lays.keep_lay(ready, plan_to_json(half), by_hand=True)  # unless the maker wants it so
    assert laying.kept_plan(ready, TUNIC, OUTER).laid == plan.laid[:1]


def test_a_search_does_not_take_the_place_of_what_the_hand_did_meanwhile(ready: Room) -> None:
    plan = laid_out(ready)
    garment = plan.garment
    began_on = lays.moved_by_hand(ready, garment, OUTER)
    kept = lay_by_hand.keep_by_hand(ready, TUNIC, by_hand(plan)[:1], OUTER)
    stays, sentence = lays.keep_lay(ready, plan_to_json(plan), began_on=began_on)
    assert "by hand stays" in sentence
    assert stays.plan == kept.plan
    # a search that began after the move, and another search since, are no reason
    began_on = lays.moved_by_hand(ready, garment, OUTER)
    lays.keep_lay(ready, plan_to_json(plan), began_on=began_on)
    assert laying.kept_plan(ready, TUNIC, OUTER) == plan
    lays.keep_lay(ready, plan_to_json(plan), began_on=began_on)
    assert laying.kept_plan(ready, TUNIC, OUTER) == plan


def replace_missing(plan: LayPlan) -> Any:
    from eke.cutting import Missing

    one = plan.laid[1]
    return Missing(one.piece, one.name, 1, Polygon(one.outline).area)


# ---------------------------------------------------------------- giving something up


def test_what_is_given_up_is_laid_remembered_and_kept_by_hand(sewn: Room) -> None:
    shelve(sewn, "scrap", 470.0, 560.0)
    short = laid_out(sewn)
    assert not short.complete
    ways = lays.ways_out(sewn, TUNIC, OUTER)
    given = next(w for w in ways if w.kind == "second cloth")
    plan, _ = run(sewn, stints=[given.id])
    assert (plan.complete, plan.stints) == (True, (given.id,))
    lay = lays.lay_of(sewn, TUNIC, OUTER)
    assert lay.stale == ()
    assert [one.sentence for one in lay.stints] == [given.sentence]
    assert {p.id for p in lay.off} == set(given.pieces)
    assert given.id not in {w.id for w in lays.ways_out(sewn, TUNIC, OUTER)}
    assert papers.lay_pages(sewn, TUNIC, roles=OUTER)
    kept = lay_by_hand.keep_by_hand(sewn, TUNIC, by_hand(plan), OUTER)
    assert kept.plan is not None
    assert kept.plan.stints == (given.id,)
    fitting.take_in(sewn, TUNIC, "side", [(0, 0), (150, 8), (350, 0)])
    assert lays.lay_of(sewn, TUNIC, OUTER).stale
    laying.lay_garment(sewn, TUNIC, roles=OUTER, seconds=None, passes=1)
    assert lays.lay_of(sewn, TUNIC, OUTER).stints == ()


def test_narrower_seams_make_smaller_pieces(ready: Room) -> None:
    whole = lays.lay_of(ready, TUNIC, OUTER)
    narrow = next(w for w in lays.ways_out(ready, TUNIC, OUTER) if w.kind == "narrower allowances")
    run(ready, stints=[narrow.id])
    lay = lays.lay_of(ready, TUNIC, OUTER)
    saved = sum(p.area_mm2 for p in whole.pieces) - sum(p.area_mm2 for p in lay.pieces)
    assert saved == pytest.approx(narrow.saved_mm2)
    assert lay.stale == ()


def test_what_does_not_apply_is_said(ready: Room) -> None:
    with pytest.raises(BadInput, match="no longer applies"):
        lays.prepare_lay(ready, TUNIC, roles=OUTER, stints=["leave-out:nobody"])


def test_a_plan_of_an_earlier_version_is_read(ready: Room) -> None:
    plan = laid_out(ready)
    old = plan_to_json(plan)
    for name in ("roles", "stints"):
        del old[name]
    for row in old["laid"]:
        del row["copy"], row["locked"]
    read = plan_from_json(old)
    assert [one.id for one in read.laid] == [one.id for one in plan.laid]
    assert (read.stints, read.roles) == ((), ())
