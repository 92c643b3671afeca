"""Starts jobs in worker processes, passes on what they say, and sees to it that they end."""

from __future__ import annotations

import contextlib
import logging
import multiprocessing
import os
import pickle
import threading
import uuid
from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import replace
from multiprocessing.connection import Connection
from types import TracebackType
from typing import Any, Final

from eke.errors import EkeError, Stopped
from eke.jobs.job import EventKind, Job, JobEvent, JobView, Listener, stopped_error
from eke.jobs.report import Trouble
from eke.jobs.worker import serve

_log = logging.getLogger(__name__)

GRACE_S: Final = 2.0
"""Time for a job to come to its next look at ``stopped()``, a pass of a numba kernel included."""
NICE: Final = 5
"""Steps down in priority: the maker's other programs stay smooth."""


class Runner:
    """Runs long computations in up to ``max_workers`` processes; more of them wait their turn.

    Workers are spawned (the same on every system), stay for the next job so that loaded libraries and
    compiled kernels stay warm, have low priority, and end with this process however it ends (one that is inside
    compiled code that never gives way ends when it comes out of it). A job cannot start jobs itself.

    Parameters
    ----------
    max_workers
        None: one less than the processors, at least one.
    warm
        Modules that a worker loads when it starts, before its first job.
    grace_s
        How long a job may go on after it was asked to stop.

    Notes
    -----
    The program's main module is imported by spawned processes, so a script has to start its work under
    ``if __name__ == "__main__":``.
    """

    def __init__(
        self,
        max_workers: int | None = None,
        *,
        warm: Sequence[str] = (),
        grace_s: float = GRACE_S,
        nice: int = NICE,
    ) -> None:
        self._max = max(1, max_workers if max_workers is not None else (os.cpu_count() or 2) - 1)
        self._warm = tuple(warm)
        self._grace_s = grace_s
        self._nice = nice
        self._context = multiprocessing.get_context("spawn")
        self._lock = threading.RLock()
        self._waiting: deque[tuple[Job, bytes]] = deque()
        self._workers: list[_Worker] = []
        self._closed = False

    def __enter__(self) -> Runner:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    # ---- what callers do -------------------------------------------------------------------------------

    def start(
        self, target: str, args: Mapping[str, Any] | None = None, listener: Listener | None = None
    ) -> Job:
        """Start ``function(report, **args)``, where ``target`` is its name as ``"package.module:function"``.

        Returns at once. ``args`` have to be picklable; a mistake there raises here.
        """
        job = Job(uuid.uuid4().hex, target, listener, self._cancel)
        message = pickle.dumps(("run", job.id, target, dict(args or {})), protocol=pickle.HIGHEST_PROTOCOL)
        with self._lock:
            if self._closed:
                raise RuntimeError("the runner has been closed")
            self._waiting.append((job, message))
        self._dispatch()
        return job

    def warm_up(self, workers: int = 1) -> None:
        """Start workers ahead, so that the first job need not wait for their libraries."""
        with self._lock:
            while not self._closed and len(self._workers) < min(workers, self._max):
                self._workers.append(_Worker(self))

    def close(self) -> None:
        """Stop all jobs, end all workers and wait for them. Closing twice does no harm."""
        with self._lock:
            self._closed = True
            waiting, workers = list(self._waiting), list(self._workers)
            self._waiting.clear()
        for job, _ in waiting:
            _end(job, "stopped", error=stopped_error())
        for worker in workers:
            if worker.job is not None:
                self._cancel(worker.job)
            worker.end()
        for worker in workers:
            worker.thread.join(self._grace_s + 1)
            if worker.thread.is_alive():
                worker.kill()
                worker.thread.join()

    # ---- inside ----------------------------------------------------------------------------------------

    def _dispatch(self) -> None:
        with self._lock:
            while self._waiting and not self._closed:
                worker = next((one for one in self._workers if one.job is None), None)
                if worker is None:
                    if len(self._workers) >= self._max:
                        return
                    worker = _Worker(self)
                    self._workers.append(worker)
                job, message = self._waiting.popleft()
                worker.job = job
                worker.send(message)

    def _cancel(self, job: Job) -> None:
        with self._lock:
            if job.view().ended:
                return
            job._stop_wanted = True
            waiting = next((one for one in self._waiting if one[0] is job), None)
            if waiting is not None:
                self._waiting.remove(waiting)
            worker = next((one for one in self._workers if one.job is job), None)
        if waiting is not None:
            _end(job, "stopped", error=stopped_error())
        elif worker is not None:
            worker.send(pickle.dumps(("stop", job.id)))
            timer = threading.Timer(self._grace_s, self._kill_if_on, (worker, job))
            timer.daemon = True
            timer.start()

    def _kill_if_on(self, worker: _Worker, job: Job) -> None:
        with self._lock:
            if worker.job is job:
                worker.kill()

    def _heard(self, worker: _Worker, message: tuple[str, str, Any]) -> None:
        """Deal with one message of a worker; runs in the thread of that worker."""
        kind, job_id, value = message
        job = worker.job
        if job is None or job.id != job_id:
            return
        if kind in ("done", "trouble"):
            with self._lock:
                worker.job = None  # before the listener hears of it, who may start the next job
            _finish(job, kind, value)
            self._dispatch()
        elif kind == "started":
            _tell(job, "started", state="running")
        elif kind == "progress":
            _tell(job, "progress", fraction=value[0], sentence=value[1])
        elif kind == "improved":
            _tell(job, "improved", improved=value, improvements=job.view().improvements + 1)

    def _gone(self, worker: _Worker, exit_code: int | None) -> None:
        """Deal with a worker that has ended; runs in the thread of that worker."""
        with self._lock:
            if worker in self._workers:
                self._workers.remove(worker)
            job, worker.job = worker.job, None
        if job is not None and job._stop_wanted:
            _end(job, "stopped", error=stopped_error())
        elif job is not None:
            _log.error("the worker of job %s (%s) ended with code %s", job.id, job.target, exit_code)
            message = (
                "A long computation broke off without an answer, perhaps because the computer ran out of memory. "
                "Nothing was changed. Close other programs and do it again; if it happens again, please report "
                "it together with the log."
            )
            _end(job, "failed", error=EkeError(message, target=job.target, worker_exit_code=exit_code))
        self._dispatch()


class _Worker:
    """One worker process and the thread that listens to it."""

    def __init__(self, runner: Runner) -> None:
        self.job: Job | None = None
        self._runner = runner
        self._send_lock = threading.Lock()
        self._connection, theirs = runner._context.Pipe()
        self._process = runner._context.Process(
            target=serve, args=(theirs, runner._warm, runner._nice), name="eke-worker", daemon=True
        )
        self._process.start()
        # the only other end is now in the worker: when either process ends, the other reads an end of file
        theirs.close()
        self.thread = threading.Thread(target=self._listen, name="eke-worker-listener", daemon=True)
        self.thread.start()

    def send(self, message: bytes) -> None:
        # a worker that has gone is dealt with by the listening thread
        with self._send_lock, contextlib.suppress(OSError, ValueError):
            self._connection.send_bytes(message)

    def end(self) -> None:
        self.send(pickle.dumps(("end",)))

    def kill(self) -> None:
        with contextlib.suppress(OSError, ValueError):
            self._process.kill()

    def _listen(self) -> None:
        while (message := self._receive(self._connection)) is not None:
            self._runner._heard(self, message)
        self._process.join()  # so that no zombie stays
        exit_code = self._process.exitcode
        with self._send_lock:
            self._connection.close()
        self._runner._gone(self, exit_code)

    def _receive(self, connection: Connection) -> tuple[str, str, Any] | None:
        try:
            data = connection.recv_bytes()
        except (EOFError, OSError):
            return None
        try:
            kind, job_id, value = pickle.loads(data)
            return kind, job_id, pickle.loads(value) if kind in ("improved", "done") else value
        except Exception:
            # a value whose class this process cannot find: the worker is of no use to us any more
            _log.exception("an answer of a worker could not be read")
            self.kill()
            return None


# ---- what happens to a job ------------------------------------------------------------------------------


def _finish(job: Job, kind: str, value: Any) -> None:
    if kind == "done":
        if job._stop_wanted:
            _end(job, "stopped", result=value, error=stopped_error("Stopped; this is the best so far."))
        else:
            _end(job, "done", result=value)
        return
    trouble: Trouble = value
    if trouble.trace:
        _log.error("job %s (%s) broke:\n%s", job.id, job.target, trouble.trace)
    error = trouble.error()
    _end(job, "stopped" if isinstance(error, Stopped) else "failed", error=error)


def _end(job: Job, state: EventKind, *, result: Any = None, error: EkeError | None = None) -> None:
    facts: dict[str, Any] = {"state": state, "result": result, "error": error}
    if state == "done":
        facts["fraction"] = 1.0
    _tell(job, state, **facts)


def _tell(job: Job, kind: EventKind, **facts: Any) -> None:
    """Change the view of a job, then tell its listener; an ended job changes no more."""
    with job._changed:
        if job._view.ended:
            return
        view: JobView = replace(job._view, **facts)
        job._view = view
    value = view.improved if kind == "improved" else view.result if view.result is not None else view.error
    event = JobEvent(
        job.id, kind, view.fraction, view.sentence, value if kind not in ("started", "progress") else None
    )
    if job._listener is not None:
        try:
            job._listener(event)
        except Exception:
            _log.exception("the listener of job %s broke", job.id)
    with job._changed:
        job._changed.notify_all()
