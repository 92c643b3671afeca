"""Both halves of a piece that is drawn whole, laid on one another: which line is its middle, and how far they lie apart."""

from __future__ import annotations

from dataclasses import dataclass

from eke.actions.room import Room
from eke.errors import BadInput
from eke.pattern.halves import Halves, halves_of, middles_for_edge
from eke.pattern.middle import By, Middle, middles_of
from eke.pattern.model import Edge, Piece


@dataclass(frozen=True, slots=True)
class LaidHalves:
    """What was found: over the line that was asked for, or ``why`` nothing can be told over it."""

    piece: Piece
    edge: Edge | None
    middles: tuple[Middle, ...]
    middle: Middle
    found: Halves | None
    why: str | None


def lay_halves(
    room: Room, garment: str, piece_id: str, *, edge_id: str | None = None, by: By | None = None
) -> LaidHalves:
    """Return how far both halves of a piece, or of one edge of it, lie apart over one of the lines that may be its middle.

    Parameters
    ----------
    by
        How the middle is found; nothing: as proposed.

    Raises
    ------
    BadInput
        When the piece is a half on the fold, or has no such line.
    NotFound
        When the piece or the edge is not there.
    """
    pattern = room.garment(garment).pattern
    piece = pattern.piece(piece_id)
    edge = piece.edge(pattern.resolve(edge_id)) if edge_id is not None else None
    middles = middles_of(piece) if edge is None else middles_for_edge(piece, edge)
    middle = next((one for one in middles if by is None or one.by == by), None)
    if piece.fold is None and middle is not None:
        try:
            found = halves_of(pattern, piece.id, edge_id=None if edge is None else edge.id, middle=by)
        except BadInput as no:
            return LaidHalves(piece, edge, middles, middle, None, no.message)
        return LaidHalves(piece, edge, middles, found.middle, found, None)
    # it says why there is no such line, or that it is a half
    found = halves_of(pattern, piece.id, edge_id=edge_id, middle=by)
    return LaidHalves(piece, edge, middles, found.middle, found, None)
