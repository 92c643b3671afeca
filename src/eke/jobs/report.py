"""What a long computation says while it runs, and how it hears that it should stop.

A function that can be run as a job takes a :class:`Report` first and named values after it::

    def pack(report: Report, *, problem: dict, passes: int) -> dict:
        for number in range(passes):
            if report.stopped():
                break                                   # best so far is the answer
            report.progress(number / passes, f"Pass {number + 1} of {passes}")
            ...
            report.improved(best)
        return best
"""

from __future__ import annotations

import contextlib
import importlib
import math
import pickle
import traceback
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias

from eke.errors import EkeError, Stopped


def _to_nobody(kind: str, value: Any) -> None:
    return None


def _never() -> bool:
    return False


class Report:
    """Passed to a long computation. ``Report()`` is one that nobody listens to, for tests and direct calls."""

    __slots__ = ("_say", "_stopped")

    def __init__(
        self, say: Callable[[str, Any], None] = _to_nobody, stopped: Callable[[], bool] = _never
    ) -> None:
        self._say = say
        self._stopped = stopped

    def progress(self, fraction: float | None, sentence: str = "") -> None:
        """Say how far it is: ``fraction`` from 0 to 1, or None when nobody can know; and what is being done.

        May be called as often as is convenient. When the listener is slow only the latest is passed on.
        """
        if fraction is not None:
            fraction = None if math.isnan(fraction) else min(1.0, max(0.0, float(fraction)))
        self._say("progress", (fraction, sentence))

    def improved(self, value: Any) -> None:
        """Hand out an answer that is better than the one before. Every one of them arrives, in order.

        Waits when many of them have not been fetched yet.
        """
        self._say("improved", value)

    def stopped(self) -> bool:
        """Return whether the maker wants it to end. Ask at least every tenth of a second or so."""
        return self._stopped()

    def raise_if_stopped(self) -> None:
        """Raise Stopped when the maker wants it to end; for computations without an answer half-way."""
        if self._stopped():
            raise Stopped("Stopped before it was finished. Nothing was changed.")


Target: TypeAlias = str
"""``"package.module:function"``: a name, so that a new process can find it."""


def find(target: Target) -> Callable[..., Any]:
    """Return the function that ``target`` names. Raises ValueError, ImportError or AttributeError."""
    module, colon, name = target.partition(":")
    if not colon or not module or not name:
        raise ValueError(f"{target!r} does not name a function as in 'package.module:function'")
    found: Any = importlib.import_module(module)
    for part in name.split("."):
        found = getattr(found, part)
    if not callable(found):
        raise ValueError(f"{target!r} is no function")
    return found  # type: ignore[no-any-return]


@dataclass(frozen=True, slots=True)
class Trouble:
    """An error on its way from one process to another: plain values, no traceback for the maker.

    ``trace`` is for the log, and empty for errors that Eke raised on purpose.
    """

    module: str
    name: str
    message: str
    data: Mapping[str, Any]
    trace: str = ""

    def error(self) -> EkeError:
        """Return the error again, of its own class where that is one of ours."""
        kind: Any = EkeError
        with contextlib.suppress(ImportError, AttributeError):
            kind = getattr(importlib.import_module(self.module), self.name)
        if not (isinstance(kind, type) and issubclass(kind, EkeError)):
            kind = EkeError
        made: EkeError = kind(self.message, **self.data)
        return made


def trouble_of(error: BaseException, target: Target) -> Trouble:
    """Return what to tell about ``error``, raised by the function that ``target`` names."""
    if isinstance(error, EkeError):
        return Trouble(type(error).__module__, type(error).__qualname__, error.message, _portable(error.data))
    trace = "".join(traceback.format_exception(error))
    if isinstance(error, MemoryError):
        message = (
            "The computer has too little memory for this computation. Nothing was changed. Close other programs, "
            "or do it with fewer pieces or smaller pictures."
        )
    else:
        message = (
            "Eke made a mistake in a long computation and had to give it up. Nothing was changed. Please report it "
            "together with the log."
        )
    return Trouble(
        "eke.errors", "EkeError", message, {"target": target, "cause": type(error).__name__}, trace
    )


def _portable(data: Mapping[str, Any]) -> dict[str, Any]:
    """Return ``data`` with all that cannot leave its process turned into text."""
    out = {}
    for key, value in data.items():
        try:
            pickle.dumps(value)
        except Exception:
            value = repr(value)
        out[key] = value
    return out
