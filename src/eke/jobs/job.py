"""A job as the one who started it sees it."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Literal, TypeAlias

from eke.errors import EkeError, Stopped

State: TypeAlias = Literal["waiting", "running", "done", "stopped", "failed"]
EventKind: TypeAlias = Literal["started", "progress", "improved", "done", "stopped", "failed"]


@dataclass(frozen=True, slots=True)
class JobEvent:
    """Something that happened to a job. The last one is ``done``, ``stopped`` or ``failed``, and comes once.

    ``value`` is the improved answer, the result (also of a stopped job that had one), or the error.
    """

    job_id: str
    kind: EventKind
    fraction: float | None = None
    sentence: str = ""
    value: Any = None


Listener: TypeAlias = Callable[[JobEvent], None]
"""Called from a thread of the runner, one event after the other for a job; keep it short."""


@dataclass(frozen=True, slots=True)
class JobView:
    """A job at one moment, for showing."""

    id: str
    target: str
    state: State
    fraction: float | None
    sentence: str
    improved: Any = field(hash=False)
    improvements: int
    result: Any = field(hash=False)
    error: EkeError | None

    @property
    def ended(self) -> bool:
        """Whether nothing more will happen to it."""
        return self.state in ("done", "stopped", "failed")


class Job:
    """A started computation. All attributes may be read from any thread at any time."""

    def __init__(
        self, job_id: str, target: str, listener: Listener | None, cancel: Callable[[Job], None]
    ) -> None:
        self.id = job_id
        self.target = target
        self._listener = listener
        self._cancel = cancel
        self._changed = threading.Condition()
        self._view = JobView(job_id, target, "waiting", None, "", None, 0, None, None)
        self._stop_wanted = False

    def view(self) -> JobView:
        """Return the job as it is now."""
        with self._changed:
            return self._view

    @property
    def state(self) -> State:
        """``waiting``, ``running``, ``done``, ``stopped`` or ``failed``."""
        return self.view().state

    @property
    def progress(self) -> float | None:
        """From 0 to 1, or None when nobody knows."""
        return self.view().fraction

    @property
    def message(self) -> str:
        """What is being done, in a sentence; at the end of a failed job what happened."""
        view = self.view()
        return view.error.message if view.error is not None else view.sentence

    @property
    def improved(self) -> Any:
        """The best answer so far; kept when the job is stopped or fails."""
        return self.view().improved

    @property
    def result(self) -> Any:
        """What the function returned; None until then."""
        return self.view().result

    @property
    def error(self) -> EkeError | None:
        """Why there is no result: an error of the function, or Stopped."""
        return self.view().error

    def cancel(self) -> None:
        """Ask the job to stop. One that does not listen is ended after a grace. Does not wait."""
        self._cancel(self)

    def wait(self, timeout_s: float | None = None) -> Any:
        """Wait for the end and return the result; of a stopped job the one it had when it was stopped.

        Raises
        ------
        EkeError
            What the function raised.
        Stopped
            When it was stopped without a result; the best so far is in ``improved``.
        TimeoutError
            When it has not ended after ``timeout_s``.
        """
        with self._changed:
            if not self._changed.wait_for(lambda: self._view.ended, timeout_s):
                raise TimeoutError(f"the job {self.id} has not ended after {timeout_s} s")
            view = self._view
        if view.error is not None and (view.state == "failed" or view.result is None):
            raise view.error
        return view.result


def stopped_error(sentence: str = "Stopped before it was finished. Nothing was changed.") -> Stopped:
    """Return the error of a job that the maker stopped."""
    return Stopped(sentence)
