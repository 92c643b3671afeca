"""A photograph as it comes into this folder: pixels turned upright, and what the camera said about its lens."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Photo"]

DEFAULT_FOCAL_SIGMA = 0.03
"""Relative standard deviation of a focal length from EXIF: it is rounded to whole millimetres (2 % of 26 mm)
and lenses of one model differ by about one per cent."""


@dataclass(frozen=True, slots=True, eq=False)
class Photo:
    """A photograph, upright.

    Parameters
    ----------
    pixels_rgb
        uint8 of shape (height, width, 3), sRGB, turned upright by EXIF and never mirrored.
    focal_px_prior
        Focal length in pixels of this picture according to its EXIF, or None when it says nothing usable.
    focal_sigma
        Relative standard deviation of that focal length.
    camera_name
        Maker and model where the picture names them.
    name
        What the maker calls the picture, for messages.
    dpi
        Dots per inch across and down, where the file says it; only a scan's mean anything.
    scanned
        The file can only be a scan, as a page from a scanner is.
    """

    pixels_rgb: NDArray[np.uint8]
    focal_px_prior: float | None = None
    focal_sigma: float = DEFAULT_FOCAL_SIGMA
    camera_name: str | None = None
    name: str = "the picture"
    dpi: tuple[float, float] | None = None
    scanned: bool = False

    def __post_init__(self) -> None:
        shape = self.pixels_rgb.shape
        if len(shape) != 3 or shape[2] != 3 or self.pixels_rgb.dtype != np.uint8:
            raise ValueError(f"a photo is uint8 (height, width, 3), not {self.pixels_rgb.dtype} {shape}")

    @property
    def width_px(self) -> int:
        """Width in pixels."""
        return int(self.pixels_rgb.shape[1])

    @property
    def height_px(self) -> int:
        """Height in pixels."""
        return int(self.pixels_rgb.shape[0])
