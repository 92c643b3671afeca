"""The principal axis of points in the plane: the direction of the straight line with the least squared distances from them."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

__all__ = ["off_axis", "principal_axis"]

Points = NDArray[np.float64]


def principal_axis(points: Points) -> Points:
    """Unit direction (2,), either way, in which points (n, 2) are spread the most."""
    x, y = points[:, 0] - points[:, 0].sum() / len(points), points[:, 1] - points[:, 1].sum() / len(points)
    angle = 0.5 * math.atan2(2.0 * float(x @ y), float(x @ x) - float(y @ y))
    return np.array([math.cos(angle), math.sin(angle)])


def off_axis(points: Points, inner: Points | None = None) -> Points:
    """Signed distances (n,) of points (n, 2) from the straight line through them, or through the ``inner`` ones of them."""
    through = points if inner is None else inner
    x, y = principal_axis(through)
    return np.asarray((points - through.mean(axis=0)) @ np.array([-y, x]))
