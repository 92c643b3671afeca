"""Run a long computation in this process: for the command line, where Ctrl-C is the stop button."""

from __future__ import annotations

import logging
import signal
import threading
from collections.abc import Callable, Mapping
from typing import Any

from eke.errors import EkeError, Stopped
from eke.jobs.job import EventKind, JobEvent, Listener
from eke.jobs.report import Report, find, trouble_of

_log = logging.getLogger(__name__)
HERE = "here"
"""The id of the job in events of :func:`run_here`."""


def run_here(
    target: str | Callable[..., Any], args: Mapping[str, Any] | None = None, listener: Listener | None = None
) -> Any:
    """Call ``function(report, **args)`` in this process and return its result.

    The first Ctrl-C asks the function to stop, as cancelling a job does; what it returns then is returned. The
    second one ends it at once. Outside the main thread Ctrl-C is left to others.

    Raises
    ------
    Stopped
        When it was stopped without a result.
    EkeError
        What the function raised; for a mistake in the program an EkeError for the maker, with the traceback in
        the log and as its cause.
    """
    stop = threading.Event()
    name = target if isinstance(target, str) else getattr(target, "__qualname__", "a function")

    def say(kind: str, value: Any) -> None:
        if listener is None:
            return
        event_kind: EventKind = "improved" if kind == "improved" else "progress"
        if event_kind == "improved":
            listener(JobEvent(HERE, event_kind, value=value))
        else:
            listener(JobEvent(HERE, event_kind, value[0], value[1]))

    def on_interrupt(number: int, frame: Any) -> None:
        if stop.is_set():
            raise KeyboardInterrupt
        stop.set()
        say("progress", (None, "Stopping at the next good moment; press Ctrl-C again to stop at once"))

    main = threading.current_thread() is threading.main_thread()
    before = signal.signal(signal.SIGINT, on_interrupt) if main else None
    try:
        function = find(target) if isinstance(target, str) else target
        return function(Report(say, stop.is_set), **dict(args or {}))
    except KeyboardInterrupt:
        raise Stopped("Stopped before it was finished. Nothing was changed.") from None
    except EkeError:
        raise
    except Exception as error:
        trouble = trouble_of(error, name)
        _log.error("%s broke:\n%s", name, trouble.trace)
        raise trouble.error() from error
    finally:
        if main:
            signal.signal(signal.SIGINT, before)
