"""Strategy for strips (first version below)."""

from __future__ import annotations

from eke.lay.search.hand import Hand


def search(hand: Hand) -> None:
    """Not yet."""
    raise NotImplementedError
