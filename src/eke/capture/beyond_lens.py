"""What a camera does to a picture beyond the lens that is solved for: decentred glass, and a hand that moves meanwhile.

Neither is estimated, since one picture of a few edges hardly shows them; what they could do is counted in what is stated
(considered, after Schmidt). Two terms are the tangential ones of Brown. Two more are a drift of the picture in the
time in which its rows are read one after another: so far to the side, and so far along.

References
----------
D. C. Brown, "Close-range camera calibration", Photogrammetric Engineering 37 (1971), for the tangential terms, in the
order and signs of OpenCV's ``calib3d``.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

__all__ = ["BEYOND", "beyond_px"]

Array = NDArray[np.float64]

BEYOND = 4  # p1, p2, drift to the side, drift along
TANGENTIAL_SIGMA = 0.0004  # from memory: calibrated phones have some 1e-4, seldom 1e-3
# own estimate: a steadied hand turns by about a degree in a second, and a picture is read in a fiftieth of one
DRIFT_SIGMA_DIAGONALS = 0.0002


def beyond_px(size_px: tuple[int, int], focal_px: float, centre_px: Array, points_px: Array) -> Array:
    """By how many pixels each term, at one standard deviation, moves what is seen at points (n, 2): (n, 2, 4).

    Rows run along the longer side of the picture, as a sensor's do, however it was held.
    """
    points = np.asarray(points_px, dtype=np.float64).reshape(-1, 2)
    x, y = ((points - centre_px) / focal_px).T
    r2 = x * x + y * y
    tangential = TANGENTIAL_SIGMA * focal_px
    down = 1 if size_px[0] >= size_px[1] else 0
    late = DRIFT_SIGMA_DIAGONALS * math.hypot(*size_px) * (points[:, down] / size_px[down] - 0.5)
    out = np.zeros((len(points), 2, BEYOND))
    out[:, 0, 0], out[:, 1, 0] = tangential * 2.0 * x * y, tangential * (r2 + 2.0 * y * y)
    out[:, 0, 1], out[:, 1, 1] = tangential * (r2 + 2.0 * x * x), tangential * 2.0 * x * y
    out[:, 1 - down, 2] = late
    out[:, down, 3] = late
    return out
