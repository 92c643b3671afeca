"""Random trueing, splitting, merging, tracing again, undo, redo, save and load, against replay from zero."""

from __future__ import annotations

import json
import math

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from eke.changes import (
    Log,
    Record,
    Registry,
    ReplayCache,
    amend,
    attempt,
    log_from_json,
    log_to_json,
    redo,
    replay,
    switch,
    undo,
)
from eke.errors import ChangeConflict, EkeError
from eke.geometry import path_area_mm2, path_to_json, trouble_of
from eke.pattern.checking import check
from eke.pattern.corners import neighbour
from eke.pattern.kinds import pattern_kinds
from eke.pattern.model import Notch, Pattern, PieceId

from .samples import bodice, darted

KINDS = Registry(pattern_kinds())
START = bodice().with_piece(darted())


class GarmentHistory(RuleBasedStateMachine):
    """The log under test keeps a cache and goes forwards and backwards; the model always replays from zero."""

    def __init__(self) -> None:
        super().__init__()
        self.log = Log()
        self.cache: ReplayCache[Pattern] = ReplayCache()
        self.state: Pattern = START
        self.count = 0

    def do(self, kind: str, /, **params) -> None:
        self.count += 1
        record = Record(f"r{self.count}", self.log.head, kind, 1, params)
        self.put(record)

    def put(self, record: Record) -> None:
        before = (self.log, self.state)
        try:
            tried = attempt(self.log, record, KINDS, START, self.cache)
        except EkeError:
            # a refusal changes nothing
            assert (self.log, self.state) == before
            return
        self.log, self.state = tried.log, tried.replayed.state

    def edges(self) -> list[str]:
        return [e.id for p in self.state.pieces.values() for e in p.edges]

    @rule(data=st.data(), part=st.floats(0.0, 1.0))
    def split(self, data: st.DataObject, part: float) -> None:
        self.do("edge.split", edge=data.draw(st.sampled_from(self.edges())), fraction=part)

    @rule(data=st.data())
    def merge(self, data: st.DataObject) -> None:
        piece = data.draw(st.sampled_from(sorted(self.state.pieces.values(), key=lambda p: p.id)))
        first = data.draw(st.sampled_from([e.id for e in piece.edges]))
        self.do("edge.merge", first=first, second=neighbour(piece, first, "end").id)

    @rule(data=st.data(), dx=st.floats(-8, 8), dy=st.floats(-8, 8), end=st.sampled_from(["start", "end"]))
    def move_corner(self, data: st.DataObject, dx: float, dy: float, end: str) -> None:
        edge_id = data.draw(st.sampled_from(self.edges()))
        path = self.state.edge(edge_id)[1].path
        x, y = path.start if end == "start" else path.end
        self.do("corner.move", edge=edge_id, end=end, to=[x + dx, y + dy])

    @rule(data=st.data(), what=st.sampled_from(["true.straighten", "true.fair", "true.square"]))
    def true_edge(self, data: st.DataObject, what: str) -> None:
        extra = {"end": data.draw(st.sampled_from(["start", "end"]))} if what == "true.square" else {}
        self.do(what, edge=data.draw(st.sampled_from(self.edges())), **extra)

    @rule(
        seam=st.sampled_from(["side", "shoulder"]),
        share=st.floats(0, 1),
        at=st.sampled_from(["start", "end"]),
    )
    def share(self, seam: str, share: float, at: str) -> None:
        self.do("true.share", seam=seam, share_a=share, at=at)

    @rule(seam=st.sampled_from(["side", "shoulder"]), at=st.sampled_from(["start", "end"]))
    def join(self, seam: str, at: str) -> None:
        self.do("true.join", seam=seam, at=at)

    @rule(seam=st.sampled_from(["side", "shoulder"]), mm=st.floats(-10, 250), count=st.integers(0, 4))
    def notch(self, seam: str, mm: float, count: int) -> None:
        self.do("notch.pair", seam=seam, at_mm=mm, count=count)

    @rule()
    def dart(self) -> None:
        self.do("dart.say", first_leg="leg-1", second_leg="leg-2")

    @rule(data=st.data(), times=st.floats(0.4, 2.2), keep=st.sampled_from(["start", "end", "middle"]))
    def make_so_long(self, data: st.DataObject, times: float, keep: str) -> None:
        edge = data.draw(st.sampled_from(self.edges()))
        self.do(
            "true.length", edge=edge, length_mm=times * self.state.edge(edge)[1].path.length_mm, keep=keep
        )

    @rule(y=st.floats(150, 260), slant=st.floats(-30, 30))
    def draw_line(self, y: float, slant: float) -> None:
        points = [[0, y], [240, y + slant]]
        self.do("mark.set", piece="front", id="waist", kind="balance", name="waist", points=points)

    @rule(data=st.data(), end=st.sampled_from(["start", "end"]), along=st.sampled_from(["edge", "grain"]))
    def put_on_line(self, data: st.DataObject, end: str, along: str) -> None:
        front = self.state.pieces.get(PieceId("front"))
        if front is None:
            return
        point = data.draw(st.sampled_from([*front.edges, *front.notches]))
        if isinstance(point, Notch):
            self.do("true.on_line", notch=point.id, line="waist")
        else:
            self.do("true.on_line", edge=point.id, end=end, along=along, line="waist")

    @rule(data=st.data())
    def let_go(self, data: st.DataObject) -> None:
        held = sorted([*self.state.held_lengths, *self.state.held_points])
        if held:
            self.do("held.drop", held=data.draw(st.sampled_from(held)))

    @rule(data=st.data(), take=st.sampled_from(["mean", "left", "right"]), one=st.booleans())
    def equal_halves(self, data: st.DataObject, take: str, one: bool) -> None:
        what = {"edge": data.draw(st.sampled_from(self.edges()))} if one else {"piece": "skirt"}
        self.do("true.halves", take=take, **what)

    @rule()
    def match_all(self) -> None:
        self.do("true.match_all")

    @rule(data=st.data())
    def trace_again(self, data: st.DataObject) -> None:
        piece = data.draw(st.sampled_from(sorted(self.state.pieces.values(), key=lambda p: p.id)))
        corners = [list(e.path.start) for e in piece.edges]
        self.do("trace.again", piece=piece.id, segments=path_to_json(piece.outline), corners=corners)

    @rule(data=st.data())
    def apply_a_fix(self, data: st.DataObject) -> None:
        fixes = [fix for finding in check(self.state) for fix in finding.fixes]
        if fixes:
            fix = data.draw(st.sampled_from(fixes))
            self.do(fix.kind, **fix.params)

    @rule()
    def take_back(self) -> None:
        try:
            self.log = undo(self.log, KINDS).log
        except ChangeConflict:
            return
        self.state = replay(self.log, KINDS, START, self.cache).state

    @rule()
    def do_again(self) -> None:
        try:
            self.log = redo(self.log, KINDS).log
        except ChangeConflict:
            return
        self.state = replay(self.log, KINDS, START, self.cache).state

    @rule(data=st.data(), on=st.booleans())
    def switch_one(self, data: st.DataObject, on: bool) -> None:
        ids = [r.id for r in self.log.current if not r.kind.startswith("log.")]
        if ids:
            self.count += 1
            self.put(switch(self.log, f"r{self.count}", data.draw(st.sampled_from(ids)), on))

    @rule(data=st.data(), share=st.floats(0, 1))
    def amend_one(self, data: st.DataObject, share: float) -> None:
        ids = [r.id for r in self.log.current if r.kind == "true.share"]
        if ids:
            self.count += 1
            target = data.draw(st.sampled_from(ids))
            params = {**self.log[target].params, "share_a": share}
            self.put(amend(self.log, f"r{self.count}", target, params, 1))

    @rule()
    def save_and_load(self) -> None:
        self.log = log_from_json(json.loads(json.dumps(log_to_json(self.log))))
        self.cache = ReplayCache()

    @invariant()
    def replay_from_zero_gives_the_same(self) -> None:
        assert replay(self.log, KINDS, START).state == self.state

    @invariant()
    def outlines_hold(self) -> None:
        for piece in self.state.pieces.values():
            for edge in piece.edges:
                assert math.dist(edge.path.end, neighbour(piece, edge.id, "end").path.start) < 1e-6
            assert trouble_of(piece.outline) is None
            assert path_area_mm2(piece.outline) > 0.0
            ids = [e.id for e in piece.edges]
            assert len(set(ids)) == len(ids)
            assert {n.at.edge for n in piece.notches} <= set(ids)

    @invariant()
    def nothing_is_a_mistake(self) -> None:
        assert not any(step.data.get("mistake") for step in replay(self.log, KINDS, START, self.cache).steps)

    @invariant()
    def checking_never_breaks(self) -> None:
        check(self.state)


GarmentHistory.TestCase.settings = settings(max_examples=8, stateful_step_count=18, deadline=None)
TestGarmentHistory = GarmentHistory.TestCase
