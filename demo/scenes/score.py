"""How far a found outline is from the true one: moved and turned to fit best, never scaled, never mirrored."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.spatial import cKDTree

__all__ = ["Score", "resample", "score_outline"]

Array = NDArray[np.float64]
_STEP_MM = 0.5


@dataclass(frozen=True, slots=True)
class Score:
    """Distances between two outlines after the best move and turn, in mm, both ways together.

    ``scale_percent`` is how much too large the found outline is. ``turn_deg`` and ``shift_mm`` take the found
    outline onto the true one.
    """

    p95_mm: float
    max_mm: float
    mean_mm: float
    scale_percent: float
    turn_deg: float
    shift_mm: tuple[float, float]

    def place(self, points: ArrayLike) -> Array:
        """Return points of the found frame in the true frame."""
        a = np.radians(self.turn_deg)
        R = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
        return np.asarray(points, dtype=float) @ R.T + self.shift_mm


def resample(outline: ArrayLike, step_mm: float = _STEP_MM) -> Array:
    """Return points evenly along a closed outline."""
    p = np.asarray(outline, dtype=float)
    p = np.vstack([p, p[:1]])
    d = np.r_[0, np.cumsum(np.hypot(*np.diff(p, axis=0).T))]
    at = np.linspace(0, d[-1], max(24, round(d[-1] / step_mm)), endpoint=False)
    return np.c_[np.interp(at, d, p[:, 0]), np.interp(at, d, p[:, 1])]


def _fit(a: Array, b: Array) -> tuple[Array, Array]:
    """Least-squares turn (no mirror) and shift taking ``a`` to ``b`` (Kabsch)."""
    ma, mb = a.mean(axis=0), b.mean(axis=0)
    U, _, Vt = np.linalg.svd((b - mb).T @ (a - ma))
    D = np.diag([1.0, np.sign(np.linalg.det(U @ Vt))])
    R = U @ D @ Vt
    return R, mb - R @ ma


def _gaps(q: Array, true: Array, tree: cKDTree) -> tuple[Array, Array, Array, Array]:
    d1, i1 = tree.query(q)
    d2, i2 = cKDTree(q).query(true)
    return d1, i1, d2, i2


def _different(tried: list[tuple[float, Array, Array]]) -> list[tuple[Array, Array]]:
    """The best few places that are not nearly the same turn."""
    out: list[tuple[Array, Array]] = []
    for _, R, t in sorted(tried, key=lambda c: c[0]):
        if all(np.trace(R.T @ other) / 2 < np.cos(np.radians(10)) for other, _ in out):
            out.append((R, t))
        if len(out) == 4:
            break
    return out


def _settle(
    f: Array, true: Array, tree: cKDTree, R: Array, t: Array, *, scaled: bool
) -> tuple[float, Array, Array]:
    """Gauss-Newton on the distances across the true line: outlines that slide along each other settle fast."""
    ahead = np.roll(true, -3, axis=0) - np.roll(true, 3, axis=0)
    normal = np.c_[-ahead[:, 1], ahead[:, 0]] / np.hypot(*ahead.T)[:, None]
    s = 1.0
    for _ in range(12):
        q = s * f @ R.T + t
        _, i = tree.query(q)
        n, middle = normal[i], q.mean(axis=0)
        arm = q - middle
        columns = [n[:, 0], n[:, 1], n[:, 1] * arm[:, 0] - n[:, 0] * arm[:, 1]]
        if scaled:
            columns.append((n * arm).sum(axis=1))
        step = np.linalg.lstsq(np.stack(columns, axis=1), ((true[i] - q) * n).sum(axis=1), rcond=None)[0]
        c, si = np.cos(step[2]), np.sin(step[2])
        T = np.array([[c, -si], [si, c]])
        grow = 1.0 + float(np.clip(step[3], -0.03, 0.03)) if scaled else 1.0  # steady when shapes differ
        R, t, s = T @ R, grow * T @ (t - middle) + middle + step[:2], s * grow
    return s, R, t


def score_outline(found: ArrayLike, true: ArrayLike) -> Score:
    """Return the distances between a found and a true outline.

    The best place is searched from 24 turns with nearest points matched both ways; distances are to points
    half a millimetre apart, so they are resolved to about 0.05 mm at worst for outlines that lie together.
    """
    coarse_f, coarse_t = resample(found, 6.0), resample(true, 6.0)
    tree = cKDTree(coarse_t)
    tried: list[tuple[float, Array, Array]] = []
    for k in range(24):
        a = np.radians(15.0 * k)
        R = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
        t = coarse_t.mean(axis=0) - R @ coarse_f.mean(axis=0)
        for _ in range(12):
            _, i1, _, i2 = _gaps(coarse_f @ R.T + t, coarse_t, tree)
            R, t = _fit(np.vstack([coarse_f, coarse_f[i2]]), np.vstack([coarse_t[i1], coarse_t]))
        d1, _, d2, _ = _gaps(coarse_f @ R.T + t, coarse_t, tree)
        tried.append((float((d1**2).mean() + (d2**2).mean()), R, t))
    f, true_pts = resample(found), resample(true, 0.1)
    tree = cKDTree(true_pts)
    best: tuple[float, Array, Array] | None = None
    for R, t in _different(tried):  # a cloth is almost the same upside down: only the fine fit can tell
        _, R, t = _settle(f, true_pts, tree, R, t, scaled=False)
        cost = float((tree.query(f @ R.T + t)[0] ** 2).mean())
        if best is None or cost < best[0]:
            best = (cost, R, t)
    assert best is not None
    _, R, t = best
    s, _, _ = _settle(f, true_pts, tree, R, t, scaled=True)  # how much the found outline wants to grow
    q = resample(found, 0.1) @ R.T + t
    d = np.r_[tree.query(q[::5])[0], cKDTree(q).query(true_pts[::5])[0]]
    return Score(
        float(np.percentile(d, 95)),
        float(d.max()),
        float(d.mean()),
        (1.0 / s - 1.0) * 100,
        float(np.degrees(np.arctan2(R[1, 0], R[0, 0]))),
        (float(t[0]), float(t[1])),
    )
