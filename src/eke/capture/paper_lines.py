"""Rectangles of straight edges in the plane, where the camera is known: paper whose tone is that of its floor.

:mod:`eke.capture.quads` cuts regions out of the picture; brown paper on a brown floor with seams is no region of its
own. Once a reference has shown how the camera stands, right angles are right angles in a small copy of the plane, and
paper is two pairs of straight edges there, however faint: segments are detected, gathered on common lines, and
rectangles of such lines are ranked by how much of their sides is covered.

References
----------
R. Grompone von Gioi et al., "LSD: a line segment detector", Image Processing On Line 2 (2012): OpenCV's detector.
"""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.camera import Camera
from eke.capture.photo import Photo
from eke.capture.plane_copy import plane_copy
from eke.capture.quads import Quad, side_support

__all__ = ["main_turns", "rectangles_in_plane", "segments_of"]

Array = NDArray[np.float64]

SHORTEST_PX = 14.0  # shorter segments are the grain of wood and cloth
TURN_BIN_DEG = 0.5
TURNS = 5  # so many directions of edges are tried
TURN_SLACK_DEG = 2.5
SAME_LINE_PX = 3
JOIN_PX = 2  # segments of one edge are found this much too short
MOST_LINES = 14  # in each of the two directions
LEAST_SIDE, LEAST_MEAN = 0.3, 0.5  # share of a side, and of all four together, that segments cover
SMALLEST_SHARE = 0.03  # of the copy
MOST_RECTANGLES = 10
LEAST_SUPPORT = 0.6
THREADS = 2  # the detector leaves the interpreter free


def rectangles_in_plane(photo: Photo, camera: Camera) -> tuple[Quad, ...]:
    """Rectangles of straight edges in the plane, as quadrangles of the photograph, the likeliest first."""
    copied = plane_copy(photo, camera)
    if copied is None:
        return ()
    small = copied.rgb
    lab = cv2.GaussianBlur(cv2.cvtColor(small, cv2.COLOR_RGB2LAB), (0, 0), 0.8)
    segments = np.concatenate(_segments_by_channel(lab))
    found: list[tuple[float, Array]] = []
    for turn in main_turns(segments):
        found += _rectangles(segments, turn, small.shape[0] * small.shape[1])
    found.sort(key=lambda f: -f[0])
    tones = lab.astype(np.float32)
    out = []
    for _, corners in found[:MOST_RECTANGLES]:
        support, at_border = side_support(tones, corners)
        if support < LEAST_SUPPORT or any(at_border):
            continue
        px = copied.to_px(corners)
        if np.isfinite(px).all():
            out.append(Quad(px, support, (False, False, False, False)))
    return tuple(out)


def _segments_by_channel(lab: NDArray[np.uint8]) -> list[Array]:
    """(n, 4) x, y, x, y of straight segments in lightness and in both colour channels; each has its dark side to one hand."""
    with ThreadPoolExecutor(THREADS) as crew:
        return list(crew.map(segments_of, np.moveaxis(lab, 2, 0)))


def segments_of(channel: NDArray[np.uint8]) -> Array:
    """(n, 4) x, y, x, y of straight segments in one channel; each has its dark side to one hand."""
    values = np.ascontiguousarray(channel)
    lowest, highest = np.percentile(values, [1.0, 99.0])
    if highest - lowest < 6.0:
        return np.zeros((0, 4))
    stretch = np.clip((values.astype(np.float32) - lowest) * (255.0 / (highest - lowest)), 0, 255)
    lines = cv2.createLineSegmentDetector().detect(stretch.astype(np.uint8))[0]
    each = np.zeros((0, 4)) if lines is None else np.asarray(lines, dtype=np.float64).reshape(-1, 4)
    return each[np.hypot(each[:, 2] - each[:, 0], each[:, 3] - each[:, 1]) > SHORTEST_PX]


def main_turns(segments: Array) -> list[float]:
    """Directions in rad, within a right angle, along or across which most of the segments' length runs."""
    if not len(segments):
        return []
    d = segments[:, 2:] - segments[:, :2]
    length = np.hypot(d[:, 0], d[:, 1])
    turn = np.degrees(np.arctan2(d[:, 1], d[:, 0])) % 90.0
    count = round(90.0 / TURN_BIN_DEG)
    weight = np.bincount((turn / TURN_BIN_DEG).astype(int) % count, weights=length, minlength=count)
    weight = np.sum([np.roll(weight, k) * (3 - abs(k)) for k in range(-2, 3)], axis=0)
    out = []
    for _ in range(TURNS):
        best = int(np.argmax(weight))
        if weight[best] <= 0.0:
            break
        out.append(math.radians((best + 0.5) * TURN_BIN_DEG))
        around = (best + np.arange(-6, 7)) % count
        weight[around] = 0.0
    return out


def _rectangles(segments: Array, turn: float, area_px: float) -> list[tuple[float, Array]]:
    """(score, corners (4, 2) anticlockwise as seen) of rectangles whose sides run along and across a direction."""
    along = np.array([math.cos(turn), math.sin(turn)])
    across = np.array([-along[1], along[0]])
    first, second = _lines(segments, along, across), _lines(segments, across, along)
    if first is None or second is None:
        return []
    a, cover_a, a0 = first
    b, cover_b, b0 = second

    def covered(cover: NDArray[np.float64], start: float, at: Array) -> Array:
        """(line, from, to): share of each line covered by segments between two crossings."""
        place = np.clip(np.round(at - start).astype(int), 0, cover.shape[1] - 1)
        total = cover[:, place]
        span = np.maximum(np.abs(at[None, :] - at[:, None]), 1.0)
        return np.asarray((total[:, None, :] - total[:, :, None]) / span[None])

    side_a = covered(cover_a, a0, b)  # (a line, b from, b to)
    side_b = covered(cover_b, b0, a)  # (b line, a from, a to)
    i, j = np.triu_indices(len(a), 1)
    k, m = np.triu_indices(len(b), 1)
    shares = np.stack(
        [
            side_a[i[:, None], k[None], m[None]],
            side_a[j[:, None], k[None], m[None]],
            side_b[k[None], i[:, None], j[:, None]],
            side_b[m[None], i[:, None], j[:, None]],
        ]
    )
    area = (a[j] - a[i])[:, None] * (b[m] - b[k])[None]
    mean = shares.mean(axis=0)
    fit = (shares.min(axis=0) > LEAST_SIDE) & (mean > LEAST_MEAN) & (area > SMALLEST_SHARE * area_px)
    out = []
    for p, q in np.argwhere(fit):
        corners = np.array(
            [
                b[k[q]] * along + a[i[p]] * across,
                b[m[q]] * along + a[i[p]] * across,
                b[m[q]] * along + a[j[p]] * across,
                b[k[q]] * along + a[j[p]] * across,
            ]
        )
        # rows go down: as seen this runs clockwise
        out.append((float(area[p, q] * mean[p, q] ** 2), corners[::-1]))
    out.sort(key=lambda f: -f[0])
    return out[:MOST_RECTANGLES]


def _lines(segments: Array, along: Array, across: Array) -> tuple[Array, Array, float] | None:
    """Lines in a direction: their offsets across it in order, the covered length up to every pixel along it, and where
    that count begins."""
    d = segments[:, 2:] - segments[:, :2]
    length = np.hypot(d[:, 0], d[:, 1])
    own = segments[np.abs(d @ across) < math.sin(math.radians(TURN_SLACK_DEG)) * length]
    if len(own) < 2:
        return None
    ends = np.stack([own[:, :2] @ along, own[:, 2:] @ along])
    low, high = ends.min(axis=0), ends.max(axis=0)
    offset = 0.5 * (own[:, :2] + own[:, 2:]) @ across
    start = float(low.min())
    size = math.ceil(float(high.max()) - start) + 2
    weight = high - low
    lowest = float(offset.min())
    bins = np.round(offset - lowest).astype(int)
    reach = np.ones(2 * SAME_LINE_PX + 1)
    offsets: list[float] = []
    covers: list[Array] = []
    while len(offsets) < MOST_LINES and weight.any():
        gathered = np.convolve(np.bincount(bins, weights=weight), reach, mode="same")
        mine = (np.abs(bins - int(np.argmax(gathered))) <= SAME_LINE_PX) & (weight > 0.0)
        on = np.zeros(size, bool)
        for lo, hi in zip(low[mine] - start, high[mine] - start, strict=True):
            on[max(0, int(lo) - JOIN_PX) : int(hi) + JOIN_PX + 1] = True
        offsets.append(float(np.average(offset[mine], weights=weight[mine])))
        covers.append(np.cumsum(on, dtype=np.float64))
        weight = np.where(mine, 0.0, weight)
    order = np.argsort(offsets)
    return np.array(offsets)[order], np.array(covers)[order], start
