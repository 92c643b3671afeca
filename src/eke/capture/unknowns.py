"""The camera while it is being solved for: what a vector of unknowns draws, and how that changes with each of them.

The first ``CAMERA_UNKNOWNS`` of the vector are the camera's: log of the focal length in px, middle of the lens (2, px), k1, k2,
rotation (3, Rodrigues vector in rad), translation (3, mm), p1, p2. Further unknowns may follow.

References
----------
D. C. Brown, "Close-range camera calibration" (1971), for the lens. The derivatives are our own, by the chain rule.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.camera import CAMERA_UNKNOWNS, tangential

__all__ = ["ABOUT", "Slopes", "drawn", "drawn_slopes", "pairs", "to_plane"]

Array = NDArray[np.float64]

STEPS = (5, 2)  # of Newton on a nearly linear function; and from a place that is nearly right
ABOUT = (2, 1)  # the same for a place that need not be known closely, good to a few hundredths of a pixel
NEAREST_MM = 1e-6  # nothing is seen that lies in the lens or behind it


def pairs(x: Array, y: Array) -> Array:
    """Points (n, 2) whose columns lie each in one piece of memory: all of them are reckoned column by column."""
    return np.array([x, y]).T


def to_plane(x: Array, px: Array, height: Array, rot: Array, steps: tuple[int, int] = STEPS) -> Array:
    """Plane points (n, 2) in mm that are seen at pixels (n, 2), each on its own height (n,) in mm; ``rot`` is the matrix of the
    vector's rotation. ``steps`` of undoing the lens, before and after decentred glass is undone."""
    seen = (px - x[1:3]) / math.exp(x[0])
    d = _without_radial(x, seen, np.hypot(seen[:, 0], seen[:, 1]), steps[0])
    # a thousandth of the radius: once more is a thousand times nearer
    straight = seen - pairs(*tangential(d[:, 0], d[:, 1], float(x[11]), float(x[12])))
    d = _without_radial(x, straight, np.hypot(d[:, 0], d[:, 1]), steps[1])
    ray = rot.T @ np.array([d[:, 0], d[:, 1], np.ones(len(d))])  # camera to plane frame
    eye = -rot.T @ x[8:11]
    depth = np.where(np.abs(ray[2]) < 1e-9, 1e-9, ray[2])
    t = (-height - eye[2]) / depth
    return pairs(eye[0] + t * ray[0], -(eye[1] + t * ray[1]))


def _without_radial(x: Array, seen: Array, r: Array, steps: int) -> Array:
    """Rays (n, 2) that the radial terms draw at places (n, 2), both in focal lengths; ``r`` (n,) is about how far they lie
    from the middle."""
    target = np.hypot(seen[:, 0], seen[:, 1])
    k1, k2 = x[3], x[4]
    for _ in range(steps):
        r2 = r * r
        bend, bow = k1 * r2, k2 * r2 * r2
        slope = np.maximum(1.0 + 3.0 * bend + 5.0 * bow, 0.2)
        r = r - (r * (1.0 + bend + bow) - target) / slope
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


@dataclass(frozen=True, slots=True, eq=False)
class Slopes:
    """Derivatives of what is :func:`drawn` of n points.

    Parameters
    ----------
    by_camera
        (CAMERA_UNKNOWNS, 2, n) by the camera's unknowns.
    by_place
        (2, 2, n) by the points' own x and y in the plane.
    by_height
        (2, n) by their heights.
    """

    by_camera: Array
    by_place: Array
    by_height: Array


def drawn_slopes(x: Array, plane: Array, height: Array, rot: Array) -> Slopes:
    """Derivatives of :func:`drawn`."""
    points, depth, ray = _rays(x, plane, height, rot)
    (u, v), (p1, p2) = ray, x[11:13]
    r2 = u * u + v * v
    focal = math.exp(x[0])
    stretch, more = 1.0 + x[3] * r2 + x[4] * r2 * r2, 2.0 * (x[3] + 2.0 * x[4] * r2)
    both = more * u * v + 2.0 * (p1 * u + p2 * v)
    # by the places of the points before the camera, (3, 2, n): across, down, away
    moved = np.empty((3, 2, len(plane)))
    moved[0, 0] = stretch + more * u * u + 2.0 * p1 * v + 6.0 * p2 * u
    moved[0, 1] = moved[1, 0] = both
    moved[1, 1] = stretch + more * v * v + 6.0 * p1 * v + 2.0 * p2 * u
    moved[:2] *= focal / depth
    moved[2] = -u * moved[0] - v * moved[1]
    by_camera = np.zeros((CAMERA_UNKNOWNS, 2, len(plane)))
    by_camera[0] = focal * _through_glass(x, ray)
    by_camera[1, 0], by_camera[2, 1] = 1.0, 1.0
    by_camera[3] = focal * ray * r2
    by_camera[4] = by_camera[3] * r2
    # rows of its Jacobian: derivatives of the matrix, written row after row, by one part of the vector
    turns = cv2.Rodrigues(np.ascontiguousarray(x[5:8]))[1].reshape(3, 3, 3)
    for k in range(3):
        a, b, c = turns[k] @ points
        by_camera[5 + k] = a * moved[0] + b * moved[1] + c * moved[2]
    by_camera[8:11] = moved
    by_camera[11] = focal * np.array(tangential(u, v, 1.0, 0.0))
    by_camera[12] = focal * np.array(tangential(u, v, 0.0, 1.0))
    by_axis = np.tensordot(rot.T, moved, 1)  # of the frame (x, -y, -height)
    return Slopes(by_camera, by_axis[:2] * np.array([1.0, -1.0])[:, None, None], -by_axis[2])
