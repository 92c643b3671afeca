"""What is sent to every open window: a hub, and the stream of one window.

A window that listens slowly never holds up a writer: of each job only the newest state waits for it, of each
history only the newest revision, so what waits is bounded by what there is. A window that reconnects hears
``hello`` and fetches anew; nothing is replayed.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import AsyncIterator
from typing import Final

from pydantic import BaseModel

from eke.web.models.workroom import JobView, PhoneView, RevisionEvent

PING_S: Final = 15.0
"""A comment this often: a window notices a server that has gone, and the server a window."""
RETRY_MS: Final = 1000
"""How long a window waits before it connects again."""

Event = RevisionEvent | JobView | PhoneView
_NAMES: Final = {RevisionEvent: "revision", JobView: "job", PhoneView: "phone"}


class Hello(BaseModel):
    """The first event of every stream: which server this is."""

    version: str
    started: str
    """Moment of the start, ISO 8601 UTC: another one means another server, and everything is fetched anew."""


def frame(name: str, data: BaseModel) -> bytes:
    """Return one event as it travels: WHATWG HTML, 9.2 “Server-sent events”. JSON has no line breaks."""
    return f"event: {name}\ndata: {data.model_dump_json()}\n\n".encode()


class Listening:
    """One window that listens. Made by :meth:`Hub.listen`, used in the event loop that serves it."""

    def __init__(self, loop: asyncio.AbstractEventLoop) -> None:
        self._loop = loop
        self._waiting: dict[str, Event] = {}
        self._lock = threading.Lock()
        self._some = asyncio.Event()
        self.ended = False

    def put(self, key: str, event: Event) -> None:
        """Leave an event for it, in place of an older one of the same key. From any thread."""
        with self._lock:
            self._waiting.pop(key, None)
            self._waiting[key] = event
        self._wake()

    def end(self) -> None:
        """Let the stream end. From any thread."""
        self.ended = True
        self._wake()

    def _wake(self) -> None:
        try:
            self._loop.call_soon_threadsafe(self._some.set)
        except RuntimeError:
            self.ended = True  # its loop has closed

    def _take(self) -> list[Event]:
        with self._lock:
            taken = list(self._waiting.values())
            self._waiting.clear()
        return taken

    async def stream(self, hello: Hello, ping_s: float = PING_S) -> AsyncIterator[bytes]:
        """Yield what there is to send until the hub closes."""
        yield f"retry: {RETRY_MS}\n\n".encode()
        yield frame("hello", hello)
        while not self.ended:
            self._some.clear()
            taken = self._take()
            for event in taken:
                yield frame(_NAMES[type(event)], event)
            if taken or self.ended:
                continue
            try:
                await asyncio.wait_for(self._some.wait(), ping_s)
            except TimeoutError:
                yield b": ping\n\n"


class Hub:
    """Passes events on to all that listen. :meth:`publish` may be called from any thread."""

    def __init__(self) -> None:
        self._listening: set[Listening] = set()
        self._lock = threading.Lock()
        self._closed = False

    def publish(self, event: Event) -> None:
        """Send an event to every window that listens now."""
        if isinstance(event, RevisionEvent):
            key = f"revision {event.log} {event.about}"
        elif isinstance(event, JobView):
            key = f"job {event.id}"
        else:
            key = "phone"
        with self._lock:
            listening = tuple(self._listening)
        for one in listening:
            one.put(key, event)

    def listen(self) -> Listening:
        """Begin to listen; to be called in the event loop. Events from now on are kept for it."""
        one = Listening(asyncio.get_running_loop())
        with self._lock:
            if self._closed:
                one.ended = True
            else:
                self._listening.add(one)
        return one

    def leave(self, one: Listening) -> None:
        """Stop listening."""
        with self._lock:
            self._listening.discard(one)

    def count(self) -> int:
        """Return how many windows listen."""
        with self._lock:
            return len(self._listening)

    def close(self) -> None:
        """End all streams, and those that come after at once."""
        with self._lock:
            self._closed = True
            listening = tuple(self._listening)
            self._listening.clear()
        for one in listening:
            one.end()
