"""The process that computes: takes one job after the other, and ends with the process that started it."""

from __future__ import annotations

import contextlib
import importlib
import logging
import os
import pickle
import queue
import signal
import threading
from collections.abc import Sequence
from multiprocessing.connection import Connection
from typing import Any, Final

from eke.jobs.outbox import Message, Outbox
from eke.jobs.report import Report, find, trouble_of

_log = logging.getLogger(__name__)
ORPHANED: Final = 3
"""Exit code of a worker whose parent has gone."""


def be_nice(steps: int) -> None:
    """Let other programs go first, as far as the system knows how."""
    with contextlib.suppress(Exception):
        if hasattr(os, "nice"):
            os.nice(steps)
        elif steps > 0:
            import psutil

            psutil.Process().nice(psutil.BELOW_NORMAL_PRIORITY_CLASS)


def serve(connection: Connection, warm: Sequence[str], nice: int) -> None:
    """Run jobs that come through ``connection`` until it closes. The entry point of a worker."""
    # Ctrl-C in a terminal reaches every process; the parent decides what it means
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    be_nice(nice)
    work: queue.SimpleQueue[tuple[str, str, dict[str, Any]] | None] = queue.SimpleQueue()
    stops: dict[str, threading.Event] = {}

    def listen() -> None:
        while True:
            try:
                message = pickle.loads(connection.recv_bytes())
            except (EOFError, OSError):
                os._exit(ORPHANED)  # the parent is gone: nobody wants the answer
            if message[0] == "run":
                stops[message[1]] = threading.Event()
                work.put((message[1], message[2], message[3]))
            elif message[0] == "stop":
                if stop := stops.get(message[1]):
                    stop.set()
            else:
                work.put(None)

    def send(message: Message) -> None:
        try:
            connection.send_bytes(pickle.dumps(message, protocol=pickle.HIGHEST_PROTOCOL))
        except OSError:
            os._exit(ORPHANED)

    threading.Thread(target=listen, name="listen", daemon=True).start()
    outbox = Outbox(send)
    for module in warm:
        try:
            importlib.import_module(module)
        except Exception:
            _log.exception("could not load %s ahead", module)
    while (job := work.get()) is not None:
        job_id, target, args = job
        outbox.put(("started", job_id, None))
        outbox.put(_run(job_id, target, args, outbox, stops[job_id]))
        stops.pop(job_id, None)
    outbox.flush()


def _run(job_id: str, target: str, args: dict[str, Any], outbox: Outbox, stop: threading.Event) -> Message:
    def say(kind: str, value: Any) -> None:
        if kind == "improved":
            # now, not in the sending thread: the computation may go on to change the value in place
            value = pickle.dumps(value, protocol=pickle.HIGHEST_PROTOCOL)
        outbox.put((kind, job_id, value))

    try:
        value = find(target)(Report(say, stop.is_set), **args)
        return "done", job_id, pickle.dumps(value, protocol=pickle.HIGHEST_PROTOCOL)
    except BaseException as error:  # also SystemExit: a worker outlives its job
        return "trouble", job_id, trouble_of(error, target)
