"""Long computations as the windows see them: started here, shown until they have been seen.

A thread of the board's own turns what a job says into what a window shows, one thing after the other and of
improvements only the newest, so that neither the worker nor a route ever waits for it::

    board.start(
        "lay", garment_id, "Laying the tunic", "eke.cutting.plan:lay", {"problem": problem},
        on_improved=lambda value: lay_view(value).model_dump(),
        on_done=lambda value: Ended("Everything fits on the curtain.", lay_view(value).model_dump()),
    )
"""

from __future__ import annotations

import logging
import threading
import time
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from eke.errors import EkeError, NotFound
from eke.jobs import Job, JobEvent, Runner
from eke.web.events import Hub
from eke.web.models.workroom import JobView
from eke.web.troubles import OUR_MISTAKE

_log = logging.getLogger(__name__)

KEPT_ENDED: Final = 50
"""Ended jobs that nobody looked at; older ones go first."""
PROGRESS_EVERY_S: Final = 0.2
"""How often a window hears of progress alone: what has been found travels with it, and may be large."""
FINISH_S: Final = 10.0
"""How long closing waits until the last results are kept: a commit on a slow disk, many times over."""

What = Literal["trace", "lay", "paper", "backup"]


@dataclass(frozen=True, slots=True)
class Ended:
    """What came of a job: a sentence for the maker, and facts for the window."""

    sentence: str
    result: dict[str, Any] | None = None


Improved = Callable[[Any], dict[str, Any] | None]
"""Turns an improved answer into what the window shows."""
Done = Callable[[Any], Ended | str]
"""Keeps the result (it may write to the store) and says what came of it. Called in the server's process."""
Refused = Callable[[EkeError], Ended | str]
"""Keeps that there is no result, and why. Without it the error's own sentence is shown."""


class _Entry:
    def __init__(
        self,
        view: JobView,
        on_improved: Improved | None,
        on_done: Done | None,
        on_failed: Refused | None,
    ) -> None:
        self.view = view
        self.on_improved = on_improved
        self.on_done = on_done
        self.on_failed = on_failed
        self.job: Job | None = None
        self.followed_by: _Entry | None = None
        self.progress: JobEvent | None = None
        self.improved: JobEvent | None = None
        self.end: JobEvent | None = None
        self.queued = False
        self.told = float("-inf")

    @property
    def ended(self) -> bool:
        return self.view.state in ("done", "stopped", "failed")


class Board:
    """The jobs of a server."""

    def __init__(self, runner: Runner, hub: Hub) -> None:
        self._runner = runner
        self._hub = hub
        self._entries: dict[str, _Entry] = {}
        self._work: deque[_Entry] = deque()
        self._changed = threading.Condition()
        self._closing = False
        self._thread = threading.Thread(target=self._run, name="eke-board", daemon=True)
        self._thread.start()

    # ---- what routes do --------------------------------------------------------------------------------

    def start(
        self,
        what: What,
        subject: str,
        title: str,
        target: str,
        args: Mapping[str, Any] | None = None,
        *,
        on_improved: Improved | None = None,
        on_done: Done | None = None,
        on_failed: Refused | None = None,
    ) -> JobView:
        """Start ``function(report, **args)`` in a worker, where ``target`` is ``"package.module:function"``.

        One that works for the same subject already is stopped; what it has found by then is kept as if the
        maker had stopped it, unless the new one is done before.

        Parameters
        ----------
        what, subject, title
            For the window: what it is, for which photograph or garment, and a title that the maker reads.
        on_improved
            For answers that get better.
        on_done
            For the result, also that of a stopped job that had one.
        on_failed
            For an error that the function raised on purpose, or a job that broke.
        """
        entry = _Entry(
            JobView(
                id="", what=what, subject=subject, title=title, state="waiting", fraction=None, sentence=""
            ),
            on_improved,
            on_done,
            on_failed,
        )
        # a worker may speak before start() has returned: what it says waits until the entry has its id
        ready = threading.Event()

        def listener(event: JobEvent) -> None:
            ready.wait()
            self._heard(entry, event)

        try:
            job = self._runner.start(target, args, listener)
            entry.job = job
            entry.view = entry.view.model_copy(update={"id": job.id})
            with self._changed:
                before = [
                    one
                    for one in self._entries.values()
                    if one.view.what == what and one.view.subject == subject and not one.ended
                ]
                self._entries[job.id] = entry
                view = entry.view
        finally:
            ready.set()
        for one in before:
            one.followed_by = entry
            if one.job is not None:
                one.job.cancel()
        self._hub.publish(view)
        return view

    def jobs(self) -> list[JobView]:
        """Return the jobs that wait or run, and those that ended and have not been seen."""
        with self._changed:
            return [entry.view for entry in self._entries.values()]

    def job(self, job_id: str) -> JobView:
        """Return one job. Raises NotFound."""
        return self._entry(job_id).view

    def running(self, what: What, subject: str) -> JobView | None:
        """Return the job that works for a subject now, if there is one."""
        with self._changed:
            found = [
                e.view for e in self._entries.values() if (e.view.what, e.view.subject) == (what, subject)
            ]
        return next((v for v in reversed(found) if v.state in ("waiting", "running")), None)

    def stop(self, job_id: str) -> JobView:
        """Ask a job to stop; what it has found is kept. Does not wait. Raises NotFound."""
        entry = self._entry(job_id)
        if entry.job is not None and not entry.ended:
            entry.job.cancel()
        return entry.view

    def seen(self, job_id: str) -> None:
        """Forget an ended job, since the maker has seen it; one that runs stays. Raises NotFound."""
        entry = self._entry(job_id)
        with self._changed:
            if entry.ended:
                self._entries.pop(job_id, None)

    def close(self) -> None:
        """Stop all jobs, keep what they have found, end the workers. Closing twice does no harm."""
        self._runner.close()
        with self._changed:
            self._closing = True
            self._changed.notify_all()
        self._thread.join(FINISH_S)

    def _entry(self, job_id: str) -> _Entry:
        with self._changed:
            found = self._entries.get(job_id)
        if found is None:
            raise NotFound(
                "This computation is over and has been seen. Start it again if you want it.", id=job_id
            )
        return found

    # ---- inside ----------------------------------------------------------------------------------------

    def _heard(self, entry: _Entry, event: JobEvent) -> None:
        """Take down what a job says; runs in a thread of the runner and returns at once."""
        with self._changed:
            if event.kind == "improved":
                entry.improved = event
            elif event.kind in ("done", "stopped", "failed"):
                entry.end = event
            else:
                entry.progress = event
            if not entry.queued:
                entry.queued = True
                self._work.append(entry)
                self._changed.notify_all()

    def _run(self) -> None:
        while True:
            with self._changed:
                self._changed.wait_for(lambda: self._work or self._closing)
                if not self._work:
                    return
                entry = self._work.popleft()
                entry.queued = False
                progress, improved, end = entry.progress, entry.improved, entry.end
                entry.progress = entry.improved = None
            try:
                self._show(entry, progress, improved, end)
            except Exception:
                _log.exception("job %s could not be shown", entry.view.id)

    def _show(
        self, entry: _Entry, progress: JobEvent | None, improved: JobEvent | None, end: JobEvent | None
    ) -> None:
        better = improved is not None and end is None and entry.on_improved is not None
        if progress is not None:
            sentence = progress.sentence or entry.view.sentence
            same = entry.view.state == "running" and sentence == entry.view.sentence
            soon = same and time.monotonic() < entry.told + PROGRESS_EVERY_S
            # a number that is held back goes with the next that is told; words and the end are told always
            publish = not (better or soon or end is not None)
            self._put(entry, publish, state="running", fraction=progress.fraction, sentence=sentence)
        if better:
            self._better(entry, improved)
        if end is not None:
            self._end(entry, end)

    def _better(self, entry: _Entry, improved: JobEvent | None) -> None:
        if improved is None or entry.on_improved is None:
            return
        try:
            self._put(entry, state="running", result=entry.on_improved(improved.value))
        except Exception:
            _log.exception("an improvement of job %s could not be shown", entry.view.id)

    def _end(self, entry: _Entry, end: JobEvent) -> None:
        state = end.kind
        follower = entry.followed_by
        overtaken = follower is not None and follower.ended
        sentence, result = "Stopped. What was there before is unchanged.", entry.view.result
        try:
            if isinstance(end.value, EkeError) and state == "failed":
                said = end.value.message if entry.on_failed is None else entry.on_failed(end.value)
            elif isinstance(end.value, EkeError) or overtaken:
                said = sentence
            elif entry.on_done is not None:
                said = entry.on_done(end.value)
            else:
                said = "Done." if state == "done" else sentence
            if isinstance(said, Ended):
                sentence, result = said.sentence, said.result if said.result is not None else result
            else:
                sentence = said
        except EkeError as error:
            state, sentence = "failed", error.message
        except Exception:
            _log.exception("the result of job %s could not be kept", entry.view.id)
            state, sentence = "failed", OUR_MISTAKE
        self._put(
            entry, state=state, sentence=sentence, result=result, fraction=1.0 if state == "done" else None
        )
        with self._changed:
            if follower is not None:  # nobody waits for it: the newer one is shown
                self._entries.pop(entry.view.id, None)
            ended = [key for key, one in self._entries.items() if one.ended]
            for key in ended[: max(0, len(ended) - KEPT_ENDED)]:
                del self._entries[key]

    def _put(self, entry: _Entry, publish: bool = True, **facts: Any) -> None:
        with self._changed:
            entry.view = entry.view.model_copy(update=facts)
            view = entry.view
        if publish:
            entry.told = time.monotonic()
            self._hub.publish(view)
