"""Paths as rows of numbers, as they are kept in files."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from eke.errors import BadInput
from eke.geometry.path import Path
from eke.geometry.segments import Cubic, Line, Segment


def path_to_json(path: Path) -> list[list[Any]]:
    """Return the path as rows: ``["L", x0, y0, x1, y1]`` or ``["C", x0, y0, …, x3, y3]``."""
    return [
        ["L" if isinstance(s, Line) else "C", *(float(v) for p in s.points for v in p)] for s in path.segments
    ]


def path_from_json(rows: Sequence[Sequence[Any]]) -> Path:
    """Return the path that :func:`path_to_json` wrote. Raises :class:`BadInput` on anything else."""
    segments: list[Segment] = []
    for row in rows:
        try:
            kind, values = row[0], [float(v) for v in row[1:]]
        except (TypeError, ValueError, IndexError) as error:
            raise BadInput(
                "A line in the file holds something that is no number. Nothing was read."
            ) from error
        pts = list(zip(values[::2], values[1::2], strict=False))
        if kind == "L" and len(values) == 4:
            segments.append(Line(pts[0], pts[1]))
        elif kind == "C" and len(values) == 8:
            segments.append(Cubic(pts[0], pts[1], pts[2], pts[3]))
        else:
            raise BadInput(f"A line in the file has a stretch of unknown kind “{kind}”. Nothing was read.")
    return Path(tuple(segments))
