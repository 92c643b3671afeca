"""Places of a cloth that look stained, faded or darned: proposed, for the maker to confirm."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.cloth_texture import colour_features
from eke.capture.lines import View

__all__ = ["flaw_rings_px"]

Points = NDArray[np.float64]

CELL_MM = 5.0  # colours are compared between cells averaged over about this, or over the pattern's repeat
LEAST_AREA_MM2 = 150.0
LEAST_STEP = 0.10  # of log colour: fainter is light and shade
SPREADS = 4.5  # ... and this many times the usual unevenness of the cloth
MOST_SHARE = 0.25  # of the cloth: more than this is a cloth of two colours


def flaw_rings_px(view: View, inside: NDArray[np.bool_], repeat_mm: float | None) -> list[Points]:
    """Closed rings (column, row) in ``view`` around places whose colour stands off from the rest."""
    core = cv2.erode(inside.astype(np.uint8), np.ones((5, 5), np.uint8), borderValue=0)
    if int(core.sum()) * view.mm_per_px**2 < 20 * LEAST_AREA_MM2:
        return []
    colour = colour_features(view.rgb)
    weight = np.asarray(core, dtype=np.float32)
    size = max(3, round((repeat_mm or CELL_MM) / view.mm_per_px)) | 1
    # a box as wide as the repeat averages the pattern away exactly
    total = cv2.boxFilter(weight, -1, (size, size), normalize=False)
    mean = np.asarray(cv2.boxFilter(colour * weight[:, :, None], -1, (size, size), normalize=False))
    mean /= np.maximum(total, 1e-6)[:, :, None]
    # with a pattern, only whole repeats compare: part of one has another colour
    on = (core > 0) & (total > (0.9 if repeat_mm else 0.3) * size * size)
    rows, cols = np.nonzero(on)
    if len(rows) < 50:
        return []
    surface = _light(rows, cols, mean[rows, cols].astype(np.float64), view.shape)
    off = mean[rows, cols] - surface
    # light and shade move all three alike and slowly; what is left is colour or sharp
    spread = 1.4826 * np.median(np.abs(off - np.median(off, axis=0)), axis=0) + 0.008
    score = np.sqrt((((off - np.median(off, axis=0)) / spread) ** 2).mean(axis=1))
    step = np.abs(off).max(axis=1)
    flaw = np.zeros(view.shape, dtype=np.uint8)
    hit = (score > SPREADS) & (step > LEAST_STEP)
    if hit.mean() > MOST_SHARE:
        return []
    flaw[rows[hit], cols[hit]] = 1
    three = np.ones((3, 3), np.uint8)
    flaw = np.asarray(cv2.morphologyEx(cv2.morphologyEx(flaw, cv2.MORPH_CLOSE, three), cv2.MORPH_OPEN, three))
    contours, _ = cv2.findContours(flaw, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    least = LEAST_AREA_MM2 / view.mm_per_px**2
    out = []
    for contour in contours:
        if cv2.contourArea(contour) < least:
            continue
        out.append(np.asarray(contour.reshape(-1, 2), dtype=np.float64))
    return out


def _light(rows: NDArray[np.int64], cols: NDArray[np.int64], value: Points, shape: tuple[int, int]) -> Points:
    """Slow change of light over the cloth: a surface of fourth degree, robustly fitted to each channel."""
    pick = np.linspace(0, len(rows) - 1, min(len(rows), 6000)).astype(int)
    # products of Legendre polynomials over the picture: nearly square to each other, so that normal equations hold
    legendre = np.polynomial.legendre.legvander
    x, y = (legendre(np.arange(n) / n * 2 - 1, 4) for n in (shape[1], shape[0]))
    powers = [(i, j) for i in range(5) for j in range(5 - i)]
    basis = np.column_stack([x[cols[pick], i] * y[rows[pick], j] for i, j in powers])
    surface = np.zeros((3, 5, 5))
    for channel in range(3):
        v = value[pick, channel]
        w = np.ones(len(pick))
        for _ in range(8):
            weighted = basis * (w**2)[:, None]
            ridge = 1e-9 * float((w**2).sum()) * np.eye(len(powers))
            fit = np.linalg.solve(weighted.T @ basis + ridge, weighted.T @ v)
            rest = v - basis @ fit
            s = 1.4826 * float(np.median(np.abs(rest))) + 1e-4
            w = 1.0 / (1.0 + (rest / (2.0 * s)) ** 2)
        for (i, j), f in zip(powers, fit, strict=True):
            surface[channel, j, i] = f
    return np.stack([(y @ c @ x.T)[rows, cols] for c in surface], axis=1)
