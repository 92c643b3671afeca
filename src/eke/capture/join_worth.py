"""What points and lengths of a joined picture are worth: from the covariance of all cameras and moves together."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from eke.capture.camera import CAMERA_UNKNOWNS
from eke.capture.certainty import NORMAL_95, Certainty, without_rigid
from eke.capture.join_adjust import MOVE, Adjusted

__all__ = ["JoinedCertainty"]

Array = NDArray[np.float64]

STEP = 1e-2  # of a standard deviation


@dataclass(frozen=True, slots=True, eq=False)
class JoinedCertainty(Certainty):
    """:class:`Certainty` of a picture joined of several.

    ``adjusted`` holds the cameras; ``owner`` says of plane points (n, 2) from which photograph they were taken, (n,).
    """

    adjusted: Adjusted
    owner: Callable[[Array], NDArray[np.int_]]
    seam_sigma_mm: float

    def sensitivity(self, points_mm: Array) -> Array:
        """(n, 2, k): how points seen at fixed pixels move with each unknown, rigid moves of all taken out."""
        points = np.asarray(points_mm, dtype=np.float64).reshape(-1, 2)
        whose = self.owner(points)
        count = len(self.adjusted.cameras)
        out = np.zeros((len(points), 2, len(self.covariance)))
        for k in np.unique(whose):
            own = np.flatnonzero(whose == k)
            move, camera = self.adjusted.moves[k], self.adjusted.cameras[k]
            px = camera.project(move.back(points[own]))
            base = camera.to_plane(px)
            for u in range(CAMERA_UNKNOWNS):
                there = self.adjusted.changed(int(k), u, STEP).to_plane(px)
                out[own, :, CAMERA_UNKNOWNS * k + u] = (there - base) @ move.matrix.T / STEP
            if k > 0:
                start = CAMERA_UNKNOWNS * count + MOVE * (k - 1)
                about = points[own] - np.array(move.shift_mm)
                out[own, :, start] = np.column_stack([-about[:, 1], about[:, 0]])
                out[own, 0, start + 1] = 1.0
                out[own, 1, start + 2] = 1.0
        return without_rigid(np.nan_to_num(out), points)

    def local_mm(self, points_mm: Array) -> Array:
        """As for one photograph; where points come from several, what remains at the seams is added."""
        points = np.asarray(points_mm, dtype=np.float64).reshape(-1, 2)
        own = super(JoinedCertainty, self).local_mm(points)
        across = len(np.unique(self.owner(points))) > 1
        return np.asarray(np.hypot(own, NORMAL_95 * self.seam_sigma_mm)) if across else own
