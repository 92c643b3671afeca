"""The small pictures on the pegs that are not pieces: photographs, cloths, a lay, paper, a list, a bar."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Final

import numpy as np

from eke.actions.photographs import Photograph
from eke.actions.sketches import Ink, Sketch, SketchLine, in_box, pieces_sketch, side_by_side, thinned
from eke.cloth import Cloth, washed
from eke.cutting import LayPlan
from eke.pattern.model import Piece

MOST_ROWS: Final = 7
"""Rows of a list that a small picture shows."""
MOST_CLOTHS: Final = 6
SHEET: Final = (210.0, 297.0)
"""An upright A4 sheet, ISO 216."""
LAID_POINTS: Final = 30
"""Points of one laid piece: there are twenty of them in the picture."""


def photo_sketch(sha256: str) -> Sketch:
    """Return a photograph as a picture; its own proportions are the window's to find."""
    return Sketch(4.0, 3.0, photo=sha256)


def photograph_sketch(taken: Photograph) -> Sketch:
    """Return a photograph with the outlines that were found on it, in its pixels, y up."""
    height = float(taken.height_px)
    lines = []
    for ink, rows in (("piece", "pieces"), ("cloth", "cloths")):
        for row in (taken.found or {}).get(rows, ()):
            ring = np.asarray(row["outline_px"], dtype=np.float64).reshape(-1, 2)
            if len(ring) >= 3:
                shown = thinned(ring * np.array([1.0, -1.0]) + np.array([0.0, height]))
                lines.append(SketchLine(shown, True, ink))  # type: ignore[arg-type]
    return Sketch(float(taken.width_px), height, tuple(lines), taken.photo)


def cloths_sketch(cloths: Sequence[Cloth]) -> Sketch:
    """Return cloths side by side with their holes and flaws, the largest ones where there are many."""
    largest = sorted(cloths, key=lambda cloth: -cloth.area_mm2)[:MOST_CLOTHS]
    return side_by_side(_cloth_lines(cloth) for cloth in cloths if cloth in largest)


def _cloth_lines(cloth: Cloth) -> list[SketchLine]:
    lines = [_ring(cloth.outline, "cloth")]
    lines += [_ring(hole, "hole") for hole in cloth.holes]
    lines += [_ring(flaw.polygon, "flaw") for flaw in cloth.flaws]
    return lines


def _ring(points: Sequence[Sequence[float]], ink: Ink, most: int | None = None) -> SketchLine:
    array = np.asarray(points, dtype=np.float64)
    return SketchLine(thinned(array) if most is None else thinned(array, most=most), True, ink)


def lay_sketch(plan: LayPlan, cloths: Mapping[str, Cloth]) -> Sketch | None:
    """Return a lay plan: each cloth as it will be when washed, with the pieces on it; nothing without a cloth."""
    groups = []
    for cloth_id in dict.fromkeys(one.cloth for one in plan.laid):
        ground = cloths.get(cloth_id)
        lines = [] if ground is None else _cloth_lines(washed(ground))
        lines += [_ring(one.outline, "piece", LAID_POINTS) for one in plan.on(cloth_id)]
        groups.append(lines)
    return side_by_side(groups) if groups else None


def paper_sketch(pieces: Iterable[Piece]) -> Sketch:
    """Return pieces on a sheet of paper."""
    inner = pieces_sketch(pieces)
    width, height = SHEET
    scale = 0.86 * min(width / inner.width, height / inner.height)
    shift = np.array([(width - inner.width * scale) / 2.0, (height - inner.height * scale) / 2.0])
    sheet = np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])
    lines = [SketchLine(sheet, True, "paper")]
    lines += [SketchLine(one.points * scale + shift, one.closed, one.ink) for one in inner.lines]
    return Sketch(width, height, tuple(lines))


def list_sketch(done: Sequence[bool]) -> Sketch:
    """Return the first rows of a list that are not done, after the last one that is: boxes, ticks, lines of words."""
    start = max(0, min(sum(done) - 1, len(done) - MOST_ROWS))
    rows = list(done[start : start + MOST_ROWS])
    lines: list[SketchLine] = []
    for i, ticked in enumerate(rows):
        y = 10.0 * (len(rows) - i)
        box = np.array([[0.0, y - 6.0], [6.0, y - 6.0], [6.0, y], [0.0, y]])
        lines.append(SketchLine(box, True, "text"))
        if ticked:
            lines.append(
                SketchLine(np.array([[1.0, y - 3.0], [2.5, y - 5.0], [5.5, y - 0.5]]), False, "note")
            )
        length = (46.0, 38.0, 52.0)[i % 3]
        lines.append(SketchLine(np.array([[10.0, y - 3.0], [10.0 + length, y - 3.0]]), False, "text"))
    return in_box(lines)


def bar_sketch(share: float) -> Sketch:
    """Return how much of a whole is gone; more than all of it asks for attention."""
    width, height = 100.0, 24.0
    gone = width * min(max(share, 0.0), 1.0)
    frame = np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])
    lines = [SketchLine(frame, True, "text")]
    if gone > 0.5:
        inner = np.array([[0.0, 0.0], [gone, 0.0], [gone, height], [0.0, height]])
        lines.append(SketchLine(inner, True, "attention" if share > 1.0 else "piece"))
    return Sketch(width, height, tuple(lines))
