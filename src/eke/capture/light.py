"""Light as the sensor saw it, and profiles of it across edges.

An edge of paper is where the light, averaged over a pixel, is half-way between both sides. That holds for
linear light only: on the gamma-encoded values of a file the half-way point is shifted towards the dark side by
up to a third of the blur. So everything is measured on linear values.

References
----------
IEC 61966-2-1 (sRGB) for the decoding curve; ITU-R BT.709 for the weights of luminance.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = [
    "LUMA_WEIGHTS",
    "LUMINANCE_WEIGHTS",
    "MIN_STEP",
    "STEP_PX",
    "Light",
    "colour_profiles",
    "encoded",
    "encoding_slope",
    "light_of",
    "linear_luminance",
    "luma_profiles",
    "profiles",
]

Array = NDArray[np.float64]

LUMINANCE_WEIGHTS = (0.2126, 0.7152, 0.0722)
LUMA_WEIGHTS = (0.299, 0.587, 0.114)  # ITU-R BT.601, of encoded values
STRIP_ROWS = 512  # bounds the memory of decoding a large picture
STEP_PX = 0.5  # spacing of samples across an edge: half a pixel loses nothing of a band-limited picture
MIN_STEP = (
    0.012  # smallest step of linear light (of 1) that counts as an edge: some four grey levels in white
)
TANGENT_SAMPLES = 5  # a sample along an edge is the mean over this many pixels of its length


@dataclass(frozen=True, slots=True, eq=False)
class Light:
    """A picture as light: linear luminance (height, width) as float32, and the pixels that it came from."""

    luminance: NDArray[np.float32]
    pixels_rgb: NDArray[np.uint8]

    @property
    def shape(self) -> tuple[int, int]:
        """(height, width)."""
        return self.luminance.shape[0], self.luminance.shape[1]


def light_of(pixels_rgb: NDArray[np.uint8]) -> Light:
    """The light of sRGB pixels."""
    return Light(linear_luminance(pixels_rgb), pixels_rgb)


def _linear_code() -> Array:
    """Linear light (256,) of each value of sRGB."""
    code = np.arange(256) / 255.0
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)


def encoded(linear: Array) -> Array:
    """Values of sRGB (0-1) of linear light (0-1)."""
    light = np.clip(linear, 0.0, 1.0)
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1.0 / 2.4) - 0.055)


def encoding_slope(linear: Array) -> Array:
    """Derivative of :func:`encoded`."""
    light = np.clip(linear, 0.0031308, 1.0)
    return np.asarray(1.055 / 2.4 * light ** (1.0 / 2.4 - 1.0))


def linear_luminance(pixels_rgb: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Linear luminance 0-1 as float32 (height, width) of sRGB pixels."""
    linear = _linear_code()
    table = (linear[:, None] * np.array(LUMINANCE_WEIGHTS)).astype(np.float32).reshape(1, 256, 3)
    height, width = pixels_rgb.shape[:2]
    out = np.empty((height, width), np.float32)
    ones = np.ones((1, 3), np.float32)
    for top in range(0, height, STRIP_ROWS):
        strip = np.ascontiguousarray(pixels_rgb[top : top + STRIP_ROWS])
        out[top : top + STRIP_ROWS] = cv2.transform(cv2.LUT(strip, table), ones)
    return out


def profiles(light: Light, points_px: Array, normals_px: Array, reach_px: float) -> tuple[Array, Array]:
    """Luminance along normals: (offsets (s,) in px, values (n, s)); NaN outside the picture.

    Each value is the mean of a few pixels along the edge, which halves the noise and the grain of a floor.
    """
    offsets, at = _places(points_px, normals_px, reach_px)
    return offsets, _means(light.luminance, at)


def colour_profiles(
    light: Light, points_px: Array, normals_px: Array, reach_px: float
) -> tuple[Array, Array]:
    """The same of linear red, green and blue: (offsets (s,) in px, values (n, s, 3))."""
    offsets, at = _places(points_px, normals_px, reach_px)
    part, low = _part(light, at)
    return offsets, _means(cv2.LUT(part, _linear_code().astype(np.float32)), at - low)


def luma_profiles(light: Light, points_px: Array, normals_px: Array, reach_px: float) -> tuple[Array, Array]:
    """The same of luma, the weighted sum (0-1) of encoded red, green and blue."""
    offsets, at = _places(points_px, normals_px, reach_px)
    part, low = _part(light, at)
    weights = np.array([LUMA_WEIGHTS], dtype=np.float32) / np.float32(255.0)
    return offsets, _means(cv2.transform(part.astype(np.float32), weights), at - low)


def _part(light: Light, at: Array) -> tuple[NDArray[np.uint8], NDArray[np.int_]]:
    """The pixels around places (…, 2), and where that part of the picture begins."""
    height, width = light.shape
    axes = tuple(range(at.ndim - 1))
    low = np.clip(np.floor(at.min(axis=axes)), 0, [width - 2, height - 2]).astype(int)
    high = np.clip(np.ceil(at.max(axis=axes)) + 1, low + 2, [width, height]).astype(int)
    return np.ascontiguousarray(light.pixels_rgb[low[1] : high[1], low[0] : high[0]]), low


def _places(points_px: Array, normals_px: Array, reach_px: float) -> tuple[Array, Array]:
    """Offsets (s,) across an edge, and the pixels (n, along the edge, s, 2) that are looked at."""
    count = round(reach_px / STEP_PX)
    offsets: Array = np.arange(-count, count + 1, dtype=np.float64) * STEP_PX
    shift = np.arange(TANGENT_SAMPLES) - (TANGENT_SAMPLES - 1) / 2.0
    # a tangent is its normal turned by a right angle
    tangents = np.column_stack([-normals_px[:, 1], normals_px[:, 0]])
    across = normals_px[:, None, None] * offsets[:, None]
    along = tangents[:, None, None] * shift[:, None, None]
    return offsets, points_px[:, None, None] + across + along


def _means(image: Any, at: Array) -> Array:
    """What an image (height, width) or (height, width, 3) shows at places (n, along the edge, s, 2), in the mean along the
    edge; NaN where one lies outside it."""
    height, width = image.shape[:2]
    x, y = at[..., 0].astype(np.float32), at[..., 1].astype(np.float32)
    rows = len(x), -1
    values = cv2.remap(
        image, x.reshape(rows), y.reshape(rows), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    ).reshape(*x.shape, *image.shape[2:])
    outside = (x < 0) | (x > width - 1) | (y < 0) | (y > height - 1)
    if outside.any():
        values[outside] = np.nan
    mean = sum(np.moveaxis(values, 1, 0)) / np.float32(TANGENT_SAMPLES)
    return np.asarray(mean, dtype=np.float64)
