"""Smaller copies of a picture for first looks."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["shrunk", "shrunk_to"]

Image = NDArray[np.uint8]


def shrunk(pixels_rgb: Image, side_px: int) -> Image:
    """A copy whose longer side is at most ``side_px``."""
    height, width = pixels_rgb.shape[:2]
    shrink = side_px / max(height, width)
    if shrink >= 1.0:
        return pixels_rgb
    return shrunk_to(pixels_rgb, (round(width * shrink), round(height * shrink)))


def shrunk_to(pixels_rgb: Image, size: tuple[int, int]) -> Image:
    """A copy of so many columns and rows, at most as many as the picture has; each pixel is the mean of what it covers."""
    height, width = pixels_rgb.shape[:2]
    half = (width // 2, height // 2)
    if half[0] >= size[0] and half[1] >= size[1] and width % 2 == height % 2 == 0:
        # means of two by two pixels come much cheaper, and the mean of such means is that of the pixels, but for rounding
        # and for those that are cut through
        pixels_rgb = np.asarray(cv2.resize(pixels_rgb, half, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    return np.asarray(cv2.resize(pixels_rgb, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
