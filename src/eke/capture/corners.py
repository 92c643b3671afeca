"""Corners of a closed outline that a hand has drawn.

At each place two short curves (parabolas in arc length) are fitted, one to the stretch before and one to the
stretch after, and run on to the place: the angle between their directions there is the turn. A bend of a
fair curve turns little by this measure, a corner turns all at once, at a long reach and at a short one.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["corner_places", "resample_closed", "turns_deg"]

Points = NDArray[np.float64]

LEAST_TURN_DEG = 13.5  # a drawn line wavers by a few degrees; trade corners turn by more than this
CLEAR_TURN_DEG = 32.0  # enough at the short reach alone, where two corners lie close together
LONG_REACH_MM = 15.0
SHORT_REACH_MM = 6.0
SKIP_MM = 0.8  # the middle of the line is not to be trusted right at the corner, by about a stroke
MIDDLE_MM = 2.5
CLOSEST_MM = 4.5  # two corners closer than this are one


def resample_closed(points: Points, step: float) -> Points:
    """Evenly spaced points along a closed polyline, about ``step`` apart, beginning at its first point."""
    ring = np.vstack([points, points[:1]])
    lengths = np.hypot(*np.diff(ring, axis=0).T)
    at = np.concatenate([[0.0], np.cumsum(lengths)])
    count = max(8, round(at[-1] / step))
    places = np.linspace(0.0, at[-1], count, endpoint=False)
    return np.column_stack([np.interp(places, at, ring[:, 0]), np.interp(places, at, ring[:, 1])])


def turns_deg(
    points: Points, step_mm: float, reach_mm: float, skip_mm: float, degree: int = 2
) -> NDArray[np.float64]:
    """Signed turn at each of evenly spaced points of a closed outline, in degrees."""
    first = max(1, round(skip_mm / step_mm))
    last = max(first + degree + 2, round(reach_mm / step_mm))
    if 2 * last >= len(points):
        return np.zeros(len(points))
    s = np.arange(first, last + 1) * step_mm
    slope = np.linalg.pinv(np.vander(s, degree + 1, increasing=True))[1]
    z = points[:, 0] + 1j * points[:, 1]
    after = np.zeros(len(z), dtype=np.complex128)
    before = np.zeros(len(z), dtype=np.complex128)
    for k, w in zip(range(first, last + 1), slope, strict=True):
        after += w * np.roll(z, -k)
        before -= w * np.roll(z, k)
    return np.asarray(np.degrees(np.angle(after * np.conj(before))), dtype=np.float64)


def corner_places(points: Points, step_mm: float, stroke_mm: float = 0.8) -> list[int]:
    """Indices of corners of a closed outline given as evenly spaced points.

    Parameters
    ----------
    points
        (n, 2), evenly spaced by ``step_mm``, closed, first not repeated.
    step_mm
        Spacing.
    stroke_mm
        Width of the drawn line; the middle of it is rounded off at a corner by about as much.
    """
    skip = max(SKIP_MM, 0.9 * stroke_mm)
    long = turns_deg(points, step_mm, LONG_REACH_MM + skip, skip)
    short = turns_deg(points, step_mm, SHORT_REACH_MM + skip, skip)
    flat = turns_deg(points, step_mm, SHORT_REACH_MM + skip, skip, degree=1)
    same = (np.sign(long) == np.sign(short)) & (np.sign(short) == np.sign(flat))
    both = np.where(same, np.minimum(np.abs(long), np.minimum(np.abs(short), np.abs(flat))), 0.0)
    alone = np.where(np.sign(short) == np.sign(flat), np.minimum(np.abs(short), np.abs(flat)), 0.0)
    good = (both > LEAST_TURN_DEG) | (alone > CLEAR_TURN_DEG)
    score = np.where(good, np.maximum(both, np.where(alone > CLEAR_TURN_DEG, alone, 0.0)), 0.0)
    # the straight-line turn is blunt but peaks symmetrically at the corner; it places the corner
    place = np.abs(flat)
    order = np.argsort(-np.where(score > 0, place, -1.0))
    taken: list[int] = []
    apart = round(CLOSEST_MM / step_mm)
    blocked = np.zeros(len(points), dtype=np.bool_)
    for i in order:
        if score[i] <= 0:
            break
        if blocked[i]:
            continue
        around = np.arange(i - apart, i + apart + 1) % len(points)
        blocked[around] = True
        if place[i] < place[around].max() - 1e-9:
            continue  # on the flank of a larger one that was not itself good enough, or of a taken one
        taken.append(_middle(place, int(i), max(1, round(MIDDLE_MM / step_mm))))
    return sorted(taken)


def _middle(turn: NDArray[np.float64], peak: int, reach: int) -> int:
    """Index of the middle of a flat-topped peak: skipping the corner itself makes the top flat."""
    around = np.arange(peak - reach, peak + reach + 1)
    weight = np.maximum(turn[around % len(turn)] - 0.9 * turn[peak], 0.0)
    return round(float((around * weight).sum() / max(float(weight.sum()), 1e-12))) % len(turn)
