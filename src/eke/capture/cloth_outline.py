"""From the border of a cloth as it was seen, point by point, to its outline: edges smoothed, corners sharp.

A cloth needs no few curves as a pattern does, only a line that is near its edge: each edge between two corners is a
parabola fitted around each of its points, which keeps what is straight straight and loses no bend wider than a hand.

References
----------
A. Savitzky and M. J. E. Golay, "Smoothing and differentiation of data by simplified least squares procedures",
Analytical Chemistry 36 (1964).
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, maximum_filter1d
from scipy.signal import savgol_filter

from eke.capture.corners import corner_places
from eke.capture.fitting import Chain
from eke.capture.outline_edges import confirmed, meeting_point

__all__ = ["simplified", "smooth_outline"]

Points = NDArray[np.float64]

WAVER_MM = 36.0  # an edge is a parabola over so much of its length ...
EVEN_MM = 120.0  # ... or over so much, where that comes to the same
UNEVEN_MM = 0.5
BESIDE_CORNER_MM = 3.0  # a corner rounds the border off by this much on both sides
CORNER_WIDTH_MM = 2.5
FLAT_MM = 0.05


def smooth_outline(border_mm: Points) -> Points:
    """Outline through (n, 2) evenly spaced points of a closed border, n > 8; closed, first point not repeated."""
    n = len(border_mm)
    spacing = float(np.median(np.hypot(*(np.roll(border_mm, -1, axis=0) - border_mm).T)))
    rounded = np.asarray(gaussian_filter1d(border_mm, 0.8, axis=0, mode="wrap"))
    corners = corner_places(rounded, spacing, CORNER_WIDTH_MM)
    if len(corners) >= 2:
        margin = round(BESIDE_CORNER_MM / spacing)

        def edges(at: list[int]) -> tuple[list[Points], list[Chain]]:
            runs = []
            for a, b in zip(at, [*at[1:], at[0] + n], strict=True):
                run = border_mm[np.arange(a, b + 1) % n]
                clear = min(margin, max(0, (len(run) - 6) // 2))
                runs.append(_smoothed(run[clear : len(run) - clear], spacing))
            return runs, [Chain(tuple(r[k : k + 2] for k in range(len(r) - 1)), 0.0) for r in runs]

        corners, runs, chains = confirmed(corners, edges)
    if len(corners) < 2:
        reach = min(round(EVEN_MM / spacing), n)
        closed = np.concatenate([border_mm[-reach:], border_mm, border_mm[:reach]])
        return simplified(_smoothed(closed, spacing)[reach : reach + n], FLAT_MM)
    meets = [meeting_point(chains[k - 1], chains[k], border_mm[corners[k]]) for k in range(len(corners))]
    parts = []
    for k, run in enumerate(runs):
        start, end = meets[k], meets[(k + 1) % len(corners)]
        # no point behind the corner that the edge now begins at, or it would run over itself
        near = min(len(run), 8)
        first = int(np.argmin(np.hypot(*(run[:near] - start).T)))
        last = len(run) - 1 - int(np.argmin(np.hypot(*(run[::-1][:near] - end).T)))
        inner = run[first : last + 1]
        inner = inner[((inner - start) @ (run[near - 1] - start) > 0.0) | (np.arange(len(inner)) >= near)]
        parts += [start[None], inner]
    return simplified(np.concatenate(parts), FLAT_MM)


def _smoothed(run: Points, spacing_mm: float) -> Points:
    """Parabolas around each point: over a long stretch where the edge is so even that it allows that, else a short."""
    short, long = (_parabolas(run, w / spacing_mm) for w in (WAVER_MM, EVEN_MM))
    apart = np.hypot(*(long - short).T)
    apart = np.asarray(maximum_filter1d(apart, round(WAVER_MM / spacing_mm), mode="nearest"))
    share = np.clip((UNEVEN_MM - apart) / (0.5 * UNEVEN_MM), 0.0, 1.0)
    share = np.asarray(gaussian_filter1d(share, 0.2 * WAVER_MM / spacing_mm, mode="nearest"))[:, None]
    return np.asarray(share * long + (1.0 - share) * short)


def _parabolas(run: Points, width: float) -> Points:
    size = min(round(width) | 1, len(run) - 1 + len(run) % 2)  # odd
    return np.asarray(savgol_filter(run, size, 2, axis=0, mode="interp")) if size >= 5 else run


def simplified(ring: Points, tolerance_mm: float) -> Points:
    """The closed ring with fewer points, within a tolerance."""
    thin = cv2.approxPolyDP(ring.astype(np.float32).reshape(-1, 1, 2), tolerance_mm, True).reshape(-1, 2)
    return np.asarray(thin, dtype=np.float64) if len(thin) >= 3 else ring
