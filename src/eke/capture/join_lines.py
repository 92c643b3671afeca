"""The last check of a joined picture: does what was found itself (drawn line, marks, cloth) agree in the overlap?

Two photographs can be laid over each other by the floor and still be wrong, because the paper was moved on it. So the
line and all that can be seen inside it are looked at once more, and only these, in every two photographs that show them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.join_ties import HALF, Look, Ties, chosen, find_ties
from eke.errors import NotTrustworthy

__all__ = ["SeenTwice", "seen_twice"]

Array = NDArray[np.float64]

STEP_MM = 12.0  # along an outline
PATCH_MM = 0.5
REACH_MM = 8.0
LEAST_PLACES = 4
LEAST_SHARE = 0.7  # of the clear places that both must show alike
UNEVEN_MM = 0.15  # standard deviation of a place that lies right
CROWD = 4.0  # neighbouring places share their errors: so many are worth one
HUBER = 2.0
ROUNDS = 12
SURE_MM = 0.5  # standard deviation of the whole's shift beyond which nothing shows whether it was moved
SIGMAS = 3.0


@dataclass(frozen=True, slots=True)
class SeenTwice:
    """What the comparison of an outline in two photographs told.

    Attributes
    ----------
    places
        How many were compared.
    shift_mm
        By how much all of it seems shifted from one photograph to the other.
    sure
        Whether a shift in every direction would have been seen: two straight lines show none along themselves.
    p95_mm
        How far the line lies from itself, 95th percentile.
    """

    places: int
    shift_mm: float
    sure: bool
    p95_mm: float


def seen_twice(
    outline_mm: Array, spots: Sequence[tuple[Array, Array]], looks: Sequence[Look], pair: tuple[int, int],
    most_mm: float, again: str,
) -> SeenTwice | None:  # fmt: skip
    """Compare an outline and what lies inside it in two photographs; None where they do not both show it.

    Parameters
    ----------
    spots
        Of each photograph places worth looking at (n, 2) in the common plane, and how clear they are (n,).
    most_mm
        As far as it may lie apart.

    Raises
    ------
    NotTrustworthy
        When they show it in different places.
    """
    i, j = pair
    at = _along(outline_mm)
    line = at[_whole(looks[i], at) & _whole(looks[j], at)]
    if len(line) < LEAST_PLACES:
        return None
    inner, clear = (v[_within(outline_mm, spots[i][0])] for v in spots[i])
    both = _whole(looks[i], inner) & _whole(looks[j], inner)
    inner, clear = inner[both], clear[both]
    inner = inner[chosen(inner, clear)]
    ties = find_ties(looks[i], looks[j], np.vstack([line, inner]), PATCH_MM, REACH_MM)
    number = len(ties.first_px)
    if number + ties.against < LEAST_PLACES:
        return None
    if number < LEAST_PLACES or ties.share < LEAST_SHARE:
        raise _moved(i, j, again)
    shift, covariance = _shift(ties)
    values, axes = np.linalg.eigh(covariance)
    spread = np.sqrt(values)
    along = np.abs(axes.T @ shift)
    if ((along > 0.5 * most_mm) & (along > SIGMAS * spread)).any():
        raise _moved(i, j, again)
    left = ties.across_mm(ties.apart_mm)
    if float(np.percentile(left, 90.0)) > most_mm:
        raise _moved(i, j, again)
    return SeenTwice(
        number, float(np.hypot(*shift)), bool(spread.max() < SURE_MM), float(np.percentile(left, 95.0))
    )


def _moved(i: int, j: int, again: str) -> NotTrustworthy:
    return NotTrustworthy(
        f"Pictures {i + 1} and {j + 1} show what is drawn in different places: the paper or cloth was moved or folded "
        f"between them. {again}",
        reason="moved",
    )


def _shift(ties: Ties) -> tuple[Array, Array]:
    """By how much all ties together say that one photograph is shifted, (2,) mm, and the covariance of that (2, 2)."""
    weigh = np.linalg.inv(ties.covariance_mm2 + UNEVEN_MM**2 * np.eye(2))
    pull = np.ones(len(weigh))
    shift, normal = np.zeros(2), np.eye(2)
    for _ in range(ROUNDS):
        normal = np.einsum("n,nab->ab", pull, weigh) + 1e-6 * np.eye(2)
        shift = np.linalg.solve(normal, np.einsum("n,nab,nb->a", pull, weigh, ties.apart_mm))
        off = ties.apart_mm - shift
        size = np.sqrt(np.maximum(np.einsum("na,nab,nb->n", off, weigh, off), 1e-12))
        pull = np.minimum(1.0, HUBER / size)
    return shift, np.asarray(np.linalg.inv(normal) * CROWD)


def _along(outline_mm: Array) -> Array:
    """Places every :data:`STEP_MM` along a closed outline."""
    ring = np.vstack([outline_mm, outline_mm[:1]])
    far = np.r_[0.0, np.cumsum(np.hypot(*np.diff(ring, axis=0).T))]
    at = np.arange(0.0, far[-1], STEP_MM)
    return np.column_stack([np.interp(at, far, ring[:, 0]), np.interp(at, far, ring[:, 1])])


def _within(outline_mm: Array, at_mm: Array) -> NDArray[np.bool_]:
    ring = outline_mm.astype(np.float32).reshape(-1, 1, 2)
    return np.array(
        [cv2.pointPolygonTest(ring, (float(x), float(y)), False) > 0 for x, y in at_mm], dtype=np.bool_
    )


def _whole(look: Look, at_mm: Array) -> NDArray[np.bool_]:
    """Whether a photograph shows the patches around places, with their reach."""
    reach = HALF * PATCH_MM + REACH_MM
    size = np.array(look.grey.shape[::-1]) - 2.0
    good = np.ones(len(at_mm), bool)
    for corner in ((-1, -1), (-1, 1), (1, -1), (1, 1)):
        px = np.nan_to_num(look.camera.project(at_mm + reach * np.array(corner)), nan=-1.0)
        good &= ((px > 1.0) & (px < size)).all(axis=1)
    return np.asarray(good)
