"""How much the points along an edge scatter, as far as it tells how sure the edge's turn and bow are.

Every edge has a scatter of its own: a card on a carpet has one side over dark tufts and one over its own shadow. And what
one point is off by, its neighbours are off by too, so that more of them are worth less than their number says; the sum of
their covariances counts that, near lags in full and far ones less.

References
----------
W. K. Newey, K. D. West, "A simple, positive semi-definite, heteroskedasticity and autocorrelation consistent covariance
matrix", Econometrica 55 (1987).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

__all__ = ["LEAST_POINTS", "edge_scatters", "long_run_scatter"]

Array = NDArray[np.float64]

LEAST_POINTS = 8  # fewer say nothing of a scatter of their own
LAGS = 4  # neighbours that may be alike: 20 px of a card's edge
CLIPPED_SIGMAS = 3.0  # beyond, a point is of something else, and does not count as scatter
# what is known of all edges of a body counts as much as so many points of the edge itself
POOLED_POINTS = 40.0


def long_run_scatter(rest: Array) -> float:
    """Square root of the long-run variance of residuals (n,) in the order of their places along an edge; for points that are
    independent, their standard deviation. In the unit of the residuals."""
    middle = 1.4826 * float(np.median(np.abs(rest)))
    clipped = np.clip(rest, -CLIPPED_SIGMAS * middle, CLIPPED_SIGMAS * middle)
    own = float(np.mean(clipped**2))
    alike = 0.0
    for lag in range(1, min(LAGS, len(rest) - 1) + 1):
        alike += (1.0 - lag / (LAGS + 1.0)) * float(clipped[lag:] @ clipped[:-lag]) / len(rest)
    return math.sqrt(max(own + 2.0 * alike, 0.5 * own))


def edge_scatters(rests: Sequence[Array]) -> list[float | None]:
    """For each edge of one body the long-run scatter of its points about a smooth curve; where an edge has few points, nearer
    to what its body's edges have in the mean. None for edges with fewer than ``LEAST_POINTS``."""
    own: list[float | None] = []
    for rest in rests:
        if len(rest) < LEAST_POINTS:
            own.append(None)
            continue
        along = np.linspace(-1.0, 1.0, len(rest))
        own.append(long_run_scatter(rest - np.polyval(np.polyfit(along, rest, 2), along)))
    known = [s**2 for s in own if s is not None]
    if not known:
        return own
    pooled = float(np.mean(known))
    return [
        s and math.sqrt((len(r) * s**2 + POOLED_POINTS * pooled) / (len(r) + POOLED_POINTS))
        for s, r in zip(own, rests, strict=True)
    ]
