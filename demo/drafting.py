"""Curves for the demo's own drafts: a few helpers on lines and cubic Béziers, apart from the library.

The drafts are what the demo's pictures are drawn from and what its results are compared with, so they must
not lean on the code that they check. A *chain* is a tuple of arrays, ``(2, 2)`` for a line and ``(4, 2)``
for a cubic Bézier, each beginning where the one before ends. Millimetres, x right, y up.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "Array",
    "Chain",
    "along",
    "bezier",
    "chain",
    "flatten",
    "length_mm",
    "mirror",
    "move",
    "solve",
    "split",
    "tangent",
]

Array = NDArray[np.float64]
Chain = tuple[Array, ...]

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(40)


def chain(*segments: Sequence[ArrayLike]) -> Chain:
    """Return ``segments``, each two or four points, as a chain.

    Raises
    ------
    ValueError
        When a segment does not begin where the one before it ends.
    """
    out = tuple(np.array(s, dtype=float) for s in segments)
    for s in out:
        if s.shape not in {(2, 2), (4, 2)}:
            raise ValueError("a segment has two or four points")
    for a, b in itertools.pairwise(out):
        if np.hypot(*(a[-1] - b[0])) > 1e-9:
            raise ValueError(f"a segment ends at {a[-1]} and the next begins at {b[0]}")
    return out


def bezier(segment: Array, t: ArrayLike) -> Array:
    """Return points of a segment at parameters ``t``, ``(n, 2)``."""
    t = np.atleast_1d(np.asarray(t, dtype=float))[:, None]
    if len(segment) == 2:
        return segment[0] * (1 - t) + segment[1] * t
    a, b, c, d = segment
    u = 1 - t
    return a * u**3 + 3 * b * u * u * t + 3 * c * u * t * t + d * t**3


def _derivative(segment: Array, t: ArrayLike) -> Array:
    t = np.atleast_1d(np.asarray(t, dtype=float))[:, None]
    if len(segment) == 2:
        return np.repeat(segment[1:] - segment[:1], len(t), axis=0)
    a, b, c, d = segment
    u = 1 - t
    return 3 * ((b - a) * u * u + 2 * (c - b) * u * t + (d - c) * t * t)


def length_mm(path: Chain) -> float:
    """Return the arc length of a chain (Gauss-Legendre, 40 nodes a segment)."""
    total = 0.0
    for s in path:
        speed = np.hypot(*_derivative(s, (_NODES + 1) / 2).T)
        total += float(speed @ _WEIGHTS) / 2
    return total


def tangent(path: Chain, at_end: bool) -> Array:
    """Return the unit direction of travel at the beginning or the end of a chain."""
    v = _derivative(path[-1], 1.0)[0] if at_end else _derivative(path[0], 0.0)[0]
    return v / np.hypot(*v)


def split(segment: Array, t: float) -> tuple[Array, Array]:
    """Return the two parts of a cubic cut at parameter ``t`` (de Casteljau)."""
    a, b, c, d = segment
    ab, bc, cd = a + (b - a) * t, b + (c - b) * t, c + (d - c) * t
    abc, bcd = ab + (bc - ab) * t, bc + (cd - bc) * t
    m = abc + (bcd - abc) * t
    return np.array([a, ab, abc, m]), np.array([m, bcd, cd, d])


def move(path: Chain, by: ArrayLike = (0.0, 0.0), turn_deg: float = 0.0) -> Chain:
    """Return a chain turned about the origin and then shifted."""
    a = np.radians(turn_deg)
    R = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    return tuple(s @ R.T + np.asarray(by, dtype=float) for s in path)


def mirror(path: Chain) -> Chain:
    """Return a chain mirrored in the y axis and run backwards, so that an outline stays counter-clockwise."""
    return tuple((s * [-1.0, 1.0])[::-1].copy() for s in reversed(path))


def flatten(path: Chain, step_mm: float = 1.0) -> Array:
    """Return points along a chain, both ends included, about ``step_mm`` apart (lines: ends only).

    Consecutive segments share their joint, which is listed once.
    """
    out = [path[0][:1]]
    for s in path:
        n = 1 if len(s) == 2 else max(2, int(np.ceil(length_mm((s,)) / step_mm)))
        out.append(bezier(s, np.arange(1, n + 1) / n))
    return np.vstack(out)


def along(path: Chain, distance_mm: float) -> tuple[Array, Array]:
    """Return the point and the unit direction ``distance_mm`` along a chain from its beginning.

    Raises
    ------
    ValueError
        When the chain is shorter than that.
    """
    rest = distance_mm
    for s in path:
        whole = length_mm((s,))
        if rest <= whole + 1e-9:
            lo, hi = 0.0, 1.0
            if len(s) == 2:
                lo = hi = min(1.0, rest / whole)
            else:
                for _ in range(60):
                    mid = (lo + hi) / 2
                    lo, hi = (mid, hi) if length_mm((split(s, mid)[0],)) < rest else (lo, mid)
            v = _derivative(s, lo)[0]
            return bezier(s, lo)[0], v / np.hypot(*v)
        rest -= whole
    raise ValueError(f"{distance_mm:.1f} mm is beyond the end of an edge {length_mm(path):.1f} mm long")


def solve(f: Callable[[float], float], low: float, high: float) -> float:
    """Return a root of ``f`` between ``low`` and ``high`` by halving.

    Raises
    ------
    ValueError
        When ``f`` has the same sign at both ends.
    """
    f_low = f(low)
    if f_low * f(high) > 0:
        raise ValueError("the draft does not close: no root in the range")
    for _ in range(80):
        mid = (low + high) / 2
        if f(mid) * f_low > 0:
            low = mid
        else:
            high = mid
    return (low + high) / 2
