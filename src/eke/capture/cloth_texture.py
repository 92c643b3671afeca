"""How rough a picture is, place by place, in two bands of fineness: a weave is rougher than most floors, or less."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.lines import View

__all__ = ["Roughness", "colour_features", "roughness"]

Floats32 = NDArray[np.float32]

FINE_SIGMA_MM = 0.5  # texture finer than this ...
COARSE_SIGMA_MM = 2.0  # ... and between both
SPREAD_SIGMA_MM = 0.9
COARSE_PX_PER_MM = 1.0  # what is left after smoothing by the fine sigma needs no more
LEAST = 1e-4
STRIP = 256  # rows at a time: what is worked on stays in the processor's own memory
_LOG = np.log((np.arange(256, dtype=np.float32) + 5.0) / 260.0)
_THIRDS = np.full((1, 3), 1.0 / 3.0, dtype=np.float32)


@dataclass(frozen=True, slots=True, eq=False)
class Roughness:
    """Size of the picture's small changes of log grey.

    Parameters
    ----------
    fine
        What is finer than ``FINE_SIGMA_MM``: mean size, at half the pixels of the picture that it was taken from.
    coarse
        What lies between both, at about 1 mm a pixel over the same picture.
    view
        The picture.
    """

    fine: Floats32
    coarse: Floats32
    view: View

    def to_fine_px(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """(column, row) in ``fine`` of plane points in mm."""
        height, width = self.view.shape
        scale = np.array([self.fine.shape[1] / width, self.fine.shape[0] / height])
        return np.asarray((self.view.to_px(points_mm) + 0.5) * scale - 0.5, dtype=np.float64)

    def logs(self, sigma_mm: float = SPREAD_SIGMA_MM) -> Floats32:
        """Logarithm of the fine roughness, spread a little."""
        mm = self.view.mm_per_px * self.view.shape[1] / self.fine.shape[1]
        spread = cv2.GaussianBlur(self.fine, (0, 0), max(0.5, sigma_mm / mm))
        return _log(np.asarray(spread))

    def at(self, shape: tuple[int, int], sigma_px: float) -> Floats32:
        """Logarithm of both, (height, width, 2), over the same picture in another raster."""
        bands = []
        for band in (self.fine, self.coarse):
            # the magnitude and not the square: one seam between floor boards must not drown the rest
            energy = cv2.resize(band, shape[::-1], interpolation=cv2.INTER_AREA)
            bands.append(_log(np.asarray(cv2.GaussianBlur(energy, (0, 0), sigma_px))))
        return np.stack(bands, axis=2)


def colour_features(rgb: NDArray[np.uint8]) -> Floats32:
    """Log colour, (…, 3)."""
    if rgb.ndim == 3 and rgb.size:
        return np.asarray(cv2.LUT(rgb, _LOG), dtype=np.float32)
    return np.asarray(_LOG[rgb], dtype=np.float32)


def roughness(view: View) -> Roughness:
    """Measure a fine view."""
    height, width = view.shape
    sigma = max(0.7, FINE_SIGMA_MM / view.mm_per_px)
    grey = np.empty((height, width), dtype=np.float32)
    for top in range(0, height, STRIP):
        cv2.transform(cv2.LUT(view.rgb[top : top + STRIP], _LOG), _THIRDS, dst=grey[top : top + STRIP])
    half = (max(1, (width + 1) // 2), max(1, (height + 1) // 2))
    scale = COARSE_PX_PER_MM * view.mm_per_px
    small = (max(1, round(width * min(1.0, scale))), max(1, round(height * min(1.0, scale))))
    smooth = cv2.GaussianBlur(grey, (0, 0), sigma)
    between = cv2.resize(smooth, small, interpolation=cv2.INTER_AREA)
    rough = cv2.absdiff(grey, smooth, dst=grey)
    fine = cv2.resize(rough, half, interpolation=cv2.INTER_AREA)
    wide = cv2.GaussianBlur(between, (0, 0), max(1.0, COARSE_SIGMA_MM * small[0] / width / view.mm_per_px))
    return Roughness(np.asarray(fine), np.asarray(cv2.absdiff(between, wide)), view)


def _log(energy: Floats32) -> Floats32:
    return np.asarray(cv2.log(cv2.max(energy, LEAST)), dtype=np.float32)
