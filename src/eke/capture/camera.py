"""A camera over a plane: focal length, principal point, two radial and two tangential terms, and a pose.

Pixels are those of the picture turned upright, the centre of the top-left pixel is (0, 0), rows go down.
The plane has x to the right and y up in millimetres and heights above it; inside the camera the usual
frame of computer vision is used (x right, y down, z away from the viewer), so that plane points enter as
``(x, -y, -height)``.

References
----------
D. C. Brown, "Close-range camera calibration", Photogrammetric Engineering 37 (1971), for all four terms;
the polynomials act on undistorted coordinates, as in OpenCV's ``calib3d`` documentation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

CAMERA_UNKNOWNS = 13  # log focal, cx, cy, k1, k2, rotation (3), translation (3), p1, p2
UNDISTORT_STEPS = 12  # Newton steps at most; phone lenses are at double precision after four
UNDISTORTED = 1e-9  # of the focal length: after so short a step of Newton's the next would change nothing
TANGENTIAL_ROUNDS = 3
RADIUS_LIMIT_SLOPE = 0.2  # below this slope of the radial polynomial the model folds: no such pixel


def rotation_matrix(rotation_vector_rad: Array) -> Array:
    """Rotation matrix (3, 3) of a Rodrigues vector in radians."""
    a, b, c = np.asarray(rotation_vector_rad, dtype=np.float64).tolist()
    angle = math.sqrt(a * a + b * b + c * c)
    if angle < 1e-12:  # a turn below double precision
        return np.eye(3)
    x, y, z = a / angle, b / angle, c / angle
    sine, cosine = math.sin(angle), math.cos(angle)
    rest = 1.0 - cosine
    return np.array(
        [
            [cosine + x * x * rest, x * y * rest - z * sine, x * z * rest + y * sine],
            [y * x * rest + z * sine, cosine + y * y * rest, y * z * rest - x * sine],
            [z * x * rest - y * sine, z * y * rest + x * sine, cosine + z * z * rest],
        ]
    )


def tangential(x: Array, y: Array, p1: float, p2: float) -> tuple[Array, Array]:
    """How far decentred glass moves rays (n,) in both directions, all in focal lengths (Brown, 1971)."""
    r2 = x * x + y * y
    return 2.0 * p1 * x * y + p2 * (r2 + 2.0 * x * x), p1 * (r2 + 2.0 * y * y) + 2.0 * p2 * x * y


@dataclass(frozen=True, slots=True, eq=False)
class Camera:
    """Where the camera was and how it draws.

    Attributes
    ----------
    size_px
        (width, height) of the upright picture.
    focal_px, centre_px
        Focal length and principal point.
    k1, k2
        Radial distortion: a ray at undistorted radius r is drawn at r (1 + k1 r² + k2 r⁴).
    rotation_rad
        (3,) Rodrigues vector, plane frame (x, -y, -height) to camera frame.
    translation_mm
        (3,) where the origin of the plane lies in the camera frame.
    p1, p2
        Tangential distortion, in the order and signs of OpenCV: glass that is not centred.
    """

    size_px: tuple[int, int]
    focal_px: float
    centre_px: tuple[float, float]
    k1: float
    k2: float
    rotation_rad: Array
    translation_mm: Array
    p1: float = 0.0
    p2: float = 0.0

    def project(self, points_mm: Array, height_mm: float | Array = 0.0) -> Array:
        """Pixels (n, 2) of plane points (n, 2), lifted by ``height_mm`` towards the camera."""
        p = np.asarray(points_mm, dtype=np.float64).reshape(-1, 2)
        height = np.broadcast_to(np.asarray(height_mm, dtype=np.float64), (len(p),))
        # row by row of coordinates: each lies in one piece of memory
        world = np.array([p[:, 0], -p[:, 1], -height])
        x, y, z = rotation_matrix(self.rotation_rad) @ world + np.reshape(self.translation_mm, (3, 1))
        z = np.where(z > 1e-9, z, np.nan)  # NaN behind the camera
        x, y = x / z, y / z
        r2 = x * x + y * y
        stretch = 1.0 + self.k1 * r2 + self.k2 * r2 * r2
        aside, down = tangential(x, y, self.p1, self.p2)
        centre = self.centre_px
        return np.column_stack(
            [
                (x * stretch + aside) * self.focal_px + centre[0],
                (y * stretch + down) * self.focal_px + centre[1],
            ]
        )

    def undistort(self, points_px: Array) -> Array:
        """Ideal pixels (n, 2) with focal length and principal point kept, lens distortion removed.

        NaN where the radial polynomial cannot be inverted.
        """
        d = (np.asarray(points_px, dtype=np.float64).reshape(-1, 2) - self.centre_px) / self.focal_px
        ideal = self._without_radial(d)
        if self.p1 or self.p2:  # a thousandth of the radius: each round is a thousand times nearer
            for _ in range(TANGENTIAL_ROUNDS):
                ideal = self._without_radial(
                    d - np.column_stack(tangential(ideal[:, 0], ideal[:, 1], self.p1, self.p2))
                )
        return np.asarray(ideal * self.focal_px + self.centre_px, dtype=np.float64)

    def _without_radial(self, seen: Array) -> Array:
        """Rays (n, 2) that the radial terms draw at places (n, 2), both in focal lengths."""
        target = np.hypot(seen[:, 0], seen[:, 1])
        r = target.copy()
        for _ in range(UNDISTORT_STEPS):
            r2 = r * r
            slope = 1.0 + 3.0 * self.k1 * r2 + 5.0 * self.k2 * r2 * r2
            step = (r * (1.0 + self.k1 * r2 + self.k2 * r2 * r2) - target) / np.maximum(
                slope, RADIUS_LIMIT_SLOPE
            )
            r = np.minimum(np.abs(r - step), 2.0 * target)
            if not (np.abs(step) > UNDISTORTED).any():
                break
        r2 = r * r
        slope = 1.0 + 3.0 * self.k1 * r2 + 5.0 * self.k2 * r2 * r2
        ratio = np.where(target > 0.0, r / np.where(target > 0.0, target, 1.0), 1.0)
        return np.asarray(seen * np.where(slope > RADIUS_LIMIT_SLOPE, ratio, np.nan)[:, None])

    def plane_homography(self, height_mm: float = 0.0) -> Array:
        """(3, 3) matrix from plane points (x, y, 1) at a height to ideal pixels."""
        rot = rotation_matrix(self.rotation_rad)
        f, (cx, cy) = self.focal_px, self.centre_px
        k = np.array([[f, 0.0, cx], [0.0, f, cy], [0.0, 0.0, 1.0]])
        third = np.asarray(self.translation_mm) - rot[:, 2] * height_mm
        return np.asarray(k @ np.column_stack([rot[:, 0], -rot[:, 1], third]), dtype=np.float64)

    def to_plane(self, points_px: Array, height_mm: float = 0.0) -> Array:
        """Plane points in mm (n, 2) seen at pixels, on the plane at a height; NaN above the horizon."""
        ideal = self.undistort(points_px)
        h = np.linalg.inv(self.plane_homography(height_mm))
        q = np.column_stack([ideal, np.ones(len(ideal))]) @ h.T
        # the third coordinate is one over the depth: positive in front of the camera only
        w = np.where(q[:, 2] > 0.0, q[:, 2], np.nan)
        return np.asarray(q[:, :2] / w[:, None], dtype=np.float64)

    def position_mm(self) -> Array:
        """(3,) x, y and height of the camera above the plane."""
        c = -rotation_matrix(self.rotation_rad).T @ np.asarray(self.translation_mm)
        return np.array([c[0], -c[1], -c[2]])

    def foot_mm(self) -> Array:
        """(2,) the plane point right below the camera."""
        return self.position_mm()[:2]

    @property
    def tilt_deg(self) -> float:
        """Angle between the optical axis and the plumb line."""
        return math.degrees(math.acos(min(1.0, max(-1.0, float(rotation_matrix(self.rotation_rad)[2, 2])))))
