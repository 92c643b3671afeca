"""From boards to a photograph: projection, light, lens, sensor, and the file that a phone would write."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from demo.scenes.board import Board
from demo.scenes.camera import DIAGONAL_35MM, Camera, interpolate_grid, pixel_grid

__all__ = ["Light", "Sensor", "exif_bytes", "expose", "to_heic", "to_jpeg"]

_STRIP = 192
_OVER = 2
"""Samples a pixel across and down."""


@dataclass(frozen=True, slots=True)
class Light:
    """Light in the scene.

    Parameters
    ----------
    from_deg, fall
        Direction from which it comes, and how much weaker it is on the far side (part of the middle's).
    tint
        Colour of the light against the camera's white balance.
    shade_at, shade_size_mm, shade
        A soft shadow (a head, an arm, the phone): middle as a part of the scene's extent, size, darkness.
    """

    from_deg: float = 120.0
    fall: float = 0.25
    tint: tuple[float, float, float] = (1.02, 1.0, 0.96)
    exposure: float = 0.95
    shade_at: tuple[float, float] = (0.5, -0.1)
    shade_size_mm: float = 260.0
    shade: float = 0.25


@dataclass(frozen=True, slots=True)
class Sensor:
    """What the camera does to light: corner darkness, blur, noise, sharpening, JPEG quality."""

    vignette: float = 0.22
    blur_px: float = 0.65
    noise: float = 0.006
    sharpen: float = 0.45
    quality: int = 84


_TO_LINEAR = np.where(
    np.arange(256) / 255 <= 0.04045,
    np.arange(256) / 255 / 12.92,
    ((np.arange(256) / 255 + 0.055) / 1.055) ** 2.4,
).astype(np.float32)
"""sRGB decoding (IEC 61966-2-1)."""


def _to_srgb(linear: NDArray[np.float32]) -> NDArray[np.float32]:
    steps = 4096
    x = np.arange(steps + 1) / steps
    table = np.where(x <= 0.0031308, 12.92 * x, 1.055 * np.maximum(x, 1e-9) ** (1 / 2.4) - 0.055).astype(
        np.float32
    )
    return table[np.clip(linear * steps + 0.5, 0, steps).astype(np.int32)]


def expose(
    rng: np.random.Generator, boards: Sequence[Board], camera: Camera, light: Light, sensor: Sensor
) -> NDArray[np.uint8]:
    """Return the photograph as stored by the sensor, ``(height, width, 3)`` 8-bit sRGB.

    ``boards`` lie one over the other, the first below all. Light is mixed as light (linear), several samples
    a pixel, and turned into sRGB at the end.
    """
    lens = camera.lens
    xs, ys = pixel_grid(lens)
    gx, gy = np.meshgrid(xs, ys)
    nodes = np.c_[gx.ravel(), gy.ravel()]
    seen = {z: camera.seen(nodes, z).reshape(*gx.shape, 2) for z in {b.z_mm for b in boards}}
    lamp = _illumination(seen[0.0], camera, light, sensor, gx, gy, boards[0])
    sub = (np.arange(lens.width_px * _OVER) + 0.5) / _OVER - 0.5
    across = {
        z: interpolate_grid(g.transpose(1, 0, 2).reshape(len(xs), -1), xs, sub).reshape(len(sub), len(ys), 2)
        for z, g in seen.items()
    }
    lamp_across = interpolate_grid(lamp.T, xs, np.arange(lens.width_px, dtype=float))
    out = np.empty((lens.height_px, lens.width_px, 3), np.float32)
    extents = [b.to_mm(_rim(b)) for b in boards]
    for r in range(0, lens.height_px, _STRIP):
        n = min(_STRIP, lens.height_px - r)
        rows = (np.arange(n * _OVER) + 0.5) / _OVER - 0.5 + r
        where = {
            z: interpolate_grid(a.transpose(1, 0, 2).reshape(len(ys), -1), ys, rows).reshape(
                len(rows), len(sub), 2
            )
            for z, a in across.items()
        }
        picture = np.zeros((len(rows), len(sub), 3), np.float32)
        for b, extent in zip(boards, extents, strict=True):
            _lay(picture, b, where[b.z_mm], camera, extent, r, n)
        small = cv2.resize(picture, (lens.width_px, n), interpolation=cv2.INTER_AREA)
        glow = interpolate_grid(lamp_across.T, ys, np.arange(r, r + n, dtype=float)).astype(np.float32)
        out[r : r + n] = small * glow[..., None] * np.array(light.tint, np.float32)
    return _develop(rng, out, sensor)


def _rim(b: Board) -> NDArray[np.float64]:
    """Points along a board's edge, in its pixels: straight edges may bulge in the picture."""
    h, w = b.rgb.shape[:2]
    t = np.linspace(0, 1, 12)[:, None]
    corners = np.array([[0.0, 0], [w, 0], [w, h], [0, h]])
    return np.vstack([a + t * (c - a) for a, c in zip(corners, np.roll(corners, -1, axis=0), strict=True)])


def _lay(
    picture: NDArray[np.float32],
    b: Board,
    where: NDArray[np.float64],
    camera: Camera,
    extent: NDArray[np.float64],
    r: int,
    n: int,
) -> None:
    """Add one board to a strip of the picture."""
    box = camera.project(np.c_[extent, np.full(len(extent), b.z_mm)])
    whole = b.alpha is None
    if whole:
        cols = slice(0, picture.shape[1])
    else:
        if box[:, 1].max() < r - 8 or box[:, 1].min() > r + n + 8:
            return
        cols = slice(max(0, int(box[:, 0].min() - 8) * _OVER), max(0, int(box[:, 0].max() + 8) * _OVER))
        if cols.start >= picture.shape[1] or cols.stop == 0:
            return
    part = where[:, cols]
    uv = b.to_px(part.reshape(-1, 2)).astype(np.float32).reshape(part.shape)
    rgb = _TO_LINEAR[
        cv2.remap(b.rgb, uv[..., 0], uv[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    ]
    if whole:
        picture[:, cols] = rgb
        return
    assert b.alpha is not None
    a = cv2.remap(b.alpha, uv[..., 0], uv[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
    a = (a.astype(np.float32) / 255)[..., None]
    picture[:, cols] = picture[:, cols] * (1 - a) + rgb * a


def _illumination(
    seen: NDArray[np.float64],
    camera: Camera,
    light: Light,
    sensor: Sensor,
    gx: NDArray[np.float64],
    gy: NDArray[np.float64],
    floor: Board,
) -> NDArray[np.float64]:
    h, w = floor.rgb.shape[:2]
    lo, hi = floor.to_mm(np.array([[0, h]]))[0], floor.to_mm(np.array([[w, 0]]))[0]
    size = np.hypot(*(hi - lo))
    p = (seen - (lo + hi) / 2) / size
    a = np.radians(light.from_deg)
    side = p[..., 0] * np.cos(a) + p[..., 1] * np.sin(a)
    lamp = light.exposure * np.exp(light.fall * np.clip(side, -0.8, 0.8) * 2)
    middle = lo + (hi - lo) * light.shade_at
    d = np.hypot(seen[..., 0] - middle[0], 0.7 * (seen[..., 1] - middle[1])) / light.shade_size_mm
    lamp *= 1 - light.shade / (1 + np.exp(np.clip((d - 1) * 5, -50, 50)))
    lens = camera.lens
    r2 = ((gx - lens.width_px / 2) ** 2 + (gy - lens.height_px / 2) ** 2) / (
        np.hypot(lens.width_px, lens.height_px) / 2
    ) ** 2
    return lamp * (1 - sensor.vignette * r2)


def _develop(rng: np.random.Generator, linear: NDArray[np.float32], sensor: Sensor) -> NDArray[np.uint8]:
    """Blur, noise, tone and sharpening, as a phone's own processing leaves them."""
    if sensor.blur_px:
        linear = cv2.GaussianBlur(linear, (0, 0), sensor.blur_px)
    out = np.empty(linear.shape, np.uint8)
    tile = rng.standard_normal((701, linear.shape[1] + 400)).astype(np.float32)
    tile = cv2.GaussianBlur(tile, (0, 0), 0.7)
    tile /= tile.std()
    margin = 6
    for r in range(0, len(linear), 512):
        lo, hi = max(0, r - margin), min(len(linear), r + 512 + margin)
        part = np.clip(linear[lo:hi], 0, None)
        rows = np.arange(lo, hi) % 701
        for c, strength in enumerate((1.15, 1.0, 1.4)):
            start = 130 * c
            speckle = tile[(rows + 97 * c) % 701, start : start + part.shape[1]]
            part[..., c] += sensor.noise * strength * np.sqrt(part[..., c] + 0.02) * speckle
        white = 1 - np.exp(
            -np.clip(part, 0, None) * 1.9
        )  # a soft shoulder keeps white paper from burning out
        tone = _to_srgb(np.clip(white * np.float32(1 / (1 - np.exp(-1.9))), 0, 1))
        tone += sensor.sharpen * (tone - cv2.GaussianBlur(tone, (0, 0), 1.3))
        out[r : min(r + 512, len(linear))] = np.clip(tone * 255 + 0.5, 0, 255).astype(np.uint8)[
            r - lo : r - lo + 512
        ]
    return out


def exif_bytes(
    camera: Camera, focal_35mm: float | None, when: str = "2026:03:14 15:09:26", upright: int | None = None
) -> bytes:
    """Return EXIF as a phone writes it; without the focal length when ``focal_35mm`` is None."""
    exif = Image.Exif()
    exif[0x0112] = camera.upright if upright is None else upright
    exif[0x010F], exif[0x0110], exif[0x0131] = "Eke demo", "scene renderer", "eke demo scenes"
    exif[0x0132] = when
    ifd = exif.get_ifd(0x8769)
    ifd[0x9003] = when
    ifd[0xA002], ifd[0xA003] = camera.lens.width_px, camera.lens.height_px
    if focal_35mm is not None:
        ifd[0xA405] = round(focal_35mm)
        ifd[0x920A] = round(focal_35mm * 9.8 / DIAGONAL_35MM, 2)  # a sensor 9.8 mm across its corners
        ifd[0x829D], ifd[0x829A], ifd[0x8827] = 1.8, 1 / 120, 125
    return exif.tobytes()


def to_jpeg(picture: NDArray[np.uint8], exif: bytes | None, quality: int) -> bytes:
    """Return the picture as JPEG."""
    buffer = io.BytesIO()
    extra = {"exif": exif} if exif else {}
    Image.fromarray(picture).save(
        buffer, "JPEG", quality=quality, subsampling="4:2:0", optimize=True, **extra
    )
    return buffer.getvalue()


def to_heic(picture: NDArray[np.uint8], exif: bytes | None, quality: int) -> bytes:
    """Return the picture as HEIC. Needs ``pillow-heif``, which only makes the demo's pictures."""
    import pillow_heif

    pillow_heif.register_heif_opener()
    buffer = io.BytesIO()
    extra = {"exif": exif} if exif else {}
    Image.fromarray(picture).save(buffer, "HEIF", quality=quality, **extra)
    return buffer.getvalue()
