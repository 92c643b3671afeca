"""The last check of a joined picture: does the drawn line itself (or the cloth's edge) agree in the overlap?

Two photographs can be laid over each other by the floor and still be wrong, because the paper was moved on it. So what
was found is looked at once more in every two photographs that show it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from eke.capture.join_ties import HALF, Look, find_ties
from eke.errors import NotTrustworthy

__all__ = ["SeenTwice", "seen_twice"]

Array = NDArray[np.float64]

STEP_MM = 12.0  # along an outline
PATCH_MM = 0.4
REACH_MM = 3.0
LEAST_PLACES = 4
LEAST_SHARE = 0.7  # of the places of the line that both must show alike


@dataclass(frozen=True, slots=True)
class SeenTwice:
    """At how many places an outline was compared in two photographs, and how far apart it lay (95th percentile)."""

    places: int
    p95_mm: float


def seen_twice(
    outline_mm: Array, looks: Sequence[Look], pairs: Sequence[tuple[int, int]], most_mm: float, again: str
) -> SeenTwice | None:
    """Compare an outline in all photographs that show it; None where no two show the same part of it.

    Raises
    ------
    NotTrustworthy
        When they show it in different places, more than ``most_mm`` apart.
    """
    at = _along(outline_mm)
    left: list[Array] = []
    places = 0
    for i, j in pairs:
        both = np.flatnonzero(_whole(looks[i], at) & _whole(looks[j], at))
        if len(both) < LEAST_PLACES:
            continue
        ties = find_ties(looks[i], looks[j], at[both], PATCH_MM, REACH_MM)
        across = ties.across_mm(ties.apart_mm)
        clear = len(across) + ties.against
        if clear < LEAST_PLACES:
            continue
        if ties.share < LEAST_SHARE or float(np.percentile(across, 90.0)) > most_mm:
            raise NotTrustworthy(
                f"Pictures {i + 1} and {j + 1} show the line in different places: the paper or cloth was moved or folded "
                f"between them. {again}",
                reason="moved",
            )
        left.append(across)
        places += len(across)
    if not left:
        return None
    return SeenTwice(places, float(np.percentile(np.concatenate(left), 95.0)))


def _along(outline_mm: Array) -> Array:
    """Places every :data:`STEP_MM` along a closed outline."""
    ring = np.vstack([outline_mm, outline_mm[:1]])
    far = np.r_[0.0, np.cumsum(np.hypot(*np.diff(ring, axis=0).T))]
    at = np.arange(0.0, far[-1], STEP_MM)
    return np.column_stack([np.interp(at, far, ring[:, 0]), np.interp(at, far, ring[:, 1])])


def _whole(look: Look, at_mm: Array) -> NDArray[np.bool_]:
    """Whether a photograph shows the patches around places, with their reach."""
    reach = HALF * PATCH_MM + REACH_MM
    size = np.array(look.grey.shape[::-1]) - 2.0
    good = np.ones(len(at_mm), bool)
    for corner in ((-1, -1), (-1, 1), (1, -1), (1, 1)):
        px = np.nan_to_num(look.camera.project(at_mm + reach * np.array(corner)), nan=-1.0)
        good &= ((px > 1.0) & (px < size)).all(axis=1)
    return np.asarray(good)
