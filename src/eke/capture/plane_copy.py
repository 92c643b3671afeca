"""A small picture of the plane as seen from straight above, for looking for straight lines and right angles."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.camera import Camera
from eke.capture.photo import Photo
from eke.capture.shrink import shrunk_to

__all__ = ["PlaneCopy", "plane_copy"]

Array = NDArray[np.float64]

SMALL_SIDE_PX = 1000  # longer side
GRID = (13, 10)  # places of the picture that are asked what they see of the plane
FAR_SHARE = 0.4  # places that see the plane at less than this share of the usual pixels per mm are left out
RIM_PX = 12.0  # of the photograph: where the copy reaches beyond it, it repeats the rim
STEP_PX = 4  # so finely the copy is asked which pixels of the photograph it shows


@dataclass(frozen=True, slots=True, eq=False)
class PlaneCopy:
    """A copy of the plane in even pixels.

    Parameters
    ----------
    rgb
        uint8 (height, width, 3), rows down.
    camera
        The camera it was made by.
    corner_mm
        Where the middle of its top left pixel lies in the plane.
    mm_per_px
        Side of a pixel.
    """

    rgb: NDArray[np.uint8]
    camera: Camera
    corner_mm: tuple[float, float]
    mm_per_px: float

    def to_mm(self, points: Array) -> Array:
        """Plane points (n, 2) of pixels (n, 2) of the copy."""
        x, y = self.corner_mm
        return np.column_stack([x + self.mm_per_px * points[:, 0], y - self.mm_per_px * points[:, 1]])

    def from_mm(self, points_mm: Array) -> Array:
        """Pixels (n, 2) of the copy at plane points (n, 2)."""
        x, y = self.corner_mm
        return np.column_stack([points_mm[:, 0] - x, y - points_mm[:, 1]]) / self.mm_per_px

    def to_px(self, points: Array) -> Array:
        """Pixels (n, 2) of the photograph at pixels (n, 2) of the copy."""
        return self.camera.project(self.to_mm(points))

    def where(self) -> NDArray[np.float32]:
        """(height, width, 2) which pixel of the photograph each pixel shows; exact at every few, straight between them."""
        height, width = self.rgb.shape[:2]
        shape = (math.ceil(height / STEP_PX) + 2, math.ceil(width / STEP_PX) + 2)  # one more around
        # a resized picture has its new pixels so between the old ones
        rows, columns = ((np.arange(n) - 0.5) * STEP_PX - 0.5 for n in shape)
        x, y = np.meshgrid(columns, rows)
        px = self.to_px(np.column_stack([x.ravel(), y.ravel()])).reshape(*shape, 2)
        few = np.nan_to_num(px, nan=-1e6).clip(-1e6, 1e6).astype(np.float32)
        whole = (shape[1] * STEP_PX, shape[0] * STEP_PX)
        between = cv2.resize(few, whole, interpolation=cv2.INTER_LINEAR)
        return np.asarray(between[STEP_PX : STEP_PX + height, STEP_PX : STEP_PX + width])

    def seen(self) -> NDArray[np.bool_]:
        """(height, width): where the photograph shows the plane, its rim left out."""
        height, width = self.rgb.shape[:2]
        rows, columns = np.mgrid[0:height:STEP_PX, 0:width:STEP_PX]
        px = self.to_px(np.column_stack([columns.ravel(), rows.ravel()]).astype(np.float64))
        with np.errstate(invalid="ignore"):
            inside = ((px > RIM_PX) & (px < np.array(self.camera.size_px) - RIM_PX)).all(axis=1)
        few = inside.reshape(rows.shape).astype(np.uint8)
        return np.asarray(cv2.resize(few, (width, height), interpolation=cv2.INTER_NEAREST) > 0)


def plane_copy(photo: Photo, camera: Camera) -> PlaneCopy | None:
    """A small picture of the plane; None where the camera hardly sees it."""
    width, height = photo.width_px, photo.height_px
    u, v = np.meshgrid(np.linspace(0, width - 1, GRID[0]), np.linspace(0, height - 1, GRID[1]))
    px = np.column_stack([u.ravel(), v.ravel()])
    plane = camera.to_plane(px)
    step = camera.to_plane(px + np.array([1.0, 1.0])) - plane
    fine = 1.0 / np.maximum(np.hypot(step[:, 0], step[:, 1]), 1e-9)
    good = np.isfinite(plane).all(axis=1) & np.isfinite(fine)
    if good.sum() < 8:
        return None
    good &= fine >= FAR_SHARE * float(np.median(fine[good]))
    low, high = plane[good].min(axis=0), plane[good].max(axis=0)
    mm_per_px = float((high - low).max()) / SMALL_SIDE_PX
    columns, rows = (max(2, math.ceil(s / mm_per_px)) for s in high - low)
    corner = (float(low[0]), float(high[1]))
    empty = PlaneCopy(np.zeros((rows, columns, 3), np.uint8), camera, corner, mm_per_px)
    where = empty.where()
    # the photograph shrunk to about the copy's own fineness first, so that nothing finer shows as a false pattern
    shrink = max(1.0, mm_per_px * float(np.median(fine[good])) * math.sqrt(2.0))
    size = (max(2, round(width / shrink)), max(2, round(height / shrink)))
    soft = shrunk_to(photo.pixels_rgb, size)
    at = (where + 0.5) * (np.array(size, np.float32) / (width, height)).astype(np.float32) - 0.5
    copy = cv2.remap(soft, at, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return PlaneCopy(np.asarray(copy, dtype=np.uint8), camera, corner, mm_per_px)
