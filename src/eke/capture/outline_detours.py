"""Detours of an outline: where a line that was followed leaves for a letter that touches it, though it is drawn straight on.

The line of a headline, a notch or a word that a broad pen crosses hangs together with the outline, and the way round it
may seem the clearer one. It is a detour where the outline comes back to the line it left, in the same direction, and the
straight way between is inked as the line is before and after.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from eke.capture.lines_centre import profiles
from eke.capture.rectify import Rectified

__all__ = ["without_detours"]

Points = NDArray[np.float64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

LONGEST_MM = 16.0  # from where the line is left to where it is met again
SHORTEST_MM = 1.0
DEEPEST_MM, SHALLOWEST_MM = 14.0, 1.0  # how far aside it leads: further is a dart, nearer a waver
LONGEST_WAY_MM = 48.0
WAY_STEP_MM = 1.5
BESIDE_MM = 6.0  # so much of the line before and after gives its direction and its darkness
STRAIGHT_DEG = 9.0
INK_SHARE = 0.6  # of the darkness before and after, all along the straight way


def without_detours(
    rectified: Rectified, ring: Points, gaps: Flags, step_mm: float, width_mm: float
) -> tuple[Points, Flags]:
    """A closed outline and its flags, straight where it made a detour.

    Parameters
    ----------
    rectified
        The picture.
    ring
        (n, 2) evenly spaced by ``step_mm``, closed.
    gaps
        bool (n,): no line was seen there.
    width_mm
        About the width of the stroke.
    """
    while (found := _largest(rectified, ring, step_mm, width_mm)) is not None:
        start, way = found
        turned, flags = np.roll(ring, -start, axis=0), np.roll(gaps, -start)
        count = max(2, round(math.dist(turned[0], turned[way]) / step_mm))
        straight = turned[0] + np.linspace(0.0, 1.0, count, endpoint=False)[:, None] * (
            turned[way] - turned[0]
        )
        ring = np.concatenate([straight, turned[way:]])
        gaps = np.concatenate([np.zeros(count, dtype=np.bool_), flags[way:]])
    return ring, gaps


def _largest(rectified: Rectified, ring: Points, step_mm: float, width_mm: float) -> tuple[int, int] | None:
    """(first place, steps) of the detour that saves the longest way, or None."""
    n, beside = len(ring), round(BESIDE_MM / step_mm)
    best: list[tuple[float, int, int]] = []
    lean = math.cos(math.radians(STRAIGHT_DEG))
    before = _unit(ring - np.roll(ring, beside, axis=0))
    after = _unit(np.roll(ring, -beside, axis=0) - ring)
    for way in range(
        round(SHORTEST_MM / step_mm) + 2, round(LONGEST_WAY_MM / step_mm), round(WAY_STEP_MM / step_mm)
    ):
        if way + 4 * beside > n:
            break
        chord = np.roll(ring, -way, axis=0) - ring
        long = np.hypot(chord[:, 0], chord[:, 1])
        d = _unit(chord)
        leaves = np.roll(after, -way, axis=0)
        ok = (long > SHORTEST_MM) & (long < LONGEST_MM) & (way * step_mm > long + SHALLOWEST_MM)
        ok &= ((before * d).sum(axis=1) > lean) & ((leaves * d).sum(axis=1) > lean)
        best += [(way * step_mm - float(long[k]), int(k), way) for k in np.flatnonzero(ok)]
    for _, start, way in sorted(best, reverse=True):
        arc = ring[np.arange(start, start + way + 1) % n]
        d = _unit(arc[-1:] - arc[:1])[0]
        aside = np.abs((arc[:, 0] - arc[0, 0]) * d[1] - (arc[:, 1] - arc[0, 1]) * d[0])
        if SHALLOWEST_MM < aside.max() < DEEPEST_MM and _inked(rectified, ring, start, way, beside, width_mm):
            return start, way
    return None


def _inked(rectified: Rectified, ring: Points, start: int, way: int, beside: int, width_mm: float) -> bool:
    """Is the straight way as dark as the line before and after it?"""
    n = len(ring)
    a, b = ring[start], ring[(start + way) % n]
    d = _unit((b - a)[None])[0]
    side = np.array([-d[1], d[0]])
    offsets = np.arange(-2.0, 2.01, 0.25) * max(width_mm, 0.5)
    line = (
        np.concatenate([np.arange(start - beside, start), np.arange(start + way, start + way + beside)]) % n
    )
    own = profiles(rectified, ring[line], np.tile(side, (len(line), 1)), offsets)
    middle = np.abs(offsets) <= 0.5 * max(width_mm, 0.5)
    paper = float(np.quantile(own, 0.15))
    dark = float(np.median(own[:, middle].max(axis=1))) - paper
    along = a + np.linspace(0.0, 1.0, max(4, round(math.dist(a, b) / 0.25)))[:, None] * (b - a)
    here = profiles(rectified, along, np.tile(side, (len(along), 1)), offsets[middle])
    return dark > 0.05 and float(here.max(axis=1).min()) - paper > INK_SHARE * dark


def _unit(v: Points) -> Points:
    return np.asarray(v / np.maximum(np.hypot(v[:, 0], v[:, 1]), 1e-9)[:, None], dtype=np.float64)
