"""What comes before what: a small graph that never goes round in circles."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from typing import Generic, TypeVar

T = TypeVar("T", bound=Hashable)


class Before(Generic[T]):
    """Pairs (a, b): a comes before b. A pair that would close a circle is not taken in."""

    def __init__(self, nodes: Iterable[T] = ()) -> None:
        self._after: dict[T, set[T]] = {node: set() for node in nodes}

    def add(self, first: T, second: T) -> bool:
        """Take in that ``first`` comes before ``second``; ``False`` when that would close a circle."""
        if first == second or self.reaches(second, first):
            return False
        self._after.setdefault(first, set()).add(second)
        self._after.setdefault(second, set())
        return True

    def reaches(self, start: T, end: T) -> bool:
        """Whether ``start`` comes before ``end``, directly or by way of others."""
        seen, open_ = {start}, [start]
        while open_:
            node = open_.pop()
            if node == end:
                return True
            new = self._after.get(node, set()) - seen
            seen |= new
            open_ += new
        return False

    def pairs(self) -> frozenset[tuple[T, T]]:
        """All pairs that were taken in."""
        return frozenset((a, b) for a, after in self._after.items() for b in after)

    def sorted(self, key: Callable[[T], tuple[float, ...]], done: Callable[[T], None]) -> list[T]:
        """All nodes, each after those before it; among those that are free, the least ``key`` comes first.

        ``key`` is asked anew at each step, and ``done`` is told of each choice, so that a key may depend on
        what has been done.
        """
        waiting = dict.fromkeys(self._after, 0)
        for after in self._after.values():
            for node in after:
                waiting[node] += 1
        free = [node for node, count in waiting.items() if count == 0]
        out: list[T] = []
        while free:
            node = min(free, key=key)
            free.remove(node)
            out.append(node)
            done(node)
            for other in self._after[node]:
                waiting[other] -= 1
                if waiting[other] == 0:
                    free.append(other)
        return out
