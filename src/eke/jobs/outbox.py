"""The way out of a worker: bounded, in order, the latest progress only, every improvement."""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from typing import Any, Final

MAX_WAITING: Final = 64
"""Improvements that may wait before the computation has to; they can be large."""
PROGRESS_EVERY_S: Final = 0.05
"""Twenty times a second is as often as anybody can read; more only costs time."""

Message = tuple[str, str, Any]
"""Kind, id of the job, value."""


class Outbox:
    """Takes messages from the computing thread and sends them from a thread of its own."""

    def __init__(self, send: Callable[[Message], None]) -> None:
        self._send = send
        self._waiting: deque[Message] = deque()
        self._sending = False
        self._changed = threading.Condition()
        self._thread = threading.Thread(target=self._run, name="outbox", daemon=True)
        self._thread.start()

    def put(self, message: Message) -> None:
        """Queue one message; progress takes the place of progress that was queued just before it."""
        with self._changed:
            last = self._waiting[-1] if self._waiting else None
            if message[0] == "progress" and last is not None and last[:2] == message[:2]:
                self._waiting[-1] = message
                return
            while message[0] == "improved" and len(self._waiting) >= MAX_WAITING:
                self._changed.wait()
            self._waiting.append(message)
            self._changed.notify_all()

    def flush(self) -> None:
        """Wait until all that was put has been sent."""
        with self._changed:
            self._changed.wait_for(lambda: not self._waiting and not self._sending)

    def _run(self) -> None:
        last_progress = float("-inf")
        while True:
            with self._changed:
                while True:
                    wait: float | None = None
                    if self._waiting:
                        if len(self._waiting) > 1 or self._waiting[0][0] != "progress":
                            break
                        # nothing but progress: let it ripen, a newer one may take its place
                        wait = last_progress + PROGRESS_EVERY_S - time.monotonic()
                        if wait <= 0:
                            break
                    self._changed.wait(wait)
                message = self._waiting.popleft()
                self._sending = True
                self._changed.notify_all()
            if message[0] == "progress":
                last_progress = time.monotonic()
            self._send(message)
            with self._changed:
                self._sending = False
                self._changed.notify_all()
