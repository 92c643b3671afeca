"""Long computations as windows see them."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from eke.actions.projects import enter_garment, start_project
from eke.actions.room import Room
from eke.errors import BadInput, EkeError
from eke.jobs import Runner
from eke.web.events import Event, Hub
from eke.web.house import House
from eke.web.jobs_board import Board, Ended
from eke.web.models.workroom import JobView
from eke.web.troubles import OUR_MISTAKE

from . import work

WORK = work.__name__
WAIT_S = 60.0
"""Only so that a hanging test ends; nothing here measures time."""


class Listener(Hub):
    """A hub that keeps all that is published."""

    def __init__(self) -> None:
        super().__init__()
        self.events: list[Event] = []
        self.changed = threading.Condition()

    def publish(self, event: Event) -> None:
        with self.changed:
            self.events.append(event)
            self.changed.notify_all()

    def until(self, job: str, wanted: Callable[[JobView], bool]) -> JobView:
        """Wait until a job was once as wanted."""

        def found() -> JobView | None:
            jobs = [e for e in self.events if isinstance(e, JobView) and e.id == job]
            return next((one for one in jobs if wanted(one)), None)

        with self.changed:
            assert self.changed.wait_for(lambda: found() is not None, WAIT_S), self.events
            view = found()
        assert view is not None
        return view

    def ended(self, job: str) -> JobView:
        return self.until(job, lambda view: view.state in ("done", "stopped", "failed"))


@pytest.fixture(scope="module")
def runner() -> Iterator[Runner]:
    with Runner(2, grace_s=0.3) as made:
        yield made


@pytest.fixture
def hub() -> Listener:
    return Listener()


@pytest.fixture
def board(runner: Runner, hub: Listener) -> Board:
    return Board(runner, hub)


def test_a_job_from_its_start_to_its_being_seen(board: Board, hub: Listener) -> None:
    kept: list[int] = []

    def done(value: int) -> Ended:
        kept.append(value)
        return Ended(f"It is {value}.", {"sum": value})

    begun = board.start("paper", "g1", "Adding up", f"{WORK}:add", {"a": 2, "b": 3}, on_done=done)
    assert (begun.what, begun.subject, begun.title, begun.state) == ("paper", "g1", "Adding up", "waiting")
    ended = hub.ended(begun.id)
    assert (ended.state, ended.fraction, ended.sentence, ended.result) == (
        "done",
        1.0,
        "It is 5.",
        {"sum": 5},
    )
    assert kept == [5]
    assert board.jobs() == [ended]
    assert board.running("paper", "g1") is None
    board.seen(begun.id)
    assert board.jobs() == []


def test_improvements_are_shown_and_a_stopped_job_keeps_its_best(board: Board, hub: Listener) -> None:
    kept: list[int] = []

    def done(value: int) -> str:
        kept.append(value)
        return "Kept as it was."

    job = board.start(
        "lay", "g1", "Laying", f"{WORK}:improve_until_stopped", {"first": 7},
        on_improved=lambda value: {"best": value}, on_done=done,
    ).id  # fmt: skip
    view = hub.until(job, lambda v: v.result == {"best": 7})
    assert (view.state, view.fraction, view.sentence) == ("running", 0.25, "Looking for better")
    assert board.running("lay", "g1") is not None
    board.seen(job)  # one that runs is not forgotten
    board.stop(job)
    ended = hub.ended(job)
    assert (ended.state, ended.sentence, ended.result) == ("stopped", "Kept as it was.", {"best": 7})
    assert kept == [107]
    assert board.stop(job).state == "stopped"  # twice does no harm


def test_what_is_refused_is_said_and_can_be_kept(board: Board, hub: Listener) -> None:
    errors: list[EkeError] = []

    def refused(error: EkeError) -> Ended:
        errors.append(error)
        return Ended(error.message, {"refused": True})

    job = board.start("trace", "p1", "Tracing", f"{WORK}:refuse", on_failed=refused).id
    ended = hub.ended(job)
    assert (ended.state, ended.result) == ("failed", {"refused": True})
    assert ended.sentence == "The corners do not agree. Take it again from straight above."
    assert errors[0].data == {"share": 0.2}


def test_a_mistake_of_the_program_shows_no_traceback(board: Board, hub: Listener) -> None:
    ended = hub.ended(board.start("trace", "p1", "Tracing", f"{WORK}:slip").id)
    assert ended.state == "failed"
    assert "Traceback" not in ended.sentence
    assert "ZeroDivision" not in ended.model_dump_json()


def test_a_result_that_cannot_be_kept(board: Board, hub: Listener) -> None:
    def gone(value: int) -> str:
        raise BadInput("The garment is not there any more.")

    def slips(value: int) -> str:
        raise KeyError("slip")

    for done, sentence in ((gone, "The garment is not there any more."), (slips, OUR_MISTAKE)):
        ended = hub.ended(board.start("lay", "g1", "x", f"{WORK}:add", {"a": 1, "b": 1}, on_done=done).id)
        assert (ended.state, ended.sentence) == ("failed", sentence)


def test_a_second_lay_of_the_same_garment_stops_the_first(board: Board, hub: Listener) -> None:
    kept: list[Any] = []

    def start(subject: str, first: int) -> str:
        return board.start(
            "lay", subject, "Laying", f"{WORK}:improve_until_stopped", {"first": first},
            on_improved=lambda value: {"best": value}, on_done=lambda value: kept.append(value) or "Kept.",
        ).id  # fmt: skip

    first = start("g1", 1)
    hub.until(first, lambda v: v.result is not None)
    other = start("g2", 50)
    hub.until(other, lambda v: v.result is not None)
    second = start("g1", 2)
    assert hub.ended(first).state == "stopped"
    hub.until(second, lambda v: v.result == {"best": 2})
    shown = {view.id: view.state for view in board.jobs()}
    assert shown == {other: "running", second: "running"}  # the first is shown no more
    for job in (other, second):
        board.stop(job)
        hub.ended(job)
    assert kept[0] == 101  # what the first had found was kept before the second
    assert sorted(kept) == [101, 102, 150]


def test_an_overtaken_answer_does_not_replace_a_newer_one(hub: Listener, tmp_path: Path) -> None:
    kept: list[Any] = []
    go = tmp_path / "go"

    def keep(value: Any) -> str:
        kept.append(value)
        return "Kept."

    with Runner(2, grace_s=WAIT_S) as patient:  # the first may go on although it was asked to stop
        board = Board(patient, hub)
        slow = board.start("trace", "p1", "x", f"{WORK}:wait_for", {"file": str(go)}, on_done=keep).id
        hub.until(slow, lambda v: v.state == "running")
        quick = board.start("trace", "p1", "x", f"{WORK}:add", {"a": 1, "b": 1}, on_done=keep).id
        assert hub.ended(quick).state == "done"
        go.touch()
        assert hub.ended(slow).state == "stopped"
        assert kept == [2]
        board.close()


def test_numbers_alone_are_told_now_and_then_and_words_always(board: Board, hub: Listener) -> None:
    job = board.start("trace", "p1", "x", f"{WORK}:count", {"to": 60}).id
    hub.ended(job)
    told = [e for e in hub.events if isinstance(e, JobView) and e.id == job]
    assert told[-1].state == "done"
    numbers = [view for view in told if view.state == "running" and view.sentence == "Counting"]
    assert 1 <= len(numbers) < 60
    assert any(view.sentence == "Counted" for view in told)


def test_closing_keeps_what_running_jobs_have_found(hub: Listener) -> None:
    kept: list[int] = []
    board = Board(Runner(1, grace_s=5.0), hub)
    job = board.start(
        "lay", "g1", "x", f"{WORK}:improve_until_stopped", {"first": 3},
        on_improved=lambda v: {"best": v}, on_done=lambda v: kept.append(v) or "Kept.",
    ).id  # fmt: skip
    hub.until(job, lambda v: v.result is not None)
    board.close()
    assert kept == [103]
    assert board.job(job).state == "stopped"
    board.close()


# ---- over HTTP ------------------------------------------------------------------------------------------


def test_there_is_nothing_to_wait_for_at_first(client: TestClient) -> None:
    answer = client.get("/api/jobs")
    assert answer.status_code == 200
    assert answer.json() == []


@pytest.mark.parametrize("what", ["stop", "seen"])
def test_a_job_that_is_not_there(client: TestClient, what: str) -> None:
    answer = client.post(f"/api/jobs/nothing/{what}")
    assert answer.status_code == 404
    assert answer.json()["code"] == "not-found"


def test_a_job_goes_on_without_a_window_and_writes_what_it_found(
    client: TestClient, house: House, room: Room
) -> None:
    start_project(room, "Winter")
    garment = enter_garment(room, "Winter", "Coat").id

    def keep(value: int) -> str:
        return room.change_garment(garment, "pattern.rename", {"name": f"Coat {value}"}).sentence

    job = house.board.start("lay", garment, "x", f"{WORK}:improve_until_stopped", on_done=keep).id
    deadline = time.monotonic() + WAIT_S
    while client.get("/api/jobs").json()[0]["state"] != "running":
        assert time.monotonic() < deadline
        time.sleep(0.01)
    assert client.post(f"/api/jobs/{job}/stop").status_code == 200
    while client.get("/api/jobs").json()[0]["state"] != "stopped":
        assert time.monotonic() < deadline
        time.sleep(0.01)
    assert "Coat 101" in client.get("/api/jobs").json()[0]["sentence"]
    assert room.garment(garment).pattern.name == "Coat 101"
    assert client.post(f"/api/jobs/{job}/seen").status_code == 204
    assert client.get("/api/jobs").json() == []
