"""Smooth curves through points, as arrays of control points."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Points = npt.NDArray[np.float64]


def smooth_control(pts: Points, *, closed: bool = False) -> Points:
    """Return the control points ``(n, 4, 2)`` of the smooth path through ``pts``: see :meth:`eke.geometry.path.Path.from_points`.

    There are three points at least, each different from the next; ``closed``: the last is the first again.
    """
    z = pts[:, 0] + 1j * pts[:, 1]
    chords = z[1:] - z[:-1]
    spans = np.abs(chords)
    units = chords / spans
    # the tangent of the circle through three points weighs each chord by the length of the other one
    tangents = np.empty_like(z)
    tangents[1:-1] = units[:-1] * spans[1:] + units[1:] * spans[:-1]
    if closed:
        tangents[0] = tangents[-1] = units[-1] * spans[0] + units[0] * spans[-1]
    else:
        # mirrored in the chord: the direction at the far end of an arc
        tangents[0] = units[0] ** 2 * tangents[1].conj()
        tangents[-1] = units[-1] ** 2 * tangents[-2].conj()
    norms = np.abs(tangents)
    tangents /= np.where(norms > 0, norms, 1.0)
    # a third of the arc on that chord: exact to fourth order on circles
    cos = (units.conj() * tangents[:-1]).real
    arms = 2.0 * spans / (3.0 * (1.0 + np.minimum(np.maximum(cos, -0.5), 1.0)))
    control = np.stack([z[:-1], z[:-1] + arms * tangents[:-1], z[1:] - arms * tangents[1:], z[1:]], axis=1)
    return control.view(np.float64).reshape(-1, 4, 2)
