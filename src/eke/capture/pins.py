"""Dots and pin-pricks: small round dark spots that stand alone on the paper, and the bigger or ringed ones.

A spot is dark in every direction from its middle, a line only in one: the smaller of the two second
derivatives tells them apart (T. Lindeberg, "Feature detection with automatic scale selection", Int. J.
Computer Vision 30, 1998). Anchors are spots with a ring drawn around them, or clearly bigger ones.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.connected import places_of
from eke.capture.lines import FloatImage, View

__all__ = ["Dots", "find_dots"]

Points = NDArray[np.float64]

LEAST_DARK = 0.1  # about a pencil dot; fainter ones are hardly told from the paper's own specks
SHARE_OF_USUAL = 0.38  # of the darkness of the typical strong spot
# times both: a prick narrower than a pixel, which only its place among others tells from a speck
FAINTER = 0.45
RING_MM = (1.8, 5.5)  # radius of a circle drawn around an anchor
RING_SEEN = 0.8  # share of directions in which the ring is there
BIGGER = 1.7  # an unringed anchor's diameter over that of the others
CLEAR_FROM_MM = 1.3  # around a spot, from here ...
CLEAR_TO_MM = 1.9  # ... to here there is paper
CLEAR_SHARE = 0.75  # of the directions; a faint joining line leaves two ways
CLOSEST_MM = 1.6
MOST_SPOTS = 4000
ROSE_SPOTS = 200  # looked at together: their darkness all around stays in the processor's own memory


@dataclass(frozen=True, slots=True, eq=False)
class Dots:
    """Spots found.

    Parameters
    ----------
    at_mm
        (n, 2) middles.
    anchor
        bool (n,): bigger or ringed.
    strength
        (n,) darkness above the paper.
    """

    at_mm: Points
    anchor: NDArray[np.bool_]
    strength: NDArray[np.float64]


def find_dots(view: View, stroke: FloatImage, spots: FloatImage, *, faint: bool = False) -> Dots:
    """Find the spots that stand alone.

    Parameters
    ----------
    view
        The picture.
    stroke
        From :func:`eke.capture.lines.stroke_image`.
    spots
        From :func:`eke.capture.lines.line_maps`.
    faint
        Also those that may be specks of the paper.
    """
    fainter = FAINTER if faint else 1.0
    at, strength = _spots(spots, view.mm_per_px, fainter * LEAST_DARK)
    if len(at) == 0:
        return Dots(np.zeros((0, 2)), np.zeros(0, dtype=np.bool_), np.zeros(0))
    at = _centres(stroke, at, view.mm_per_px)
    radii, rose = _rose(stroke, at, view.mm_per_px)
    near = (radii >= CLEAR_FROM_MM) & (radii <= CLEAR_TO_MM)
    dark_near = rose[:, :, near].max(axis=2) > 0.45 * strength[:, None]
    alone = dark_near.mean(axis=1) < 1.0 - CLEAR_SHARE
    ringed = _ringed(rose, radii, strength)
    keep = alone | ringed
    if not keep.any():
        return Dots(np.zeros((0, 2)), np.zeros(0, dtype=np.bool_), np.zeros(0))
    at, strength, ringed, size = at[keep], strength[keep], ringed[keep], _sizes(rose[keep], radii)
    usual = float(np.median(np.sort(strength)[::-1][: max(8, int(0.6 * len(strength)))]))
    keep = strength > fainter * SHARE_OF_USUAL * usual
    usual_size = float(np.median(size[keep])) if keep.any() else 1.0
    anchor = ringed | (size > BIGGER * usual_size)
    # a spot much smaller than the rest is dirt
    keep &= size > 0.45 * usual_size
    return Dots(view.to_mm(at[keep]), anchor[keep], strength[keep])


def _spots(best: FloatImage, mm_per_px: float, least_dark: float) -> tuple[Points, NDArray[np.float64]]:
    """Local maxima of roundish darkness: (column, row) and strength."""
    size = max(3, round(CLOSEST_MM / mm_per_px)) | 1
    top = np.asarray(cv2.dilate(best, np.ones((size, size), np.uint8)))
    rows, cols = np.divmod(places_of((best >= top) & (best > least_dark)), best.shape[1])
    if len(rows) > MOST_SPOTS:  # a texture: keep the strongest, they decide
        order = np.argsort(-best[rows, cols])[:MOST_SPOTS]
        rows, cols = rows[order], cols[order]
    at = np.column_stack([cols, rows]).astype(np.float64)
    return at, best[rows, cols].astype(np.float64)


def _centres(stroke: FloatImage, at: Points, mm_per_px: float) -> Points:
    """Centres of gravity in a small window, twice."""
    half = max(2, round(1.0 / mm_per_px))
    grid = np.arange(-half, half + 1, dtype=np.float64)
    out = at.copy()
    for _ in range(3):
        x = (out[:, 0, None, None] + grid[None, None, :]).astype(np.float32)
        y = (out[:, 1, None, None] + grid[None, :, None]).astype(np.float32)
        n, k = len(out), len(grid)
        x = np.broadcast_to(x, (n, k, k)).reshape(n, -1)
        y = np.broadcast_to(y, (n, k, k)).reshape(n, -1)
        value = np.asarray(
            cv2.remap(stroke, np.ascontiguousarray(x), np.ascontiguousarray(y), cv2.INTER_LINEAR)
        )
        gx = np.broadcast_to(grid[None, :], (k, k)).ravel()
        gy = np.broadcast_to(grid[:, None], (k, k)).ravel()
        window = np.exp(-0.5 * (gx**2 + gy**2) / (0.55 * half) ** 2)
        weight = np.maximum(value - 0.2 * value.max(axis=1, keepdims=True), 0.0) * window
        total = np.maximum(weight.sum(axis=1), 1e-9)
        out[:, 0] += (weight * gx).sum(axis=1) / total
        out[:, 1] += (weight * gy).sum(axis=1) / total
    return out


def _rose(stroke: FloatImage, at: Points, mm_per_px: float) -> tuple[NDArray[np.float64], FloatImage]:
    """Darkness around each spot in polar form: (n, directions, radii)."""
    directions = np.linspace(0, 2 * np.pi, 32, endpoint=False)
    radii = np.arange(0.0, RING_MM[1] + 0.6, 0.15)
    across, down = (
        np.cos(directions)[:, None] * radii / mm_per_px,
        np.sin(directions)[:, None] * radii / mm_per_px,
    )
    rose = np.empty((len(at), *across.shape), np.float32)
    for k in range(0, len(at), ROSE_SPOTS):
        part = at[k : k + ROSE_SPOTS, :, None, None]
        x, y = ((part[:, axis] + by).astype(np.float32) for axis, by in enumerate((across, down)))
        shape = (-1, len(radii))
        rose[k : k + ROSE_SPOTS] = cv2.remap(
            stroke, x.reshape(shape), y.reshape(shape), cv2.INTER_LINEAR
        ).reshape(x.shape)
    return radii, rose


def _ringed(rose: FloatImage, radii: NDArray[np.float64], strength: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Is there a circle around the spot, dark in nearly every direction, with paper inside it?"""
    out = np.zeros(len(rose), dtype=np.bool_)
    dark = np.ascontiguousarray(np.moveaxis(rose > (0.25 * strength[:, None, None]).astype(np.float32), 2, 0))
    width = 4  # a hand's circle wanders by this many steps of the radius
    for k in np.flatnonzero((radii >= RING_MM[0]) & (radii <= RING_MM[1])):
        seen = dark[k : k + width].any(axis=0).mean(axis=1) > RING_SEEN
        around = np.flatnonzero(seen & ~out)
        if len(around):
            inner = np.median(rose[around, :, max(1, k - 6) : k - 2], axis=(1, 2))
            out[around] = inner < 0.2 * strength[around]
    return out


def _sizes(rose: FloatImage, radii: NDArray[np.float64]) -> NDArray[np.float64]:
    """Diameter at half darkness in mm."""
    profile = np.median(rose, axis=1)
    half = 0.5 * profile[:, :2].max(axis=1, keepdims=True)
    below = profile < half
    first = np.where(below.any(axis=1), below.argmax(axis=1), len(radii) - 1)
    return np.asarray(2.0 * radii[first], dtype=np.float64)
