"""How wide the edges in a picture are: from a tenth to nine tenths of a step of light, in pixels.

A sharp picture of plain paper has little detail, a blurred one of a carpet has much: so no detail is counted, but
single steps of light are measured across - the rims of paper and of printed marks, the threads' and boards' shadows.
Only steps with a level on both sides count, since a thin line says nothing of its blur. The narrowest tell how sharp
the picture can be, for in a sharp picture, too, shadows are soft. A hand that moved blurs the edges across its way
only, so the edges are sorted by direction, and the worst direction counts.

The measure is the one of ISO 12233 for an edge (10 % to 90 % rise), taken on single edges.
"""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["edge_width"]

Array = NDArray[np.float64]

TILES = 36  # along the longer side: the strongest steps of each tile are looked at
REACH_PX = 24
STEP_PX = 0.5
LEAST_STEP = 0.10  # of the brightness that the picture's lightest parts have
LEVEL_SHARE = 0.22  # how much the light may still move beyond the step, of the step
BEYOND = 0.75  # of the width: how far beyond the step it must be level
DIRECTIONS = 2
FEWEST = 12  # edges in one direction
NARROW_PERCENTILE = 25.0


def edge_width(grey: NDArray[np.uint8]) -> float | None:
    """Width in pixels of the edges in the direction that is drawn worst; None where too few edges are seen."""
    points, normals = _steepest(grey)
    if not len(points):
        return None
    widths = _widths(_profiles(grey, points, normals), float(np.percentile(grey[::8, ::8], 98.0)))
    seen = np.isfinite(widths)
    turn = np.arctan2(normals[:, 1], normals[:, 0]) % math.pi
    which = np.round(turn / (math.pi / DIRECTIONS)).astype(int) % DIRECTIONS
    narrow = [
        float(np.percentile(widths[own], NARROW_PERCENTILE))
        for k in range(DIRECTIONS)
        if (own := seen & (which == k)).sum() >= FEWEST
    ]
    return max(narrow) if narrow else None


def _steepest(grey: NDArray[np.uint8]) -> tuple[Array, Array]:
    """Where the light changes most in each tile, and in which direction: (n, 2) pixels, (n, 2) unit vectors."""
    height, width = grey.shape
    shrink = max(1, round(max(height, width) / 1300))
    small = cv2.resize(grey, (width // shrink, height // shrink), interpolation=cv2.INTER_AREA)
    soft = cv2.GaussianBlur(small, (0, 0), 1.0).astype(np.float32)
    gx, gy = cv2.Sobel(soft, cv2.CV_32F, 1, 0), cv2.Sobel(soft, cv2.CV_32F, 0, 1)
    steep = cv2.magnitude(gx, gy)
    tile = max(8, max(small.shape) // TILES)
    rows, columns = small.shape[0] // tile, small.shape[1] // tile
    xs, ys = [], []
    # lying and standing edges by themselves: those across a shaken hand's way are weak, and would not be looked at
    upright = np.abs(gx) > np.abs(gy)
    for own in (steep * upright, steep * ~upright):
        cut = own[: rows * tile, : columns * tile].reshape(rows, tile, columns, tile).transpose(0, 2, 1, 3)
        top = cut.reshape(rows, columns, -1).argmax(axis=2)
        ys.append((np.arange(rows)[:, None] * tile + top // tile).ravel())
        xs.append((np.arange(columns)[None, :] * tile + top % tile).ravel())
    x, y = np.concatenate(xs), np.concatenate(ys)
    normals = np.column_stack([gx[y, x], gy[y, x]]).astype(np.float64)
    length = np.hypot(*normals.T)
    keep = length > 8.0
    points = (np.column_stack([x, y]).astype(np.float64) + 0.5) * shrink - 0.5
    return points[keep], normals[keep] / length[keep, None]


def _profiles(grey: NDArray[np.uint8], points: Array, normals: Array) -> Array:
    """Grey (n, s) from the darker to the lighter side, each the mean of three neighbours along the edge."""
    offsets = np.arange(-REACH_PX, REACH_PX + STEP_PX / 2.0, STEP_PX)
    tangents = np.column_stack([-normals[:, 1], normals[:, 0]])
    values = []
    for aside in (-1.0, 0.0, 1.0):
        at = (points + aside * tangents)[:, None, :] + offsets[None, :, None] * normals[:, None, :]
        values.append(
            cv2.remap(grey, at.astype(np.float32), None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        )
    return np.asarray(np.mean(np.array(values, dtype=np.float64), axis=0))


def _widths(values: Array, white: float) -> Array:
    """Width in pixels of the step through the middle of each profile; NaN where there is none."""
    count, length = values.shape
    soft = cv2.GaussianBlur(values, (3, 1), 0)
    slope = np.diff(soft, axis=1)
    middle = length // 2
    reach = round(4.0 / STEP_PX)
    start = middle - reach + np.argmax(slope[:, middle - reach : middle + reach], axis=1)
    out = np.full(count, np.nan)
    for row in range(count):
        out[row] = _width(soft[row], slope[row], int(start[row]), LEAST_STEP * white)
    return out


def _width(values: Array, slope: Array, at: int, least: float) -> float:
    """Of one step: from where the light begins to rise to where it ends, a tenth of the step left out at both."""
    flat = 0.04 * max(slope[at], 0.0)
    low = at
    while low > 0 and slope[low - 1] > flat:
        low -= 1
    high = at + 1
    while high < len(values) - 1 and slope[high] > flat:
        high += 1
    step = values[high] - values[low]
    if step < least:
        return math.nan
    tenth = np.interp([0.1, 0.9], (values[low : high + 1] - values[low]) / step, np.arange(low, high + 1))
    width = float(tenth[1] - tenth[0])
    beyond = max(2, math.ceil(BEYOND * width))
    below, above = values[max(0, low - beyond) : low + 1], values[high : high + beyond + 1]
    if low - beyond < 0 or high + beyond >= len(values):
        # a step wider than what is looked at is wide, whatever comes after it
        return width * STEP_PX if width * STEP_PX > REACH_PX / 2.0 else math.nan
    if np.ptp(below) > LEVEL_SHARE * step or np.ptp(above) > LEVEL_SHARE * step:
        return math.nan
    return width * STEP_PX
