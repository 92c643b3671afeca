"""Two tracings of one piece, compared: which pieces of a garment may be that, and how far apart they lie."""

from __future__ import annotations

from collections.abc import Sequence

from eke.actions.room import Room
from eke.errors import BadInput
from eke.pattern.model import Piece
from eke.pattern.twice import Compared, compare, twins


def like_pieces(room: Room, garment: str) -> tuple[tuple[str, str, float], ...]:
    """Return pairs of pieces that may be tracings of one piece, with how far apart they lie in mm, nearest first."""
    state = room.garment(garment)
    key = ("like pieces", state.id, state.revision)
    found: Sequence[tuple[str, str, float]] = room.answers.of(key, lambda: tuple(twins(state.pattern)))
    return tuple(found)


def compare_tracings(room: Room, garment: str, first: str, second: str) -> tuple[Piece, Piece, Compared]:
    """Return two pieces of a garment and how the second lies on the first.

    Raises
    ------
    BadInput
        When they are one piece, or hardly tracings of the same.
    NotFound
        When one of them is not there.
    """
    pattern = room.garment(garment).pattern
    one, other = pattern.piece(first), pattern.piece(second)
    if one.id == other.id:
        raise BadInput("A piece is compared with another tracing of it, not with itself.")
    return one, other, compare(one, other)
