from __future__ import annotations

import logging

import pytest

from eke.changes import (
    ChangeKind,
    Context,
    Log,
    Record,
    Registry,
    ReplayCache,
    amend,
    attempt,
    between,
    child_id,
    insert,
    log_from_json,
    log_to_json,
    reading,
    redo,
    replay,
    sentence_of,
    steps_of,
    switch,
    trail,
    undo,
)
from eke.errors import BadInput, ChangeConflict, Stopped, StoreTrouble

from .toy import EMPTY, registry

REGISTRY = registry()


def do(log: Log, record_id: str, kind: str, version: int = 1, **params) -> Log:
    return log.append(Record(record_id, log.head, kind, version, params))


def sample() -> tuple[Log, str]:
    log = do(Log(), "a", "stick.add", length_mm=100.0)
    stick = child_id("", "a", "stick")
    log = do(log, "s", "stick.split", stick=stick, at=0.25)
    return do(log, "g", "stick.grow", 2, stick=child_id(stick, "s", "left"), by_mm=5.0), stick


def lengths(log: Log, cache=None) -> list[float]:
    return list(replay(log, REGISTRY, EMPTY, cache).state.values())


def test_replay_and_ids_of_children():
    log, stick = sample()
    done = replay(log, REGISTRY, EMPTY)
    assert done.state == {child_id(stick, "s", "left"): 30.0, child_id(stick, "s", "right"): 75.0}
    assert [step.sentence for step in done.steps][:2] == ["Added a stick of 100 mm", f"Split {stick}"]
    assert done.steps[1].touches == (stick,)
    assert done.set_aside == ()
    # a kind that scribbles on its params leaves the record alone
    assert log["g"].params["by_mm"] == 5.0
    assert lengths(log) == [30.0, 75.0]


def test_switching_off_sets_aside_what_needs_it_and_on_brings_it_back():
    log, stick = sample()
    off = log.append(switch(log, "w", "s", False))
    done = replay(off, REGISTRY, EMPTY)
    assert list(done.state.values()) == [100.0]
    (lost,) = done.set_aside
    assert lost.id == "g"
    assert "is not there" in lost.set_aside
    assert lost.data == {"wanted": child_id(stick, "s", "left"), "candidates": (stick,)}
    assert [(s.id, s.on, s.applied) for s in done.steps] == [
        ("a", True, True), ("s", False, False), ("g", True, False),
    ]  # fmt: skip
    on = off.append(switch(off, "w2", "s", True))
    assert lengths(on) == [30.0, 75.0]
    assert off.undo().head == log.head
    assert lengths(off.undo()) == [30.0, 75.0]


def test_amending_an_early_step_keeps_every_id():
    log, stick = sample()
    log = log.append(amend(log, "m", "a", {"length_mm": 200.0}, 1))
    assert replay(log, REGISTRY, EMPTY).state == {
        child_id(stick, "s", "left"): 55.0,
        child_id(stick, "s", "right"): 150.0,
    }
    log = log.append(amend(log, "m2", "a", {"length_mm": 400.0}, 1))
    assert lengths(log) == [105.0, 300.0]
    assert lengths(log.undo()) == [55.0, 150.0]


def test_inserting_before_a_step_and_amending_what_was_inserted():
    log, stick = sample()
    log = log.append(insert(log, "i", "s", "stick.grow", 2, {"stick": stick, "by_mm": 20.0}))
    assert lengths(log) == [35.0, 90.0]
    assert [step.id for step in replay(log, REGISTRY, EMPTY).steps] == ["a", "i", "s", "g"]
    log = log.append(amend(log, "m", "i", {"stick": stick, "by_mm": 60.0}, 2))
    assert lengths(log) == [45.0, 120.0]
    log = log.append(switch(log, "w", "i", False))
    assert lengths(log) == [30.0, 75.0]


def test_what_is_not_there_cannot_be_switched_amended_or_preceded():
    log, _ = sample()
    with pytest.raises(ChangeConflict) as caught:
        switch(log, "w", "zz", False)
    assert caught.value.data["candidates"] == ("a", "s", "g")
    log = log.append(switch(log, "w", "g", False))
    with pytest.raises(ChangeConflict):
        amend(log, "m", "w", {}, 1)  # a switch is no step
    with pytest.raises(ChangeConflict):
        insert(log.undo().undo(), "i", "g", "stick.add", 1, {"length_mm": 1})  # not among the steps any more
    with pytest.raises(BadInput):
        insert(log, "i", "g", "log.switch", 1, {"target": "a", "on": False})
    with pytest.raises(BadInput):
        amend(log, "m", "a", {}, 0)


def test_old_params_are_brought_up_to_date_and_amendments_by_their_own_version():
    log, stick = sample()
    log = do(log, "old", "stick.grow", 1, stick=child_id(stick, "s", "right"), by_cm=2.5)
    assert lengths(log) == [30.0, 100.0]
    newer = log.append(amend(log, "m", "old", {"stick": child_id(stick, "s", "right"), "by_mm": 1.0}, 2))
    assert lengths(newer) == [30.0, 76.0]
    assert replay(log, REGISTRY, EMPTY).steps[-1].sentence.endswith("longer by 25 mm")


@pytest.mark.parametrize(
    ("kind", "version", "params", "word"),
    [
        ("stick.paint", 1, {}, "does not know"),
        ("stick.add", 2, {"length_mm": 3}, "newer Eke"),
        ("log.fold", 1, {}, "newer Eke"),
        ("log.switch", 2, {"target": "a", "on": False}, "newer Eke"),
        ("log.switch", 1, {"target": "zz", "on": False}, "speaks of the step zz"),
        ("log.switch", 1, {"target": "a", "on": "no"}, "on or off"),
        ("log.amend", 1, {"target": "a"}, "carry its params"),
        ("log.insert", 1, {"before": ["a"]}, "speaks of the step"),
        ("stick.add", 1, {"length_mm": -1}, "above 0 mm"),
    ],
)  # fmt: skip
def test_what_cannot_be_applied_is_set_aside_and_never_lost(kind, version, params, word):
    log, _ = sample()
    log = do(log, "odd", kind, version, **params)
    log = do(log, "after", "stick.add", length_mm=7)
    done = replay(log, REGISTRY, EMPTY)
    assert list(done.state.values()) == [30.0, 75.0, 7.0]
    (aside,) = done.set_aside
    assert aside.id == "odd"
    assert word in aside.set_aside
    assert aside.sentence
    assert log_from_json(log_to_json(log)) == log


def test_a_mistake_in_the_program_locks_nobody_out(caplog):
    log = do(sample()[0], "x", "stick.broken")
    with caplog.at_level(logging.ERROR):
        done = replay(log, REGISTRY, EMPTY)
    assert "please report" in done.set_aside[0].set_aside
    assert "a slip of the programmer" in caplog.text
    assert list(done.state.values()) == [30.0, 75.0]


@pytest.mark.parametrize("error", [Stopped("stopped"), StoreTrouble("disk")])
def test_stopping_and_the_disk_are_no_fault_of_the_step(error):
    def apply(state, params, ctx):
        raise error

    kinds = Registry([ChangeKind("a.b", 1, apply, lambda p: "x")])
    with pytest.raises(type(error)):
        replay(do(Log(), "a", "a.b"), kinds, EMPTY)


def test_cache_computes_only_what_comes_after_the_change():
    calls: list[str] = []

    def add(state, params, ctx):
        calls.append(ctx.record_id)
        return (*state, params["n"])

    kinds = Registry([ChangeKind("n.add", 1, add, lambda p: f"Added {p['n']}")])
    cache: ReplayCache = ReplayCache()
    log = Log()
    for number in range(6):
        log = do(log, f"r{number}", "n.add", n=number)
        replay(log, kinds, (), cache)
    assert calls == [f"r{number}" for number in range(6)]
    calls.clear()
    late = log.append(amend(log, "m", "r4", {"n": 40}, 1))
    assert replay(late, kinds, (), cache).state == (0, 1, 2, 3, 40, 5)
    assert calls == ["r4", "r5"]
    calls.clear()
    back = late.append(amend(late, "m2", "r4", {"n": 4}, 1))  # the same prefix as before, by content
    assert replay(back, kinds, (), cache).state == (0, 1, 2, 3, 4, 5)
    assert replay(late.undo(), kinds, (), cache).state == (0, 1, 2, 3, 4, 5)
    assert calls == []
    off = log.append(switch(log, "w", "r0", False))
    assert replay(off, kinds, (), cache).state == (1, 2, 3, 4, 5)
    assert calls == [f"r{number}" for number in range(1, 6)]
    assert replay(log, kinds, ("other",), cache, initial_key="other").state == ("other", 0, 1, 2, 3, 4, 5)


def test_cache_is_bounded_and_keeps_reasons():
    cache: ReplayCache = ReplayCache(limit=2)
    log, _ = sample()
    off = log.append(switch(log, "w", "s", False))
    first, second = replay(off, REGISTRY, EMPTY, cache), replay(off, REGISTRY, EMPTY, cache)
    assert first == second
    assert first.set_aside
    assert len(cache) == 2


def test_attempt_refuses_the_change_and_tells_what_it_costs():
    log, _ = sample()
    with pytest.raises(ChangeConflict, match="is not there"):
        attempt(log, Record("x", "g", "stick.drop", 1, {"stick": "zz"}), REGISTRY, EMPTY)
    with pytest.raises(BadInput, match="above 0 mm"):
        attempt(log, amend(log, "m", "a", {"length_mm": -5}, 1), REGISTRY, EMPTY)
    with pytest.raises(ChangeConflict, match="does not know"):
        attempt(log, Record("x", "g", "stick.paint", 1, {}), REGISTRY, EMPTY)
    tried = attempt(log, switch(log, "w", "s", False), REGISTRY, EMPTY)
    assert [one.id for one in tried.newly_set_aside] == ["g"]
    tried = attempt(tried.log, switch(tried.log, "w2", "s", True), REGISTRY, EMPTY)
    assert [one.id for one in tried.restored] == ["g"]
    assert not tried.newly_set_aside


def test_sentences_of_undo_and_of_the_logs_own_changes():
    log, stick = sample()
    moved = undo(log, REGISTRY)
    left = child_id(stick, "s", "left")
    assert moved.sentence == f"Taken back: Made {left} longer by 5 mm."
    assert redo(moved.log, REGISTRY).sentence == f"Done again: Made {left} longer by 5 mm."
    log = log.append(amend(log, "m", "a", {"length_mm": 120}, 1))
    assert sentence_of(log, REGISTRY, log["m"]) == (
        "Altered “Added a stick of 100 mm” to “Added a stick of 120 mm”"
    )
    log = log.append(switch(log, "w", "a", False))
    assert undo(log, REGISTRY).sentence == "Taken back: Switched off: “Added a stick of 120 mm”."
    log = log.append(insert(log, "i", "s", "stick.add", 1, {"length_mm": 9}))
    assert sentence_of(log, REGISTRY, log["i"]) == f"Put in before “Split {stick}”: “Added a stick of 9 mm”"


def test_between_two_heads():
    log, stick = sample()
    side = do(log.undo(), "d", "stick.drop", stick=child_id(stick, "s", "right"))
    side = side.append(amend(side, "m", "a", {"length_mm": 10.0}, 1))
    diff = between(side, "g", "m")
    assert diff.common == "s"
    assert [one.id for one in diff.only_left] == ["g"]
    assert [one.id for one in diff.only_right] == ["d", "m"]
    assert [one.id for one in diff.removed] == ["g"]
    assert [one.id for one in diff.added] == ["d"]
    (altered,) = diff.altered
    assert (altered.left.params, altered.right.params) == ({"length_mm": 100.0}, {"length_mm": 10.0})
    back = between(side, "m", "g")
    assert (back.removed, back.added) == (diff.added, diff.removed)
    there_and_back = log.append(switch(log, "w", "a", False))
    there_and_back = there_and_back.append(switch(there_and_back, "w2", "a", True))
    assert between(there_and_back, "g", "w2").same
    assert not between(there_and_back, "g", "w").same


@pytest.mark.parametrize(
    ("name", "version", "upcasts"),
    [
        ("Log", 1, {}),
        ("log.mine", 1, {}),
        ("a b", 1, {}),
        ("a.b", 0, {}),
        ("a.b", 3, {1: dict}),
        ("a.b", 1, {1: dict}),
    ],
)
def test_kinds_are_checked_when_they_are_made(name, version, upcasts):
    with pytest.raises(ValueError, match=name):
        ChangeKind(name, version, lambda s, p, c: s, lambda p: "x", upcasts=upcasts)


def test_two_kinds_of_one_name_are_refused():
    with pytest.raises(ValueError, match=r"stick\.add"):
        registry().add(next(iter(REGISTRY)))


def test_a_trail_has_the_state_after_every_step():
    log, _ = sample()
    walked = trail(log, registry(), EMPTY)
    whole = replay(log, registry(), EMPTY)
    assert tuple(step for step, _ in walked) == whole.steps
    assert walked[-1][1] == whole.state
    for (step, state), upto in zip(walked, log.current, strict=True):
        assert step.id == upto.id
        assert state == replay(Log(log.records, upto.id, upto.id), registry(), EMPTY).state
    assert trail(Log(), registry(), EMPTY) == ()


def test_a_trail_is_that_of_the_history_as_it_stands_now():
    log, stick = sample()
    first = log.current[0]
    log = log.append(amend(log, "longer", first.id, {"length_mm": 900.0}, 1))
    walked = trail(log, registry(), EMPTY)
    assert len(walked) == len(steps_of(log.current)) < len(log.current)
    assert sum(walked[0][1].values()) == 900.0
    assert stick


@pytest.mark.parametrize(
    "gap", [KeyError("to"), TypeError("no number"), ValueError("x"), OverflowError("big")]
)
def test_params_that_cannot_be_read_are_refused_and_conflicts_come_through(gap):
    def apply(state, params, context):
        raise gap

    with pytest.raises(BadInput, match=r"“stick\.odd” lacks something"):
        reading("stick.odd", apply)(EMPTY, {}, Context("r"))

    def conflict(state, params, context):
        raise ChangeConflict("There is no such stick.")

    with pytest.raises(ChangeConflict, match="no such stick"):
        reading("stick.odd", conflict)(EMPTY, {}, Context("r"))
