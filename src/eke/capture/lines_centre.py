"""The middle of a drawn line to a fraction of a pixel: profiles across it, read on the full picture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, median_filter

from eke.capture.lines import darkness
from eke.capture.rectify import Rectified

__all__ = ["SIDE_STEP", "Centred", "centre_line", "normals", "profiles"]

Points = NDArray[np.float64]
Floats = NDArray[np.float64]

STEP_MM = 0.5  # along the line
REACH_MM = 2.2  # across, beyond the stroke's own width, to both sides
ALONG_SIGMA_MM = 0.9  # profiles are averaged along the line over about this
ROUNDS = 7  # of the moving window; each halves what is left at least
FAINT = 0.3  # a profile with less than this share of the usual darkness shows no line
SIDE_STEP = 0.2  # of darkness, between both sides of a line
JUMP_MM = 0.45  # a reading this far from its neighbours' median is another line


@dataclass(frozen=True, slots=True, eq=False)
class Centred:
    """A centre line.

    Parameters
    ----------
    points_mm
        (n, 2), one per step of the chain given.
    good
        bool (n,): the line was seen and nothing crossed it there.
    width_mm
        Width of the stroke (full width at half its darkness, median).
    dark
        Median darkness above the paper.
    step_dark
        (n,) difference of darkness from left to right of the line: large at the edge of something.
    """

    points_mm: Points
    good: NDArray[np.bool_]
    width_mm: float
    dark: float
    step_dark: Floats

    @property
    def stepped_share(self) -> float:
        """Share of the length along which one side of the line is darker than the other."""
        return float(np.mean(np.abs(self.step_dark) > SIDE_STEP))


def normals(points: Points, closed: bool) -> Points:
    """Unit normals to the left of a chain of points."""
    ring = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    d = ring if closed else np.gradient(points, axis=0)
    length = np.maximum(np.hypot(d[:, 0], d[:, 1]), 1e-9)
    return np.asarray(np.column_stack([-d[:, 1], d[:, 0]]) / length[:, None], dtype=np.float64)


def profiles(rectified: Rectified, points_mm: Points, normal: Points, offsets_mm: Floats) -> Floats:
    """Darkness on lines across a chain: (n, offsets)."""
    at = points_mm[:, None, :] + normal[:, None, :] * offsets_mm[None, :, None]
    px = rectified.mm_to_px(at.reshape(-1, 2)).astype(np.float32)
    shape = at.shape[:2]
    x = px[:, 0].reshape(shape)
    y = px[:, 1].reshape(shape)
    rows = []
    chunk = 8192  # remap refuses sides beyond 32767
    for k in range(0, shape[0], chunk):
        rgb = cv2.remap(
            rectified.image_rgb,
            x[k : k + chunk],
            y[k : k + chunk],
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        rows.append(darkness(np.asarray(rgb, dtype=np.uint8)))
    return np.concatenate(rows).astype(np.float64)


def centre_line(
    rectified: Rectified,
    chain_mm: Points,
    *,
    width_mm: float,
    closed: bool = False,
    rounds: int = 2,
    gaps: NDArray[np.bool_] | None = None,
) -> Centred:
    """Move a chain of evenly spaced points onto the middle of the stroke that it follows.

    Parameters
    ----------
    rectified
        The picture.
    chain_mm
        (n, 2), about ``STEP_MM`` apart, within a stroke's width of the line.
    width_mm
        About the width of the stroke.
    closed
        The chain is a ring.
    rounds
        How often normals and profiles are taken anew.
    gaps
        bool (n,): there is no line; what is dark beside it there is something else, and the chain runs straight over it.
    """
    chain = np.asarray(chain_mm, dtype=np.float64)
    good = np.ones(len(chain), dtype=np.bool_)
    dark, step_dark, width = 0.0, np.zeros(len(chain)), width_mm
    mode: Literal["wrap", "nearest"] = "wrap" if closed else "nearest"
    for turn in range(rounds):
        smooth = _smooth_chain(chain, 1.5 / STEP_MM, closed)
        normal = normals(smooth, closed)
        reach = width + REACH_MM
        grain = max(0.5 * rectified.mm_per_px, 0.05)
        half = int(np.ceil(reach / grain))
        offsets = np.arange(-half, half + 1, dtype=np.float64) * grain
        raw = profiles(rectified, smooth, normal, offsets)
        raw = gaussian_filter1d(raw, ALONG_SIGMA_MM / STEP_MM, axis=0, mode=mode)
        third = max(2, half // 3)
        left, right = np.median(raw[:, :third], axis=1), np.median(raw[:, -third:], axis=1)
        paper = np.minimum(left, right)[:, None]
        over = np.maximum(raw - np.maximum(paper, np.quantile(raw, 0.2, axis=1)[:, None]), 0.0)
        start = ((chain - smooth) * normal).sum(axis=1)
        shift, peak = _moving_window(over, offsets, start, 0.55 * width + 0.15)
        usual = float(np.median(peak))
        clear = peak > FAINT * usual
        # something that crosses makes the profile dark far from the middle as well
        far = np.abs(offsets[None, :] - shift[:, None])
        side = (far > 0.9 * width + 0.25) & (far < 1.8 * width + 0.9)
        crossed = (over * side).sum(axis=1) / np.maximum(side.sum(axis=1), 1) > 0.45 * peak
        size = round(5.0 / STEP_MM) | 1
        usual_shift = median_filter(shift, size=size, mode=mode)
        jump = np.abs(shift - usual_shift) > max(JUMP_MM, 0.35 * width)
        good = clear & ~crossed & ~jump & (np.abs(shift) < reach - 0.3)
        if gaps is not None:
            good &= ~gaps
        shift = _filled(np.where(good, shift, np.nan), start)
        chain = smooth + normal * shift[:, None]
        dark = float(np.median(peak[good])) if good.any() else 0.0
        step_dark = right - left
        if turn == 0 and good.any():
            width = float(np.clip(_half_width(over[good], offsets, shift[good]), 0.3, 3.0))
    return Centred(chain, good, width, dark, step_dark)


def _smooth_chain(chain: Points, sigma: float, closed: bool) -> Points:
    if closed:
        return np.asarray(gaussian_filter1d(chain, sigma, axis=0, mode="wrap"))
    pad = min(len(chain) - 1, max(1, round(4 * sigma)))
    if pad < 2:
        return chain
    # mirrored through the end point, so that the ends neither shrink nor turn
    head = 2 * chain[0] - chain[pad:0:-1]
    tail = 2 * chain[-1] - chain[-2 : -pad - 2 : -1]
    longer = np.concatenate([head, chain, tail])
    return np.asarray(gaussian_filter1d(longer, sigma, axis=0)[pad : pad + len(chain)])


def _moving_window(over: Floats, offsets: Floats, start: Floats, sigma: float) -> tuple[Floats, Floats]:
    """Centre of gravity under a Gaussian window that follows it (mean shift), and the darkness there."""
    at = start.copy()
    for _ in range(ROUNDS):
        weight = over * np.exp(-0.5 * ((offsets[None, :] - at[:, None]) / sigma) ** 2)
        total = weight.sum(axis=1)
        moved = (weight * offsets[None, :]).sum(axis=1) / np.maximum(total, 1e-9)
        at = np.where(total > 1e-6, np.clip(moved, offsets[0], offsets[-1]), at)
    place = np.clip(np.round((at - offsets[0]) / (offsets[1] - offsets[0])).astype(int), 0, len(offsets) - 1)
    return at, over[np.arange(len(at)), place]


def _filled(values: Floats, fallback: Floats) -> Floats:
    bad = np.isnan(values)
    if bad.all():
        return fallback
    if bad.any():
        index = np.arange(len(values))
        values = values.copy()
        values[bad] = np.interp(index[bad], index[~bad], values[~bad])
    return values


def _half_width(over: Floats, offsets: Floats, shift: Floats) -> float:
    """Median full width at half the darkness."""
    step = offsets[1] - offsets[0]
    place = np.clip(np.round((shift - offsets[0]) / step).astype(int), 0, len(offsets) - 1)
    peak = over[np.arange(len(over)), place]
    near = np.abs(offsets[None, :] - shift[:, None]) < 2.5
    return float(np.median(((over > 0.5 * peak[:, None]) & near).sum(axis=1)) * step)
