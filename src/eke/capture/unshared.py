"""Small matrices: one processor is done with them sooner than they are shared out.

BLAS libraries wake a thread for each processor and let them wait busily for the next product; beside pictures that are worked on
in threads of their own they only get in the way: a photograph was traced in eight to nine tenths of the time
without.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar

from threadpoolctl import threadpool_limits

__all__ = ["unshared"]

P = ParamSpec("P")
R = TypeVar("R")


def unshared(work: Callable[P, R]) -> Callable[P, R]:
    """The same function, in which linear algebra keeps to one processor."""

    @wraps(work)
    def alone(*args: P.args, **named: P.kwargs) -> R:
        with threadpool_limits(limits=1, user_api="blas"):
            return work(*args, **named)

    return alone
