"""What the maker of the demo sees and says: which outline is which piece, which edge is which.

A person looks at the paper and knows. Here the eye is replaced by laying our own draft over the traced outline;
what is passed on to Eke is only what a maker would say: a name and a kind for an edge that is there, a corner
that was missed, two edges that are one.
"""

from __future__ import annotations

import math

import numpy as np
from shapely.geometry import Point, Polygon

from demo.garments import DraftPiece
from eke.actions.patterns import change
from eke.actions.photographs import Photograph
from eke.actions.room import Room
from eke.geometry import Cubic, Line, Move, Path, Pt, register
from eke.pattern.model import Piece

CORNER_MM = 8.0
"""The maker sees a corner where one of the draft's lies farther than this from every traced one."""


def outline_at(picture: Photograph, tap_px: tuple[float, float]) -> str:
    """Return the name of the traced outline that a tap on the photograph falls into."""
    rows = [
        (Polygon(row["outline_px"]).area, row["name"])
        for row in (picture.found or {}).get("pieces", ())
        if Polygon(row["outline_px"]).contains(Point(tap_px))
    ]
    if not rows:
        raise SystemExit(f"nothing was traced at {tap_px} in “{picture.name}”")
    return str(min(rows)[1])


def draft_path(draft: DraftPiece) -> Path:
    """Return the outline of a draft as a path."""
    return Path(tuple(s for edge in draft.edges for s in _segments(edge.path)))


def _segments(chain: tuple[np.ndarray, ...]) -> list[Line | Cubic]:
    made: list[Line | Cubic] = []
    for points in chain:
        pts: list[Pt] = [(float(x), float(y)) for x, y in points]
        made.append(Line(pts[0], pts[1]) if len(pts) == 2 else Cubic(pts[0], pts[1], pts[2], pts[3]))
    return made


def say_edges(room: Room, garment: str, piece_id: str, draft: DraftPiece) -> list[str]:
    """Say of each edge of a traced piece what it is; return the sentences of the steps."""
    said: list[str] = []
    piece = room.garment(garment).pattern.piece(piece_id)
    move = _lay(draft, piece)
    corners = [move.apply((float(x), float(y))) for x, y in draft.corners]
    for corner in corners:
        piece = room.garment(garment).pattern.piece(piece_id)
        if min(math.dist(corner, e.path.start) for e in piece.edges) > CORNER_MM:
            edge = min(piece.edges, key=lambda e: e.path.nearest(corner).distance_mm)
            said.append(
                change(room, garment, "edge.split", {"edge": edge.id, "point": list(corner)}).sentence
            )
    # two traced edges that are one in the maker's eyes
    while True:
        piece = room.garment(garment).pattern.piece(piece_id)
        meant = [_draft_edge(draft, move, e.path) for e in piece.edges]
        pair = next(
            (i for i in range(len(meant)) if len(meant) > 1 and meant[i] == meant[(i + 1) % len(meant)]), None
        )
        if pair is None:
            break
        first, second = piece.edges[pair], piece.edges[(pair + 1) % len(piece.edges)]
        said.append(change(room, garment, "edge.merge", {"first": first.id, "second": second.id}).sentence)
    for edge, name in zip(piece.edges, meant, strict=True):
        kind = draft.edge(name).kind
        params = {"edge": edge.id, "name": name.replace("_", " "), "kind": kind}
        said.append(change(room, garment, "edge.set", params).sentence)
    return said


def _lay(draft: DraftPiece, piece: Piece) -> Move:
    """Lay the draft over the traced piece, keeping up what is up: both have their grain along +y."""
    return register(draft_path(draft), piece.outline).move


def _draft_edge(draft: DraftPiece, move: Move, path: Path) -> str:
    middle = path.point_at(path.length_mm / 2.0)

    def off(edge_id: str) -> float:
        there = Path(tuple(s.moved(move) for s in _segments(draft.edge(edge_id).path)))
        return there.nearest(middle).distance_mm

    return min((e.id for e in draft.edges), key=off)
