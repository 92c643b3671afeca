"""Small live pictures: a few lines in a box, of what a step of the job has produced. Geometry only, no colours.

A picture is never a record of anything: it is worked out from what is there, and small enough to send with a
list (at most :data:`MOST_POINTS` points a line).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from eke.pattern.editing import unfolded
from eke.pattern.model import Piece

Ink = Literal["paper", "piece", "derived", "cloth", "hole", "flaw", "text", "note", "attention"]
Points = NDArray[np.float64]

MOST_POINTS: Final = 60
"""Points of one line: enough for a hand's breadth on a screen."""
MOST_LINES: Final = 80
MOST_IN_ALL: Final = 420
"""Points of a whole picture: a few kilobytes."""
FEWEST_POINTS: Final = 8
"""However many lines there are, a line keeps so many points."""
FLATTEN_MM: Final = 1.0
"""A small picture shows a garment a hundred millimetres wide; nobody sees a millimetre of the cloth there."""
GAP: Final = 0.06
"""Gap between things side by side, as a share of the tallest."""


@dataclass(frozen=True, slots=True, eq=False)
class SketchLine:
    """One line: ``points`` is ``(n, 2)``, y up."""

    points: Points
    closed: bool = True
    ink: Ink = "piece"


@dataclass(frozen=True, slots=True, eq=False)
class Sketch:
    """Lines in a box from (0, 0) to (width, height), y up; ``photo`` lies behind them, or is the picture."""

    width: float
    height: float
    lines: tuple[SketchLine, ...] = ()
    photo: str | None = None


def thinned(points: Points, closed: bool = True, most: int = MOST_POINTS) -> Points:
    """Return a line of at most ``most`` points that stays as near to the given one as that allows.

    Douglas and Peucker's choice of points (Cartographica 10, 1973), with the least distance of a doubling
    series that is enough.
    """
    if len(points) <= most:
        return points
    whole = np.vstack([points, points[:1]]) if closed else points
    line = shapely.LineString(whole)
    found = whole
    tolerance = 1e-4 * float(np.ptp(whole, axis=0).max())
    while len(found) > (most + 1 if closed else most):
        found = shapely.get_coordinates(line.simplify(tolerance, preserve_topology=False))
        tolerance *= 2.0
    return found[:-1] if closed else found


def side_by_side(groups: Iterable[Sequence[SketchLine]], *, across: float = 1.6) -> Sketch:
    """Return groups of lines laid out in rows, in their order, in a box about ``across`` times as wide as high."""
    there = [list(lines) for lines in groups if lines]
    if not there:
        return Sketch(1.0, 1.0)
    boxes = [_box(lines) for lines in there]
    tallest = max(y1 - y0 for _, y0, _, y1 in boxes)
    gap = GAP * max(tallest, 1e-9)
    area = sum((x1 - x0 + gap) * (y1 - y0 + gap) for x0, y0, x1, y1 in boxes)
    limit = max(math.sqrt(area * across), max(x1 - x0 for x0, _, x1, _ in boxes))
    rows: list[list[int]] = [[]]
    used = 0.0
    for i, (x0, _, x1, _) in enumerate(boxes):
        if rows[-1] and used + x1 - x0 > limit * 1.05:
            rows.append([])
            used = 0.0
        rows[-1].append(i)
        used += x1 - x0 + gap
    made: list[SketchLine] = []
    width = height = 0.0
    for row in reversed(rows):  # from the bottom up
        x, row_height = 0.0, max(boxes[i][3] - boxes[i][1] for i in row)
        base = height + (gap if height else 0.0)
        for i in row:
            x0, y0, x1, y1 = boxes[i]
            shift = np.array([x - x0, base + (row_height - (y1 - y0)) / 2.0 - y0])
            made += [SketchLine(line.points + shift, line.closed, line.ink) for line in there[i]]
            x += x1 - x0 + gap
        width, height = max(width, x - gap), base + row_height
    return Sketch(width, height, _slim(made))


def _slim(lines: Sequence[SketchLine]) -> tuple[SketchLine, ...]:
    """Return lines that are small together: where there are many, each one gets fewer points."""
    kept = lines[:MOST_LINES]
    total = sum(len(line.points) for line in kept)
    if total <= MOST_IN_ALL:
        return tuple(kept)
    share = MOST_IN_ALL / total
    return tuple(
        SketchLine(
            thinned(line.points, line.closed, max(FEWEST_POINTS, round(share * len(line.points)))),
            line.closed,
            line.ink,
        )
        for line in kept
    )


def in_box(lines: Sequence[SketchLine]) -> Sketch:
    """Return lines as they lie, moved so that their box begins at (0, 0)."""
    if not lines:
        return Sketch(1.0, 1.0)
    x0, y0, x1, y1 = _box(lines)
    shift = np.array([-x0, -y0])
    moved = [SketchLine(one.points + shift, one.closed, one.ink) for one in lines]
    return Sketch(x1 - x0, y1 - y0, _slim(moved))


def _box(lines: Sequence[SketchLine]) -> tuple[float, float, float, float]:
    every = np.vstack([line.points for line in lines])
    (x0, y0), (x1, y1) = every.min(axis=0), every.max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)


def outline_of(piece: Piece, ink: Ink = "piece", *, whole: bool = False) -> SketchLine:
    """Return a piece's net outline; ``whole`` unfolds a half."""
    shown = unfolded(piece) if whole and piece.fold is not None else piece
    return SketchLine(thinned(shown.outline.flatten(FLATTEN_MM)[:-1]), True, ink)


def pieces_sketch(pieces: Iterable[Piece], derived: Iterable[Piece] = ()) -> Sketch:
    """Return pieces side by side, whole, the derived ones after the others."""
    lines = [outline_of(p, whole=True) for p in pieces]
    lines += [outline_of(p, "derived", whole=True) for p in derived]
    return side_by_side([line] for line in lines)


def before_after(changes: Iterable[tuple[Piece | None, Piece | None]]) -> Sketch:
    """Return pieces before (as a note) and after a change, one over the other in the frame of the piece.

    What is new has no line before, what is gone none after. Edges that differ ask for attention.
    """
    groups = []
    for before, after in changes:
        lines: list[SketchLine] = []
        if before is not None and (after is None or before.outline != after.outline):
            lines.append(outline_of(before, "note"))
        if after is not None:
            lines.append(outline_of(after))
            known = {} if before is None else {e.id: e for e in before.edges}
            lines += [
                SketchLine(thinned(e.path.flatten(FLATTEN_MM), closed=False), False, "attention")
                for e in after.edges
                if before is not None and known.get(e.id) != e
            ]
        groups.append(lines)
    return side_by_side(groups)
