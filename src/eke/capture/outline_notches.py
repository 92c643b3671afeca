"""Notches of a broad pen, read beside the outline in the picture itself.

Two strokes of a felt pen run into one blot, and where a tick meets the line the middle of both is drawn aside: thinned to
lines, such notches are lost, and the outline bends towards them. Here the paper on each side of an outline is looked at
along the outline's normals: a notch is a short stretch along which the ink of the line reaches out from it, by more than a
blot and by less than a line.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, median_filter

from eke.capture.corners import resample_closed
from eke.capture.found import FoundMark
from eke.capture.lines_centre import normals, profiles
from eke.capture.marks import NOTCH_LONGEST_MM, NOTCH_SLANT_DEG
from eke.capture.rectify import Rectified

__all__ = ["BROAD_MM", "BroadNotch", "broad_notches"]

Points = NDArray[np.float64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

BROAD_MM = 1.3  # thinner strokes stay apart, and letters of print are as thin
STEP_MM = 0.25  # along the outline and across it
INK_SHARE = 0.5  # of the darkness of the line
PAPER_OVER_MM = 60.0  # the paper's own tone changes slowly
REACH_MM = 2.0  # beyond the edge of the line, ...
REACH_WIDTHS = 0.7  # ... and in widths of the stroke: what is shorter is a blot
SLIT_MM = 1.3  # white between the two strokes of a double notch
NARROWEST_WIDTHS = 0.6
WIDEST_WIDTHS, WIDEST_MM = 2.2, 2.5  # two strokes and the slit
DOUBLE_WIDTHS = 1.55  # a slanting tick is wider than its stroke, two touching strokes are twice as wide
BESIDE_MM = (0.75, 3.0)  # of a notch there is paper
FULL = 0.6  # share of a notch that is ink; letters are hollow
SHARP_DEG = 60.0  # at a corner that turns by more, the other edge is ink beside the line
SHARP_OVER_MM = 6.0
SHARP_WIDTHS, SHARP_MM = 2.0, 2.0
SAME_MM = 4.0  # the halves of a tick drawn across the line


@dataclass(frozen=True, slots=True, eq=False)
class BroadNotch:
    """A single or a double notch as a broad pen draws it.

    Parameters
    ----------
    at_mm
        Where its middle meets the outline.
    half_mm
        Half its width along the outline.
    marks
        One for each of its strokes: where it meets the outline, and its tip.
    """

    at_mm: Points
    half_mm: float
    marks: tuple[FoundMark, ...]


def broad_notches(
    rectified: Rectified, outline_mm: Points, corners_mm: Points, width_mm: float, dark: float
) -> list[BroadNotch]:
    """Notches at an outline that a broad pen has drawn.

    Parameters
    ----------
    rectified
        The picture.
    outline_mm
        (n, 2) closed, counter-clockwise; n any.
    corners_mm
        (c, 2) its corners.
    width_mm, dark
        Of its stroke. With a stroke narrower than ``BROAD_MM`` nothing is looked for.
    """
    if width_mm < BROAD_MM:
        return []
    ring = resample_closed(outline_mm, STEP_MM)
    inwards = normals(np.asarray(gaussian_filter1d(ring, 1.0 / STEP_MM, axis=0, mode="wrap")), closed=True)
    clear = _clear_of_sharp_corners(ring, corners_mm, width_mm)
    found: list[tuple[float, BroadNotch]] = []
    for side in (1.0, -1.0):
        for at, notch in _on_side(rectified, ring, side * inwards, clear, width_mm, dark):
            apart = [abs(at - other) for other, _ in found]
            if all(min(a, len(ring) - a) * STEP_MM > SAME_MM for a in apart):
                found.append((at, notch))
    return [notch for _, notch in found]


def _clear_of_sharp_corners(ring: Points, corners: Points, width_mm: float) -> Flags:
    clear = np.ones(len(ring), dtype=np.bool_)
    reach = round(SHARP_OVER_MM / STEP_MM)
    for corner in corners:
        apart = np.hypot(*(ring - corner).T)
        k = int(apart.argmin())
        before, after = ring[k] - ring[k - reach], ring[(k + reach) % len(ring)] - ring[k]
        cross = before[0] * after[1] - before[1] * after[0]
        if math.degrees(abs(math.atan2(cross, float(before @ after)))) > SHARP_DEG:
            clear &= apart > SHARP_WIDTHS * width_mm + SHARP_MM
    return clear


def _on_side(
    rectified: Rectified, ring: Points, outwards: Points, clear: Flags, width_mm: float, dark: float
) -> list[tuple[float, BroadNotch]]:
    """Notches on one side of the line, each with its place on the ring in steps."""
    n = len(ring)
    offsets = np.arange(0.0, NOTCH_LONGEST_MM + width_mm, STEP_MM)
    seen = profiles(rectified, ring, outwards, offsets)
    size = round(PAPER_OVER_MM / STEP_MM) | 1
    paper = median_filter(np.quantile(seen, 0.2, axis=1), size=size, mode="wrap")
    ink = seen - paper[:, None] > INK_SHARE * dark
    first = round(0.5 * width_mm / STEP_MM) + 1
    white = ~ink[:, first:]
    reach = np.where(white.any(axis=1), white.argmax(axis=1), white.shape[1]) * STEP_MM
    out = []
    for run in _stretches(reach > max(REACH_MM, REACH_WIDTHS * width_mm), round(SLIT_MM / STEP_MM)):
        wide, inside = len(run) * STEP_MM, run % n
        high = float(np.quantile(reach[inside], 0.8))
        rows = np.arange(first, first + round(high / STEP_MM))
        if (
            not NARROWEST_WIDTHS * width_mm <= wide <= WIDEST_WIDTHS * width_mm + WIDEST_MM
            or high + 0.5 * width_mm > NOTCH_LONGEST_MM
            or not clear[inside].all()
            or ink[np.ix_(inside, rows)].mean() < FULL
            or not _stands_out(seen[:, rows], run, INK_SHARE * dark)
        ):
            continue
        used = [run[ink[inside, row]] for row in rows if ink[inside, row].any()]
        lean, foot = np.polyfit(rows[: len(used)], [places.mean() for places in used], 1)
        if abs(math.degrees(math.atan(lean))) > NOTCH_SLANT_DEG:
            continue
        span = float(np.median([np.ptp(places) + 1 for places in used]))
        aside = [0.0] if span * STEP_MM < DOUBLE_WIDTHS * width_mm else [-0.5, 0.5]
        aside = [share * (span - width_mm / STEP_MM) for share in aside]
        marks = []
        for by in aside:
            top = round(foot + by + lean * (rows[-1] + 1)) % n
            tip = ring[top] + outwards[top] * (high + 0.5 * width_mm)
            marks.append(FoundMark("notch", np.array([ring[round(foot + by) % n], tip])))
        out.append((float(foot % n), BroadNotch(ring[round(foot) % n], 0.5 * wide, tuple(marks))))
    return out


def _stands_out(seen: Floats, run: NDArray[np.int64], least: float) -> bool:
    """Is it darker than what lies beside it? A printed picture is dark all around."""
    near, far = (round(mm / STEP_MM) for mm in BESIDE_MM)
    beside = np.concatenate(
        [np.arange(run[0] - far, run[0] - near), np.arange(run[-1] + near, run[-1] + far)]
    )
    own = float(np.median(seen[run % len(seen)]))
    return own - float(np.quantile(seen[beside % len(seen)], 0.75)) > least


def _stretches(flags: Flags, slit: int) -> list[NDArray[np.int64]]:
    """Runs of true places around a ring, those nearer than the slit as one; numbers may run past the ring's end."""
    if flags.all() or not flags.any():
        return []
    start = int(np.argmin(flags))
    on = np.flatnonzero(np.roll(flags, -start)) + start
    parts = np.split(on, np.flatnonzero(np.diff(on) > slit + 1) + 1)
    return [np.arange(p[0], p[-1] + 1) for p in parts]
