"""The rectified picture: the photograph as it would look from straight above, at a known scale.

Words: the *plane* is the floor or table that the paper lies on; plane coordinates are millimetres, x to
the right, y up (away from the bottom of the picture as the maker holds it). Every pixel of the rectified
picture is a square of ``mm_per_px`` millimetres of that plane.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from eke.capture.camera import Camera

PointsMm = NDArray[np.float64]
PointsPx = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Rectified:
    """A true-scale picture of the plane.

    Attributes
    ----------
    image_rgb
        uint8 of shape (height, width, 3), sRGB as in the photograph. Where the photograph saw nothing the
        pixel is zero in all three channels and ``seen`` is False.
    mm_per_px
        Side of one pixel on the plane.
    origin_mm
        Plane coordinates (x right, y up) of the centre of pixel (column 0, row 0): the top-left one.
    camera
        The camera with its pose, as solved.
    uncertainty_percent
        Of any length, with 95 % confidence, the reference's own tolerance included.
    uncertainty_mm
        Function of (n, 2) plane points: how far each may be from its true place relative to the middle
        of the given set, with 95 % confidence, as (n,) millimetres.
    reference_polygons_mm
        What the references cover, each (n, 2), counter-clockwise: not paper, not cloth, to be ignored.
    paper_polygon_mm
        The paper that carries the tracing where its edges were found, (n, 2) counter-clockwise.
    seen
        bool of shape (height, width): False outside the photograph.
    likely_paper_mm
        Where something looks like that paper, whose edges were not used, (4, 2).
    """

    image_rgb: NDArray[np.uint8]
    mm_per_px: float
    origin_mm: tuple[float, float]
    camera: Camera
    uncertainty_percent: float
    uncertainty_mm: Callable[[PointsMm], NDArray[np.float64]]
    reference_polygons_mm: tuple[PointsMm, ...] = ()
    paper_polygon_mm: PointsMm | None = None
    seen: NDArray[np.bool_] | None = field(default=None)
    likely_paper_mm: PointsMm | None = None

    def px_to_mm(self, points_px: PointsPx) -> PointsMm:
        """Plane coordinates in mm of (column, row) positions; integers are pixel centres."""
        p = np.asarray(points_px, dtype=np.float64).reshape(-1, 2)
        out = np.empty_like(p)
        out[:, 0] = self.origin_mm[0] + self.mm_per_px * p[:, 0]
        out[:, 1] = self.origin_mm[1] - self.mm_per_px * p[:, 1]
        return out

    def mm_to_px(self, points_mm: PointsMm) -> PointsPx:
        """(column, row) positions of plane points in mm; the inverse of :meth:`px_to_mm`."""
        p = np.asarray(points_mm, dtype=np.float64).reshape(-1, 2)
        out = np.empty_like(p)
        out[:, 0] = (p[:, 0] - self.origin_mm[0]) / self.mm_per_px
        out[:, 1] = (self.origin_mm[1] - p[:, 1]) / self.mm_per_px
        return out

    def cut(self, polygon_mm: PointsMm, margin_mm: float) -> Rectified:
        """The part of this picture around a polygon (n, 2) of the plane, with a margin; its pixels are not copied."""
        at = self.mm_to_px(polygon_mm)
        margin_px = margin_mm / self.mm_per_px
        height, width = self.image_rgb.shape[:2]
        left, top = np.floor(at.min(axis=0) - margin_px).astype(int).clip(0, [width - 1, height - 1])
        right, bottom = np.ceil(at.max(axis=0) + margin_px).astype(int).clip(0) + 1
        part = slice(top, max(bottom, top + 1)), slice(left, max(right, left + 1))
        x, y = self.px_to_mm(np.array([[left, top]]))[0]
        seen = None if self.seen is None else self.seen[part]
        return replace(self, image_rgb=self.image_rgb[part], origin_mm=(float(x), float(y)), seen=seen)
