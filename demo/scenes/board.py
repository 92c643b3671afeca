"""A board: a picture of a flat thing in its own millimetres, that lies somewhere in the scene.

The floor with everything drawn or spread on it is one board; a sheet, a card or a ruler is another, at its
own height. :func:`cover` and :func:`stripe` give exact coverage of straight-edged shapes, so that the edges
of references lie where the truth says and not half a pixel beside.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["Board", "blend", "cover", "fill", "stripe"]

Array = NDArray[np.float64]
Mask = NDArray[np.float32]


@dataclass(slots=True, eq=False)
class Board:
    """A raster in millimetres.

    Parameters
    ----------
    rgb
        ``(h, w, 3)`` 8-bit sRGB.
    px_per_mm
        Its resolution.
    corner_mm
        Where the centre of its first pixel (top left) lies in the scene.
    turn_deg
        How the board is turned in the scene.
    z_mm
        Height of its face above the floor.
    alpha
        ``(h, w)`` 8-bit coverage, or None when it covers all.
    """

    rgb: NDArray[np.uint8]
    px_per_mm: float
    corner_mm: tuple[float, float]
    turn_deg: float = 0.0
    z_mm: float = 0.0
    alpha: NDArray[np.uint8] | None = None

    def to_px(self, points_mm: ArrayLike) -> Array:
        """Return the board's pixels (column, row) of points of the scene, ``(n, 2)``."""
        p = np.asarray(points_mm, dtype=float) - self.corner_mm
        a = np.radians(self.turn_deg)
        u = p[:, 0] * np.cos(a) + p[:, 1] * np.sin(a)
        v = p[:, 0] * np.sin(a) - p[:, 1] * np.cos(a)
        return np.c_[u, v] * self.px_per_mm

    def to_mm(self, points_px: ArrayLike) -> Array:
        """Return the points of the scene at pixels (column, row) of the board."""
        u, v = (np.asarray(points_px, dtype=float) / self.px_per_mm).T
        a = np.radians(self.turn_deg)
        return np.c_[u * np.cos(a) + v * np.sin(a), u * np.sin(a) - v * np.cos(a)] + self.corner_mm


def stripe(n: int, start_px: float, end_px: float) -> Mask:
    """Return how much of each of ``n`` pixels the interval covers; pixel i spans i ± 0.5."""
    i = np.arange(n)
    return np.clip(np.minimum(i + 0.5, end_px) - np.maximum(i - 0.5, start_px), 0, 1).astype(np.float32)


def cover(shape: tuple[int, int], convex_px: ArrayLike) -> Mask:
    """Return the coverage of a convex polygon, exact along straight edges apart from its corner pixels."""
    p = np.asarray(convex_px, dtype=float)
    if np.sum(p[:, 0] * np.roll(p[:, 1], -1) - np.roll(p[:, 0], -1) * p[:, 1]) < 0:
        p = p[::-1]
    x, y = np.arange(shape[1], dtype=np.float32)[None], np.arange(shape[0], dtype=np.float32)[:, None]
    out = np.ones(shape, np.float32)
    for a, b in zip(p, np.roll(p, -1, axis=0), strict=True):
        d = (b - a) / np.hypot(*(b - a))
        inside = np.float32(-d[1]) * (x - np.float32(a[0])) + np.float32(d[0]) * (y - np.float32(a[1]))
        # a slanting edge crosses a pixel over |dx| + |dy| of its width
        np.minimum(out, np.clip(inside / np.float32(abs(d[0]) + abs(d[1])) + np.float32(0.5), 0, 1), out=out)
    return out


def fill(shape: tuple[int, int], outline_px: ArrayLike, *holes_px: ArrayLike) -> Mask:
    """Return the coverage of any outline, smoothed at the edge, less its holes."""
    shift = 4
    rings = [
        np.round(np.asarray(r, dtype=float) * (1 << shift)).astype(np.int32) for r in (outline_px, *holes_px)
    ]
    mask = np.zeros(shape, np.uint8)
    cv2.fillPoly(mask, rings[:1], 255, cv2.LINE_8, shift)
    for hole in rings[1:]:
        cv2.fillPoly(mask, [hole], 0, cv2.LINE_8, shift)
    return cv2.GaussianBlur(mask, (3, 3), 0).astype(np.float32) / 255


def blend(board: Board, colour: ArrayLike, mask: Mask, at: tuple[int, int] = (0, 0)) -> None:
    """Lay ``colour`` (3, or a picture) over the board where ``mask`` is, from pixel ``at`` (row, column)."""
    r, c = at
    h, w = mask.shape
    part = board.rgb[r : r + h, c : c + w]
    for row in range(0, h, 256):
        m = mask[row : row + 256, :, None]
        rows = np.asarray(colour, np.float32)
        over = rows[row : row + 256] if rows.ndim == 3 else rows
        part[row : row + 256] = np.clip(part[row : row + 256] * (1 - m) + over * m + 0.5, 0, 255).astype(
            np.uint8
        )
