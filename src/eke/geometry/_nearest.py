"""The place of a chain of lines and cubics that is nearest to a point."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from eke.geometry import _arclength as lengths
from eke.geometry.move import Pt
from eke.geometry.segments import Segment, distance, foot
from eke.geometry.tolerance import JOIN_MM

Points = npt.NDArray[np.float64]

_SPANS = 24
"""Spans of a cubic in which the nearest point is looked for, each by itself: a cubic has five places at most
where its distance to a point turns, so that a span of a twenty-fourth has hardly ever more than one."""


def nearest_place(
    segments: Sequence[Segment], control: Points, table: lengths.ArcTable, pt: Pt
) -> tuple[float, int, float]:
    """Return the distance to ``pt`` in mm, and segment and parameter of the place; the first one where several are."""
    best: tuple[float, int, float] | None = None
    lines = np.flatnonzero(table.is_line)
    if len(lines):
        p, d = table.power[lines, 0], table.power[lines, 1]
        square = np.maximum(np.sum(d * d, axis=1), JOIN_MM**2)
        t = np.clip(np.sum((np.array(pt) - p) * d, axis=1) / square, 0.0, 1.0)
        off = p + t[:, None] * d - np.array(pt)
        gaps = np.hypot(off[:, 0], off[:, 1])
        k = int(np.argmin(gaps))
        best = (float(gaps[k]), int(lines[k]), float(t[k]))
    for low, s, t0, t1 in _hopeful_spans(control, table, pt):
        if best is not None and low >= best[0]:
            break
        u = foot(segments[s], pt, t0, t1)
        found = (distance(segments[s].point(u), pt), s, u)
        best = found if best is None else min(best, found)
    assert best is not None  # a chain has at least one segment
    return best


def _hopeful_spans(control: Points, table: lengths.ArcTable, pt: Pt) -> list[tuple[float, int, float, float]]:
    """Return spans of the curves as (least possible distance to ``pt``, segment, t0, t1), nearest first."""
    segment = np.flatnonzero(~table.is_line)
    if not len(segment):
        return []
    ts = np.tile(np.linspace(0.0, 1.0, _SPANS + 1), (len(segment), 1))
    samples = lengths.evaluate(table, np.repeat(segment, _SPANS + 1), ts.ravel())
    gaps = np.hypot(samples[:, 0] - pt[0], samples[:, 1] - pt[1]).reshape(ts.shape)
    # no cubic runs faster than three times its longest control leg
    legs = np.diff(control, axis=1)
    fastest = 3.0 * np.hypot(legs[..., 0], legs[..., 1]).max(axis=1)
    step_mm = (fastest[segment] / _SPANS)[:, None]
    least = np.maximum((gaps[:, :-1] + gaps[:, 1:] - step_mm) / 2.0, 0.0)
    # rounding must not rule out the span that holds the point when it is one of the samples
    rows, columns = np.nonzero(least <= gaps.min() + JOIN_MM)
    order = np.argsort(least[rows, columns], kind="stable")
    return [
        (float(least[r, c]), int(segment[r]), float(ts[r, c]), float(ts[r, c + 1]))
        for r, c in zip(rows[order], columns[order], strict=True)
    ]
