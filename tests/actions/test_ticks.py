"""Ticks on the order of work: they hold while a step stays what it is, wherever it stands."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.actions import cloths, history, patterns, ticks
from eke.actions.room import Room, open_room
from eke.errors import NotFound
from eke.making import Task
from helpers import tunic

TUNIC = tunic.TUNIC


def step(room: Room, start: str) -> ticks.Step:
    return next(s for s in ticks.steps_of(room, TUNIC) if s.id.startswith(start))


def done(room: Room) -> set[str]:
    return {s.sentence for s in ticks.steps_of(room, TUNIC) if s.done}


def test_a_tick_stays(sewn: Room) -> None:
    one = step(sewn, "sew-")
    assert not one.done
    after = ticks.tick(sewn, TUNIC, one.id, True)
    assert [s.id for s in after if s.done] == [one.id]
    sewn.close()
    with open_room(sewn.folder) as again:
        assert done(again) == {one.sentence}
        ticks.tick(again, TUNIC, one.id, False)
        assert done(again) == set()
        assert ticks.ticks_of(again, TUNIC) == frozenset()


def test_every_step_has_an_id_of_its_own(sewn: Room) -> None:
    steps = ticks.steps_of(sewn, TUNIC)
    assert len({s.id for s in steps}) == len(steps) > 8


def test_a_new_name_changes_nothing(sewn: Room) -> None:
    one = step(sewn, "sew-")
    ticks.tick(sewn, TUNIC, one.id, True)
    patterns.change(sewn, TUNIC, "piece.rename", {"piece": "front", "name": "fore part"})
    renamed = next(s for s in ticks.steps_of(sewn, TUNIC) if s.done)
    assert renamed.id == one.id
    assert "fore part" in renamed.sentence


def test_another_seam_before_it_changes_nothing(sewn: Room) -> None:
    """The order is computed anew; the tick goes with the seam, not with the place in the list."""
    sides = [s for s in ticks.steps_of(sewn, TUNIC) if s.id.startswith("sew-")]
    last = sides[-1]
    ticks.tick(sewn, TUNIC, last.id, True)
    sewn.change_garment(TUNIC, "seam.drop", {"seam": sides[0].seams[0]})
    after = [s for s in ticks.steps_of(sewn, TUNIC) if s.id.startswith("sew-")]
    assert len(after) == len(sides) - 1
    assert [s.id for s in after if s.done] == [last.id]


def test_a_step_that_goes_keeps_its_tick_for_when_it_comes_back(sewn: Room) -> None:
    one = step(sewn, "sew-")
    ticks.tick(sewn, TUNIC, one.id, True)
    sewn.change_garment(TUNIC, "seam.drop", {"seam": one.seams[0]})
    assert done(sewn) == set()
    assert ticks.ticks_of(sewn, TUNIC) == {one.id}
    with pytest.raises(NotFound, match="not in the order of work"):
        ticks.tick(sewn, TUNIC, one.id, False)
    history.take_back(sewn, TUNIC)
    assert done(sewn) == {one.sentence}


def test_another_piece_is_still_to_be_cut(sewn: Room) -> None:
    cut, sew = step(sewn, "cut-"), step(sewn, "sew-")
    for one in (cut, sew):
        ticks.tick(sewn, TUNIC, one.id, True)
    strap = (((0, 0), (40, 0)), ((40, 0), (40, 300)), ((40, 300), (0, 300)), ((0, 300), (0, 0)))
    patterns.change(sewn, TUNIC, "trace.add", tunic.trace_params(strap, "strap"))
    assert done(sewn) == {sew.sentence}
    assert step(sewn, "cut-").id != cut.id


def test_another_cloth_is_still_to_be_washed(sewn: Room) -> None:
    cloths.add_cloth(sewn, "blue", cloths.typed_outline("rectangle", [900, 700]), grain_deg=90.0)
    cloths.reserve_cloth(sewn, "blue", tunic.PROJECT)
    ticks.tick(sewn, TUNIC, step(sewn, "wash-").id, True)
    assert step(sewn, "wash-").done
    cloths.add_cloth(sewn, "red", cloths.typed_outline("rectangle", [900, 700]), grain_deg=90.0)
    cloths.reserve_cloth(sewn, "red", tunic.PROJECT)
    assert not step(sewn, "wash-").done


names = st.text("abc", min_size=1, max_size=3)


@given(
    st.lists(st.tuples(st.sampled_from(["sew", "dart", "prepare"]), names), unique=True, max_size=12),
    st.randoms(),
)
def test_ids_do_not_depend_on_the_order(words: list[tuple[str, str]], luck: object) -> None:
    made = [
        Task(f"{kind}:{name}", kind, f"Do {name}.", ("p", "q"), (name,) if kind == "sew" else ())  # type: ignore[arg-type]
        for kind, name in words
    ]
    made += [Task(f"press:{t.id[4:]}", "press", "Press.", ("p", "q")) for t in made if t.kind == "sew"]
    mixed = list(made)
    luck.shuffle(mixed)  # type: ignore[attr-defined]
    first, again = ticks.task_ids(made, ["p", "q"]), ticks.task_ids(mixed, ["q", "p"])
    assert first == again
    assert len(set(first.values())) == len(made)
