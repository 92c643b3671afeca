"""How far the camera was slanted, from whatever rectangles lie on the ground, before anything is measured.

Paper, tiles, boards and printed marks have right angles, and lie in one plane or in parallel ones. For every slant of
the camera they can be seen as they would look from above; the slant at which most of them have right angles - and
marks equal sides, and a sheet its own ratio - is the camera's. It is searched over a grid, since a few degrees are
enough here. Small things show little of a slant; where several slants do as well, the least is told.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Slant", "least_slant"]

Array = NDArray[np.float64]

STEP_DEG = 3.0
MOST_DEG = 69.0
AZIMUTHS = 48
OFF_DEG = 6.0  # an angle further from a right one says nothing for a slant
AS_GOOD = 0.95
LEAST_SHARE = 0.35  # of what lies there must have right angles, or it is not rectangles that were found
LEAST_DEPTH = 0.05  # of the distance along the camera's axis: nearer the horizon nothing is told
SIDE_RATIO_DEG = 35.0  # how many degrees off a ratio of sides of e counts for: 1.1 is as bad as 3.3 degrees


@dataclass(frozen=True, slots=True)
class Slant:
    """``tilt_deg`` between the camera's axis and the plumb line; ``azimuth_deg`` where the far side lies, 0 to the
    right and 90 down in the picture; ``share`` of the evidence that agrees, 0 to 1."""

    tilt_deg: float
    azimuth_deg: float
    share: float


def least_slant(
    rectangles: Sequence[tuple[Array, float | None]], size_px: tuple[int, int], focals_px: Sequence[float]
) -> Slant | None:
    """The slant that makes rectangles of quadrangles (4, 2) in pixels, or None where they are none.

    Each comes with the ratio of its sides, either way round, where it is known.
    """
    if not rectangles:
        return None
    quads = np.array([q for q, _ in rectangles], dtype=np.float64)
    ratios = np.array([math.nan if r is None else abs(math.log(r)) for _, r in rectangles])
    x, y = quads[..., 0], quads[..., 1]
    area = 0.5 * np.abs(np.sum(x * np.roll(y, -1, axis=1) - np.roll(x, -1, axis=1) * y, axis=1))
    weight = np.sqrt(area)
    middle = (np.array(size_px) - 1.0) / 2.0
    best: tuple[float, Slant] | None = None
    turns = np.arange(AZIMUTHS, dtype=np.float64) * (360.0 / AZIMUTHS)
    for focal in focals_px:
        rays = (quads - middle) / focal
        scores: list[tuple[float, float, float]] = []  # agreement, tilt, azimuth: the least tilt first
        for tilt in np.arange(0.0, MOST_DEG + 0.1, STEP_DEG):
            agreed = (
                _agreement(rays, ratios, float(tilt), turns if tilt else turns[:1]) @ weight / weight.sum()
            )
            at = int(np.argmax(agreed))
            scores.append((float(agreed[at]), float(tilt), float(turns[at])))
        top = max(scores)[0]
        if best is not None and top <= best[0] + 0.03:  # the focal lengths come with the likely one first
            continue
        _, tilt, azimuth = next(s for s in scores if s[0] >= AS_GOOD * top)
        best = (top, Slant(tilt, azimuth, top))
    return best[1] if best is not None and best[0] >= LEAST_SHARE else None


def _agreement(rays: Array, ratios: Array, tilt_deg: float, azimuths_deg: Array) -> Array:
    """(azimuths, n): how well each quadrangle (n, 4, 2) of rays is a rectangle, 0 to 1, if the camera is slanted so."""
    t, a = math.radians(tilt_deg), np.radians(azimuths_deg)
    zero = np.zeros_like(a)
    # axes of the ground in the camera's frame (x right, y down, z ahead): the far side lies towards the azimuth
    plumb = np.column_stack([-math.sin(t) * np.cos(a), -math.sin(t) * np.sin(a), zero + math.cos(t)])
    along = np.column_stack([math.cos(t) * np.cos(a), math.cos(t) * np.sin(a), zero + math.sin(t)])
    across = np.column_stack([-np.sin(a), np.cos(a), zero])
    full = np.concatenate([rays, np.ones((*rays.shape[:2], 1))], axis=2)
    depth, x, y = (np.einsum("nkc,ac->ank", full, axis) for axis in (plumb, along, across))
    ahead = np.maximum(depth, LEAST_DEPTH)
    flat = np.stack([x / ahead, y / ahead], axis=-1)
    sides = np.roll(flat, -1, axis=2) - flat
    long = np.maximum(np.linalg.norm(sides, axis=3), 1e-12)
    cosine = np.sum(sides * np.roll(sides, -1, axis=2), axis=3) / (long * np.roll(long, -1, axis=2))
    off = np.degrees(np.sqrt(np.mean(np.arcsin(np.clip(cosine, -1.0, 1.0)) ** 2, axis=2)))
    ratio = np.abs(np.log((long[..., 0] + long[..., 2]) / (long[..., 1] + long[..., 3])))
    known = np.where(np.isnan(ratios), 0.0, SIDE_RATIO_DEG * np.abs(ratio - np.nan_to_num(ratios)))
    seen = (depth > LEAST_DEPTH).all(axis=2)
    return np.where(seen, np.maximum(0.0, 1.0 - (np.hypot(off, known) / OFF_DEG) ** 2), 0.0)
