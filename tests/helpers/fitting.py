"""A mock-up piece after its fitting, made: what a known change does to a piece of the tunic, taken in as its tracing."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np

from eke.actions import patterns
from eke.actions.room import Room
from eke.geometry import Move
from eke.pattern.model import Piece
from helpers import tunic

TUNIC = tunic.TUNIC
WORTH_MM = 1.0
MOVE = Move.rotation(14.0, (90.0, 200.0)).then(Move.translation(700.0, -130.0))
PHOTO = "ab" * 32


def shaped(room: Room, kind: str, params: dict[str, Any], piece: str = "front") -> Piece:
    """What a fitting makes of a piece; the pattern stays."""
    return room.try_garment(TUNIC, kind, params).replayed.state.piece(piece)


def trace(
    room: Room,
    piece: Piece,
    move: Move = MOVE,
    noise_mm: float = 0.25,
    name: str = "fitted front",
    photo: str = PHOTO,
) -> str:
    """Take a piece in as a tracing of its outline, lying elsewhere, with a hand's noise."""
    chance = np.random.default_rng(7)
    edges = list(piece.edges)
    if move.flips:
        edges.reverse()
    rows, corners = [], []
    for edge in edges:
        path = edge.path.moved(move)
        path = path.reversed() if move.flips else path
        flat = path.points_at(np.linspace(0.0, path.length_mm, max(3, int(path.length_mm / 15.0))))
        flat[1:-1] += chance.normal(0.0, noise_mm, (len(flat) - 2, 2))
        corners.append(flat[0].tolist())
        rows += [{"kind": "line", "points": [p.tolist(), q.tolist()]} for p, q in pairwise(flat)]
    tracing = {"photo": photo, "reference": "a4", "scale_percent": 0.1, "uncertainty_mm": WORTH_MM}
    params = {"name": name, "segments": rows, "corners": corners, "tracing": tracing}
    return patterns.change(room, TUNIC, "trace.add", params).id


def taken_in(room: Room) -> Piece:
    seam = next(s.id for s in room.garment(TUNIC).pattern.seams.values() if s.name == "side")
    knots = [[0.0, 0.0], [170.0, 9.0], [345.0, 0.0]]
    return shaped(room, "fit.take_in", {"seam": seam, "knots": knots, "share_a": 1.0})
