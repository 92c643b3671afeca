"""Primitive: move a stretch of a line, the rest following smoothly.

A *field* says how each place of a path is shifted, by its arc length. The moved path is the Hermite interpolation of
the exactly shifted one: where the field stands still at an end (its slope is 0), the direction there is kept.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from eke.geometry import Cubic, Path, Pt
from eke.geometry.segments import Segment
from eke.pattern.model import Edge

Field = Callable[[NDArray[np.float64]], NDArray[np.float64]]
"""Shifts ``(n, 2)`` at arc lengths ``(n,)``."""

SPAN_MM: Final = 25.0
"""Curves are bent in spans of at most so much: the interpolation is then true to hundredths of a millimetre."""
MANY_SPANS: Final = 24
"""Long lines are bent in at most about so many spans."""
ROUNDING: Final = 1e-6
"""A stretch that is longer by no more than this share of a span than whole spans has so many: it often has just so many."""
STILL_MM: Final = 1e-9
"""A place that moves by less stays."""
_STEP_MM: Final = 1e-3


def eased(share: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the share of a shift at ``share`` of the way, 0 to 1, standing still at both ends (``3s² - 2s³``)."""
    s = np.clip(share, 0.0, 1.0)
    return np.asarray(s * s * (3.0 - 2.0 * s), dtype=np.float64)


def between_ends(length_mm: float, start: Pt, end: Pt) -> Field:
    """Return the field that shifts the start of a line by one vector and its end by another, smoothly between."""
    a, b = np.array(start), np.array(end)

    def field(mm: NDArray[np.float64]) -> NDArray[np.float64]:
        w = eased(mm / length_mm)[:, None]
        return np.asarray((1.0 - w) * a + w * b, dtype=np.float64)

    return field


def plateau(from_mm: float, to_mm: float, before_mm: float, after_mm: float, by: Pt) -> Field:
    """Return the field that shifts a stretch whole and lets it fade to nothing before and after it.

    Where ``before_mm`` or ``after_mm`` is 0 there is no fading on that side: the shift ends at once.
    """
    vector = np.array(by)

    def field(mm: NDArray[np.float64]) -> NDArray[np.float64]:
        up = eased((mm - from_mm + before_mm) / before_mm) if before_mm > 0.0 else np.ones_like(mm)
        down = eased((to_mm + after_mm - mm) / after_mm) if after_mm > 0.0 else np.ones_like(mm)
        return np.asarray((up * down)[:, None] * vector, dtype=np.float64)

    return field


def bent(path: Path, field: Field) -> Path:
    """Return ``path`` with each place shifted by ``field``; what does not move is kept as it is."""
    span = max(SPAN_MM, path.length_mm / MANY_SPANS)
    segments: list[Segment] = []
    joints = np.array(path.joints_mm)
    counts = [max(1, math.ceil(length / span - ROUNDING)) for length in np.diff(joints)]
    # the field of all segments in one go: each call of it finds places by their arc length
    along = [
        np.linspace(a, b, max(5, 2 * n + 1)) for a, b, n in zip(joints, joints[1:], counts, strict=False)
    ]
    shifts = np.split(field(np.concatenate(along)), np.cumsum([len(mm) for mm in along])[:-1])
    for segment, samples, count in zip(path.segments, shifts, counts, strict=True):
        still = float(np.abs(samples).max()) <= STILL_MM
        constant = float(np.abs(samples - samples[0]).max()) <= STILL_MM
        segments += [segment] if still or constant else _spans(segment, count)
    cut = Path(tuple(segments))
    at = np.array(cut.joints_mm)
    low, high = np.maximum(at - _STEP_MM, 0.0), np.minimum(at + _STEP_MM, cut.length_mm)
    shift, below, above = np.split(field(np.concatenate([at, low, high])), 3)
    slope = (above - below) / (high - low)[:, None]
    control = np.array([segment.control() for segment in cut.segments])
    legs = control[:, 1::2] - control[:, ::2]
    lead, trail = np.hypot(legs[..., 0], legs[..., 1]).T[:, :, None]
    moved = control + np.repeat(np.stack([shift[:-1], shift[1:]], axis=1), 2, axis=1)
    moved[:, 1] += slope[:-1] * lead
    moved[:, 2] -= slope[1:] * trail
    most = np.maximum(np.abs(shift[:-1]), np.abs(shift[1:])).max(axis=1)
    steepest = np.maximum(np.abs(slope[:-1]), np.abs(slope[1:])).max(axis=1)
    made: list[Segment] = []
    for k, (segment, row) in enumerate(zip(cut.segments, moved.tolist(), strict=True)):
        p0, p1, p2, p3 = ((x, y) for x, y in row)
        if most[k] <= STILL_MM and segment in path.segments:
            made.append(segment)
        elif isinstance(segment, Cubic) or steepest[k] > 1e-12:
            made.append(Cubic(p0, p1, p2, p3))
        else:
            made.append(segment.with_ends(p0, p3))
    return Path(tuple(made))


def with_ends_shifted(edge: Edge, start: Pt, end: Pt) -> Edge:
    """Return an edge whose start and end are shifted, each by its own vector; straight edges stay straight."""
    path = edge.path
    if (
        edge.shape == "straight"
        or edge.kind == "fold"
        or (len(path.segments) == 1 and not isinstance(path.segments[0], Cubic))
    ):
        return replace(edge, path=Path.line(_plus(path.start, start), _plus(path.end, end)))
    return replace(edge, path=bent(path, between_ends(path.length_mm, start, end)))


def _spans(segment: Segment, count: int) -> list[Segment]:
    made: list[Segment] = []
    rest = segment
    for k in range(count, 1, -1):
        head, rest = rest.split(1.0 / k)
        made.append(head)
    return [*made, rest]


def _plus(p: Pt, v: Pt) -> Pt:
    return (p[0] + v[0], p[1] + v[1])
