from __future__ import annotations

import pytest

from eke.changes import Log, Record, log_from_json, log_to_json
from eke.errors import BadInput, ChangeConflict, NotFound


def grown(log: Log, *ids: str) -> Log:
    for one in ids:
        log = log.append(Record(one, log.head, "k", 1, {}))
    return log


def ids(records) -> list[str]:
    return [one.id for one in records]


def test_undo_and_redo_move_the_head_only():
    log = grown(Log(), "a", "b", "c")
    back = log.undo().undo()
    assert (back.head, back.tip) == ("a", "c")
    assert ids(back.current) == ["a"]
    assert ids(back.undone) == ["b", "c"]
    assert back.redo().redo() == log
    assert log.head == "c"  # the value that undo was called on is what it was


def test_a_change_after_undo_keeps_the_old_tail():
    log = grown(grown(Log(), "a", "b", "c").undo().undo(), "d")
    assert ids(log.current) == ["a", "d"]
    (tail,) = log.tails()
    assert (tail.fork, tail.tip, ids(tail.records)) == ("a", "c", ["b", "c"])
    again = log.set_head("b")
    assert ids(again.redo().current) == ["a", "b", "c"]
    assert [one.tip for one in again.tails()] == ["d"]


def test_tails_from_the_very_start_and_tails_that_fork_from_tails():
    log = grown(Log(), "a", "b").set_head(None)
    log = grown(log, "x")
    log = grown(log.set_head("a"), "c")
    log = log.set_head("x")
    assert [(one.fork, one.tip, ids(one.records)) for one in log.tails()] == [
        (None, "b", ["a", "b"]),
        (None, "c", ["a", "c"]),
    ]
    assert log.set_head("a").tip == "c"  # the newest end that can be reached from there


def test_nothing_to_undo_or_redo():
    with pytest.raises(ChangeConflict, match="nothing to take back"):
        Log().undo()
    with pytest.raises(ChangeConflict, match="nothing to do again"):
        grown(Log(), "a").redo()


def test_append_wants_the_head_as_parent_and_a_new_id():
    log = grown(Log(), "a", "b")
    with pytest.raises(ChangeConflict, match="older state") as caught:
        log.append(Record("c", "a", "k", 1, {}))
    assert caught.value.data == {"id": "c", "parent": "a", "head": "b"}
    with pytest.raises(BadInput, match="already"):
        log.append(Record("a", "b", "k", 1, {}))


def test_unknown_ids():
    with pytest.raises(NotFound, match="zz"):
        grown(Log(), "a").set_head("zz")
    with pytest.raises(TypeError):
        Log().records["a"] = None  # type: ignore[index]


def test_json_round_trip_keeps_tails_head_and_tip():
    log = grown(grown(Log(), "a", "b", "c").undo().undo(), "d", "e").undo()
    data = log_to_json(log)
    assert data["format"] == "eke-log-1"
    assert log_from_json(data) == log


@pytest.mark.parametrize(
    ("spoil", "word"),
    [
        (lambda d: d.update(format="eke-log-2"), "eke-log-2"),
        (lambda d: d.update(records=None), "no list"),
        (lambda d: d["records"].reverse(), "not there"),
        (lambda d: d["records"].append(d["records"][0]), "two changes"),
        (lambda d: d.update(head="zz"), "head is zz"),
        (lambda d: d.update(tip="zz"), "tip is zz"),
        (lambda d: d.update(tip="a"), "does not lie on the way"),
        (lambda d: d["records"].pop(0), "not there"),
    ],
)
def test_a_damaged_history_says_what_is_wrong(spoil, word):
    data = log_to_json(grown(Log(), "a", "b", "c"))
    spoil(data)
    with pytest.raises(BadInput, match=word):
        log_from_json(data)
