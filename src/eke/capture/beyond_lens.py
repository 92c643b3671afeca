"""What a camera does to a picture beyond the lens that is solved for: a hand moves while it is read.

That is not estimated, since the few edges of one picture hardly show it; what it could do is counted in what is stated
(considered, after Schmidt). Two terms are a drift of the picture in the time in which its rows are read one after another: so
far to the side, and so far along.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

__all__ = ["BEYOND", "beyond_px"]

Array = NDArray[np.float64]

BEYOND = 2  # drift to the side, drift along
# own estimate: a steadied hand turns by about a degree in a second, and a picture is read in a fiftieth of one
DRIFT_SIGMA_DIAGONALS = 0.0002


def beyond_px(size_px: tuple[int, int], points_px: Array) -> Array:
    """By how many pixels each term, at one standard deviation, moves what is seen at points (n, 2): (n, 2, 2).

    Rows run along the longer side of the picture, as a sensor's do, however it was held.
    """
    points = np.asarray(points_px, dtype=np.float64).reshape(-1, 2)
    down = 1 if size_px[0] >= size_px[1] else 0
    late = DRIFT_SIGMA_DIAGONALS * math.hypot(*size_px) * (points[:, down] / size_px[down] - 0.5)
    out = np.zeros((len(points), 2, BEYOND))
    out[:, 1 - down, 0] = late
    out[:, down, 1] = late
    return out
