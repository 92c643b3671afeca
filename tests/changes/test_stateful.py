"""Random histories against a model that knows nothing of trees, caches or steps.

The model keeps, for every record, the full list of effective steps as plain tuples, computed at the moment
of the change by list operations, and replays it from zero in ten lines.
"""

from __future__ import annotations

import json

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from eke.changes import (
    Context,
    Log,
    Record,
    ReplayCache,
    amend,
    between,
    child_id,
    insert,
    log_from_json,
    log_to_json,
    redo,
    replay,
    steps_of,
    switch,
    undo,
)
from eke.errors import EkeError

from .toy import EMPTY, registry

LENGTHS = st.integers(-20, 200)
PICK = st.integers(0, 10_000)


class History(RuleBasedStateMachine):
    @initialize()
    def start(self):
        self.registry = registry()
        self.cache = ReplayCache(limit=16)  # small, so that things fall out of it
        self.log = Log()
        self.count = 0
        # the model
        self.at: dict[str | None, list[tuple]] = {None: []}  # record id -> [(id, kind, params, on)]
        self.trail: list[str | None] = [None]  # from the beginning to the tip
        self.place = 0  # of the head on the trail

    # ---- the model ----

    @property
    def now(self) -> list[tuple]:
        return self.at[self.trail[self.place]]

    def slow_state(self) -> tuple[dict, set[str]]:
        state, aside = EMPTY, set()
        for id_, kind, params, on in self.now:
            if not on:
                continue
            try:
                state = self.registry.kind(kind, 1).apply(state, dict(params), Context(id_))
            except EkeError:
                aside.add(id_)
        return dict(state), aside

    def commit(self, record: Record, effective: list[tuple]):
        self.log = self.log.append(record)
        self.at[record.id] = effective
        self.trail = [*self.trail[: self.place + 1], record.id]
        self.place += 1

    def fresh_id(self) -> str:
        self.count += 1
        return f"r{self.count}"

    def some_params(self, kind: str, pick: int, mm: int) -> dict:
        # sticks of every branch, so that some targets are not there
        sticks = [child_id("", one, "stick") for one in self.at if one] + list(self.slow_state()[0])
        stick = sticks[pick % len(sticks)] if sticks else "nowhere"
        return {
            "stick.add": {"length_mm": mm},
            "stick.grow": {"stick": stick, "by_mm": mm},
            "stick.split": {"stick": stick, "at": 0.5},
            "stick.drop": {"stick": stick},
        }[kind]

    # ---- rules ----

    kinds = st.sampled_from(["stick.add", "stick.add", "stick.grow", "stick.split", "stick.drop"])

    @rule(kind=kinds, pick=PICK, mm=LENGTHS)
    def append(self, kind, pick, mm):
        params, id_ = self.some_params(kind, pick, mm), self.fresh_id()
        version = 2 if kind == "stick.grow" else 1
        self.commit(Record(id_, self.log.head, kind, version, params), [*self.now, (id_, kind, params, True)])

    @precondition(lambda self: self.now)
    @rule(pick=PICK, on=st.booleans())
    def switch(self, pick, on):
        where, id_ = pick % len(self.now), self.fresh_id()
        old = self.now[where]
        effective = [*self.now[:where], (*old[:3], on), *self.now[where + 1 :]]
        self.commit(switch(self.log, id_, old[0], on), effective)

    @precondition(lambda self: self.now)
    @rule(pick=PICK, other=PICK, mm=LENGTHS)
    def amend(self, pick, other, mm):
        where, id_ = pick % len(self.now), self.fresh_id()
        old = self.now[where]
        params = self.some_params(old[1], other, mm)
        effective = [*self.now[:where], (old[0], old[1], params, old[3]), *self.now[where + 1 :]]
        version = 2 if old[1] == "stick.grow" else 1
        self.commit(amend(self.log, id_, old[0], params, version), effective)

    @precondition(lambda self: self.now)
    @rule(kind=kinds, pick=PICK, other=PICK, mm=LENGTHS)
    def insert(self, kind, pick, other, mm):
        where, id_ = pick % len(self.now), self.fresh_id()
        params = self.some_params(kind, other, mm)
        effective = [*self.now[:where], (id_, kind, params, True), *self.now[where:]]
        version = 2 if kind == "stick.grow" else 1
        self.commit(insert(self.log, id_, self.now[where][0], kind, version, params), effective)

    @precondition(lambda self: self.place > 0)
    @rule()
    def undo(self):
        moved = undo(self.log, self.registry)
        assert moved.sentence.startswith("Taken back: ")
        self.log, self.place = moved.log, self.place - 1

    @precondition(lambda self: self.place < len(self.trail) - 1)
    @rule()
    def redo(self):
        moved = redo(self.log, self.registry)
        assert moved.sentence.startswith("Done again: ")
        self.log, self.place = moved.log, self.place + 1

    @rule(pick=PICK)
    def jump(self, pick):
        target = list(self.at)[pick % len(self.at)]
        self.log = self.log.set_head(target)
        if target in self.trail:
            self.place = self.trail.index(target)
        else:
            line = [None, *(one.id for one in self.log.line(self.log.tip))]
            self.trail, self.place = line, line.index(target)

    @rule()
    def save_and_load(self):
        self.log = log_from_json(json.loads(json.dumps(log_to_json(self.log))))

    @rule(pick=PICK, other=PICK)
    def compare(self, pick, other):
        left, right = (list(self.at)[one % len(self.at)] for one in (pick, other))
        diff = between(self.log, left, right)
        in_left, in_right = {one[0]: one for one in self.at[left]}, {one[0]: one for one in self.at[right]}
        assert {one.id for one in diff.removed} == set(in_left) - set(in_right)
        assert {one.id for one in diff.added} == set(in_right) - set(in_left)
        assert {one.left.id for one in diff.altered} == {
            one for one in set(in_left) & set(in_right) if in_left[one] != in_right[one]
        }

    # ---- what must hold after every rule ----

    @invariant()
    def replay_equals_replay_from_zero(self):
        cached = replay(self.log, self.registry, EMPTY, self.cache)
        plain = replay(self.log, self.registry, EMPTY)
        state, aside = self.slow_state()
        assert cached == plain
        assert dict(plain.state) == state
        assert {one.id for one in plain.set_aside} == aside
        assert [(s.id, s.kind, s.params, s.on) for s in plain.steps] == self.now

    @invariant()
    def nothing_is_lost(self):
        assert set(self.log.records) == set(self.at) - {None}
        found = {one.id for one in self.log.line(self.log.tip)}
        for tail in self.log.tails():
            found |= {one.id for one in tail.records}
        assert found == set(self.log.records)

    @invariant()
    def every_head_is_what_it_was(self):
        if self.count % 5 == 0:  # all of them at every step would be slow
            for one, effective in self.at.items():
                assert [(s.id, s.kind, s.params, s.on) for s in steps_of(self.log.line(one))] == effective


History.TestCase.settings = settings(
    max_examples=150, stateful_step_count=40, deadline=None, suppress_health_check=list(HealthCheck)
)
TestHistory = History.TestCase
