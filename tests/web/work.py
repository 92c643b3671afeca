"""Functions that tests run as jobs."""

from __future__ import annotations

import time
from pathlib import Path

from eke.errors import NotTrustworthy
from eke.jobs import Report


def add(report: Report, *, a: int, b: int) -> int:
    report.progress(0.5, "Adding")
    return a + b


def improve_until_stopped(report: Report, *, first: int = 1) -> int:
    report.progress(0.25, "Looking for better")
    report.improved(first)
    while not report.stopped():
        time.sleep(0.01)
    return first + 100


def wait_for(report: Report, *, file: str) -> str:
    """Go on until a file appears, and do not listen to being stopped."""
    while not Path(file).exists():
        time.sleep(0.01)
    return "late"


def count(report: Report, *, to: int) -> None:
    for number in range(to):
        report.progress(number / to, "Counting")
        time.sleep(0.01)
    report.progress(1.0, "Counted")
    time.sleep(0.3)  # let it go out


def refuse(report: Report) -> None:
    raise NotTrustworthy("The corners do not agree. Take it again from straight above.", share=0.2)


def slip(report: Report) -> None:
    raise ZeroDivisionError("a slip of the programmer")
