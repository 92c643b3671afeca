"""A camera over the floor: where a point of the scene falls in the picture, and what a pixel sees.

The scene lies in the plane z = 0: x right, y up as seen from above, z towards the camera; millimetres. In the
picture x runs right and y down, whole numbers at pixel centres. The lens follows the usual polynomial model
(radial ``k1, k2, k3``, tangential ``p1, p2``; Brown 1966, in the order and signs of OpenCV).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["DIAGONAL_35MM", "Camera", "Lens", "aim", "interpolate_grid", "pixel_grid"]

Array = NDArray[np.float64]

DIAGONAL_35MM = 43.2666
"""Diagonal of a 36 × 24 mm frame in mm: the measure behind "35 mm equivalent"."""


@dataclass(frozen=True, slots=True)
class Lens:
    """A phone's lens and sensor, in the sensor's own (landscape) raster."""

    width_px: int
    height_px: int
    f_px: float
    cx_px: float
    cy_px: float
    k1: float = 0.0
    k2: float = 0.0
    p1: float = 0.0
    p2: float = 0.0
    k3: float = 0.0
    drift_px: tuple[float, float] = (0.0, 0.0)
    """How far the picture moves in the hand from its first row to its last: a rolling shutter."""

    @property
    def matrix(self) -> Array:
        """The 3 × 3 camera matrix."""
        return np.array([[self.f_px, 0, self.cx_px], [0, self.f_px, self.cy_px], [0, 0, 1.0]])

    @property
    def distortion(self) -> Array:
        """``k1, k2, p1, p2, k3``."""
        return np.array([self.k1, self.k2, self.p1, self.p2, self.k3])

    def distort(self, x: Array, y: Array) -> tuple[Array, Array]:
        """Return where the lens puts ideal image coordinates (in focal lengths)."""
        r2 = x * x + y * y
        radial = 1 + r2 * (self.k1 + r2 * (self.k2 + r2 * self.k3))
        return (
            x * radial + 2 * self.p1 * x * y + self.p2 * (r2 + 2 * x * x),
            y * radial + self.p1 * (r2 + 2 * y * y) + 2 * self.p2 * x * y,
        )

    def drifted(self, px: Array) -> Array:
        """Return where pixels (n, 2) of a picture taken at one moment fall when its rows are read one after another."""
        late = px[:, 1:] / self.height_px
        return px + late * self.drift_px

    def steadied(self, px: Array) -> Array:
        """The inverse of :meth:`drifted`."""
        y = px[:, 1] / (1.0 + self.drift_px[1] / self.height_px)
        return np.c_[px[:, 0] - self.drift_px[0] * y / self.height_px, y]

    def undistort(self, xd: Array, yd: Array) -> tuple[Array, Array]:
        """Return the ideal coordinates whose image :meth:`distort` puts at ``xd, yd`` (Newton's method)."""
        x, y = xd.copy(), yd.copy()
        for _ in range(12):
            fx, fy = self.distort(x, y)
            ex, ey = fx - xd, fy - yd
            r2 = x * x + y * y
            radial = 1 + r2 * (self.k1 + r2 * (self.k2 + r2 * self.k3))
            slope = 2 * (self.k1 + r2 * (2 * self.k2 + 3 * self.k3 * r2))
            a = radial + slope * x * x + 2 * self.p1 * y + 6 * self.p2 * x
            b = slope * x * y + 2 * self.p1 * x + 2 * self.p2 * y
            d = radial + slope * y * y + 6 * self.p1 * y + 2 * self.p2 * x
            det = a * d - b * b
            x -= (d * ex - b * ey) / det
            y -= (a * ey - b * ex) / det
        return x, y


@dataclass(frozen=True, slots=True, eq=False)
class Camera:
    """A lens at a place: ``X_camera = R @ X_scene + t``.

    ``upright`` is the EXIF orientation that turns the stored raster upright: 1 (as stored) or 6 (turn it
    90 degrees clockwise).
    """

    lens: Lens
    R: Array
    t: Array
    upright: int = 1

    @property
    def centre_mm(self) -> Array:
        """Where the camera is in the scene."""
        return -self.R.T @ self.t

    @property
    def tilt_deg(self) -> float:
        """Angle between the line of sight and the plumb line."""
        return float(np.degrees(np.arccos(np.clip(-self.R[2, 2], -1, 1))))

    def project(self, points_mm: ArrayLike) -> Array:
        """Return the pixels of the stored raster where points of the scene fall, ``(n, 2)``.

        ``points_mm`` is ``(n, 3)``, or ``(n, 2)`` for points on the floor.
        """
        p = np.asarray(points_mm, dtype=float)
        if p.shape[1] == 2:
            p = np.c_[p, np.zeros(len(p))]
        c = p @ self.R.T + self.t
        x, y = self.lens.distort(c[:, 0] / c[:, 2], c[:, 1] / c[:, 2])
        return self.lens.drifted(
            np.c_[self.lens.f_px * x + self.lens.cx_px, self.lens.f_px * y + self.lens.cy_px]
        )

    def project_upright(self, points_mm: ArrayLike) -> Array:
        """Return the pixels of the upright picture where points of the scene fall."""
        px = self.project(points_mm)
        if self.upright == 6:
            return np.c_[self.lens.height_px - 1 - px[:, 1], px[:, 0]]
        return px

    def seen(self, px: Array, z_mm: float = 0.0) -> Array:
        """Return the points at height ``z_mm`` that pixels ``(n, 2)`` of the stored raster see, ``(n, 2)``."""
        px = self.lens.steadied(px)
        x, y = self.lens.undistort(
            (px[:, 0] - self.lens.cx_px) / self.lens.f_px, (px[:, 1] - self.lens.cy_px) / self.lens.f_px
        )
        d = np.c_[x, y, np.ones(len(x))] @ self.R
        c = self.centre_mm
        return c[:2] + d[:, :2] * ((z_mm - c[2]) / d[:, 2])[:, None]


def _turn(axis: int, angle_deg: float) -> Array:
    a = np.radians(angle_deg)
    c, s = np.cos(a), np.sin(a)
    R = np.eye(3)
    i, j = [(1, 2), (2, 0), (0, 1)][axis]
    R[i, i] = R[j, j] = c
    R[i, j], R[j, i] = -s, s
    return R


def aim(
    lens: Lens,
    must_show_mm: ArrayLike,
    *,
    tilt_deg: float,
    azimuth_deg: float,
    roll_deg: float = 0.0,
    portrait: bool = False,
    margin: float = 0.04,
    shift: tuple[float, float] = (0.0, 0.0),
) -> Camera:
    """Return a camera as near as it can be with all ``must_show_mm`` in the picture.

    Parameters
    ----------
    tilt_deg, azimuth_deg
        How far the line of sight leans from the plumb line, and from which side the camera looks.
    margin
        Free part of the picture's shorter side around what must be seen.
    shift
        Moves the aim, as a part of the scene's extent: a hand never centres exactly.
    """
    pts = np.asarray(must_show_mm, dtype=float)
    lo, hi = pts.min(axis=0), pts.max(axis=0)
    look_at = (lo + hi) / 2
    down = np.diag([1.0, -1.0, -1.0])
    lean = _turn(2, azimuth_deg) @ _turn(0, tilt_deg) @ _turn(2, -azimuth_deg)
    R = _turn(2, roll_deg) @ down @ lean
    if portrait:
        R = np.array([[0.0, 1, 0], [-1, 0, 0], [0, 0, 1]]) @ R
    upright = 6 if portrait else 1
    edge = margin * min(lens.width_px, lens.height_px)

    def at(distance: float, target: Array) -> Camera:
        centre = np.array([*target, 0.0]) - distance * (R.T @ [0, 0, 1.0])
        return Camera(lens, R, -R @ centre, upright)

    def shows(cam: Camera) -> bool:
        c = np.c_[pts, np.zeros(len(pts))] @ cam.R.T + cam.t
        if (c[:, 2] < 100).any() or (np.hypot(c[:, 0], c[:, 1]) / c[:, 2] > 1.1).any():
            return False
        px = cam.project(pts)
        return bool(
            (px > edge).all()
            and (px[:, 0] < lens.width_px - 1 - edge).all()
            and (px[:, 1] < lens.height_px - 1 - edge).all()
        )

    target = look_at
    for _ in range(4):  # centre what is seen, then come as near as it allows
        near, far = 150.0, 20000.0
        for _ in range(50):
            mid = (near + far) / 2
            near, far = (near, mid) if shows(at(mid, target)) else (mid, far)
        cam = at(far, target)
        px = cam.project(pts)
        middle = (px.min(axis=0) + px.max(axis=0)) / 2
        target = target + 0.8 * (
            cam.seen(middle[None])[0] - cam.seen(np.array([[lens.width_px / 2, lens.height_px / 2]]))[0]
        )
    cam = at(far, target + np.array(shift) * (hi - lo))
    distance = far
    while not shows(cam) and distance < 3 * far:
        distance *= 1.01
        cam = at(distance, target + np.array(shift) * (hi - lo))
    return replace(cam)


def pixel_grid(lens: Lens, step_px: int = 16) -> tuple[Array, Array]:
    """Return the coarse grid of pixel coordinates, one step beyond the picture on every side."""
    xs = np.arange(-step_px, lens.width_px + 2 * step_px + 1, step_px, dtype=float)
    ys = np.arange(-step_px, lens.height_px + 2 * step_px + 1, step_px, dtype=float)
    return xs, ys


def interpolate_grid(grid: Array, axis_px: Array, at_px: Array) -> Array:
    """Return the matrix product that interpolates ``grid`` along its first axis at ``at_px``.

    Cubic through four neighbours (Lagrange): a smooth map on a 16-pixel grid comes out right to far below a
    thousandth of a pixel.
    """
    step = axis_px[1] - axis_px[0]
    u = (at_px - axis_px[0]) / step
    i = np.clip(np.floor(u).astype(int), 1, len(axis_px) - 3)
    f = u - i
    weights = np.zeros((len(at_px), len(axis_px)))
    rows = np.arange(len(at_px))
    weights[rows, i - 1] = -f * (f - 1) * (f - 2) / 6
    weights[rows, i] = (f + 1) * (f - 1) * (f - 2) / 2
    weights[rows, i + 1] = -(f + 1) * f * (f - 2) / 2
    weights[rows, i + 2] = (f + 1) * f * (f - 1) / 6
    return weights @ grid
