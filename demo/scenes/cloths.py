"""Cloth spread on a floor: weave, stripes and checks, hems, creases, burn holes, stains, worn places."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from demo.scenes.board import Board, blend, fill
from demo.scenes.noise import field, grain, wobble

__all__ = ["Cloth", "blob", "paint_cloth", "rectangle", "round_outline"]

Array = NDArray[np.float64]
Rgb = tuple[int, int, int]


@dataclass(frozen=True, slots=True, eq=False)
class Cloth:
    """A cloth: shape and faults in mm of the scene.

    Parameters
    ----------
    outline, holes, stains, burns
        Closed outlines. A burn is a hole with a charred rim; its hole counts among the truth's holes.
    warp_deg
        Direction of the lengthwise threads from the x axis.
    pitch_mm
        Distance of neighbouring warp and weft threads.
    pattern, repeat_mm, second
        Stripes run along the warp; checks have both. ``repeat_mm`` is the distance after which they repeat.
    hem_mm
        Depth of a hem stitched all round; 0 for raw edges.
    selvedges
        Whether the first outline edge and its opposite are selvedges (only for four-cornered cloths).
    """

    outline: Array
    colour: Rgb
    warp_deg: float = 90.0
    pitch_mm: tuple[float, float] = (0.8, 0.85)
    slub: float = 0.10
    pattern: Literal["plain", "stripes", "checks"] = "plain"
    repeat_mm: float = 24.0
    second: Rgb = (236, 232, 222)
    hem_mm: float = 0.0
    burns: tuple[Array, ...] = ()
    stains: tuple[Array, ...] = ()
    worn: tuple[Array, ...] = ()
    creases: int = 3
    name: str = "cloth"


def rectangle(
    rng: np.random.Generator, width_mm: float, height_mm: float, skew_mm: float = 4.0, bow_mm: float = 1.5
) -> tuple[Array, Array]:
    """Return a once straight cloth as it lies, and its corners: a little out of square, edges a little bowed."""
    c = np.array([[0, 0], [width_mm, 0], [width_mm, height_mm], [0, height_mm]], dtype=float)
    c += rng.uniform(-skew_mm, skew_mm, c.shape)
    return _joined(rng, c, bow_mm), c


def _joined(rng: np.random.Generator, corners: Array, bow_mm: float) -> Array:
    out = []
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        n = int(np.hypot(*(b - a)) / 2)
        t = np.arange(n) / n
        d = (b - a) / np.hypot(*(b - a))
        off = wobble(rng, n, 2.0, 260.0, bow_mm) * np.minimum(1, 6 * t * (1 - t)) + rng.normal(
            0, bow_mm
        ) * 4 * t * (1 - t)
        out.append(a + (b - a) * t[:, None] + off[:, None] * np.array([-d[1], d[0]]))
    return np.vstack(out)


def polygon(rng: np.random.Generator, corners: Array, bow_mm: float = 1.5) -> Array:
    """Return an outline with the given corners (counter-clockwise) and nearly straight edges."""
    return _joined(rng, np.asarray(corners, dtype=float), bow_mm)


def round_outline(rng: np.random.Generator, diameter_mm: float, unround_mm: float = 3.0) -> Array:
    """Return a circle as tired cloth keeps it, lower left of its box at the origin."""
    n = int(np.pi * diameter_mm / 2)
    a = np.linspace(0, 2 * np.pi, n, endpoint=False)
    r = diameter_mm / 2 + 0.0 * a
    for k in (2, 3, 4, 5):
        r += rng.normal(0, unround_mm / k) * np.cos(k * a + rng.uniform(0, 2 * np.pi))
    ripple = sum(rng.normal(0, 0.35) * np.cos(k * a + rng.uniform(0, 6.28)) for k in range(17, 29))
    r = r + ripple
    return np.c_[np.cos(a), np.sin(a)] * r[:, None] + diameter_mm / 2


def blob(
    rng: np.random.Generator,
    centre: tuple[float, float],
    size_mm: float,
    rough: float = 0.16,
    tall: float = 1.0,
) -> Array:
    """Return a roundish outline (counter-clockwise): a stain, a burn."""
    a = np.linspace(0, 2 * np.pi, 90, endpoint=False)
    r = np.full_like(a, size_mm / 2)
    for k in range(2, 8):
        r += size_mm / 2 * rough * rng.normal() / k * np.cos(k * a + rng.uniform(0, 2 * np.pi))
    return np.c_[np.cos(a) * r, np.sin(a) * r * tall] + centre


def _threads(
    rng: np.random.Generator, c: Cloth, u: NDArray[np.float32], v: NDArray[np.float32]
) -> NDArray[np.float32]:
    """Brightness of a plain weave, about 1. ``u`` runs across the warp, ``v`` along it, in mm."""
    pu, pv = np.float32(c.pitch_mm[0]), np.float32(c.pitch_mm[1])
    tu, tv = u / pu, v / pv
    iu, iv = np.floor(tu), np.floor(tv)
    over = ((iu + iv) % 2).astype(np.float32)
    au, av = (tu - iu - 0.5).astype(np.float32), (tv - iv - 0.5).astype(np.float32)
    # a thread on top is round across and dips at its ends; its neighbour's turn comes next
    warp = (1 - 2.2 * au * au) * (1 - 1.3 * av * av)
    weft = (1 - 2.2 * av * av) * (1 - 1.3 * au * au) * np.float32(0.94)
    tone = np.where(over > 0, warp, weft)
    wu = rng.normal(0, c.slub, 8192).astype(np.float32)[iu.astype(np.int32) & 8191]
    wv = rng.normal(0, c.slub, 8192).astype(np.float32)[iv.astype(np.int32) & 8191]
    slub = np.where(over > 0, wu, wv)
    return np.float32(0.74) + np.float32(0.34) * tone + slub


def _pattern(c: Cloth, u: NDArray[np.float32], v: NDArray[np.float32]) -> NDArray[np.float32]:
    """Share of the second colour, 0 … 1."""
    r = np.float32(c.repeat_mm)
    soft = np.float32(0.6)

    def band(w: NDArray[np.float32]) -> NDArray[np.float32]:
        d = np.abs((w % r) - r / 2)
        return np.clip((r / 4 - d) / soft + np.float32(0.5), 0, 1)

    if c.pattern == "stripes":
        return band(u)
    return (band(u) + band(v)) / 2


def _creases(
    rng: np.random.Generator, c: Cloth, x: NDArray[np.float32], y: NDArray[np.float32]
) -> NDArray[np.float32]:
    """Light and dark of folds that ironing left, running along and across the cloth."""
    out = np.zeros_like(x)
    lo, hi = c.outline.min(axis=0), c.outline.max(axis=0)
    for _ in range(c.creases):
        a = np.radians(c.warp_deg + rng.choice([0, 90]) + rng.normal(0, 1.5))
        px, py = rng.uniform(lo, hi)
        d = np.float32(-np.sin(a)) * (x - np.float32(px)) + np.float32(np.cos(a)) * (y - np.float32(py))
        s = np.float32(rng.uniform(3, 7))
        out += np.float32(rng.choice([-1, 1]) * rng.uniform(0.03, 0.06)) * (d / s) * np.exp(-np.abs(d) / s)
    return out


def _distance_band(mask: NDArray[np.float32], k: float) -> NDArray[np.float32]:
    """Distance from the cloth's edge inwards, in mm."""
    half = cv2.resize(mask, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    d = cv2.distanceTransform((half > 0.5).astype(np.uint8), cv2.DIST_L2, 5) * np.float32(2 / k)
    return cv2.resize(d, mask.shape[::-1], interpolation=cv2.INTER_LINEAR)


def paint_cloth(rng: np.random.Generator, board: Board, c: Cloth) -> None:
    """Spread the cloth on the board's floor, with its shadow; the floor shows through holes."""
    k = board.px_per_mm
    px = board.to_px(c.outline)
    pad = int(14 * k)
    c0, r0 = np.maximum(np.floor(px.min(axis=0)).astype(int) - pad, 0)
    c1, r1 = np.minimum(np.ceil(px.max(axis=0)).astype(int) + pad, (board.rgb.shape[1], board.rgb.shape[0]))
    shape = (int(r1 - r0), int(c1 - c0))
    at = (int(r0), int(c0))

    def local(ring: Array) -> Array:
        return board.to_px(ring) - [c0, r0]

    mask = fill(shape, local(c.outline), *(local(b) for b in c.burns))
    small = cv2.resize(mask, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    a = rng.uniform(0, 2 * np.pi)
    M = np.array([[1, 0, 1.2 * k / 4 * np.cos(a)], [0, 1, 1.2 * k / 4 * np.sin(a)]])
    soft = cv2.GaussianBlur(cv2.warpAffine(small, M, small.shape[::-1]), (0, 0), k / 4 * 1.6)
    blend(board, (10, 9, 8), 0.5 * cv2.resize(soft, shape[::-1], interpolation=cv2.INTER_LINEAR), at)

    inside = _distance_band(fill(shape, local(c.outline)), k) if c.hem_mm else np.zeros(shape, np.float32)
    drape = cv2.resize(
        field(rng, (shape[0] // 8 + 1, shape[1] // 8 + 1), 130 * k / 8, 3),
        shape[::-1],
        interpolation=cv2.INTER_CUBIC,
    )
    dye = cv2.resize(
        field(rng, (shape[0] // 8 + 1, shape[1] // 8 + 1), 40 * k / 8, 3),
        shape[::-1],
        interpolation=cv2.INTER_LINEAR,
    )
    seed = int(rng.integers(1 << 31))
    stain_masks = [_soft(fill(shape, local(s)), 1.2 * k) for s in c.stains]
    stain_rims = [np.clip(m * (1 - _soft(m, 3.0 * k)) * 4, 0, 1) for m in stain_masks]
    worn_masks = [_soft(fill(shape, local(s)), 16 * k) for s in c.worn]
    chars = [
        (_soft(fill(shape, local(b)), 1.0 * k), _soft(fill(shape, local(_grown(b, 1.22))), 2.2 * k))
        for b in c.burns
    ]
    ang = np.float32(np.radians(c.warp_deg))
    base, second = np.array(c.colour, np.float32), np.array(c.second, np.float32)
    rows = 512
    for r in range(0, shape[0], rows):
        s = slice(r, min(r + rows, shape[0]))
        n = s.stop - s.start
        corner = board.to_mm(np.array([[c0, r0 + r]]))[0]
        x = (
            np.float32(corner[0])
            + np.arange(shape[1], dtype=np.float32)[None] / np.float32(k)
            + np.zeros((n, 1), np.float32)
        )
        y = (
            np.float32(corner[1])
            - np.arange(n, dtype=np.float32)[:, None] / np.float32(k)
            + np.zeros((1, shape[1]), np.float32)
        )
        bend = np.float32(1.1) * drape[s]  # threads are never quite straight
        v = x * np.cos(ang) + y * np.sin(ang) + 3000
        u = -x * np.sin(ang) + y * np.cos(ang) + 3000 + bend
        local_rng = np.random.default_rng(seed)  # the same threads in every band of rows
        tone = _threads(local_rng, c, u, v)
        tone *= 1 + np.float32(0.035) * drape[s] + np.float32(0.02) * dye[s] + _creases(local_rng, c, x, y)
        tone += np.float32(0.03) * grain(rng, tone.shape)
        d = inside[s]
        if c.hem_mm:
            tone *= 1 - np.float32(0.05) * (d < c.hem_mm)
            edge = np.exp(-np.abs(d - c.hem_mm) / 0.5) + 0.8 * np.exp(-d / 0.9)
            tone *= 1 - np.float32(0.13) * edge.astype(np.float32)
            stitch = (np.abs(d - (c.hem_mm - 1.8)) < 0.35) & (((x + y) % 2.6) < 1.7)
            tone = np.where(stitch, tone * np.float32(1.12) + np.float32(0.03), tone)
        colour = base
        rgb = tone[..., None] * colour
        if c.pattern != "plain":
            share = _pattern(c, u, v)[..., None]
            rgb = tone[..., None] * (base * (1 - share) + second * share)
        for m in worn_masks:
            rgb = rgb * (1 - 0.22 * m[s][..., None]) + 0.22 * m[s][..., None] * (
                rgb.mean(axis=2, keepdims=True) * 0.5 + 120
            )
        for m, rim in zip(stain_masks, stain_rims, strict=True):
            mottled = np.clip(m[s] * (0.80 + 0.25 * dye[s]) + 0.35 * rim[s], 0, 1)[..., None]
            rgb *= 1 - mottled * np.array([0.30, 0.46, 0.66], np.float32)
        for inner, outer in chars:
            brown = np.clip(outer[s] * 1.1, 0, 1)[..., None]
            rgb *= 1 - brown * np.array([0.50, 0.62, 0.72], np.float32)
            rgb *= 1 - 0.75 * np.clip(inner[s] * 1.3, 0, 1)[..., None]
        blend(board, rgb, mask[s], (at[0] + r, at[1]))


def _soft(mask: NDArray[np.float32], sigma_px: float) -> NDArray[np.float32]:
    small = cv2.resize(mask, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    small = cv2.GaussianBlur(small, (0, 0), max(0.5, sigma_px / 4))
    return cv2.resize(small, mask.shape[::-1], interpolation=cv2.INTER_LINEAR)


def _grown(ring: Array, by: float) -> Array:
    c = ring.mean(axis=0)
    return c + (ring - c) * by
