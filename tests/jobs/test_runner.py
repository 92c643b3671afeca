from __future__ import annotations

import logging
import multiprocessing
import os
import threading
import time

import psutil
import pytest

from eke.errors import DoesNotFit, EkeError, Stopped
from eke.jobs import JobEvent, Runner

from . import work

WORK = work.__name__
WAIT_S = 60.0
"""Only so that a hanging test ends; nothing here measures time."""


@pytest.fixture(scope="module")
def runner():
    with Runner(1, grace_s=0.3) as made:
        made.warm_up()
        yield made


class Listening:
    """A listener that keeps everything, and can be waited for."""

    def __init__(self) -> None:
        self.events: list[JobEvent] = []
        self.changed = threading.Condition()

    def __call__(self, event: JobEvent) -> None:
        with self.changed:
            self.events.append(event)
            self.changed.notify_all()

    def wait_for(self, kind: str) -> JobEvent:
        with self.changed:
            assert self.changed.wait_for(lambda: any(one.kind == kind for one in self.events), WAIT_S)
            return next(one for one in self.events if one.kind == kind)

    def kinds(self) -> list[str]:
        return [one.kind for one in self.events]


def wait_until(true, what: str) -> None:
    end = time.monotonic() + WAIT_S
    while not true():
        assert time.monotonic() < end, what
        time.sleep(0.01)


def test_a_result_comes_back(runner):
    heard = Listening()
    job = runner.start(f"{WORK}:add", {"a": 1.5, "b": 2}, heard)
    assert job.wait(WAIT_S) == 3.5
    view = job.view()
    assert (view.state, view.fraction, view.error, view.ended) == ("done", 1.0, None, True)
    assert heard.kinds() == ["started", "done"]
    assert heard.events[-1].value == 3.5


def test_progress_comes_in_order_the_latest_wins_and_the_last_is_heard(runner):
    heard = Listening()
    assert runner.start(f"{WORK}:count", {"to": 50_000}, heard).wait(WAIT_S) == 50_000
    fractions = [one.fraction for one in heard.events if one.kind == "progress"]
    assert fractions == sorted(fractions)
    assert 1 <= len(fractions) < 5_000
    assert fractions[-1] == 49_999 / 50_000
    assert heard.kinds()[-1] == "done"


def test_every_improvement_arrives_in_order_as_it_was_when_handed_out(runner):
    heard = Listening()
    job = runner.start(f"{WORK}:improve", {"to": 300, "between": 20}, heard)
    assert job.wait(WAIT_S) == list(range(300))
    assert [one.value for one in heard.events if one.kind == "improved"] == [
        list(range(n + 1)) for n in range(300)
    ]
    assert job.improved == list(range(300))
    assert job.view().improvements == 300


def test_a_slow_listener_holds_up_only_the_computation(runner):
    heard: list[int] = []

    def slow(event: JobEvent) -> None:
        if event.kind == "improved":
            time.sleep(0.002)
            heard.append(len(event.value))

    assert runner.start(f"{WORK}:improve", {"to": 200}, slow).wait(WAIT_S) == list(range(200))
    assert heard == list(range(1, 201))


def test_a_listener_that_breaks_harms_nobody(runner, caplog):
    def broken(event: JobEvent) -> None:
        raise RuntimeError("listener")

    with caplog.at_level(logging.ERROR):
        assert runner.start(f"{WORK}:add", {"a": 1, "b": 1}, broken).wait(WAIT_S) == 2
    assert "the listener of job" in caplog.text


# ---- stopping -------------------------------------------------------------------------------------------


def test_a_job_that_listens_stops_with_its_best(runner):
    heard = Listening()
    job = runner.start(f"{WORK}:until_stopped", {}, heard)
    heard.wait_for("improved")
    job.cancel()
    assert job.wait(WAIT_S) == "best so far"
    assert job.state == "stopped"
    assert isinstance(job.error, Stopped)
    assert heard.kinds() == ["started", "improved", "stopped"]
    job.cancel()  # once more does no harm
    assert job.state == "stopped"


def test_a_job_without_an_answer_half_way(runner):
    heard = Listening()
    job = runner.start(f"{WORK}:until_stopped", {"answer": None}, heard)
    heard.wait_for("improved")
    job.cancel()
    with pytest.raises(Stopped, match="Nothing was changed"):
        job.wait(WAIT_S)
    assert job.improved == "first"


def test_a_deaf_job_is_ended_after_the_grace_and_the_next_one_runs(runner):
    heard = Listening()
    job = runner.start(f"{WORK}:deaf", {}, heard)
    heard.wait_for("improved")
    after = runner.start(f"{WORK}:add", {"a": 1, "b": 2})
    assert after.state == "waiting"
    job.cancel()
    with pytest.raises(Stopped):
        job.wait(WAIT_S)
    assert (job.state, job.improved) == ("stopped", "kept")
    assert after.wait(WAIT_S) == 3


def test_a_waiting_job_can_be_stopped_before_it_starts(runner):
    heard, never = Listening(), Listening()
    first = runner.start(f"{WORK}:until_stopped", {}, heard)
    second = runner.start(f"{WORK}:add", {"a": 1, "b": 2}, never)
    heard.wait_for("improved")
    second.cancel()
    with pytest.raises(Stopped):
        second.wait(WAIT_S)
    assert never.kinds() == ["stopped"]
    first.cancel()
    first.wait(WAIT_S)


def test_waiting_has_an_end(runner):
    job = runner.start(f"{WORK}:until_stopped")
    with pytest.raises(TimeoutError):
        job.wait(0.01)
    job.cancel()
    job.wait(WAIT_S)


# ---- errors ---------------------------------------------------------------------------------------------


def test_an_error_of_ours_keeps_its_class_message_and_data(runner):
    job = runner.start(f"{WORK}:refuse")
    with pytest.raises(DoesNotFit, match="120 mm are missing") as caught:
        job.wait(WAIT_S)
    assert caught.value.exit_code == 3
    assert caught.value.data["missing_mm"] == 120.0
    assert "lambda" in caught.value.data["odd"]
    assert (job.state, job.message) == ("failed", caught.value.message)


@pytest.mark.parametrize(
    ("name", "word"),
    [("slip", "made a mistake"), ("hungry", "too little memory"), ("leave", "made a mistake"),
     ("not_portable", "made a mistake"), ("absent", "made a mistake"), ("crash", "broke off"),
     ("kill_myself", "broke off"), ("breaks_on_arrival", "broke off")],
)  # fmt: skip
def test_other_troubles_are_one_sentence_for_the_maker_and_the_rest_for_the_log(runner, caplog, name, word):
    heard = Listening()
    with caplog.at_level(logging.ERROR):
        job = runner.start(f"{WORK}:{name}", {}, heard)
        with pytest.raises(EkeError, match=word) as caught:
            job.wait(WAIT_S)
    assert type(caught.value) is EkeError
    assert "Nothing was changed" in caught.value.message
    assert "Traceback" not in caught.value.message
    assert job.state == "failed"
    assert heard.kinds()[-1] == "failed"
    assert heard.kinds().count("failed") == 1
    assert name in caplog.text
    if name == "slip":
        assert "ZeroDivisionError: a slip of the programmer" in caplog.text
    if name == "crash":
        assert caught.value.data["worker_exit_code"] == 41
        assert (job.improved, job.progress) == ("before the crash", 0.5)
    assert runner.start(f"{WORK}:add", {"a": 1, "b": 2}).wait(WAIT_S) == 3  # the runner goes on


def test_a_job_may_stop_itself(runner):
    with pytest.raises(Stopped, match="enough"):
        runner.start(f"{WORK}:stop_myself").wait(WAIT_S)


def test_what_cannot_be_sent_is_a_mistake_where_it_is_made(runner):
    with pytest.raises(Exception, match=r"[Pp]ickle|local"):
        runner.start(f"{WORK}:add", {"a": lambda: None})


# ---- processes ------------------------------------------------------------------------------------------


def test_workers_stay_for_the_next_job_and_are_nice(runner):
    first = runner.start(f"{WORK}:process_id").wait(WAIT_S)
    assert runner.start(f"{WORK}:process_id").wait(WAIT_S) == first != os.getpid()
    assert runner.start(f"{WORK}:niceness").wait(WAIT_S) > 0


def test_several_jobs_run_at_once_and_closing_leaves_no_process(tmp_path):
    runner = Runner(2, grace_s=0.3, warm=("colorsys", "no.such.module"))
    heard = [Listening(), Listening()]
    jobs = [
        runner.start(f"{WORK}:until_stopped", {"flag": str(tmp_path / "0")}, heard[0]),
        runner.start(f"{WORK}:deaf", {"flag": str(tmp_path / "1")}, heard[1]),
    ]
    queued = runner.start(f"{WORK}:add", {"a": 1, "b": 1})
    for one in heard:
        one.wait_for("improved")
    wait_until(
        lambda: all((tmp_path / name).exists() and (tmp_path / name).read_text() for name in "01"), "flags"
    )
    pids = [int((tmp_path / name).read_text()) for name in "01"]
    assert len(set(pids)) == 2
    runner.close()
    runner.close()
    assert [job.state for job in (*jobs, queued)] == ["stopped", "stopped", "stopped"]
    assert jobs[0].result == "best so far"
    assert not any(psutil.pid_exists(pid) for pid in pids)  # ended, and no zombie either
    assert not {one.pid for one in multiprocessing.active_children()} & set(pids)
    with pytest.raises(RuntimeError, match="closed"):
        runner.start(f"{WORK}:add")


def test_modules_are_loaded_ahead():
    with Runner(1, warm=("colorsys",)) as runner:
        assert runner.start(f"{WORK}:loaded", {"module": "colorsys"}).wait(WAIT_S)
        assert not runner.start(f"{WORK}:loaded", {"module": "wave"}).wait(WAIT_S)
