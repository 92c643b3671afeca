"""Smooth random fields: the raw material of wood, paper, carpet, wrinkles and unsteady hands."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["field", "grain", "wobble"]

Field = NDArray[np.float32]


def field(
    rng: np.random.Generator, shape: tuple[int, int], cell_px: tuple[float, float] | float, octaves: int = 1
) -> Field:
    """Return a field of about -1 … 1 that varies over ``cell_px`` (down, across) pixels.

    Each further octave has half the cells and half the strength.
    """
    cells = (cell_px, cell_px) if isinstance(cell_px, int | float) else cell_px
    out = np.zeros(shape, np.float32)
    strength = 1.0
    for _ in range(octaves):
        h = max(2, int(np.ceil(shape[0] / cells[0])) + 1)
        w = max(2, int(np.ceil(shape[1] / cells[1])) + 1)
        small = rng.standard_normal((h, w)).astype(np.float32) * 0.55
        out += strength * cv2.resize(small, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)
        cells, strength = (max(1.0, cells[0] / 2), max(1.0, cells[1] / 2)), strength / 2
    return out


def grain(rng: np.random.Generator, shape: tuple[int, int], tile: int = 1024) -> Field:
    """Return fine noise, one value a pixel, made of a repeated tile (turned and shifted) to save time."""
    t = rng.standard_normal((tile, tile)).astype(np.float32)
    out = np.empty(shape, np.float32)
    for y in range(0, shape[0], tile):
        for x in range(0, shape[1], tile):
            part = np.roll(np.rot90(t, int(rng.integers(4))), tuple(rng.integers(tile, size=2)), axis=(0, 1))
            h, w = min(tile, shape[0] - y), min(tile, shape[1] - x)
            out[y : y + h, x : x + w] = part[:h, :w]
    return out


def wobble(
    rng: np.random.Generator, n: int, step_mm: float, wave_mm: float, size: float
) -> NDArray[np.float64]:
    """Return ``n`` values, ``step_mm`` apart, that wander with wavelengths of about ``wave_mm`` and sd ``size``."""
    if n < 2 or size == 0:
        return np.zeros(n)
    knots = max(4, int(np.ceil(n * step_mm / wave_mm)) + 3)
    y = rng.standard_normal(knots)
    x = np.linspace(0, knots - 3, n)
    i = np.minimum(np.floor(x).astype(int), knots - 4)
    f = x - i
    a, b, c, d = y[i], y[i + 1], y[i + 2], y[i + 3]
    # uniform cubic B-spline: smooth up to its second derivative, like a hand
    s = (
        a * (1 - f) ** 3 + b * (3 * f**3 - 6 * f**2 + 4) + c * (-3 * f**3 + 3 * f**2 + 3 * f + 1) + d * f**3
    ) / 6
    return size * s / 0.69
