"""One rectified picture out of several photographs whose cameras stand over one plane.

Each place is taken from the photograph that shows it most finely and furthest from its rim, never from one in which a
reference covers it while another shows it free. Over a narrow band at the seams the two are mixed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.camera import Camera
from eke.capture.photo import Photo
from eke.capture.scan import FAR_PX
from eke.capture.unroll import MOST_PIXELS, pixel_maps
from eke.errors import Stopped

__all__ = ["Mosaic", "Part", "compose"]

Array = NDArray[np.float64]
Stop = Callable[[], bool]

CELL_MM = 4.0  # ownership is decided in cells of this size
FEATHER_CELLS = 1.5  # standard deviation of the mixing at a seam, in cells
RIM_SHARE = (
    0.03  # of a photograph's shorter side: no places are taken so near to its rim if another shows them
)
CENTRE_BONUS = 0.5  # how much less a corner of a photograph is worth than its middle
COVERED = 0.01  # worth of a place that a reference covers
ALIKE = 0.5  # correlation of two views of a reference that still lies there
STRIP = 256


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """One photograph of the plane: its camera over the common plane, what is worth drawing, its references."""

    photo: Photo
    camera: Camera
    extent_mm: Array
    references_mm: tuple[Array, ...]
    mm_per_px: float


@dataclass(frozen=True, slots=True, eq=False)
class Mosaic:
    """The joined picture; fields as in :class:`eke.capture.rectify.Rectified`.

    ``owner`` (rows, columns) of cells of :data:`CELL_MM`, the first at the top left corner of the picture, tells the
    photograph that each place was taken from.
    """

    image_rgb: NDArray[np.uint8]
    seen: NDArray[np.bool_]
    mm_per_px: float
    origin_mm: tuple[float, float]
    camera: Camera
    reference_polygons_mm: tuple[Array, ...]
    owner: NDArray[np.uint8]

    def owner_of(self, points_mm: Array) -> NDArray[np.int_]:
        """(n,) photograph from which plane points were taken; the nearest cell's outside the picture."""
        cells = (points_mm - self.origin_mm) * np.array([1.0, -1.0]) / CELL_MM
        at = np.clip(np.floor(cells), 0, np.array(self.owner.shape[::-1]) - 1).astype(int)
        return np.asarray(self.owner[at[:, 1], at[:, 0]], dtype=int)


def compose(parts: Sequence[Part], *, stop: Stop | None = None) -> Mosaic:
    """Draw the joined picture, at most as many pixels as one rectified picture has."""
    every = np.concatenate([p.extent_mm for p in parts])
    low, high = every.min(axis=0), every.max(axis=0)
    mm_per_px = min(p.mm_per_px for p in parts)
    span = high - low
    mm_per_px = max(mm_per_px, math.sqrt(float(span[0] * span[1]) / MOST_PIXELS))
    columns, rows = (max(2, math.ceil(s / mm_per_px)) for s in span)
    origin = np.array([low[0] + mm_per_px / 2.0, high[1] - mm_per_px / 2.0])
    polygons, covers = _references(parts)
    worth = _worth(parts, covers, origin, span)
    owner = worth.argmax(axis=0).astype(np.uint8)
    shares = [
        cv2.GaussianBlur(((owner == k) & (w > 0)).astype(np.float32), (0, 0), FEATHER_CELLS)
        for k, w in enumerate(worth)
    ]
    gains = _gains(parts, worth, origin)
    image = np.zeros((rows, columns, 3), np.uint8)
    seen = np.zeros((rows, columns), np.bool_)
    for top in range(0, rows, STRIP):
        if stop is not None and stop():
            raise Stopped("Stopped while the pictures were being joined; nothing was kept.")
        count = min(STRIP, rows - top)
        total = np.zeros((count, columns, 3), np.float32)
        weight = np.zeros((count, columns), np.float32)
        for part, share, gain in zip(parts, shares, gains, strict=True):
            wanted = _spread(share, mm_per_px, columns, top, count)
            if not wanted.any():
                continue
            x, y = pixel_maps(part.camera, origin, mm_per_px, columns, top, count)
            width, height = part.camera.size_px
            inside = (x >= 0) & (x <= width - 1) & (y >= 0) & (y <= height - 1)
            # a trace of every photograph everywhere, so that what only one saw is drawn whole
            wanted = np.where(inside, wanted + 1e-4, 0.0).astype(np.float32)
            drawn = cv2.remap(part.photo.pixels_rgb, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
            total += drawn * (wanted[..., None] * gain)
            weight += wanted
        has = weight > 0.0
        seen[top : top + count] = has
        image[top : top + count] = np.clip(total / np.maximum(weight, 1e-6)[..., None] + 0.5, 0, 255)
    far = np.array([-origin[0], origin[1], FAR_PX * mm_per_px])
    camera = Camera((columns, rows), FAR_PX, (0.0, 0.0), 0.0, 0.0, np.zeros(3), far)
    place = (float(origin[0]), float(origin[1]))
    return Mosaic(image, seen, mm_per_px, place, camera, polygons, owner)


def _inside(camera: Camera, points_mm: Array, margin_px: float = 0.0) -> NDArray[np.bool_]:
    px = np.nan_to_num(camera.project(points_mm), nan=-1e6)
    return np.asarray(((px >= margin_px) & (px <= np.array(camera.size_px) - 1.0 - margin_px)).all(axis=1))


def _references(parts: Sequence[Part]) -> tuple[tuple[Array, ...], list[list[Array]]]:
    """Polygons of references that still lie there for all, and for each photograph those to look past."""
    keep: list[Array] = []
    covers: list[list[Array]] = [[] for _ in parts]
    for k, part in enumerate(parts):
        for polygon in part.references_mm:
            gone = any(
                j != k and _inside(other.camera, polygon, 2.0).all() and not _same_there(part, other, polygon)
                for j, other in enumerate(parts)
            )
            if gone:
                covers[k].append(polygon)
            else:
                keep.append(polygon)
    return tuple(keep), covers


def _same_there(one: Part, other: Part, polygon: Array) -> bool:
    """Whether two photographs show the same within a polygon and on its edge."""
    middle = polygon.mean(axis=0)
    box = polygon + 0.08 * (polygon - middle)
    low, high = box.min(axis=0), box.max(axis=0)
    steps = [max(12, int(s / 2.0)) for s in high - low]
    gx, gy = np.meshgrid(np.linspace(low[0], high[0], steps[0]), np.linspace(low[1], high[1], steps[1]))
    at = np.column_stack([gx.ravel(), gy.ravel()])
    views = []
    for part in (one, other):
        px = np.nan_to_num(part.camera.project(at), nan=-1e6).astype(np.float32)
        grey = cv2.cvtColor(part.photo.pixels_rgb, cv2.COLOR_RGB2GRAY)
        shape = (steps[1], steps[0])
        drawn = cv2.remap(
            grey, px[:, 0].reshape(shape), px[:, 1].reshape(shape), cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )  # fmt: skip
        views.append(cv2.GaussianBlur(drawn.astype(np.float64), (0, 0), 1.0).ravel())
    a, b = (v - v.mean() for v in views)
    return bool((a @ b) > ALIKE * math.sqrt(float((a @ a) * (b @ b)) + 1e-9))


def _worth(parts: Sequence[Part], covers: Sequence[Sequence[Array]], origin: Array, span: Array) -> Array:
    """(photographs, rows, columns) how good each one is for each cell; 0 where it shows nothing."""
    rows, columns = max(1, math.ceil(span[1] / CELL_MM)), max(1, math.ceil(span[0] / CELL_MM))
    gx, gy = np.meshgrid((np.arange(columns) + 0.5) * CELL_MM, (np.arange(rows) + 0.5) * CELL_MM)
    at = np.column_stack([origin[0] + gx.ravel(), origin[1] - gy.ravel()])
    out = np.zeros((len(parts), rows, columns))
    for k, part in enumerate(parts):
        size = np.array(part.camera.size_px, dtype=np.float64)
        px = part.camera.project(at)
        right = part.camera.project(at + np.array([1.0, 0.0])) - px
        up = part.camera.project(at + np.array([0.0, 1.0])) - px
        fine = np.sqrt(np.abs(right[:, 0] * up[:, 1] - right[:, 1] * up[:, 0]))
        radius = np.hypot(*(px - size / 2.0).T) / (np.hypot(*size) / 2.0)
        rim = np.minimum(px, size - 1.0 - px).min(axis=1) / (RIM_SHARE * size.min())
        value = fine * (1.0 - CENTRE_BONUS * radius**2) * np.clip(rim, 1e-3, 1.0)
        grid = np.where(np.isfinite(value) & (rim > 0.0), np.maximum(value, 1e-9), 0.0).reshape(rows, columns)
        for polygon in covers[k]:
            hole = np.zeros((rows, columns), np.uint8)
            cells = np.rint((polygon - origin) * np.array([1.0, -1.0]) / CELL_MM - 0.5).astype(np.int32)
            cv2.fillPoly(hole, [cells], 1)
            grid[cv2.dilate(hole, np.ones((7, 7), np.uint8)) > 0] *= COVERED
        out[k] = grid
    return out


def _spread(
    share: NDArray[np.float32], mm_per_px: float, columns: int, top: int, count: int
) -> NDArray[np.float32]:
    """A strip of the picture's own pixels out of cells."""
    x = ((np.arange(columns) + 0.5) * mm_per_px / CELL_MM - 0.5).astype(np.float32)
    y = ((top + np.arange(count) + 0.5) * mm_per_px / CELL_MM - 0.5).astype(np.float32)
    strip = cv2.remap(
        share, np.ascontiguousarray(np.broadcast_to(x, (count, columns))),
        np.ascontiguousarray(np.broadcast_to(y[:, None], (count, columns))), cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    return np.asarray(strip, np.float32)


def _gains(parts: Sequence[Part], worth: Array, origin: Array) -> list[NDArray[np.float32]]:
    """(3,) for each photograph: what its colours are multiplied by, so that overlaps are equally bright."""
    rows, columns = worth.shape[1:]
    gx, gy = np.meshgrid((np.arange(columns) + 0.5) * CELL_MM, (np.arange(rows) + 0.5) * CELL_MM)
    at = np.column_stack([origin[0] + gx.ravel(), origin[1] - gy.ravel()])
    tones = []
    for part in parts:
        shrink = max(1.0, CELL_MM / part.mm_per_px)
        width, height = part.camera.size_px
        size = (max(1, round(width / shrink)), max(1, round(height / shrink)))
        small = cv2.resize(part.photo.pixels_rgb, size, interpolation=cv2.INTER_AREA)
        px = np.nan_to_num(part.camera.project(at), nan=-1e6)
        px = ((px + 0.5) * np.array([size[0] / width, size[1] / height]) - 0.5).astype(np.float32)
        drawn = cv2.remap(
            small, px[:, 0].reshape(rows, columns), px[:, 1].reshape(rows, columns), cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )  # fmt: skip
        tones.append(np.log(np.maximum(drawn.astype(np.float64), 4.0)))
    count = len(parts)
    normal, right = np.eye(count) * 1e-3, np.zeros((count, 3))
    for i in range(count):
        for j in range(i + 1, count):
            both = (worth[i] > 0) & (worth[j] > 0)
            if both.sum() < 20:
                continue
            apart = np.median((tones[j] - tones[i])[both], axis=0)
            normal[[i, j], [i, j]] += 1.0
            normal[[i, j], [j, i]] -= 1.0
            right[i] += apart
            right[j] -= apart
    return [np.exp(v).astype(np.float32) for v in np.linalg.solve(normal, right)]
