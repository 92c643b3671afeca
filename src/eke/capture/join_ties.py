"""Ties: places of the plane that two photographs show, each found in both to a part of a pixel.

A tie is a small patch of the plane, drawn from each photograph through its own camera and laid over the other. Across
a drawn line it tells much, along it nothing: its covariance says so.

References
----------
B. D. Lucas, T. Kanade, "An iterative image registration technique with an application to stereo vision" (1981).
J. Shi, C. Tomasi, "Good features to track" (1994), for the places.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.camera import Camera
from eke.capture.join_match import Plan

__all__ = ["HALF", "Look", "Ties", "chosen", "find_ties", "spots_of"]

Array = NDArray[np.float64]
Grey = NDArray[np.uint8]

HALF = 12  # pixels from the middle of a patch to its rim
STEPS = 10  # of Lucas and Kanade
FLAT_LEVELS = 1.5  # standard deviation of a patch's grey levels below which it shows nothing
STRONG_LEVELS = 6.0  # ... and above which the other photograph must show the same
ALIKE = 0.7  # normalised cross-correlation of patches that show the same
UNLIKE = 0.4
NOISE_LEVELS = 1.0  # least standard deviation of grey levels
NOISE_SLOPE = 0.1875  # variance of the slope by Sobel's differences, for noise of variance 1
SHARED_NOISE = 4.0  # neighbouring pixels share their noise: so many of them are worth one
CELL_MM = 14.0  # one place is tried in each cell
MOST_SPOTS = 420
BLOCK_MM = 60.0  # part of the overlap that gets its share of them; more where it is large
BLOCK_SPOTS = 3


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """A photograph and its camera over the common plane."""

    grey: Grey
    camera: Camera


@dataclass(frozen=True, slots=True, eq=False)
class Ties:
    """What two photographs show alike.

    Attributes
    ----------
    first_px, second_px
        (n, 2) the same places in both.
    covariance_mm2
        (n, 2, 2) of their distance on the plane.
    apart_mm
        (n, 2) how far apart the cameras that were given put them.
    against
        In how many further places one shows something clear that the other does not.
    """

    first_px: Array
    second_px: Array
    covariance_mm2: Array
    apart_mm: Array
    against: int

    def only(self, which: NDArray[np.bool_]) -> Ties:
        """Some of the ties."""
        return Ties(
            self.first_px[which], self.second_px[which], self.covariance_mm2[which], self.apart_mm[which],
            self.against + int((~which).sum()),
        )  # fmt: skip

    def across_mm(self, off_mm: Array) -> Array:
        """(n,) of distances (n, 2) at the ties the part across what is seen there, where it is clear."""
        _, axes = np.linalg.eigh(self.covariance_mm2)
        return np.asarray(np.abs(np.einsum("na,na->n", axes[:, :, 0], off_mm)))

    @property
    def share(self) -> float:
        """Of all places with something clear in them, those that both show alike."""
        return len(self.first_px) / max(1, len(self.first_px) + self.against)


def spots_of(plan: Plan, mask: NDArray[np.uint8]) -> tuple[Array, Array]:
    """Places of a plan worth looking at, (n, 2) mm, and how clear they are (n,): one in each cell.

    A corner is best; where there is only a straight line, that will do.
    """
    soft = cv2.GaussianBlur(plan.grey, (0, 0), 1.0).astype(np.float32)
    values = np.maximum(cv2.cornerEigenValsAndVecs(soft, 7, 3)[:, :, :2], 0.0)
    clear = np.sqrt(values.min(axis=2)) + 0.2 * np.sqrt(values.max(axis=2))
    reach = 2 * round(HALF * 0.5 / plan.mm_per_px) + 1
    inner = cv2.erode(mask, np.ones((reach, reach), np.uint8), borderType=cv2.BORDER_CONSTANT, borderValue=0)
    clear[inner == 0] = -1.0
    cell = max(2, round(CELL_MM / plan.mm_per_px))
    found = []
    for top in range(0, clear.shape[0], cell):
        for left in range(0, clear.shape[1], cell):
            part = clear[top : top + cell, left : left + cell]
            row, column = np.unravel_index(int(np.argmax(part)), part.shape)
            if part[row, column] > 0.0:
                found.append((left + int(column), top + int(row), float(part[row, column])))
    each = np.array(found, dtype=np.float64).reshape(-1, 3)
    return plan.to_mm(each[:, :2]), each[:, 2]


def chosen(spots_mm: Array, clear: Array) -> NDArray[np.int_]:
    """Of many places the clearest in every part of the overlap, at most about :data:`MOST_SPOTS`."""
    if len(spots_mm) <= MOST_SPOTS:
        return np.arange(len(spots_mm))
    side = max(BLOCK_MM, CELL_MM * float(np.sqrt(BLOCK_SPOTS * len(spots_mm) / MOST_SPOTS)))
    _, block = np.unique(np.floor(spots_mm / side).astype(int), axis=0, return_inverse=True)
    block = block.ravel()
    each = max(1, MOST_SPOTS // (int(block.max()) + 1))
    order = np.lexsort((-clear, block))
    rank = np.arange(len(order)) - np.searchsorted(block[order], block[order])
    return np.sort(order[rank < each])


def find_ties(first: Look, second: Look, spots_mm: Array, step_mm: float, reach_mm: float) -> Ties:
    """Look for places of the plane in both photographs, at most ``reach_mm`` apart.

    Parameters
    ----------
    spots_mm
        (n, 2) in the common plane, seen by both.
    step_mm
        What a pixel of a patch covers.
    """
    reach = max(2, round(reach_mm / step_mm))
    soft = [_softened(look, spots_mm, step_mm) for look in (first, second)]
    axes = [_axes(look.camera, spots_mm, step_mm) for look in (first, second)]
    moved_px, spread, kept, against = [], [], [], 0
    for k in range(len(spots_mm)):
        patch = _patch(soft[0], axes[0], k, HALF)
        window = _patch(soft[1], axes[1], k, HALF + reach)
        if patch is None or window is None or patch.std() < FLAT_LEVELS:
            continue
        found = _laid_over(patch, window, reach)
        if found is None:
            against += int(patch.std() > STRONG_LEVELS and _unlike(patch, window))
            continue
        moved_px.append(found[0])
        spread.append(found[1])
        kept.append(k)
    down = np.array([1.0, -1.0]) * step_mm  # rows of a patch run down, y runs up
    apart = np.array(moved_px).reshape(-1, 2) * down
    covariance = np.array(spread).reshape(-1, 2, 2) * np.outer(down, down)
    at = spots_mm[kept].reshape(-1, 2)
    return Ties(first.camera.project(at), second.camera.project(at + apart), covariance, apart, against)


def _softened(look: Look, spots_mm: Array, step_mm: float) -> Grey:
    """The photograph without what is finer than a pixel of a patch."""
    middle = np.median(spots_mm, axis=0)[None] if len(spots_mm) else np.zeros((1, 2))
    _, right, down = _axes(look.camera, middle, step_mm)
    sigma = 0.5 * float(np.sqrt(abs(np.linalg.det(np.stack([right[0], down[0]])))))
    return np.asarray(cv2.GaussianBlur(look.grey, (0, 0), sigma), np.uint8) if sigma > 0.5 else look.grey


def _axes(camera: Camera, spots_mm: Array, step_mm: float) -> tuple[Array, Array, Array]:
    """Pixels of places, and how far in the photograph one pixel of a patch goes right and down."""
    middle = camera.project(spots_mm)
    right = camera.project(spots_mm + np.array([step_mm, 0.0])) - middle
    down = camera.project(spots_mm - np.array([0.0, step_mm])) - middle
    return middle, right, down


def _patch(grey: Grey, axes: tuple[Array, Array, Array], which: int, half: int) -> NDArray[np.float32] | None:
    """The plane around a place, or None where the photograph does not show all of it."""
    middle, right, down = (v[which] for v in axes)
    rim = np.array([middle + half * (a * right + b * down) for a in (-1, 1) for b in (-1, 1)])
    if not np.isfinite(rim).all() or (rim < 1.0).any() or (rim > np.array(grey.shape[::-1]) - 2.0).any():
        return None
    matrix = np.column_stack([right, down, middle - half * (right + down)])
    drawn = cv2.warpAffine(
        grey, matrix, (2 * half + 1, 2 * half + 1), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    )
    return np.asarray(drawn, np.float32)


def _laid_over(
    patch: NDArray[np.float32], window: NDArray[np.float32], reach: int
) -> tuple[Array, Array] | None:
    """((2,) column and row by which the patch lies off the window's middle, (2, 2) covariance), in pixels."""
    like = cv2.matchTemplate(window, patch, cv2.TM_CCOEFF_NORMED)
    _, best, _, (column, row) = cv2.minMaxLoc(like)
    if best < ALIKE:
        return None
    across, along = (
        cv2.Sobel(patch, cv2.CV_32F, 1, 0, ksize=3) / 8.0,
        cv2.Sobel(patch, cv2.CV_32F, 0, 1, ksize=3) / 8.0,
    )
    slope = np.stack([across[1:-1, 1:-1].ravel(), along[1:-1, 1:-1].ravel()], axis=1).astype(np.float64)
    info = slope.T @ slope
    damped = info + 0.005 * float(np.trace(info)) * np.eye(2)
    start = np.array([column, row], dtype=np.float64)
    at = start.copy()
    wanted = patch[1:-1, 1:-1].ravel().astype(np.float64)
    wanted -= wanted.mean()
    off = wanted
    side = patch.shape[0] - 2
    for _ in range(STEPS):
        middle = (float(at[0]) + HALF, float(at[1]) + HALF)
        there = cv2.getRectSubPix(window, (side, side), middle).ravel().astype(np.float64)
        there -= there.mean()
        gain = float(there @ wanted) / max(1e-9, float(there @ there))
        off = wanted - gain * there
        step = np.linalg.solve(damped, slope.T @ off)
        at += step
        if np.abs(at - start).max() > 2.0:
            return None
        if np.abs(step).max() < 0.003:
            break
    noise = max(NOISE_LEVELS**2, float(off @ off) / len(off))
    values, vectors = np.linalg.eigh(info)
    # noise is steep, too, but says nothing: along a straight line there is nothing else
    told = np.maximum(values - NOISE_SLOPE * noise * len(off), 1e-6)
    # at the rim of the window the best place may lie beyond: only a matter where the patch is sharp
    edge = np.abs(at - reach) > reach - 0.75
    if (edge & (np.abs(vectors[:, 1]) > 0.5)).any():
        return None
    covariance = vectors @ np.diag(np.minimum(SHARED_NOISE * noise / told, float(reach**2))) @ vectors.T
    return at - reach, covariance


def _unlike(patch: NDArray[np.float32], window: NDArray[np.float32]) -> bool:
    return bool(cv2.matchTemplate(window, patch, cv2.TM_CCOEFF_NORMED).max() < UNLIKE)
