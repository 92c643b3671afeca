"""One least squares over all photographs of one plane: their cameras, as surveyed, and the ties between them.

Each survey's answer, with its covariance, is an observation of that camera; each tie says that two cameras see one
place. So two sheets far apart also straighten each other's pictures. What the surveys share (the printed sheet, the
maker's reading, the lens) is not known, and of n observations that may depend on each other in any way, n times the
covariance of each is never too little: that is how the surveys enter. Two pictures with one and the same sheet
thus give no better scale than one of them.

References
----------
S. J. Julier, J. K. Uhlmann, "A non-divergent estimation algorithm in the presence of unknown correlations" (1997), for
the bound. B. Triggs et al., "Bundle adjustment: a modern synthesis" (2000). P. J. Huber (1964), for the weights.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.camera import CAMERA_UNKNOWNS, Camera, rotation_matrix
from eke.capture.certainty import Certainty
from eke.capture.join_match import Move
from eke.capture.join_ties import Ties

__all__ = ["Adjusted", "adjusted", "over_common"]

Array = NDArray[np.float64]

MOVE = 3  # turn, shift of a plane
UNEVEN_MM = 0.12  # paper is not quite flat: standard deviation of a place seen from two sides
BLOCK_MM, BLOCK_SIGMA_MM = 60.0, 0.15  # neighbouring ties share as much error, however many they are
HUBER = 2.0  # standard deviations
ROUNDS = 12
STEP = 1e-3  # of a standard deviation, for the derivatives
FREE_TURN_RAD, FREE_SHIFT_MM = 1.0, 1000.0


@dataclass(frozen=True, slots=True, eq=False)
class Adjusted:
    """The answer.

    Attributes
    ----------
    cameras
        As surveyed and bettered, each over its own plane.
    moves
        From each plane to the common one.
    steps
        (13, 13) for each photograph: column k is what one unit of its unknown k does to the camera's numbers.
    covariance
        Of all unknowns: 13 for each photograph, then 3 (turn, shift) for each but the first.
    left_mm
        For each pair of photographs with ties, what remains between them (n,), across what is clear.
    pull
        For each photograph, how far it was changed: root mean square in its own standard deviations.
    """

    cameras: tuple[Camera, ...]
    moves: tuple[Move, ...]
    steps: tuple[Array, ...]
    covariance: Array
    left_mm: dict[tuple[int, int], Array] = field(default_factory=dict)
    pull: tuple[float, ...] = ()

    def changed(self, photo: int, unknown: int, by: float) -> Camera:
        """A camera with one of its unknowns changed."""
        return _changed(self.cameras[photo], by * self.steps[photo][:, unknown])


def _changed(camera: Camera, by: Array) -> Camera:
    return Camera(
        camera.size_px,
        camera.focal_px * math.exp(float(by[0])),
        (camera.centre_px[0] + float(by[1]), camera.centre_px[1] + float(by[2])),
        camera.k1 + float(by[3]),
        camera.k2 + float(by[4]),
        camera.rotation_rad + by[5:8],
        camera.translation_mm + by[8:11],
        camera.p1 + float(by[11]),
        camera.p2 + float(by[12]),
    )


def over_common(camera: Camera, move: Move) -> Camera:
    """The same camera over the plane that ``move`` takes its own to."""
    flip = np.diag([1.0, -1.0])  # a camera's world is (x, -y, -height)
    turn = np.eye(3)
    turn[:2, :2] = flip @ move.matrix.T @ flip
    rotation = rotation_matrix(camera.rotation_rad) @ turn
    vector, _ = cv2.Rodrigues(rotation)
    shift = rotation @ np.array([move.shift_mm[0], -move.shift_mm[1], 0.0])
    return replace(
        camera, rotation_rad=np.asarray(vector).ravel(), translation_mm=camera.translation_mm - shift
    )


def _root(covariance: Array) -> Array:
    """(13, 13) whose product with its transpose is the covariance; nothing where nothing is open."""
    size = np.sqrt(np.maximum(np.diag(covariance), 1e-30))
    values, vectors = np.linalg.eigh(covariance / np.outer(size, size))
    return np.asarray(size[:, None] * vectors * np.sqrt(np.maximum(values, 0.0)))


def adjusted(
    surveys: Sequence[Certainty], ties: dict[tuple[int, int], Ties], moves: Sequence[Move]
) -> Adjusted:
    """All cameras and moves that explain surveys and ties best.

    Parameters
    ----------
    surveys
        Each photograph's camera with its covariance; terms beyond the lens count by what they did to the camera.
    ties
        Between photographs (first, second).
    moves
        First guesses of the moves to the common plane; that of the first photograph is kept.
    """
    count = len(surveys)
    roots = [math.sqrt(count) * _root(s.covariance[:CAMERA_UNKNOWNS, :CAMERA_UNKNOWNS]) for s in surveys]
    total = CAMERA_UNKNOWNS * count + MOVE * (count - 1)
    z = np.zeros((count, CAMERA_UNKNOWNS))
    at = list(moves)
    normal = np.eye(total)
    left: dict[tuple[int, int], Array] = {}
    inflate = 1.0
    for _ in range(ROUNDS):
        cameras = [_changed(s.camera, r @ v) for s, r, v in zip(surveys, roots, z, strict=True)]
        normal = np.zeros((total, total))
        normal[: CAMERA_UNKNOWNS * count, : CAMERA_UNKNOWNS * count] = np.eye(CAMERA_UNKNOWNS * count)
        free = np.tile([FREE_TURN_RAD, FREE_SHIFT_MM, FREE_SHIFT_MM], count - 1) ** -2.0
        normal[CAMERA_UNKNOWNS * count :, CAMERA_UNKNOWNS * count :] = np.diag(free)
        right = np.concatenate([-z.ravel(), np.zeros(MOVE * (count - 1))])
        squares, number = 0.0, 0
        for (i, j), tie in ties.items():
            off, slope = _tie_terms(cameras, at, roots, i, j, tie, total)
            weigh = _whitening(tie, at[i].of(cameras[i].to_plane(tie.first_px)))
            off_w = np.einsum("nab,nb->na", weigh, off)
            slope_w = np.einsum("nab,nbk->nak", weigh, slope)
            size = np.hypot(*off_w.T)
            pull = np.minimum(1.0, HUBER / np.maximum(size, 1e-12))
            normal += np.einsum("n,nak,nal->kl", pull, slope_w, slope_w)
            right -= np.einsum("n,nak,na->k", pull, slope_w, off_w)
            squares += float((pull * size**2).sum())
            number += 2 * len(off)
            left[i, j] = tie.across_mm(off)
        step = np.linalg.solve(normal, right)
        z += step[: CAMERA_UNKNOWNS * count].reshape(count, CAMERA_UNKNOWNS)
        for k in range(1, count):
            turn, x, y = step[CAMERA_UNKNOWNS * count + MOVE * (k - 1) :][:MOVE]
            shift = at[k].shift_mm
            at[k] = Move(at[k].turn_rad + float(turn), (shift[0] + float(x), shift[1] + float(y)))
        inflate = max(1.0, squares / max(1, number))
        if np.abs(step[: CAMERA_UNKNOWNS * count]).max() < 1e-4:
            break
    cameras = [_changed(s.camera, r @ v) for s, r, v in zip(surveys, roots, z, strict=True)]
    return Adjusted(
        tuple(cameras),
        tuple(at),
        tuple(roots),
        np.asarray(np.linalg.inv(normal) * inflate),
        left,
        tuple(float(np.sqrt(count * np.mean(v * v))) for v in z),
    )


def _tie_terms(
    cameras: Sequence[Camera],
    moves: Sequence[Move],
    roots: Sequence[Array],
    i: int,
    j: int,
    tie: Ties,
    total: int,
) -> tuple[Array, Array]:
    """How far apart the two ends of each tie lie in mm (n, 2), and the derivatives (n, 2, total)."""
    count = len(cameras)
    out = np.zeros((len(tie.first_px), 2, total))
    ends = []
    for photo, px, sign in ((i, tie.first_px, -1.0), (j, tie.second_px, 1.0)):
        own = cameras[photo].to_plane(px)
        common = moves[photo].of(own)
        ends.append(common)
        for k in range(CAMERA_UNKNOWNS):
            there = _changed(cameras[photo], STEP * roots[photo][:, k]).to_plane(px)
            out[:, :, CAMERA_UNKNOWNS * photo + k] += sign * (there - own) @ moves[photo].matrix.T / STEP
        if photo > 0:
            start = CAMERA_UNKNOWNS * count + MOVE * (photo - 1)
            about = common - np.array(moves[photo].shift_mm)
            out[:, :, start] += sign * np.column_stack([-about[:, 1], about[:, 0]])
            out[:, 0, start + 1] += sign
            out[:, 1, start + 2] += sign
    return ends[1] - ends[0], np.nan_to_num(out)


def _whitening(tie: Ties, at_mm: Array) -> Array:
    """(n, 2, 2) that turn what is left of ties into standard deviations."""
    _, block, crowd = np.unique(
        np.floor(at_mm / BLOCK_MM).astype(int), axis=0, return_inverse=True, return_counts=True
    )
    shared = UNEVEN_MM**2 + BLOCK_SIGMA_MM**2 * crowd[block.ravel()]
    values, vectors = np.linalg.eigh(tie.covariance_mm2 + shared[:, None, None] * np.eye(2))
    return np.asarray(np.einsum("nab,nb,ncb->nac", vectors, values**-0.5, vectors))
