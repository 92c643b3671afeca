"""Floors: boards of wood, tiles, carpet."""

from __future__ import annotations

from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from demo.scenes.noise import field, grain

__all__ = ["FLOOR_PX_PER_MM", "FloorKind", "paint_floor"]

FloorKind = Literal["oak", "dark wood", "tiles", "carpet", "lino"]
FLOOR_PX_PER_MM = 2.5
"""Floors are painted no finer: nobody measures them."""

Picture = NDArray[np.float32]


def paint_floor(
    rng: np.random.Generator,
    kind: FloorKind,
    size_mm: tuple[float, float],
    px_per_mm: float = FLOOR_PX_PER_MM,
) -> NDArray[np.uint8]:
    """Return a floor of at least ``size_mm`` (across, down) at ``px_per_mm``, 8-bit RGB."""
    w, h = (int(np.ceil(s * px_per_mm)) + 2 for s in size_mm)
    painters = {"oak": _wood, "dark wood": _wood, "tiles": _tiles, "carpet": _carpet, "lino": _lino}
    return np.clip(painters[kind](rng, (h, w), kind, px_per_mm), 0, 255).astype(np.uint8)


def _turned(
    rng: np.random.Generator, shape: tuple[int, int], angle_deg: float, k: float
) -> tuple[Picture, Picture]:
    """Coordinates in mm along and across a direction."""
    y, x = np.mgrid[: shape[0], : shape[1]].astype(np.float32) / np.float32(k)
    a = np.float32(np.radians(angle_deg))
    u = x * np.cos(a) + y * np.sin(a) + np.float32(rng.uniform(0, 500))
    v = -x * np.sin(a) + y * np.cos(a) + np.float32(rng.uniform(0, 500))
    return u + 4000, v + 4000


def _look_up(table: Picture, u: Picture, v: Picture, cell: tuple[float, float]) -> Picture:
    h, w = table.shape
    return cv2.remap(table, (u / cell[0]) % (w - 1), (v / cell[1]) % (h - 1), cv2.INTER_LINEAR)


def _wood(rng: np.random.Generator, shape: tuple[int, int], kind: str, k: float) -> Picture:
    u, v = _turned(rng, shape, float(rng.uniform(0, 180)), k)
    wide, long = float(rng.uniform(70, 150)), float(rng.uniform(600, 1100))
    row = np.floor(v / wide).astype(int)
    offset = rng.uniform(0, long, 4096).astype(np.float32)
    along = u + offset[row % 4096]
    plank = (row * 37 + np.floor(along / long).astype(int) * 101) % 4096
    tone = rng.normal(0, 1, 4096).astype(np.float32)[plank]
    shift = rng.uniform(0, 3000, 4096).astype(np.float32)[plank]
    fine = _look_up(field(rng, (1024, 512), (2.0, 6.0), 2), along + shift, v + shift, (9.0, 0.7))
    rings = _look_up(field(rng, (512, 512), (6.0, 10.0), 3), along + shift, v + shift, (14.0, 1.6))
    fleck = grain(rng, shape)
    base = np.array([186, 146, 101] if kind == "oak" else [104, 70, 47], np.float32)
    light = 1 + 0.085 * tone + 0.05 * fine + 0.075 * np.sin(3.2 * rings) + 0.012 * fleck
    out = base * light[..., None]
    out *= 1 + 0.02 * tone[..., None] * np.array([1, 0, -1.5], np.float32)
    beside = np.minimum(np.minimum(v % wide, wide - v % wide), np.minimum(along % long, long - along % long))
    out *= 1 - 0.66 * np.clip((0.85 - beside) / 0.5, 0, 1)[..., None]
    return cv2.GaussianBlur(out, (0, 0), 0.6)


def _tiles(rng: np.random.Generator, shape: tuple[int, int], _kind: str, k: float) -> Picture:
    u, v = _turned(rng, shape, float(rng.uniform(-30, 30)), k)
    side = float(rng.choice([200.0, 300.0, 330.0]))
    index = (np.floor(u / side).astype(int) * 53 + np.floor(v / side).astype(int) * 131) % 4096
    tone = rng.normal(0, 1, 4096).astype(np.float32)[index]
    cloud = field(rng, shape, 60.0, 4)
    fleck = cv2.GaussianBlur(grain(rng, shape), (0, 0), 0.8)
    base = np.array([[176, 168, 156], [150, 152, 152], [168, 128, 104]][int(rng.integers(3))], np.float32)
    out = base * (1 + 0.03 * tone + 0.05 * cloud + 0.05 * fleck)[..., None]
    edge = np.minimum(np.minimum(u % side, side - u % side), np.minimum(v % side, side - v % side))
    joint = np.clip((2.2 - edge) / 0.5, 0, 1)[..., None]
    grout = np.array([122, 116, 108], np.float32) * (1 + 0.06 * fleck)[..., None]
    bevel = np.clip((4.0 - edge) / 2, 0, 1)[..., None]
    return out * (1 - 0.12 * bevel) * (1 - joint) + grout * joint


def _carpet(rng: np.random.Generator, shape: tuple[int, int], _kind: str, k: float) -> Picture:
    base = np.array([[112, 104, 98], [92, 102, 116], [128, 92, 84]][int(rng.integers(3))], np.float32)
    tuft = cv2.GaussianBlur(grain(rng, shape), (0, 0), 2.2)
    tuft /= tuft.std()
    fine = cv2.GaussianBlur(grain(rng, shape), (0, 0), 0.9)
    worn = field(rng, shape, 300.0, 3)
    return base * (1 + 0.10 * tuft + 0.16 * fine + 0.05 * worn)[..., None]


def _lino(rng: np.random.Generator, shape: tuple[int, int], _kind: str, k: float) -> Picture:
    base = np.array([[98, 122, 104], [146, 136, 112]][int(rng.integers(2))], np.float32)
    streak = field(rng, shape, (5.0, 40.0), 3)
    fleck = cv2.GaussianBlur(grain(rng, shape), (0, 0), 1.2)
    return base * (1 + 0.06 * streak + 0.05 * fleck)[..., None]
