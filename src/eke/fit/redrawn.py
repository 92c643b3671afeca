"""Ruler steps for any change: the edges that moved, measured from the old line to the new one.

Whatever a change did, the maker can draw it: along each edge that is not where it was, every few centimetres, how far
square to the old line the new one lies. Pieces that are new, and edges that came or went, are told to be printed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from eke.fit.ruler import EVERY_MM, TRIFLE_MM, RulerRow, RulerStep, end_names
from eke.geometry import Path, intersections
from eke.pattern.corners import called
from eke.pattern.model import Edge, Pattern, Piece
from eke.units import format_mm

FARTHEST_MM: Final = 120.0
"""What lies farther from the old line is quicker printed than measured."""


@dataclass(frozen=True, slots=True)
class Redrawn:
    """The steps on the old paper, and the names of pieces that had better be printed again."""

    steps: tuple[RulerStep, ...]
    print_again: tuple[str, ...]


def redrawn(before: Pattern, after: Pattern, unit: str = "mm") -> Redrawn:
    """Return how to draw on the pieces of ``before`` what they are in ``after``."""
    steps: list[RulerStep] = []
    again: list[str] = [p.name for k, p in after.pieces.items() if k not in before.pieces]
    for piece_id, old in before.pieces.items():
        new = after.pieces.get(piece_id)
        if new is None or new.edges == old.edges:
            continue
        own: list[RulerStep] = []
        measured = {e.id for e in new.edges} == {e.id for e in old.edges}
        for edge in old.edges if measured else ():
            rows = _rows(edge, new.edge(edge.id).path)
            if rows is None:
                measured = False
                break
            if max(abs(r.in_mm) for r in rows) >= TRIFLE_MM:
                own.append(_step(old, edge, rows, unit))
        if measured:
            steps += own
        else:
            again.append(new.name)
    return Redrawn(tuple(steps), tuple(again))


def _rows(edge: Edge, new: Path) -> tuple[RulerRow, ...] | None:
    """Places along the old edge with the distance to the new one; nothing where it lies too far away."""
    path = edge.path
    count = max(2, round(path.length_mm / EVERY_MM) + 1)
    rows = []
    line = _run_on(new)
    for mm in np.linspace(0.0, path.length_mm, count):
        (x, y), (u, v) = path.point_at(float(mm)), path.normal_at(float(mm))
        square = Path.line(
            (x - FARTHEST_MM * u, y - FARTHEST_MM * v), (x + FARTHEST_MM * u, y + FARTHEST_MM * v)
        )
        met = [m.at_b_mm - FARTHEST_MM for m in intersections(line, square)]
        if not met:
            return None
        rows.append(RulerRow(float(mm), min(met, key=abs), (x, y)))
    return tuple(rows)


def _run_on(path: Path) -> Path:
    """The new line, run on straight at both ends: the maker's ruler does the same where corners moved."""
    (x, y), (u, v) = path.start, path.tangent_at(0.0)
    (p, q), (s, t) = path.end, path.tangent_at(path.length_mm, side="before")
    far = FARTHEST_MM
    head = Path.line((x - far * u, y - far * v), (x, y))
    return head.joined(path).joined(Path.line((p, q), (p + far * s, q + far * t)))


def _step(piece: Piece, edge: Edge, rows: tuple[RulerRow, ...], unit: str) -> RulerStep:
    start, end = end_names(piece, edge)
    said = []
    for row in rows:
        where = (
            f"at {start}"
            if row.along_mm < 1.0
            else f"at {end}"
            if row.along_mm > edge.path.length_mm - 1.0
            else f"{format_mm(row.along_mm, unit)} along"
        )
        way = "in" if row.in_mm > 0.0 else "out"
        amount = "0" if abs(row.in_mm) < TRIFLE_MM else f"{format_mm(abs(row.in_mm), unit)} {way}"
        said.append(f"{where} {amount}")
    name = called(piece, edge)
    sentence = (
        f"{piece.name}, {name}, from {start}: {'; '.join(said)}, square to the old line. Join the marks with a smooth line, "
        "up to where the lines beside it meet it."
    )
    return RulerStep(piece.id, piece.name, name, start, end, rows, sentence)
