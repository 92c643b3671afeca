"""Where one smooth edge may be cut into lines and cubics: dynamic programming over candidate knots.

References
----------
P. J. Schneider, "An algorithm for automatically fitting digitized curves", Graphics Gems (1990): a cubic
with given end directions.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from eke.capture.fitting_settle import State, as_plane, start_state

__all__ = ["NOISE_FLOOR_MM", "SHORTEST_PIECE_MM", "chains", "one_cubic"]

Points = NDArray[np.float64]
Floats = NDArray[np.float64]
Numbers = NDArray[np.intp]

NOISE_FLOOR_MM = 0.06  # finer differences are not worth a piece
MOST_PIECES = 6
KNOT_SPACING_MM = 14.0
MOST_KNOTS = 15
SHORTEST_PIECE_MM = 10.0


def one_cubic(points: Points, angles: Floats) -> State:
    """The best cubic with the ends and end directions of points (n, 2); ``angles`` (n,) in radians."""
    ends = np.array([0]), np.array([len(points) - 1])
    _, _, handles = _squares(points, angles, *ends)
    return start_state(points, [0, len(points) - 1], angles, [False], handles)


def chains(points: Points, angles: Floats, spacing: float, closed: bool) -> list[State]:
    """Best chains of 2, 3, … pieces, with knots at some of the points.

    Parameters
    ----------
    points, angles
        (n, 2) along the edge, and the direction at each in radians.
    spacing
        Between points, in mm.
    closed
        The edge is a whole ring, which needs three pieces.
    """
    length = spacing * (len(points) - 1)
    count = int(np.clip(length / KNOT_SPACING_MM, 3, MOST_KNOTS))
    knots = np.unique(np.round(np.linspace(0, len(points) - 1, count + 1)).astype(int))
    k_count = len(knots)
    cost = np.full((k_count, k_count), math.inf)
    line = np.zeros((k_count, k_count), dtype=np.bool_)
    handles = np.zeros((k_count, k_count, 2))
    i, j = np.triu_indices(k_count, 1)
    steps = knots[j] - knots[i]
    use = steps * spacing >= SHORTEST_PIECE_MM * 0.8
    i, j, steps = i[use], j[use], steps[use]
    if len(i):
        cubic, straight, handles[i, j] = _squares(points, angles, knots[i], knots[j])
        floor = (NOISE_FLOOR_MM**2) * (steps + 1)
        line[i, j] = (straight < 1.15 * cubic + floor) & (steps * spacing > 2 * SHORTEST_PIECE_MM)
        cost[i, j] = np.where(line[i, j], straight, cubic)
    most = min(MOST_PIECES, k_count - 1)
    best = np.full((most + 1, k_count), math.inf)
    came = np.zeros((most + 1, k_count), dtype=np.int64)
    best[0, 0] = 0.0
    for m in range(1, most + 1):
        total = best[m - 1][:, None] + cost
        came[m] = total.argmin(axis=0)
        best[m] = total.min(axis=0)
    out = []
    for m in range(2 if not closed else 3, most + 1):
        if not math.isfinite(best[m, -1]):
            continue
        path = [k_count - 1]
        for back in range(m, 0, -1):
            path.append(int(came[back, path[-1]]))
        path.reverse()
        flags = [bool(line[a, b]) for a, b in pairwise(path)]
        if any(a and b for a, b in pairwise(flags)):
            # two straight pieces that join smoothly are one: let the second bend
            flags = [s and not (k > 0 and flags[k - 1]) for k, s in enumerate(flags)]
        own = handles[path[:-1], path[1:]]
        out.append(start_state(points, knots[path].tolist(), angles, flags, own))
    return out


def _squares(points: Points, angles: Floats, first: Numbers, last: Numbers) -> tuple[Floats, Floats, Floats]:
    """Sums of squared distances (runs,) of runs of points from the best cubic with their ends and end directions, and from the
    best line; and the handles (runs, 2) of that cubic. All runs at once, one after another in long arrays."""
    counts = last - first + 1
    starts = np.cumsum(counts) - counts
    run = np.repeat(np.arange(len(counts)), counts)
    number = np.arange(len(run)) - (starts - first)[run]
    plane = as_plane(points)
    place = plane[number]

    def total(values: NDArray[np.generic]) -> Floats:
        return np.asarray(np.add.reduceat(values, starts))

    off = place - (total(place) / counts)[run]
    xx, yy, xy = total(off.real**2), total(off.imag**2), total(off.real * off.imag)
    line = np.maximum(0.5 * (xx + yy) - np.hypot(0.5 * (xx - yy), xy), 0.0)

    along = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(plane)))])
    t = (along[number] - along[first][run]) / np.maximum(along[last] - along[first], 1e-9)[run]
    a, b = plane[first], plane[last]
    e, f = np.exp(1j * angles[first]), np.exp(1j * angles[last])
    chord = np.abs(b - a)
    for _ in range(3):
        u = 1.0 - t
        b0, b1, b2, b3 = u * u * u, 3.0 * u * u * t, 3.0 * u * t * t, t * t * t
        gap = place - ((b0 + b1) * a[run] + (b2 + b3) * b[run])
        m00, m11, m01 = total(b1 * b1), total(b2 * b2), -total(b1 * b2) * (e * f.conj()).real
        r0, r1 = (e.conj() * total(b1 * gap)).real, -(f.conj() * total(b2 * gap)).real
        det = m00 * m11 - m01 * m01
        sure = np.abs(det) > 1e-12
        safe = np.where(sure, det, 1.0)
        alpha = np.where(sure, (r0 * m11 - r1 * m01) / safe, chord / 3)
        beta = np.where(sure, (r1 * m00 - r0 * m01) / safe, chord / 3)
        alpha = np.clip(alpha, 0.08 * chord, 1.1 * chord)
        beta = np.clip(beta, 0.08 * chord, 1.1 * chord)
        leave, arrive = alpha * e, beta * f
        miss = gap - leave[run] * b1 + arrive[run] * b2
        ahead = (
            leave[run] * (3.0 * u * u)
            + (b - a - leave - arrive)[run] * (6.0 * u * t)
            + arrive[run] * (3.0 * t * t)
        )
        product = miss * ahead.conj()
        square = np.maximum(ahead.real**2 + ahead.imag**2, 1e-12)
        t = np.clip(t + product.real / square, 0.0, 1.0)
    return total(product.imag**2 / square), line, np.column_stack([alpha, beta])
