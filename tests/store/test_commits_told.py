"""Those who look on hear of what is on disk, and of nothing else."""

from __future__ import annotations

import contextlib
from pathlib import Path

from eke.changes import Record
from eke.store import Committed, Store


def _record(number: int, parent: str | None) -> Record:
    return Record(f"r{number}", parent, "toy.add", 1, {"n": number}, "", "2026-01-01T00:00:00+00:00", "0")


def test_a_commit_is_told_with_what_it_changed(tmp_path: Path) -> None:
    told: list[Committed] = []
    with Store.create(tmp_path / "w") as store:
        store.on_commit(told.append)
        with store.write() as tx:
            tx.create_log("g", "garment")
            tx.append("g", _record(1, None), expected_revision=0)
            tx.put_document("lay", "k", {}, subject="g")
            assert told == []
        assert told == [Committed({"g": 1}, frozenset({("lay", "g")}))]
        with store.write() as tx:
            tx.move_head("g", None, "r1", expected_revision=1)
        assert told[-1] == Committed({"g": 2}, frozenset())
        with store.write() as tx:
            assert tx.drop_document("lay", "k")
            assert not tx.drop_document("lay", "k")
        assert told[-1] == Committed({}, frozenset({("lay", "g")}))


def test_what_was_not_kept_is_not_told(tmp_path: Path) -> None:
    told: list[Committed] = []
    with Store.create(tmp_path / "w") as store:
        store.on_commit(told.append)
        with contextlib.suppress(KeyError), store.write() as tx:
            tx.create_log("g", "garment")
            raise KeyError
        with store.write() as tx:
            tx.set_setting("a", 1)
        with store.read() as reader:
            assert reader.heads() == ()
    assert told == []


def test_a_listener_reads_what_was_written_and_cannot_undo_it(tmp_path: Path) -> None:
    seen: list[int] = []
    with Store.create(tmp_path / "w") as store:

        def look(committed: Committed) -> None:
            with store.read() as reader:
                seen.extend(reader.head(log_id).revision for log_id in committed.revisions)
            raise RuntimeError("a mistake of the one who looks on")

        store.on_commit(look)
        with store.write() as tx:
            tx.create_log("g", "garment")
        with store.write() as tx:  # and the next write goes on
            tx.append("g", _record(1, None), expected_revision=0)
        with store.read() as reader:
            assert reader.head("g").revision == 1
    assert seen == [0, 1]
