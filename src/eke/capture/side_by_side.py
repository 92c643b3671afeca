"""Threads that work on one picture side by side, and what keeps them from waiting for one another.

Most of the time they are in OpenCV, which leaves the interpreter free. A thread that comes back from there waits until the other
one hands the interpreter over, which by default it does after 5 ms: longer than most calls take. And BLAS libraries wake a thread
for each processor, which then waits busily for the next product of small matrices. Without either a photograph is traced in three
quarters of the time.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar

from threadpoolctl import threadpool_limits

__all__ = ["side_by_side"]

P = ParamSpec("P")
R = TypeVar("R")

HAND_OVER_S = 2e-4


def side_by_side(work: Callable[P, R]) -> Callable[P, R]:
    """The same function, in which threads hand the interpreter over soon and linear algebra keeps to one processor."""

    @wraps(work)
    def alone(*args: P.args, **named: P.kwargs) -> R:
        usual_s = sys.getswitchinterval()
        sys.setswitchinterval(min(usual_s, HAND_OVER_S))
        try:
            with threadpool_limits(limits=1, user_api="blas"):
                return work(*args, **named)
        finally:
            sys.setswitchinterval(usual_s)

    return alone
