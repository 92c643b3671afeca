"""Small words that every sentence of Eke is put together with."""

from __future__ import annotations

from collections.abc import Iterable


def in_a_row(words: Iterable[str]) -> str:
    """Return words as a sentence has them, each once: ``a``, ``a and b``, ``a, b and c``; empty where there are none."""
    *most, last = dict.fromkeys(words) or [""]
    return f"{', '.join(most)} and {last}" if most else last
