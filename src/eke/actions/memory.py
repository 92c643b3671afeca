"""A small memory for answers that are dear to work out: by key, bounded, safe to share between threads."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

K = TypeVar("K", bound=Hashable)
V = TypeVar("V")


class Memory(Generic[K, V]):
    """Keeps the last ``limit`` answers. A key has to hold all that decides the answer."""

    __slots__ = ("_held", "_limit", "_lock")

    def __init__(self, limit: int) -> None:
        self._held: OrderedDict[K, V] = OrderedDict()
        self._limit = limit
        self._lock = threading.Lock()

    def __len__(self) -> int:
        return len(self._held)

    def of(self, key: K, make: Callable[[], V]) -> V:
        """Return what is remembered under ``key``; made, and remembered, when there is nothing."""
        with self._lock:
            if key in self._held:
                self._held.move_to_end(key)
                return self._held[key]
        made = make()  # outside the lock: two threads may both work it out, and get the same
        with self._lock:
            self._held[key] = made
            self._held.move_to_end(key)
            while len(self._held) > self._limit:
                self._held.popitem(last=False)
        return made

    def clear(self) -> None:
        """Forget everything."""
        with self._lock:
            self._held.clear()
