"""How sure a plane point or a length is, from the covariance of the solution.

The plane's own frame is arbitrary, so only what remains after the best rigid move counts: a whole piece that is
shifted is no error.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from eke.capture.beyond_lens import BEYOND, beyond_px
from eke.capture.camera import CAMERA_UNKNOWNS, Camera

__all__ = ["Certainty", "without_rigid"]

Array = NDArray[np.float64]

NORMAL_95 = 1.96  # two-sided 95 % of a normal distribution
MODEL_SHARE = 0.0003  # of a length: what two radial terms do not describe of a phone lens's curvature
BEYOND_STEP = 1e-2  # of a standard deviation
STEPS = np.array([1e-6, 1e-2, 1e-2, 1e-5, 1e-5, 1e-6, 1e-6, 1e-6, 1e-3, 1e-3, 1e-3, 1e-6, 1e-6])


@dataclass(frozen=True, slots=True, eq=False)
class Certainty:
    """Covariance of a camera's unknowns, asked in millimetres of the plane of that same camera.

    (15, 15): the 13 unknowns, and the terms beyond the lens (:mod:`eke.capture.beyond_lens`) in standard deviations; or
    (13, 13), where there is no lens.
    """

    camera: Camera
    covariance: Array

    def _moved(self, column: int, step: float) -> Camera:
        c = self.camera
        v = np.array([0.0, *c.centre_px, c.k1, c.k2, *c.rotation_rad, *c.translation_mm, c.p1, c.p2])
        v[column] += step
        focal = c.focal_px * float(np.exp(v[0]))
        centre = float(v[1]), float(v[2])
        radial, decentred = (float(v[3]), float(v[4])), (float(v[11]), float(v[12]))
        return Camera(c.size_px, focal, centre, *radial, v[5:8], v[8:11], *decentred)

    def sensitivity(self, points_mm: Array) -> Array:
        """(n, 2, k): how plane points seen at fixed pixels move with each of the k unknowns and terms, rigid moves taken
        out."""
        points = np.asarray(points_mm, dtype=np.float64).reshape(-1, 2)
        px = self.camera.project(points)
        base = self.camera.to_plane(px)
        out = np.zeros((len(points), 2, len(self.covariance)))
        for k, step in enumerate(STEPS):
            out[:, :, k] = (self._moved(k, step).to_plane(px) - base) / step
        if len(self.covariance) == CAMERA_UNKNOWNS + BEYOND:
            c = self.camera
            drawn = beyond_px(c.size_px, px)
            for k in range(BEYOND):
                moved = c.to_plane(px + BEYOND_STEP * drawn[:, :, k])
                out[:, :, CAMERA_UNKNOWNS + k] = (moved - base) / BEYOND_STEP
        return without_rigid(np.nan_to_num(out), points)

    def local_mm(self, points_mm: Array) -> Array:
        """(n,) with 95 % confidence, how far each point is from its true place among the given ones."""
        points = np.asarray(points_mm, dtype=np.float64).reshape(-1, 2)
        if len(points) < 2:
            return np.zeros(len(points))
        s = self.sensitivity(points)
        variance = np.einsum("nik,kl,nil->n", s, self.covariance, s)
        far = np.hypot(*(points - points.mean(axis=0)).T)
        return np.asarray(NORMAL_95 * np.sqrt(np.maximum(variance, 0.0)) + MODEL_SHARE * far)

    def length_percent(self, points_mm: Array) -> float:
        """With 95 % confidence, the error of lengths between far points of the given ones, in per cent."""
        points = np.asarray(points_mm, dtype=np.float64).reshape(-1, 2)
        if len(points) > 40:
            points = points[np.linspace(0, len(points) - 1, 40).astype(int)]
        if len(points) < 2:
            return float("inf")
        s = self.sensitivity(points)
        i, j = np.triu_indices(len(points), 1)
        chord = points[j] - points[i]
        length = np.hypot(chord[:, 0], chord[:, 1])
        far = length > 0.5 * length.max()
        i, j, chord, length = i[far], j[far], chord[far], length[far]
        stretch = np.einsum("nik,ni->nk", s[j] - s[i], chord) / (length**2)[:, None]
        variance = np.einsum("nk,kl,nl->n", stretch, self.covariance, stretch)
        return 100.0 * float(NORMAL_95 * np.sqrt(np.mean(np.maximum(variance, 0.0))) + MODEL_SHARE)


def without_rigid(moves: Array, points_mm: Array) -> Array:
    """Derivatives (n, 2, k) of points, less their mean and less their turn about the middle."""
    out = moves - moves.mean(axis=0)
    rel = points_mm - points_mm.mean(axis=0)
    spin = np.column_stack([-rel[:, 1], rel[:, 0]])
    size = float(np.sum(rel * rel))
    if size > 0.0:
        turn = np.einsum("nik,ni->k", out, spin) / size
        out = out - spin[:, :, None] * turn[None, None, :]
    return np.asarray(out)
