"""A second lay kept beside the first: what a search puts aside, what the hand does not touch, and the exchange."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from eke.actions import cloths, fitting, history, lay_by_hand, laying, lays
from eke.actions.lays import Lay, Placed
from eke.actions.room import Room
from eke.cutting import Laid, LayPlan, laid_at, plan_to_json
from eke.cutting.piece import mirrored
from eke.errors import ChangeConflict, NotFound
from helpers import tunic

TUNIC, PROJECT = tunic.TUNIC, tunic.PROJECT
OUTER = ("outer",)


def shelve(room: Room, name: str, width: float, length: float, **said: Any) -> str:
    words = {"grain_deg": 90.0, "washed": True} | said
    id_ = cloths.add_cloth(room, name, cloths.typed_outline("rectangle", [width, length]), **words).id
    cloths.reserve_cloth(room, name, PROJECT)
    return id_


@pytest.fixture
def ready(sewn: Room) -> Room:
    """A tunic and a cloth with room to spare; nothing laid yet."""
    shelve(sewn, "blue", 1400.0, 900.0)
    return sewn


def search(room: Room, roles: Sequence[Any] = OUTER, **said: Any) -> LayPlan:
    return laying.lay_garment(room, TUNIC, roles=roles, seconds=None, passes=3, **said)


def moved(plan: LayPlan, dx: float = 0.0, **more: Any) -> list[Placed]:
    """The plan as if laid by hand, its last piece shifted along x."""
    found = [as_placed(one, **more) for one in plan.laid]
    return [*found[:-1], replace(found[-1], x_mm=found[-1].x_mm + dx)]


def as_placed(one: Laid, **more: Any) -> Placed:
    said = Placed(one.id, one.piece, one.cloth, one.x_mm, one.y_mm, one.turn_deg, one.mirrored, one.locked)
    return replace(said, **more)


def other_of(plan: LayPlan, by_mm: float = 1.0) -> LayPlan:
    """The same plan with one piece elsewhere: another lay, as another search would find it."""
    last = plan.laid[-1]
    outline = tuple((x + by_mm, y) for x, y in last.outline)
    return replace(
        plan, laid=(*plan.laid[:-1], replace(last, x_mm=last.x_mm + by_mm, outline=outline)), seed=7
    )


def plans(room: Room, roles: Sequence[Any] = OUTER) -> tuple[LayPlan | None, LayPlan | None]:
    lay = lays.lay_of(room, TUNIC, roles)
    return lay.plan, None if lay.beside is None else lay.beside.plan


# ---------------------------------------------------------------- what is put aside


def test_the_first_lay_has_none_beside_it(ready: Room) -> None:
    plan = search(ready)
    assert plans(ready) == (plan, None)
    with pytest.raises(NotFound, match="No other lay"):
        lays.exchange(ready, TUNIC, OUTER)
    assert plans(ready) == (plan, None)


def test_a_search_puts_the_lay_before_aside_and_the_exchange_is_its_own_way_back(ready: Room) -> None:
    first = search(ready)
    second = other_of(first)
    lays.keep_lay(ready, plan_to_json(second))
    lay = lays.lay_of(ready, TUNIC, OUTER)
    assert (lay.plan, lay.beside and lay.beside.plan) == (second, first)
    assert lay.beside is not None
    assert lay.made > lay.beside.made
    assert (lay.beside.sentence, lay.beside.stale) == (first.sentence, ())
    back = lays.exchange(ready, TUNIC, OUTER)
    assert plans(ready) == (first, second)
    assert back.beside is not None
    assert back.made < back.beside.made  # which of the two is the later is not forgotten
    lays.exchange(ready, TUNIC, OUTER)
    assert plans(ready) == (second, first)
    laying.confirm_cut(ready, TUNIC, OUTER)


def test_the_same_lay_again_does_not_push_the_other_out(ready: Room) -> None:
    first = search(ready)
    second = other_of(first)
    lays.keep_lay(ready, plan_to_json(second))
    lays.keep_lay(ready, plan_to_json(replace(second, laid=second.laid[::-1], seed=9)))
    assert plans(ready)[1] == first
    lays.keep_lay(ready, plan_to_json(other_of(first, 2.0)))
    assert plans(ready)[1] == replace(second, laid=second.laid[::-1], seed=9)


def test_a_hand_that_moves_pieces_leaves_the_lay_beside_alone(ready: Room) -> None:
    first = search(ready)
    second = other_of(first)
    lays.keep_lay(ready, plan_to_json(second))
    made = lays.lay_of(ready, TUNIC, OUTER).made
    kept = lay_by_hand.keep_by_hand(ready, TUNIC, moved(first)[:1], OUTER)
    assert (plans(ready)[1], kept.made) == (first, made)
    lays.exchange(ready, TUNIC, OUTER)
    assert plans(ready) == (first, kept.plan)


def test_what_the_hand_did_is_put_aside_by_the_next_search(ready: Room) -> None:
    first = search(ready)
    by_hand = lay_by_hand.keep_by_hand(ready, TUNIC, moved(first, 0.5), OUTER).plan
    lays.keep_lay(ready, plan_to_json(other_of(first, 3.0)))
    assert plans(ready)[1] == by_hand


def test_an_empty_table_is_no_lay_to_keep(ready: Room) -> None:
    first = search(ready)
    lays.keep_lay(ready, plan_to_json(other_of(first)))
    lay_by_hand.keep_by_hand(ready, TUNIC, [], OUTER)
    lays.keep_lay(ready, plan_to_json(other_of(first, 2.0)))
    assert plans(ready)[1] == first


def test_what_was_given_up_is_said_of_the_lay_beside(ready: Room) -> None:
    whole = search(ready)
    narrow = next(w for w in lays.ways_out(ready, TUNIC, OUTER) if w.kind == "narrower allowances")
    search(ready, stints=[narrow.id])
    lay = lays.lay_of(ready, TUNIC, OUTER)
    assert lay.beside is not None
    assert ([s.id for s in lay.stints], lay.beside.stints, lay.beside.stale) == ([narrow.id], (), ())
    back = lays.exchange(ready, TUNIC, OUTER)
    assert (back.stints, back.stale, back.plan) == ((), (), whole)
    assert back.beside is not None
    assert [s.id for s in back.beside.stints] == [narrow.id]


def test_what_a_search_found_while_the_hand_moved_lies_beside(ready: Room) -> None:
    first = search(ready)
    began_on = lays.moved_by_hand(ready, first.garment, OUTER)
    kept = lay_by_hand.keep_by_hand(ready, TUNIC, moved(first, 0.5), OUTER)
    found = other_of(first, 2.0)
    lay, sentence = lays.keep_lay(ready, plan_to_json(found), began_on=began_on)
    assert "lies beside it" in sentence
    assert plans(ready) == (kept.plan, found)
    assert lay.beside is not None
    assert lay.beside.made > lay.made


def test_two_layers_have_each_their_own(ready: Room) -> None:
    ready.change_garment(TUNIC, "piece.cuts", {"piece": "front", "cuts": [{"role": "outer", "count": 1}, {"role": "lining", "count": 1}]})  # fmt: skip
    outer, lining = search(ready), search(ready, ["lining"])
    lays.keep_lay(ready, plan_to_json(other_of(outer)))
    assert plans(ready, ["lining"]) == (lining, None)
    lays.keep_lay(ready, plan_to_json(other_of(lining)))
    lays.exchange(ready, TUNIC, ["lining"])
    assert plans(ready, ["lining"]) == (lining, other_of(lining))
    assert plans(ready) == (other_of(outer), outer)


# ---------------------------------------------------------------- when it no longer holds


def test_a_lay_beside_whose_ground_has_changed_says_so_and_stays_there(ready: Room) -> None:
    first = search(ready)
    second = other_of(first)
    lays.keep_lay(ready, plan_to_json(second))
    fitting.take_in(ready, TUNIC, "side", [(0, 0), (150, 8), (350, 0)])
    lay = lays.lay_of(ready, TUNIC, OUTER)
    assert lay.beside is not None
    assert "pieces have changed" in lay.beside.stale[0]
    with pytest.raises(ChangeConflict, match="no longer holds"):
        lays.exchange(ready, TUNIC, OUTER)
    assert plans(ready) == (second, first)
    history.take_back(ready, TUNIC)
    assert lays.exchange(ready, TUNIC, OUTER).plan == first


def test_what_was_cut_is_not_exchanged(ready: Room) -> None:
    first = search(ready)
    lays.keep_lay(ready, plan_to_json(other_of(first)))
    laying.confirm_cut(ready, TUNIC, OUTER)
    with pytest.raises(ChangeConflict, match="has been cut"):
        lays.exchange(ready, TUNIC, OUTER)
    assert lays.lay_of(ready, TUNIC, OUTER).cut
    history.take_back(ready)
    assert lays.exchange(ready, TUNIC, OUTER).plan == first


def test_places_are_the_same_whichever_copy_comes_first(ready: Room) -> None:
    plan = search(ready)
    assert laying.same_lay(plan, replace(plan, laid=plan.laid[::-1]))
    assert laying.same_lay(plan, other_of(plan, 0.05))
    assert not laying.same_lay(plan, other_of(plan, 0.2))
    assert not laying.same_lay(plan, replace(plan, laid=plan.laid[:1]))
    assert not laying.same_lay(plan, replace(plan, stints=("hem",)))


# ---------------------------------------------------------------- what is wrong with an old lay


def test_pieces_that_break_a_rule_since_the_cloth_changed_are_named(ready: Room) -> None:
    plan = search(ready)
    assert lay_by_hand.broken(lays.lay_of(ready, TUNIC, OUTER)) == ()
    one = plan.laid[0]
    x, y = np.array(one.outline).mean(axis=0)
    burn = [[x + dx, y + dy] for dx, dy in ((-20, -20), (20, -20), (20, 20), (-20, 20))]
    cloths.describe_cloth(ready, one.cloth, holes=[burn])
    lay = lays.lay_of(ready, TUNIC, OUTER)
    assert lay.stale
    faults = lay_by_hand.broken(lay)
    assert {f.pieces for f in faults} == {(one.id,)}
    assert "outside" in {f.kind for f in faults}
    assert f"“{one.name}”" in faults[0].sentence


def test_an_old_lay_whose_pieces_are_gone_is_looked_at_all_the_same(ready: Room) -> None:
    search(ready)
    ready.change_garment(TUNIC, "piece.cuts", {"piece": "front", "cuts": [{"role": "lining", "count": 1}]})
    lay = lays.lay_of(ready, TUNIC, OUTER)
    assert lay.stale
    assert lay_by_hand.broken(lay) == ()


def test_a_pair_of_which_one_was_tilted_by_hand_is_told(ready: Room) -> None:
    plan = search(ready)
    lay = lays.lay_of(ready, TUNIC, OUTER)
    one = replace(lay.pieces[0], tilt_deg=2.0)
    pair = (one, mirrored(one, "front, mirrored"))

    def tilted(by_deg: float) -> Lay:
        laid = tuple(
            laid_at(p, lay.cloths[0].id, 0.0, 0.0, t) for p, t in zip(pair, (1.5, by_deg), strict=True)
        )
        return replace(lay, pieces=pair, plan=replace(plan, laid=laid))

    faults = lay_by_hand.broken(tilted(0.0))
    assert [(f.kind, f.pieces) for f in faults] == [("grain", tuple(f"{p.id}#1" for p in pair))]
    assert "would hang unlike" in faults[0].sentence
    assert lay_by_hand.broken(tilted(-1.5)) == ()
