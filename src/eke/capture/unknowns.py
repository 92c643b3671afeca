"""The camera while it is being solved for: what a vector of unknowns draws, and how that changes with each of them.

The first ``CAMERA_UNKNOWNS`` of the vector are the camera's: log of the focal length in px, middle of the lens (2, px), k1, k2,
rotation (3, Rodrigues vector in rad), translation (3, mm), p1, p2. Further unknowns may follow.

References
----------
D. C. Brown, "Close-range camera calibration" (1971), for the lens. The derivatives are our own, by the chain rule.
"""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.camera import CAMERA_UNKNOWNS, tangential

__all__ = ["drawn", "drawn_slopes", "pairs", "to_plane"]

Array = NDArray[np.float64]

UNDISTORT_STEPS = 5  # Newton on a nearly linear function
NEAREST_MM = 1e-6  # nothing is seen that lies in the lens or behind it


def pairs(x: Array, y: Array) -> Array:
    """Points (n, 2) whose columns lie each in one piece of memory: all of them are reckoned column by column."""
    return np.array([x, y]).T


def to_plane(x: Array, px: Array, height: Array, rot: Array) -> Array:
    """Plane points (n, 2) in mm that are seen at pixels (n, 2), each on its own height (n,) in mm; ``rot`` is the matrix of the
    vector's rotation."""
    seen = (px - x[1:3]) / math.exp(x[0])
    d = _without_radial(x, seen)
    # a thousandth of the radius: once more is a thousand times nearer
    d = _without_radial(x, seen - pairs(*tangential(d[:, 0], d[:, 1], float(x[11]), float(x[12]))))
    ray = rot.T @ np.array([d[:, 0], d[:, 1], np.ones(len(d))])  # camera to plane frame
    eye = -rot.T @ x[8:11]
    depth = np.where(np.abs(ray[2]) < 1e-9, 1e-9, ray[2])
    t = (-height - eye[2]) / depth
    return pairs(eye[0] + t * ray[0], -(eye[1] + t * ray[1]))


def _without_radial(x: Array, seen: Array) -> Array:
    """Rays (n, 2) that the radial terms draw at places (n, 2), both in focal lengths."""
    target = np.hypot(seen[:, 0], seen[:, 1])
    r = target.copy()
    k1, k2 = x[3], x[4]
    for _ in range(UNDISTORT_STEPS):
        r2 = r * r
        slope = np.maximum(1.0 + 3.0 * k1 * r2 + 5.0 * k2 * r2 * r2, 0.2)
        r = r - (r * (1.0 + k1 * r2 + k2 * r2 * r2) - target) / slope
    return seen * (r / np.maximum(target, 1e-12))[:, None]


def _rays(x: Array, plane: Array, height: Array, rot: Array) -> tuple[Array, Array, Array]:
    """(points in the plane's frame (3, n), depth (n,) before the lens, rays (2, n) in focal lengths)."""
    points = np.array([plane[:, 0], -plane[:, 1], -height])
    cam = rot @ points + x[8:11, None]
    depth = np.maximum(cam[2], NEAREST_MM)
    return points, depth, cam[:2] / depth


def _through_glass(x: Array, ray: Array) -> Array:
    """Where the lens draws rays (2, n), in focal lengths."""
    r2 = ray[0] * ray[0] + ray[1] * ray[1]
    stretch = 1.0 + x[3] * r2 + x[4] * r2 * r2
    return np.asarray(ray * stretch + np.array(tangential(ray[0], ray[1], float(x[11]), float(x[12]))))


def drawn(x: Array, plane: Array, height: Array, rot: Array) -> Array:
    """Pixels (n, 2) of plane points (n, 2) in mm, each on its own height (n,) in mm."""
    at = _through_glass(x, _rays(x, plane, height, rot)[2]) * math.exp(x[0])
    return pairs(at[0] + x[1], at[1] + x[2])


def drawn_slopes(x: Array, plane: Array, height: Array, rot: Array) -> tuple[Array, Array]:
    """Derivatives of :func:`drawn` with respect to the camera's unknowns (CAMERA_UNKNOWNS, 2, n) and to the heights (2, n)."""
    points, depth, ray = _rays(x, plane, height, rot)
    (u, v), (p1, p2) = ray, x[11:13]
    r2 = u * u + v * v
    focal = math.exp(x[0])
    stretch, more = 1.0 + x[3] * r2 + x[4] * r2 * r2, 2.0 * (x[3] + 2.0 * x[4] * r2)
    both = more * u * v + 2.0 * (p1 * u + p2 * v)
    glass = np.array(
        [
            [stretch + more * u * u + 2.0 * p1 * v + 6.0 * p2 * u, both],
            [both, stretch + more * v * v + 6.0 * p1 * v + 2.0 * p2 * u],
        ]
    )

    def by_moving(moved: Array) -> Array:
        """How the picture changes where points move so (3, n) before the camera."""
        turned = (moved[:2] - ray * moved[2]) / depth
        return focal * np.asarray(np.einsum("ijn,jn->in", glass, turned))

    slopes = np.zeros((CAMERA_UNKNOWNS, 2, len(plane)))
    slopes[0] = focal * _through_glass(x, ray)
    slopes[1, 0], slopes[2, 1] = 1.0, 1.0
    slopes[3], slopes[4] = focal * ray * r2, focal * ray * r2 * r2
    # rows of its Jacobian: derivatives of the matrix, written row after row, by one part of the vector
    turns = cv2.Rodrigues(np.ascontiguousarray(x[5:8]))[1].reshape(3, 3, 3)
    for k in range(3):
        slopes[5 + k] = by_moving(turns[k] @ points)
        slopes[8 + k] = by_moving(np.repeat(np.eye(3)[:, k : k + 1], len(plane), axis=1))
    slopes[11] = focal * np.array(tangential(u, v, 1.0, 0.0))
    slopes[12] = focal * np.array(tangential(u, v, 0.0, 1.0))
    return slopes, by_moving(np.repeat(-rot[:, 2:], len(plane), axis=1))
