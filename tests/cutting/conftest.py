import sys
from collections.abc import Sequence
from pathlib import Path as FilePath

import numpy as np
import pytest

from eke.cloth import Cloth
from eke.cutting import CutPiece
from eke.geometry.path import Path
from eke.lay import Answer, Placement, Verdict
from eke.pattern.model import CutOf, Edge, EdgeId, Piece, PieceId

ROOT = FilePath(__file__).resolve().parents[2]
if str(ROOT) not in sys.path:
    # the tools that make goldens are no part of the package
    sys.path.insert(0, str(ROOT))


def square_piece(name="panel", width=200.0, height=300.0, **more) -> Piece:
    """A rectangle with edges bottom (hem), right, top, left."""
    corners = [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]
    kinds = {"bottom": "hem"}
    edges = tuple(
        Edge(
            EdgeId(f"{name}.{side}"),
            Path.line(corners[i], corners[(i + 1) % 4]),
            kind=kinds.get(side, "seam"),
            name=side,
        )
        for i, side in enumerate(("bottom", "right", "top", "left"))
    )
    return Piece(PieceId(name), name.capitalize(), edges, **more)


def half_piece(name="front", width=150.0, height=400.0, count=1) -> Piece:
    """The right half of a front: fold on its left edge at x = 0, and a slanted side."""
    corners = [(0.0, 0.0), (width + 40.0, 0.0), (width, height), (0.0, height)]
    names = ("hem", "side", "top", "centre")
    kinds = ("hem", "seam", "seam", "fold")
    edges = tuple(
        Edge(
            EdgeId(f"{name}.{names[i]}"),
            Path.line(corners[i], corners[(i + 1) % 4]),
            kind=kinds[i],
            name=names[i],
        )
        for i in range(4)
    )
    return Piece(
        PieceId(name), name.capitalize(), edges, fold=EdgeId(f"{name}.centre"), cuts=(CutOf(count=count),)
    )


def flag(id_="flag", **more) -> CutPiece:
    """A shape without any symmetry: no turn or mirror image of it looks alike."""
    outline = ((0.0, 0.0), (120.0, 0.0), (120.0, 90.0), (60.0, 90.0), (40.0, 260.0), (0.0, 300.0))
    return CutPiece(id_, id_, id_, "outer", outline, **more)


def in_a_row(problem, turn=0.0, gap=5.0) -> Answer:
    """A lay by hand: every copy on the first sheet, side by side, all at the same turn; no packing needed."""
    sheet = problem.sheets[0]
    x, y = np.asarray(sheet.outline).min(axis=0) + gap
    placements = []
    for part in problem.parts:
        turn_rad = np.radians(turn)
        matrix = np.array([[np.cos(turn_rad), np.sin(turn_rad)], [-np.sin(turn_rad), np.cos(turn_rad)]])
        turned = np.asarray(part.outline) @ matrix
        low, high = turned.min(axis=0), turned.max(axis=0)
        for _ in range(part.count):
            placements.append(Placement(part.id, sheet.id, turn, float(x - low[0]), float(y - low[1])))
            x += high[0] - low[0] + gap
    return Answer(tuple(placements), {}, 1, 0.0, 0, Verdict(True), problem=problem)


def turned_cloth(width, length, grain_deg, **more) -> Cloth:
    """A rectangle of cloth whose warp runs at ``grain_deg``, lying so on the table."""
    turn = np.radians(grain_deg - 90.0)
    matrix = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    outline = np.array([(0, 0), (width, 0), (width, length), (0, length)], float) @ matrix
    return Cloth("c", "curtain", tuple(map(tuple, outline)), grain_deg=grain_deg, **more)


@pytest.fixture
def pieces() -> Sequence[CutPiece]:
    return (flag("a"), flag("b", copies=2))
