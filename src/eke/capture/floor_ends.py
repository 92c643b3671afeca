"""Where the boards of a floor end: short joints across the long ones, which alone would show the tilt in one direction only.

Found in the small copy of the plane as what is as clear as the long joints over the width of a narrow board; then measured in
the photograph itself, because over so short a way a direction asks for all its pixels.
"""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.photo import Photo
from eke.capture.plane_copy import PlaneCopy

__all__ = ["ends_of_boards", "straight", "upright"]

Array = NDArray[np.float64]
FloatImage = NDArray[np.float32]

SHORT_PX = 44  # of the copy that is looked at: narrow boards are 6 cm broad
ALL_FLOOR = 0.98
AS_CLEAR = 0.4  # share of how clear the long joints are
APART_PX = 12
MOST_ENDS = 10
REACH_MM, ACROSS_MM, ALONG_MM = 3.0, 0.15, 0.75  # the strip that is read of the photograph
SMOOTH_MM = 0.45
WINDOW, LEAST_WINDOWS = 6, 4  # rows of the strip; from very near a short stretch has too few for a direction
ON_LINE_MM = 0.3
LEAST_SEEN = 0.7
FIT_ROUNDS = 6
LEAST_SCATTER_MM = 0.04


def upright(width: int, height: int, size: int, way: float) -> Array:
    """The affine map that turns a direction of a picture downwards, about its middle, into a square of a size."""
    c, s = math.cos(way), math.sin(way)
    middle = np.array([(width - 1) / 2.0, (height - 1) / 2.0])
    turn = np.array([[-s, c], [c, s]])  # across the direction to the right, along it down
    return np.column_stack([turn, (size - 1) / 2.0 - turn @ middle])


def straight(along: Array, aside: Array, reach: float) -> tuple[Array, NDArray[np.bool_], float]:
    """The straight line (slope, offset) through most of some places (n,), by Cauchy's weights; which of them lie within a reach
    of it, and how these scatter about it."""
    weight = np.ones(len(along))
    for _ in range(FIT_ROUNDS):
        line = np.polyfit(along, aside, 1, w=np.sqrt(weight))
        off = aside - np.polyval(line, along)
        weight = 1.0 / (1.0 + (off / (0.5 * reach)) ** 2)
    on = np.asarray(np.abs(off) < reach)
    return np.asarray(line), on, float(off[on].std()) if on.any() else 0.0


def ends_of_boards(
    photo: Photo,
    copied: PlaneCopy,
    ridge: FloatImage,
    mask: FloatImage,
    way: float,
    clear: float,
    hand: float,
) -> list[tuple[Array, float]]:
    """((2, 2) ends in the plane, how surely its direction is seen in rad) of short joints that run one way.

    Parameters
    ----------
    ridge, mask
        By how much a place of the copy is darker than its sides across that way (lighter, where the joints are); 1 on the floor.
    clear
        The ridge along the long joints.
    hand
        1 where joints are dark, -1 where they are light.
    """
    grey = cv2.cvtColor(photo.pixels_rgb, cv2.COLOR_RGB2GRAY)
    out = []
    for a, b in _candidates(ridge, mask, way, AS_CLEAR * clear):
        got = _measured(grey, copied, copied.to_mm(np.array([a, b])), hand)
        if got is not None:
            out.append(got)
    return out


def _candidates(ridge: FloatImage, mask: FloatImage, way: float, least: float) -> list[tuple[Array, Array]]:
    """Both ends in the copy of the clearest short lines, the clearest first."""
    height, width = ridge.shape
    size = math.ceil(math.hypot(height, width))
    put = upright(width, height, size, way)
    box = (1, SHORT_PX)
    mean = cv2.blur(cv2.warpAffine(ridge, put, (size, size), flags=cv2.INTER_LINEAR), box)
    floor = cv2.blur(cv2.warpAffine(mask, put, (size, size), flags=cv2.INTER_LINEAR), box)
    mean[floor < ALL_FLOOR] = 0.0
    out: list[tuple[Array, Array]] = []
    while len(out) < MOST_ENDS:
        row, column = divmod(int(np.argmax(mean)), size)
        if mean[row, column] < max(least, 1e-6):
            break
        turned = np.array([[column, row - SHORT_PX / 2.0], [column, row + SHORT_PX / 2.0]])
        first, last = (turned - put[:, 2]) @ put[:, :2]
        out.append((first, last))
        aside = slice(max(0, column - APART_PX), column + APART_PX + 1)
        mean[max(0, row - 2 * SHORT_PX) : row + 2 * SHORT_PX, aside] = 0.0
    return out


def _measured(
    grey: NDArray[np.uint8], copied: PlaneCopy, ends_mm: Array, hand: float
) -> tuple[Array, float] | None:
    """The straight line through the middle of a joint, read in the photograph; None where it is not seen all along."""
    a, b = ends_mm
    long_mm = math.dist(a, b)
    along = (b - a) / long_mm
    side = np.array([-along[1], along[0]])
    at = np.arange(0.0, long_mm, ALONG_MM)
    across = np.arange(-REACH_MM, REACH_MM + 1e-9, ACROSS_MM)
    mm = a + at[:, None, None] * along + across[None, :, None] * side
    px = copied.camera.project(mm.reshape(-1, 2)).astype(np.float32).reshape(len(at), len(across), 2)
    strip = cv2.remap(grey, px, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE).astype(np.float32)
    windows = len(at) // WINDOW
    if windows < LEAST_WINDOWS:
        return None
    rows = strip[: windows * WINDOW].reshape(windows, WINDOW, len(across)).mean(axis=1)
    smooth = cv2.GaussianBlur(hand * rows, (0, 0), sigmaX=SMOOTH_MM / ACROSS_MM, sigmaY=0.01)
    bent = smooth[:, 2:] - 2.0 * smooth[:, 1:-1] + smooth[:, :-2]
    place = bent.argmax(axis=1)
    seen = np.flatnonzero((place > 0) & (place < bent.shape[1] - 1))
    if len(seen) < LEAST_SEEN * windows:
        return None
    left, top, right = (bent[seen, place[seen] + k] for k in (-1, 0, 1))
    off_mm = across[place[seen] + 1] + ACROSS_MM * 0.5 * (left - right) / np.minimum(
        left - 2.0 * top + right, -1e-6
    )
    where = np.asarray((seen + 0.5) * WINDOW * ALONG_MM, dtype=np.float64)
    line, on, scatter = straight(where, off_mm, ON_LINE_MM)
    if np.count_nonzero(on) < LEAST_SEEN * windows:
        return None
    spread = where[on] - where[on].mean()
    sigma = max(scatter, LEAST_SCATTER_MM) / math.sqrt(float((spread**2).sum()))
    ends = where[on][[0, -1]]
    return a + ends[:, None] * along + np.polyval(line, ends)[:, None] * side, sigma
