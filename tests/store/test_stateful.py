"""A workroom on disk against one in memory: random saves, undone saves, stale windows, closing, backups.

The model is plain dictionaries and :class:`Log` values. Every transaction is a list of small acts; one in
three breaks at its end, and then nothing of it may be there.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from copy import deepcopy
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from eke.changes import Log, Record, log_to_json
from eke.errors import BadInput
from eke.store import ChangedMeanwhile, Store, backup, database, restore

TEXT = st.text(st.characters(exclude_categories=("Cs",)), max_size=12)
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | TEXT,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXT, inner, max_size=3),
    max_leaves=6,
)
KEYS = st.sampled_from(["k1", "k2", "ü/../k3"])
PHOTOS = st.sampled_from([b"one", b"two", bytes(5000), b"\x00"])


class Undone(Exception):
    """Breaks a transaction on purpose."""


class Model:
    def __init__(self) -> None:
        self.logs: dict[str, Log] = {}
        self.revisions: dict[str, int] = {}
        self.documents: dict[tuple[str, str], tuple] = {}
        self.settings: dict[str, object] = {}
        self.photos: dict[bytes, tuple] = {}


ACTS = st.lists(
    st.one_of(
        st.tuples(st.just("append"), st.integers(0, 99), JSON, TEXT),
        st.tuples(st.just("undo"), st.integers(0, 99)),
        st.tuples(st.just("redo"), st.integers(0, 99)),
        st.tuples(st.just("jump"), st.integers(0, 99), st.integers(0, 99)),
        st.tuples(st.just("new"), TEXT),
        st.tuples(st.just("document"), st.sampled_from(["lay", "ticks"]), KEYS, JSON, st.none() | KEYS, TEXT),
        st.tuples(st.just("drop"), st.sampled_from(["lay", "ticks"]), KEYS),
        st.tuples(st.just("setting"), TEXT, JSON),
        st.tuples(st.just("photo"), PHOTOS, TEXT, JSON),
    ),
    max_size=6,
)


def without_waiting(connect):
    def connect_quickly(path):
        connection = connect(path)
        connection.execute("PRAGMA synchronous = OFF")
        return connection

    return connect_quickly


class Workroom(RuleBasedStateMachine):
    @initialize()
    def start(self):
        # what is tested here is what is kept, not that the disk has it: test_kill does that
        self.patch = pytest.MonkeyPatch()
        self.patch.setattr(os, "fsync", lambda handle: None)
        self.patch.setattr(database, "connect", without_waiting(database.connect))
        self.home = Path(tempfile.mkdtemp(prefix="eke-"))
        self.folder = self.home / "room"
        self.store = Store.create(self.folder)
        self.model = Model()
        self.count = 0
        self.backups: list[tuple[Path, Model]] = []

    def teardown(self):
        if hasattr(self, "store"):
            self.store.close()
            shutil.rmtree(self.home)
            self.patch.undo()

    def some_log(self, model: Model, pick: int) -> str | None:
        return sorted(model.logs)[pick % len(model.logs)] if model.logs else None

    def act(self, tx, model: Model, act: tuple) -> None:
        name, *rest = act
        self.count += 1
        if name == "new":
            log_id = f"g{self.count}"
            tx.create_log(log_id, rest[0])
            model.logs[log_id], model.revisions[log_id] = Log(), 0
        elif name in ("append", "undo", "redo", "jump"):
            log_id = self.some_log(model, rest[0])
            if log_id is None:
                return
            log, revision = model.logs[log_id], model.revisions[log_id]
            if name == "append":
                record = Record(f"r{self.count}", log.head, "k.k", 1, {"p": rest[1]}, rest[2], rest[2], "0")
                after = log.append(record)
                now = tx.append(log_id, record, expected_revision=revision)
            else:
                if name == "undo" and log.head is not None:
                    after = log.undo()
                elif name == "redo" and log.undone:
                    after = log.redo()
                else:
                    after = log.set_head([None, *log.records][rest[-1] % (len(log) + 1)])
                now = tx.move_head(log_id, after.head, after.tip, expected_revision=revision)
            assert now == revision + 1
            model.logs[log_id], model.revisions[log_id] = after, now
        elif name == "document":
            kind, key, content, subject, at = rest
            tx.put_document(kind, key, content, subject=subject, at=at)
            model.documents[kind, key] = (content, subject, at)
        elif name == "drop":
            assert tx.drop_document(*rest) == (model.documents.pop(tuple(rest), None) is not None)
        elif name == "setting":
            tx.set_setting(*rest)
            model.settings[rest[0]] = rest[1]
        elif name == "photo":
            tx.add_photo(rest[0], name=rest[1], media_type="image/png", meta=rest[2])
            model.photos.setdefault(rest[0], (rest[1], rest[2]))

    @rule(acts=ACTS, breaks=st.sampled_from([False, False, True]))
    def transaction(self, acts, breaks):
        after = deepcopy_model(self.model)
        try:
            with self.store.write() as tx:
                for one in acts:
                    self.act(tx, after, one)
                if breaks:
                    raise Undone
        except Undone:
            return
        self.model = after

    @precondition(lambda self: any(self.model.revisions.values()))
    @rule(pick=st.integers(0, 99), back=st.integers(1, 3))
    def a_window_that_is_behind(self, pick, back):
        log_id = self.some_log(self.model, pick)
        revision = self.model.revisions[log_id]
        record = Record(f"stale{self.count}", self.model.logs[log_id].head, "k.k", 1, {})
        with pytest.raises(ChangedMeanwhile), self.store.write() as tx:
            tx.append(log_id, record, expected_revision=revision - back)

    @rule()
    def close_and_open(self):
        self.store.close()
        self.store = Store.open(self.folder)

    @rule()
    def tidy(self):
        self.store.collect_orphans(older_than_days=0)
        self.store.check()

    @precondition(lambda self: len(self.backups) < 3)
    @rule()
    def back_up(self):
        file = self.home / f"{len(self.backups)}.zip"
        assert backup(self.store, file).missing == ()
        with pytest.raises(BadInput):
            backup(self.store, file)
        self.backups.append((file, deepcopy_model(self.model)))

    @precondition(lambda self: self.backups)
    @rule(pick=st.integers(0, 99))
    def restore_and_go_on_there(self, pick):
        file, model = self.backups[pick % len(self.backups)]
        self.store.close()
        self.count += 1
        self.folder = self.home / f"room{self.count}"
        restore(file, self.folder)
        self.store, self.model = Store.open(self.folder), deepcopy_model(model)

    @invariant()
    def disk_equals_memory(self):
        with self.store.read() as reader:
            heads = {one.id: one for one in reader.heads()}
            assert set(heads) == set(self.model.logs)
            for log_id, log in self.model.logs.items():
                stored = reader.log(log_id)
                assert log_to_json(stored.log) == log_to_json(log)
                assert stored.log == log
                assert stored.revision == heads[log_id].revision == self.model.revisions[log_id]
            found = {(d.kind, d.key): (d.content, d.subject, d.at) for d in reader.documents()}
            assert found == self.model.documents
            assert reader.settings() == self.model.settings
            photos = {reader.photo_bytes(p.sha256): (p.name, p.meta) for p in reader.photos()}
            assert photos == self.model.photos


def deepcopy_model(model: Model) -> Model:
    copy = Model()
    copy.logs = dict(model.logs)  # values that never change
    copy.revisions = dict(model.revisions)
    copy.documents = deepcopy(model.documents)
    copy.settings = deepcopy(model.settings)
    copy.photos = deepcopy(model.photos)
    return copy


Workroom.TestCase.settings = settings(
    max_examples=40, stateful_step_count=20, deadline=None, suppress_health_check=list(HealthCheck)
)
TestWorkroom = Workroom.TestCase
