"""Detours of an outline: where a line that was followed leaves for a letter that touches it, though it is drawn straight on.

The line of a headline, a notch or a word that a broad pen crosses hangs together with the outline, and the way round it
may seem the clearer one. It is a detour where the outline comes back to the line it left, as that runs on straight or in
an even bow, and the way between is inked as the line is before and after.
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
BOW_DEG = 25.0  # a bow turns by so much at most from where it is left to the chord, and as much again beyond
INK_SHARE = 0.6  # of the darkness before and after, all along the way between
INK_STEP_MM = 0.25


def without_detours(
    rectified: Rectified, ring: Points, gaps: Flags, step_mm: float, width_mm: float
) -> tuple[Points, Flags]:
    """A closed outline and its flags, straight or in an even bow where it made a detour.

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
        between = _between(ring, start, way, round(BESIDE_MM / step_mm), step_mm)[:-1]
        ring = np.concatenate([between, np.roll(ring, -start, axis=0)[way:]])
        gaps = np.concatenate([np.zeros(len(between), dtype=np.bool_), np.roll(gaps, -start)[way:]])
    return ring, gaps


def _largest(rectified: Rectified, ring: Points, step_mm: float, width_mm: float) -> tuple[int, int] | None:
    """(first place, steps) of the detour that saves the longest way, or None."""
    n, beside = len(ring), round(BESIDE_MM / step_mm)
    best: list[tuple[float, int, int]] = []
    straight, bow = math.radians(STRAIGHT_DEG), math.radians(BOW_DEG)
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
        ok = (long > SHORTEST_MM) & (long < LONGEST_MM) & (way * step_mm > long + SHALLOWEST_MM)
        first, last = _turns(before, d), _turns(d, np.roll(after, -way, axis=0))
        most = np.maximum(np.abs(first), np.abs(last))
        ok &= (most < straight) | ((most < bow) & (np.abs(first - last) < straight))
        best += [(way * step_mm - float(long[k]), int(k), way) for k in np.flatnonzero(ok)]
    for _, start, way in sorted(best, reverse=True):
        arc = ring[np.arange(start, start + way + 1) % n]
        d = _unit(arc[-1:] - arc[:1])[0]
        aside = np.abs((arc[:, 0] - arc[0, 0]) * d[1] - (arc[:, 1] - arc[0, 1]) * d[0])
        if SHALLOWEST_MM < aside.max() < DEEPEST_MM and _inked(rectified, ring, start, way, beside, width_mm):
            return start, way
    return None


def _turns(one: Points, other: Points) -> Floats:
    """Signed angles in rad from unit vectors to others."""
    cross = one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0]
    return np.asarray(np.arctan2(cross, (one * other).sum(axis=1)))


def _between(ring: Points, start: int, way: int, beside: int, step_mm: float) -> Points:
    """The line as it would run on from where it is left to where it is met again: Hermite's cubic, both ends included."""
    n = len(ring)
    a, b = ring[start], ring[(start + way) % n]
    long = math.dist(a, b)
    tangents = long * _unit(np.array([a - ring[start - beside], ring[(start + way + beside) % n] - b]))
    t = np.linspace(0.0, 1.0, max(2, round(long / step_mm)) + 1)[:, None]
    return np.asarray(
        (1 + 2 * t) * (1 - t) ** 2 * a
        + t**2 * (3 - 2 * t) * b
        + t * (1 - t) ** 2 * tangents[0]
        - t**2 * (1 - t) * tangents[1],
        dtype=np.float64,
    )


def _inked(rectified: Rectified, ring: Points, start: int, way: int, beside: int, width_mm: float) -> bool:
    """Is the way between as dark as the line before and after it?"""
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
    along = _between(ring, start, way, beside, INK_STEP_MM)
    here = profiles(rectified, along, np.tile(side, (len(along), 1)), offsets[middle])
    return dark > 0.05 and float(here.max(axis=1).min()) - paper > INK_SHARE * dark


def _unit(v: Points) -> Points:
    return np.asarray(v / np.maximum(np.hypot(v[:, 0], v[:, 1]), 1e-9)[:, None], dtype=np.float64)
