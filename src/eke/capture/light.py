"""Light as the sensor saw it, and profiles of it across edges.

An edge of paper is where the light, averaged over a pixel, is half-way between both sides. That holds for
linear light only: on the gamma-encoded values of a file the half-way point is shifted towards the dark side by
up to a third of the blur. So everything is measured on linear values.

What is measured is *luma*, decoded: the weighted sum of the encoded red, green and blue. Picture files keep it for every
pixel, while they keep colour for every fourth (JFIF and HEIF, 4:2:0 sampling), so that of an edge between two colours luma
alone is sharp in such a file. Decoded it is the light of what is grey, and near it of what is not.

References
----------
IEC 61966-2-1 (sRGB) for the decoding curve; ITU-R BT.601 for the weights of luma, as JFIF (ITU-T T.871) takes them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = [
    "LUMA_WEIGHTS",
    "MIN_STEP",
    "STEP_PX",
    "Light",
    "all_profiles",
    "colour_profiles",
    "decoded",
    "encoded",
    "encoding_slope",
    "light_of",
    "linear_luma",
    "profiles",
]

Array = NDArray[np.float64]
Places = tuple[NDArray[np.float32], NDArray[np.float32]]

LUMA_WEIGHTS = (0.299, 0.587, 0.114)  # ITU-R BT.601, of encoded values
STEP_PX = 0.5  # spacing of samples across an edge: half a pixel loses nothing of a band-limited picture
MIN_STEP = (
    0.012  # smallest step of linear light (of 1) that counts as an edge: some four grey levels in white
)
TANGENT_SAMPLES = 5  # a sample along an edge is the mean over this many pixels of its length


@dataclass(frozen=True, slots=True, eq=False)
class Light:
    """A picture as light: decoded luma (height, width) as float32, and the pixels that it came from."""

    luma: NDArray[np.float32]
    pixels_rgb: NDArray[np.uint8]

    @property
    def shape(self) -> tuple[int, int]:
        """(height, width)."""
        return self.luma.shape[0], self.luma.shape[1]


def light_of(pixels_rgb: NDArray[np.uint8]) -> Light:
    """The light of sRGB pixels."""
    return Light(linear_luma(pixels_rgb), pixels_rgb)


def decoded(values: Array) -> Array:
    """Linear light (0-1) of values of sRGB (0-1)."""
    code = np.clip(values, 0.0, 1.0)
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)


def encoded(linear: Array) -> Array:
    """Values of sRGB (0-1) of linear light (0-1)."""
    light = np.clip(linear, 0.0, 1.0)
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1.0 / 2.4) - 0.055)


def encoding_slope(linear: Array) -> Array:
    """Derivative of :func:`encoded`."""
    light = np.clip(linear, 0.0031308, 1.0)
    return np.asarray(1.055 / 2.4 * light ** (1.0 / 2.4 - 1.0))


def linear_luma(pixels_rgb: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Decoded luma (0-1) as float32 (height, width) of sRGB pixels."""
    luma = cv2.cvtColor(np.ascontiguousarray(pixels_rgb), cv2.COLOR_RGB2GRAY)  # its weights are LUMA_WEIGHTS
    return np.asarray(cv2.LUT(luma, _table()), dtype=np.float32)


@cache
def _table() -> NDArray[np.float32]:
    """Linear light (256,) of each value that a byte can have."""
    return decoded(np.arange(256) / 255.0).astype(np.float32)


def profiles(light: Light, points_px: Array, normals_px: Array, reach_px: float) -> tuple[Array, Array]:
    """Decoded luma along normals: (offsets (s,) in px, values (n, s)); NaN outside the picture.

    Each value is the mean of a few pixels along the edge, which halves the noise and the grain of a floor.
    """
    offsets, at = _places(points_px, normals_px, reach_px)
    return offsets, _mean(_sampled(light.luma, at), _outside(light, at))


def colour_profiles(
    light: Light, points_px: Array, normals_px: Array, reach_px: float
) -> tuple[Array, Array]:
    """The same of linear red, green and blue: (offsets (s,) in px, values (n, s, 3))."""
    offsets, at = _places(points_px, normals_px, reach_px)
    return offsets, _mean(cv2.LUT(_sampled(light.pixels_rgb, at), _table()), _outside(light, at))


def all_profiles(
    light: Light, points_px: Array, normals_px: Array, reach_px: float
) -> tuple[Array, Array, Array]:
    """Offsets with what both :func:`profiles` and :func:`colour_profiles` give."""
    offsets, at = _places(points_px, normals_px, reach_px)
    outside = _outside(light, at)
    colours = cv2.LUT(_sampled(light.pixels_rgb, at), _table())
    return offsets, _mean(_sampled(light.luma, at), outside), _mean(colours, outside)


def _places(points_px: Array, normals_px: Array, reach_px: float) -> tuple[Array, Places]:
    """Offsets (s,) across an edge, and the pixels (n, along the edge, s) that are looked at, as their x and y."""
    count = round(reach_px / STEP_PX)
    offsets: Array = np.arange(-count, count + 1, dtype=np.float64) * STEP_PX
    shift = np.arange(TANGENT_SAMPLES) - (TANGENT_SAMPLES - 1) / 2.0
    # a tangent is its normal turned by a right angle
    tangents = np.column_stack([-normals_px[:, 1], normals_px[:, 0]])
    x, y = (
        ((points_px[:, k, None] + tangents[:, k, None] * shift)[:, :, None]
         + (normals_px[:, k, None] * offsets)[:, None]).astype(np.float32)
        for k in range(2)
    )  # fmt: skip
    return offsets, (x, y)


def _sampled(image: Any, at: Places) -> Any:
    """What an image (height, width) or (height, width, 3) shows at places: (n, along the edge, s) or with 3 as the last."""
    x, y = (each.reshape(len(each), -1) for each in at)
    seen = cv2.remap(image, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return seen.reshape(*at[0].shape, *image.shape[2:])


def _outside(light: Light, at: Places) -> NDArray[np.bool_] | None:
    """Which places lie outside the picture; None where none does."""
    height, width = light.shape
    x, y = at
    if x.min() >= 0.0 and y.min() >= 0.0 and x.max() <= width - 1 and y.max() <= height - 1:
        return None
    return np.asarray((x < 0) | (x > width - 1) | (y < 0) | (y > height - 1))


def _mean(values: Any, outside: NDArray[np.bool_] | None) -> Array:
    """Mean along the edge; NaN where a place lies outside the picture."""
    if outside is not None:
        values[outside] = np.nan
    mean = sum(np.moveaxis(values, 1, 0)) / np.float32(TANGENT_SAMPLES)
    return np.asarray(mean, dtype=np.float64)
