"""First guess of how two rectified pictures lie to each other, from features that both show.

Both pictures are at true scale, so only a turn and a shift are open: never a scale, never a mirror. Features on the
references are left out at first, because a maker who has one sheet lays it anew beside each part.

References
----------
D. G. Lowe, "Distinctive image features from scale-invariant keypoints", Int. J. Computer Vision 60 (2004).
R. Arandjelovic, A. Zisserman, "Three things everyone should know to improve object retrieval" (2012): the square root.
M. A. Fischler, R. C. Bolles, "Random sample consensus", Comm. ACM 24 (1981).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.rectify import Rectified

__all__ = ["Features", "Move", "Plan", "features", "fitted_move", "guesses", "plan_of"]

Array = NDArray[np.float64]

PLAN_MM = 1.0  # per pixel: coarse enough for the weave to melt, fine enough for a drawn line
KEEP_OFF_MM = 6.0  # around references: their shadow moves with them
MOST_FEATURES = 4000
LEAST_CONTRAST = 0.012  # of SIFT: folds and tones of paper count
RATIO = 0.88  # nearest over second nearest descriptor
TRIES = 20_000  # pairs of matches that are drawn
HYPOTHESES = 2_000  # of these, that have the same distance in both pictures
LEAST_BASE_MM = 25.0
LENGTH_SHARE, LENGTH_MM = 0.02, 2.0  # how far distances may differ in the two pictures
NEAR_MM = 4.0  # a match this near to where a move puts it agrees with it
SAME_MM, SAME_RAD = 12.0, 0.05  # moves nearer to each other are one
LEAST_MATCHES = 6
RIVAL_VOTES = 0.15  # of the best move's: one with fewer matches is no rival
MOST_GUESSES = 4
SEED = 20261129


@dataclass(frozen=True, slots=True)
class Move:
    """A turn about the origin (anticlockwise), then a shift."""

    turn_rad: float
    shift_mm: tuple[float, float]

    @property
    def matrix(self) -> Array:
        """(2, 2) of the turn."""
        c, s = math.cos(self.turn_rad), math.sin(self.turn_rad)
        return np.array([[c, -s], [s, c]])

    def of(self, points_mm: Array) -> Array:
        """Points (n, 2), moved."""
        return np.asarray(points_mm @ self.matrix.T + self.shift_mm)

    def back(self, points_mm: Array) -> Array:
        """The inverse of :meth:`of`."""
        return np.asarray((points_mm - self.shift_mm) @ self.matrix)


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """A small grey copy of a rectified picture.

    Attributes
    ----------
    grey
        uint8 (height, width).
    seen
        uint8, not 0 where the photograph saw the plane.
    free
        uint8, not 0 where it did and no reference lies.
    mm_per_px, origin_mm
        As in :class:`Rectified`.
    """

    grey: NDArray[np.uint8]
    seen: NDArray[np.uint8]
    free: NDArray[np.uint8]
    mm_per_px: float
    origin_mm: tuple[float, float]

    def to_mm(self, points_px: Array) -> Array:
        """Plane mm of (column, row) positions."""
        return np.asarray(np.array([1.0, -1.0]) * self.mm_per_px * points_px + self.origin_mm)

    def has(self, mask: NDArray[np.uint8], points_mm: Array) -> NDArray[np.bool_]:
        """(n,) whether plane points lie where a mask of this plan is not 0."""
        px = np.rint((points_mm - self.origin_mm) * np.array([1.0, -1.0]) / self.mm_per_px)
        inside = ((px >= 0) & (px < np.array(mask.shape[::-1]))).all(axis=1)
        at = np.where(inside[:, None], px, 0).astype(int)
        return np.asarray(inside & (mask[at[:, 1], at[:, 0]] > 0))


def plan_of(flat: Rectified) -> Plan:
    """The small copy of a rectified picture."""
    factor = max(1.0, PLAN_MM / flat.mm_per_px)
    height, width = flat.image_rgb.shape[:2]
    size = (max(1, int(width / factor)), max(1, int(height / factor)))
    rows, columns = round(size[1] * factor), round(size[0] * factor)
    step = flat.mm_per_px * factor
    grey = cv2.cvtColor(flat.image_rgb[:rows, :columns], cv2.COLOR_RGB2GRAY)
    small = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
    seen = np.full((rows, columns), 255, np.uint8)
    if flat.seen is not None:
        seen = flat.seen[:rows, :columns].astype(np.uint8) * 255
    # only what was seen whole; the rim of the photograph is no feature
    whole = (cv2.resize(seen, size, interpolation=cv2.INTER_AREA) == 255).astype(np.uint8)
    whole = cv2.erode(whole, np.ones((5, 5), np.uint8), borderType=cv2.BORDER_CONSTANT, borderValue=0)
    shift = (step - flat.mm_per_px) / 2.0
    origin = (flat.origin_mm[0] + shift, flat.origin_mm[1] - shift)
    free = whole.copy()
    reach = 2 * round(KEEP_OFF_MM / step) + 1
    for polygon in flat.reference_polygons_mm:
        hole = np.zeros_like(free)
        px = (polygon - origin) * np.array([1.0, -1.0]) / step
        cv2.fillPoly(hole, [np.rint(px).astype(np.int32)], 1)
        free[cv2.dilate(hole, np.ones((reach, reach), np.uint8)) > 0] = 0
    return Plan(
        np.asarray(small, np.uint8), np.asarray(whole, np.uint8), np.asarray(free, np.uint8), step, origin
    )


@dataclass(frozen=True, slots=True, eq=False)
class Features:
    """Places in mm (n, 2), and what each looks like (n, 128)."""

    at_mm: Array
    looks: NDArray[np.float32]


def features(plan: Plan, *, on_references: bool) -> Features:
    """Places of a plan that can be known again, those on references too or not."""
    # halved: the search looks at twice the size itself, and a first guess needs no more
    height, width = plan.grey.shape
    size = (max(1, width // 2), max(1, height // 2))
    even = cv2.createCLAHE(2.0, (8, 8)).apply(cv2.resize(plan.grey, size, interpolation=cv2.INTER_AREA))
    mask = cv2.resize(plan.seen if on_references else plan.free, size, interpolation=cv2.INTER_NEAREST)
    found, told = cv2.SIFT_create(MOST_FEATURES, contrastThreshold=LEAST_CONTRAST).detectAndCompute(
        even, mask
    )
    if told is None:
        return Features(np.zeros((0, 2)), np.zeros((0, 128), np.float32))
    told = told[:MOST_FEATURES]  # one more than asked for may come
    looks = np.sqrt(told / np.maximum(1e-6, told.sum(axis=1, keepdims=True)))
    at = (np.array([f.pt for f in found[:MOST_FEATURES]]) + 0.5) * np.array([width, height]) / size - 0.5
    return Features(plan.to_mm(at), looks)


def guesses(first: Features, second: Features) -> list[Move]:
    """Moves of the second plane onto the first that many features agree with, the best first; may be none."""
    a, b = first.at_mm, second.at_mm
    if len(a) < LEAST_MATCHES or len(b) < LEAST_MATCHES:
        return []
    pairs = cv2.BFMatcher(cv2.NORM_L2).knnMatch(second.looks, first.looks, k=2)
    good = [p[0] for p in pairs if len(p) == 2 and p[0].distance < RATIO * p[1].distance]
    if len(good) < LEAST_MATCHES:
        return []
    return _agreeing(a[[m.trainIdx for m in good]], b[[m.queryIdx for m in good]])


def fitted_move(onto: Array, points: Array, weights: Array | None = None) -> Move:
    """The turn and shift that lay points (n, 2) best on others (Kabsch); no mirror."""
    w = np.ones(len(onto)) if weights is None else weights
    middle_a = (onto * w[:, None]).sum(axis=0) / w.sum()
    middle_b = (points * w[:, None]).sum(axis=0) / w.sum()
    a, b = onto - middle_a, points - middle_b
    cross = float((w * (b[:, 0] * a[:, 1] - b[:, 1] * a[:, 0])).sum())
    turn = math.atan2(cross, float((w * (a * b).sum(axis=1)).sum()))
    shift = middle_a - Move(turn, (0.0, 0.0)).of(middle_b[None])[0]
    return Move(turn, (float(shift[0]), float(shift[1])))


def _agreeing(a: Array, b: Array) -> list[Move]:
    """Moves that take many of the points ``b`` to their matches ``a``, each counted in how many places."""
    rng = np.random.default_rng(SEED)
    i, j = rng.integers(0, len(a), (2, TRIES))
    base_a, base_b = a[j] - a[i], b[j] - b[i]
    long_a, long_b = np.hypot(*base_a.T), np.hypot(*base_b.T)
    fit = (long_a > LEAST_BASE_MM) & (np.abs(long_a - long_b) < LENGTH_MM + LENGTH_SHARE * long_a)
    i, j, base_a, base_b = (v[fit][:HYPOTHESES] for v in (i, j, base_a, base_b))
    if not len(i):
        return []
    turn = np.arctan2(base_a[:, 1], base_a[:, 0]) - np.arctan2(base_b[:, 1], base_b[:, 0])
    c, s = np.cos(turn), np.sin(turn)
    middle = (b[i] + b[j]) / 2.0
    shift = (a[i] + a[j]) / 2.0 - np.column_stack(
        [c * middle[:, 0] - s * middle[:, 1], s * middle[:, 0] + c * middle[:, 1]]
    )
    votes = np.empty(len(i), int)
    for k in range(0, len(i), 200):
        part = slice(k, k + 200)
        x = c[part, None] * b[:, 0] - s[part, None] * b[:, 1] + shift[part, :1] - a[:, 0]
        y = s[part, None] * b[:, 0] + c[part, None] * b[:, 1] + shift[part, 1:] - a[:, 1]
        votes[part] = (x * x + y * y < NEAR_MM**2).sum(axis=1)
    found: list[Move] = []
    tried: list[Move] = []
    about = b.mean(axis=0)
    for k in np.argsort(-votes, kind="stable"):
        if votes[k] < max(LEAST_MATCHES, RIVAL_VOTES * votes.max()) or len(found) == MOST_GUESSES:
            break
        move = Move(float(turn[k]), (float(shift[k, 0]), float(shift[k, 1])))
        if any(_same(move, other, about) for other in tried):
            continue
        tried.append(move)
        for _ in range(3):
            near = np.hypot(*(move.of(b) - a).T) < NEAR_MM
            if near.sum() < LEAST_MATCHES:
                break
            move = fitted_move(a[near], b[near])
        if not any(_same(move, other, about) for other in found):
            found.append(move)
    return found


def _same(one: Move, other: Move, about: Array) -> bool:
    apart = float(np.hypot(*(one.of(about[None]) - other.of(about[None]))[0]))
    turn = math.remainder(one.turn_rad - other.turn_rad, 2.0 * math.pi)
    return apart < SAME_MM and abs(turn) < SAME_RAD
