"""Functions that tests run as jobs."""

from __future__ import annotations

import os
import signal
import sys
import time
from pathlib import Path

from eke.errors import DoesNotFit, Stopped
from eke.jobs import Report


def add(report: Report, *, a: float, b: float) -> float:
    return a + b


def count(report: Report, *, to: int) -> int:
    for number in range(to):
        report.progress(number / to, f"step {number}")
    return to


def improve(report: Report, *, to: int, between: int = 0) -> list[int]:
    best: list[int] = []
    for number in range(to):
        best.append(number)  # the same list, changed in place
        report.improved(best)
        for step in range(between):
            report.progress(None, f"{number}.{step}")
    return best


def until_stopped(
    report: Report, *, flag: str | None = None, answer: str | None = "best so far"
) -> str | None:
    report.improved("first")
    if flag:
        Path(flag).write_text(str(os.getpid()))
    while not report.stopped():
        time.sleep(0.01)
    if answer is None:
        report.raise_if_stopped()
    return answer


def deaf(report: Report, *, flag: str | None = None) -> None:
    report.improved("kept")
    if flag:
        Path(flag).write_text(str(os.getpid()))
    while True:
        time.sleep(0.05)


def refuse(report: Report) -> None:
    raise DoesNotFit("The skirt does not fit: 120 mm are missing.", missing_mm=120.0, odd=lambda: None)


def slip(report: Report) -> None:
    raise ZeroDivisionError("a slip of the programmer")


def hungry(report: Report) -> None:
    raise MemoryError


def stop_myself(report: Report) -> None:
    raise Stopped("enough")


def leave(report: Report) -> None:
    sys.exit(5)


def crash(report: Report) -> None:
    report.improved("before the crash")
    report.progress(0.5, "half")
    time.sleep(0.3)  # let both go out
    os._exit(41)


def kill_myself(report: Report) -> None:
    os.kill(os.getpid(), getattr(signal, "SIGKILL", signal.SIGTERM))


def not_portable(report: Report) -> object:
    return lambda: None


def process_id(report: Report) -> int:
    return os.getpid()


def niceness(report: Report) -> int:
    return os.nice(0) if hasattr(os, "nice") else 1


def loaded(report: Report, *, module: str) -> bool:
    return module in sys.modules


class Pair:
    """Can leave its process, but breaks on arrival."""

    def __reduce__(self):
        return (_broken_arrival, ())


def _broken_arrival():
    raise RuntimeError("cannot be built")


def breaks_on_arrival(report: Report) -> Pair:
    return Pair()
