from __future__ import annotations

import logging
import signal
import threading

import pytest

from eke.errors import DoesNotFit, EkeError, Stopped
from eke.jobs import Report, run_here
from eke.jobs.report import find

from . import work

WORK = work.__name__


def test_result_progress_and_improvements():
    events = []
    assert run_here(f"{WORK}:improve", {"to": 2, "between": 1}, events.append) == [0, 1]
    assert [(one.kind, one.sentence) for one in events] == [
        ("improved", ""), ("progress", "0.0"), ("improved", ""), ("progress", "1.0"),
    ]  # fmt: skip
    assert run_here(work.add, {"a": 1, "b": 2}) == 3


def test_errors(caplog):
    with pytest.raises(DoesNotFit, match="120 mm"):
        run_here(f"{WORK}:refuse")
    with caplog.at_level(logging.ERROR), pytest.raises(EkeError, match="made a mistake") as caught:
        run_here(f"{WORK}:slip")
    assert isinstance(caught.value.__cause__, ZeroDivisionError)
    assert "a slip of the programmer" in caplog.text


def test_the_first_interrupt_asks_and_what_is_returned_counts():
    events = []

    def pack(report: Report) -> str:
        signal.raise_signal(signal.SIGINT)
        assert report.stopped()
        return "best so far"

    before = signal.getsignal(signal.SIGINT)
    assert run_here(pack, listener=events.append) == "best so far"
    assert "press Ctrl-C again" in events[0].sentence
    assert signal.getsignal(signal.SIGINT) is before


def test_the_second_interrupt_ends_it_at_once():
    def deaf(report: Report) -> None:
        signal.raise_signal(signal.SIGINT)
        signal.raise_signal(signal.SIGINT)
        raise AssertionError("went on after the second Ctrl-C")

    before = signal.getsignal(signal.SIGINT)
    with pytest.raises(Stopped, match="Nothing was changed"):
        run_here(deaf)
    assert signal.getsignal(signal.SIGINT) is before


def test_an_interrupt_raised_inside_is_a_stop():
    def interrupted(report: Report) -> None:
        raise KeyboardInterrupt

    with pytest.raises(Stopped):
        run_here(interrupted)


def test_works_in_any_thread():
    results = []
    thread = threading.Thread(target=lambda: results.append(run_here(work.add, {"a": 1, "b": 1})))
    thread.start()
    thread.join()
    assert results == [2]


def test_fractions_are_kept_sensible():
    said = []
    report = Report(lambda kind, value: said.append(value))
    for fraction in (-1, 0.5, 7, float("nan"), None):
        report.progress(fraction)
    assert [one[0] for one in said] == [0.0, 0.5, 1.0, None, None]
    silent = Report()
    silent.progress(0.5, "x")
    silent.improved(1)
    silent.raise_if_stopped()
    assert not silent.stopped()


@pytest.mark.parametrize("target", ["", "eke.errors", ":x", "eke.errors:", "eke.errors:__doc__"])
def test_a_target_has_to_name_a_function(target):
    with pytest.raises((ValueError, AttributeError)):
        find(target)
