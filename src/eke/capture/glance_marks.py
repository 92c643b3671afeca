"""Printed markers read quickly in a small copy of a picture, however many squares a checked cloth puts beside them.

All dark squares are found once and sampled at the middles of their cells, all of them together; only what has a black
frame and both colours inside is looked up in the dictionaries. So a thousand checks cost no more than a few sheets.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.markers import FOREIGN_CORRECTION, FOREIGN_DICTIONARIES, number_of

__all__ = ["Marks", "read_marks"]

Array = NDArray[np.float64]

WINDOWS = (1 / 70, 1 / 22)  # of the longer side: of the mean that darkness is measured against
DARKER_GREY = 7.0
SHORTEST_SIDE_PX = 7.0
LONGEST_SIDE_SHARE = 0.35
SAME_SHARE = 0.3  # of a side: squares whose middles are closer are one
LEAST_CONTRAST_GREY = 24.0
FRAME_SHARE = 0.9
FEWEST = 2  # of one dictionary: a single one of thousands of codes may be chance


@dataclass(frozen=True, slots=True, eq=False)
class Marks:
    """Markers of one dictionary: their numbers, and their corners (n, 4, 2) in pixels, in order around."""

    dictionary: str
    numbers: tuple[int, ...]
    corners_px: Array

    @property
    def middles_px(self) -> Array:
        """Where the diagonals cross (n, 2): the middle of the square, seen aslant as well."""
        a, b, c, d = (self.corners_px[:, k] for k in range(4))
        along, across = c - a, d - b
        cross = along[:, 0] * across[:, 1] - along[:, 1] * across[:, 0]
        gap = b - a
        t = (gap[:, 0] * across[:, 1] - gap[:, 1] * across[:, 0]) / np.where(cross == 0.0, 1.0, cross)
        return np.asarray(a + t[:, None] * along)


def read_marks(grey: NDArray[np.uint8]) -> Marks | None:
    """The markers of the dictionary of which most are seen, or None. ``grey`` is some 1400 pixels long."""
    squares = _squares(grey)
    if not len(squares):
        return None
    best: Marks | None = None
    for name in FOREIGN_DICTIONARIES:
        book = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, name))
        numbers, corners = [], []
        for row, bits in _framed(grey, squares, book.markerSize):
            number = number_of(book, bits, FOREIGN_CORRECTION)
            if number is not None:
                numbers.append(number)
                corners.append(squares[row])
        if len(set(numbers)) >= FEWEST and (best is None or len(numbers) > len(best.numbers)):
            best = Marks(name, tuple(numbers), np.array(corners))
    return best


def _squares(grey: NDArray[np.uint8]) -> Array:
    """Dark convex quadrangles (n, 4, 2) that may be the frame of a marker, clockwise as seen."""
    longest = max(grey.shape)
    soft = cv2.GaussianBlur(grey, (3, 3), 0)
    found: list[Array] = []
    for share in WINDOWS:
        window = max(9, int(longest * share)) | 1
        dark = cv2.adaptiveThreshold(
            soft, 1, cv2.ADAPTIVE_THRESH_MEAN_C, cv2.THRESH_BINARY_INV, window, DARKER_GREY
        )
        contours, _ = cv2.findContours(dark, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
        for contour in contours:
            if not 4 * SHORTEST_SIDE_PX * 0.8 <= len(contour) <= 4 * LONGEST_SIDE_SHARE * longest:
                continue
            corners = cv2.approxPolyDP(contour, 0.04 * len(contour), True)
            if len(corners) != 4 or not cv2.isContourConvex(corners):
                continue
            quad = corners.reshape(4, 2).astype(np.float64)
            sides = np.hypot(*(np.roll(quad, -1, axis=0) - quad).T)
            if sides.min() >= SHORTEST_SIDE_PX and sides.max() <= 4.0 * sides.min():
                found.append(quad)
    if not found:
        return np.zeros((0, 4, 2))
    quads = np.array(found)
    x, y = quads[..., 0], quads[..., 1]
    area = 0.5 * np.sum(x * np.roll(y, -1, axis=1) - np.roll(x, -1, axis=1) * y, axis=1)
    quads[area < 0.0] = quads[area < 0.0, ::-1]
    return _once(quads, np.sqrt(np.abs(area)))


def _once(quads: Array, sides: Array) -> Array:
    """Without those that were found twice; the larger stays, which is the outside of the frame."""
    kept: dict[tuple[int, int], list[int]] = {}
    middles = quads.mean(axis=1)
    out: list[int] = []
    cell = max(4.0, float(np.median(sides)))
    for row in np.argsort(-sides, kind="stable"):
        near = (middles[row] // cell).astype(int)
        around = (
            other
            for dx in (-1, 0, 1)
            for dy in (-1, 0, 1)
            for other in kept.get((near[0] + dx, near[1] + dy), ())
        )
        if any(
            np.hypot(*(middles[row] - middles[other])) < SAME_SHARE * sides[row]
            and sides[row] > 0.6 * sides[other]
            for other in around
        ):
            continue
        kept.setdefault((int(near[0]), int(near[1])), []).append(int(row))
        out.append(int(row))
    return quads[out]


def _framed(grey: NDArray[np.uint8], squares: Array, inner: int) -> list[tuple[int, NDArray[np.uint8]]]:
    """(row, inner bits) of the squares that have a black frame one cell wide and both colours inside."""
    cells = inner + 2
    middle = (np.arange(cells) + 0.5) / cells
    u, v = (w.ravel() for w in np.meshgrid(middle, middle))
    at = _inside(squares, u, v).astype(np.float32)
    values = cv2.remap(grey, at, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE).astype(np.float64)
    low, high = np.percentile(values, [10.0, 97.0], axis=1)
    light = (values > (low + high)[:, None] / 2.0).reshape(-1, cells, cells)
    frame = np.concatenate([light[:, 0], light[:, -1], light[:, 1:-1, 0], light[:, 1:-1, -1]], axis=1)
    good = (high - low >= LEAST_CONTRAST_GREY) & (1.0 - frame.mean(axis=1) >= FRAME_SHARE)
    return [
        (int(row), np.ascontiguousarray(light[row, 1:-1, 1:-1].astype(np.uint8)))
        for row in np.flatnonzero(good)
        if light[row, 1:-1, 1:-1].any()
    ]


def _inside(quads: Array, u: Array, v: Array) -> Array:
    """Pixels (n, k, 2) of the places (u, v) of the unit square, seen in perspective.

    The map of the unit square onto four corners in closed form: P. Heckbert, "Fundamentals of texture mapping and
    image warping" (1989), section 2.2.3.
    """
    p0, p1, p2, p3 = (quads[:, k] for k in range(4))
    d1, d2, d3 = p1 - p2, p3 - p2, p0 - p1 + p2 - p3
    det = d1[:, 0] * d2[:, 1] - d1[:, 1] * d2[:, 0]
    det = np.where(np.abs(det) < 1e-9, 1e-9, det)
    g = ((d3[:, 0] * d2[:, 1] - d3[:, 1] * d2[:, 0]) / det)[:, None]
    h = ((d1[:, 0] * d3[:, 1] - d1[:, 1] * d3[:, 0]) / det)[:, None]
    a, b = p1 - p0 + g * p1, p3 - p0 + h * p3
    below = g * u + h * v + 1.0
    return np.asarray(
        (a[:, None] * u[None, :, None] + b[:, None] * v[None, :, None] + p0[:, None]) / below[..., None]
    )
