"""Fair curves: the fewest cubics, joined without a kink, within a stated deviation of points or of a path.

A curve is *fair* when it has no bumps that nobody asked for: few extrema of curvature. The fit goes in four
steps:

1. places where the curve may be cut are spread evenly over the points; at each, a direction is estimated
   from its neighbourhood;
2. for every pair of places the error of one least-squares cubic between them is measured;
3. dynamic programming picks, for 1, 2, 3 … cubics, the cuts of least error;
4. all cubics are moved together by Gauss–Newton steps (cut points, directions and arm lengths free, the
   joints kept smooth) and, as far as the deviation allows, towards even change of curvature.

The first number of cubics whose greatest deviation is small enough is taken; one more cubic is tried and
preferred only where it has fewer extrema of curvature.

References
----------
Tangent-distance minimisation: Wang, Pottmann, Liu, *ACM Transactions on Graphics* 25 (2), 2006. Dynamic
programming over cut points: Bellman, *Communications of the ACM* 4 (6), 1961.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from eke.errors import BadInput, BadShape
from eke.geometry.path import Path, Pt
from eke.geometry.segments import Cubic
from eke.geometry.tolerance import JOIN_MM, STRAIGHT_MM

Points = npt.NDArray[np.float64]

_MOST_POINTS = 160
"""Points that the fit looks at; a tracing's noise is correlated over more than their spacing."""
_MOST_CUTS = 20
"""Places at which cubics may join: enough for the nine or so that an edge of a garment ever needs."""
_MOST_CUBICS = 12
_STEPS = 24
"""Gauss–Newton steps of one refinement; it converges in about eight."""
_EXTREMUM_SHARE = 0.04
"""A bump of curvature counts when it stands out by this share of the greatest curvature of the edge …"""
_EXTREMUM_TURN_RAD = 0.03
"""… and by as much as turns the edge by some two degrees over its length: less, no eye sees."""


@dataclass(frozen=True, slots=True)
class Fit:
    """A fair curve, how far the points lie from it at most and on average, and its curvature extrema."""

    path: Path
    deviation_mm: float
    rms_mm: float
    extrema: int


def curvature_extrema(path: Path) -> tuple[float, ...]:
    """Return the arc lengths at which the curvature has an extremum that an eye would see, ends left out.

    Small ripples are passed over: see the constants of this module.
    """
    n = 40 * len(path.segments) + 1
    mms = np.linspace(0.0, path.length_mm, n + 2)[1:-1]
    kappa = path.curvatures_at(mms)
    kappa = np.where(np.isfinite(kappa), kappa, 0.0)
    least = max(_EXTREMUM_SHARE * float(np.abs(kappa).max()), _EXTREMUM_TURN_RAD / path.length_mm)
    # walk with hysteresis: a turn counts once the curvature has come back by ``least``
    found: list[float] = []
    top = bottom = 0
    heading = 0
    for i in range(1, n):
        if kappa[i] > kappa[top]:
            top = i
        if kappa[i] < kappa[bottom]:
            bottom = i
        if heading >= 0 and kappa[top] - kappa[i] > least:
            if heading > 0:
                found.append(float(mms[top]))
            heading, bottom, top = -1, i, i
        elif heading <= 0 and kappa[i] - kappa[bottom] > least:
            if heading < 0:
                found.append(float(mms[bottom]))
            heading, bottom, top = 1, i, i
    return tuple(found)


def fair_path(
    path: Path, deviation_mm: float, *, start_tangent: Pt | None = None, end_tangent: Pt | None = None
) -> Fit:
    """Return the fair curve near ``path`` with its ends kept; directions at the ends may be fixed.

    The answer is remembered by content, since replaying a history asks for the same curves again.
    """
    return _fair_path(path, deviation_mm, start_tangent, end_tangent)


@lru_cache(maxsize=512)
def _fair_path(path: Path, deviation_mm: float, start: Pt | None, end: Pt | None) -> Fit:
    n = int(min(max(path.length_mm / 2.0, 24), _MOST_POINTS))
    points = path.points_at(np.linspace(0.0, path.length_mm, n + 1))
    points[0], points[-1] = path.start, path.end
    fit = fit_cubics(points, deviation_mm, start_tangent=start, end_tangent=end)
    # what counts is the line itself, its corners above all, and not the points that were taken of it
    line = path.points_at(
        np.unique(np.concatenate([np.linspace(0.0, path.length_mm, 2 * n + 1), path.joints_mm]))
    )
    worst = max(fit.path.nearest((float(x), float(y))).distance_mm for x, y in line)
    return replace(fit, deviation_mm=max(worst, fit.deviation_mm))


def fit_cubics(
    points: Points, deviation_mm: float, *, start_tangent: Pt | None = None, end_tangent: Pt | None = None
) -> Fit:
    """Return the fewest smoothly joined cubics within ``deviation_mm`` of ordered ``points`` ``(n, 2)``.

    Parameters
    ----------
    points
        In order; the first and last are kept exactly.
    deviation_mm
        How far a point may lie from the curve.
    start_tangent, end_tangent
        Directions of walking at the ends, where they are fixed; any length.

    Returns
    -------
    Fit
        Its deviation may exceed the one asked for where even the greatest number of cubics does not reach
        it: a corner or a scribble in the points.

    Raises
    ------
    BadInput
        When the deviation is not above 0.
    BadShape
        When there are fewer than two different points, or the first and last coincide.
    """
    if not deviation_mm > 0.0:
        raise BadInput(
            f"A curve needs a deviation above 0 mm to be faired; {deviation_mm:g} mm was asked for."
        )
    q = _thinned(np.asarray(points, dtype=np.float64))
    if math.dist(q[0], q[-1]) <= JOIN_MM:
        raise BadShape("A closed curve has no ends to keep. Put a corner on it first.")
    t0, t1 = _unit(start_tangent), _unit(end_tangent)
    problem = _Problem(q, t0, t1)
    if len(q) == 2 and t0 is None and t1 is None:
        return _fit_of(Path.line(_pt(q[0]), _pt(q[1])), q)
    table: Points | None = None
    best: Fit | None = None
    for count in range(1, _MOST_CUBICS + 1):
        cuts: list[int] | None = [0, len(problem.cuts) - 1]
        if count > 1:
            # one cubic needs no table, and most edges of a garment are one cubic
            table = problem.errors() if table is None else table
            cuts = _cheapest_cuts(table, count)
        if cuts is None:
            break
        fit = problem.refined(cuts, deviation_mm)
        if fit.deviation_mm <= deviation_mm:
            if best is None:
                best = fit
                if fit.extrema <= 1:
                    return fit
                continue
            return fit if fit.extrema < best.extrema else best
        if best is not None:
            return best
        last = fit
    return best if best is not None else last


def straightness_mm(path: Path) -> float:
    """Return how far a path leaves its chord, in mm."""
    chord = Path.line(path.start, path.end)
    (x0, y0), (ux, uy) = chord.start, chord.tangent_at(0.0)
    p = path.flatten() - np.array([x0, y0])
    return float(np.abs(p[:, 0] * uy - p[:, 1] * ux).max())


def looks_straight(path: Path) -> bool:
    """Whether a pencil would take the path for a straight line."""
    return straightness_mm(path) <= STRAIGHT_MM


def deviation_mm(path: Path, points: Points) -> float:
    """Return how far the farthest of ``points`` ``(n, 2)`` lies from the path."""
    return max(path.nearest((float(x), float(y))).distance_mm for x, y in points)


# ---------------------------------------------------------------- the fit


def _pt(p: Points) -> Pt:
    return (float(p[0]), float(p[1]))


def _unit(vector: Pt | None) -> Points | None:
    if vector is None:
        return None
    norm = math.hypot(*vector)
    if norm == 0.0:
        raise BadInput("A direction needs a length above 0.")
    return np.array(vector) / norm


def _thinned(points: Points) -> Points:
    keep = np.ones(len(points), dtype=bool)
    keep[1:] = np.hypot(*np.diff(points, axis=0).T) > JOIN_MM
    q = points[keep]
    if len(q) < 2:
        raise BadShape("A line needs at least two different points.")
    if len(q) > _MOST_POINTS:
        s = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(q, axis=0).T))])
        at = np.linspace(0.0, s[-1], _MOST_POINTS)
        q = np.stack([np.interp(at, s, q[:, 0]), np.interp(at, s, q[:, 1])], axis=1)
    return q


def _bernstein(t: Points) -> Points:
    u = 1.0 - t
    return np.stack([u**3, 3 * u * u * t, 3 * u * t * t, t**3], axis=1)


def _fit_of(path: Path, q: Points) -> Fit:
    gaps = np.array([path.nearest((float(x), float(y))).distance_mm for x, y in q])
    return Fit(path, float(gaps.max()), float(np.sqrt(np.mean(gaps**2))), len(curvature_extrema(path)))


def _cheapest_cuts(table: Points, count: int) -> list[int] | None:
    """Return the ``count + 1`` cut numbers of least summed error, both ends among them, or nothing."""
    k = len(table)
    if count > k - 1:
        return None
    cost = np.full(k, np.inf)
    cost[0] = 0.0
    back: list[npt.NDArray[np.intp]] = []
    for _ in range(count):
        total = cost[:, None] + table
        back.append(np.argmin(total, axis=0))
        cost = np.min(total, axis=0)
    if not np.isfinite(cost[-1]):
        return None
    cuts = [k - 1]
    for step in reversed(back):
        cuts.append(int(step[cuts[-1]]))
    return cuts[::-1]


class _Problem:
    """The points of one fit, with places to cut and estimated directions."""

    def __init__(self, q: Points, start: Points | None, end: Points | None) -> None:
        self.q = q
        self.start, self.end = start, end
        steps = np.hypot(*np.diff(q, axis=0).T)
        self.s = np.concatenate([[0.0], np.cumsum(steps)])
        n = len(q)
        self.cuts = np.unique(np.linspace(0, n - 1, min(_MOST_CUTS, n)).round().astype(int))
        window = max(2, round(n / 16))
        self.directions = np.array([self._direction(int(i), window) for i in self.cuts])
        if start is not None:
            self.directions[0] = start
        if end is not None:
            self.directions[-1] = end

    def _direction(self, i: int, window: int) -> Points:
        """Return the direction at point ``i`` of the parabola that fits its neighbours."""
        a, b = max(0, i - window), min(len(self.q), i + window + 1)
        s = self.s[a:b] - self.s[i]
        degree = 2 if b - a > 3 else 1
        basis = np.vander(s, degree + 1, increasing=True)
        coefficients = np.linalg.lstsq(basis, self.q[a:b], rcond=None)[0]
        tangent = coefficients[1]
        norm = float(np.hypot(*tangent))
        if norm < 1e-9:
            tangent, norm = self.q[b - 1] - self.q[a], float(np.hypot(*(self.q[b - 1] - self.q[a])))
        return np.asarray(tangent / max(norm, 1e-12))

    def errors(self) -> Points:
        """Return the summed squared error of one cubic from cut ``i`` to cut ``j``; infinite where ``j <= i``."""
        k = len(self.cuts)
        table = np.full((k, k), np.inf)
        for i in range(k):
            for j in range(i + 1, k):
                table[i, j] = self._single(i, j)
        return table

    def _single(self, i: int, j: int) -> float:
        a, b = self.cuts[i], self.cuts[j]
        q, s = self.q[a : b + 1], self.s[a : b + 1]
        t = (s - s[0]) / (s[-1] - s[0])
        basis = _bernstein(t)
        # end arms are free but for a fixed direction; inner arms keep the estimated one
        free_start = i == 0 and self.start is None
        free_end = j == len(self.cuts) - 1 and self.end is None
        rest = q - np.outer(basis[:, 0] + basis[:, 1], q[0]) - np.outer(basis[:, 2] + basis[:, 3], q[-1])
        columns: list[Points] = []
        for free, weight, direction in (
            (free_start, basis[:, 1], self.directions[i]),
            (free_end, basis[:, 2], -self.directions[j]),
        ):
            columns.extend(
                np.outer(weight, vector).ravel() for vector in (np.eye(2) if free else [direction])
            )
        matrix = np.stack(columns, axis=1)
        solution, *_ = np.linalg.lstsq(matrix, rest.ravel(), rcond=None)
        miss = (rest.ravel() - matrix @ solution).reshape(-1, 2)
        # half of the miss along the curve is the parameter's, not the shape's
        d = np.gradient(q, axis=0) if len(q) > 2 else np.repeat(q[1:] - q[:1], 2, axis=0)
        d = d / np.maximum(np.hypot(d[:, 0], d[:, 1]), 1e-12)[:, None]
        across = miss[:, 0] * d[:, 1] - miss[:, 1] * d[:, 0]
        return float(np.sum(across**2))

    def refined(self, cuts: list[int], deviation_mm: float) -> Fit:
        """Return the fit with these cuts, all cubics moved together; as even as the deviation allows."""
        best = self._solved(cuts, 0.0)
        if best.deviation_mm > deviation_mm:
            return best
        # evenness is bought with deviation: the most that fits, found from plenty downwards
        for fairness in (10.0, 1.0, 0.1, 0.01, 0.001):
            fit = self._solved(cuts, fairness * deviation_mm)
            if fit.deviation_mm <= deviation_mm and fit.extrema <= best.extrema:
                return fit
        return best

    def _solved(self, cuts: list[int], fairness: float) -> Fit:
        state = _Chain.started(self, cuts)
        for step in range(_STEPS):
            moved = state.stepped(self.q, fairness)
            if moved < 1e-4 and step > 2:
                break
        return _fit_of(state.path(), self.q)


class _Chain:
    """Smoothly joined cubics under refinement: joints ``p``, direction angles, arm lengths before and after."""

    def __init__(self, p: Points, angle: Points, arms: Points, fixed: tuple[bool, bool]) -> None:
        self.p, self.angle, self.arms, self.fixed = p, angle, arms, fixed

    @classmethod
    def started(cls, problem: _Problem, cuts: list[int]) -> _Chain:
        at = problem.cuts[cuts]
        d = problem.directions[cuts]
        spans = np.diff(problem.s[at])
        arms = (
            np.stack([np.concatenate([spans[:1], spans]), np.concatenate([spans, spans[-1:]])], axis=1) / 3.0
        )
        fixed = (problem.start is not None, problem.end is not None)
        return cls(problem.q[at].copy(), np.arctan2(d[:, 1], d[:, 0]), arms, fixed)

    def control(self) -> Points:
        """Return the control points ``(m, 4, 2)``."""
        d = np.stack([np.cos(self.angle), np.sin(self.angle)], axis=1)
        return np.stack(
            [
                self.p[:-1],
                self.p[:-1] + self.arms[:-1, 1:] * d[:-1],
                self.p[1:] - self.arms[1:, :1] * d[1:],
                self.p[1:],
            ],
            axis=1,
        )

    def path(self) -> Path:
        joints = [_pt(p) for p in self.p]
        return Path(
            tuple(Cubic(joints[i], _pt(c[1]), _pt(c[2]), joints[i + 1]) for i, c in enumerate(self.control()))
        )

    def _feet(self, q: Points) -> tuple[npt.NDArray[np.intp], Points]:
        """Return for each point the cubic and the parameter of its foot: coarse search, then two Newton steps."""
        c = self.control()
        steps = np.linspace(0.0, 1.0, 25)
        samples = np.einsum("kb,mbx->mkx", _bernstein(steps), c).reshape(-1, 2)
        gap = (q[:, None, 0] - samples[None, :, 0]) ** 2 + (q[:, None, 1] - samples[None, :, 1]) ** 2
        nearest = np.argmin(gap, axis=1)
        segment, t = nearest // 25, steps[nearest % 25]
        for _ in range(3):
            b = c[segment]
            u = 1.0 - t
            point = np.einsum("nb,nbx->nx", _bernstein(t), b)
            d1 = 3 * (
                (u * u)[:, None] * (b[:, 1] - b[:, 0])
                + (2 * u * t)[:, None] * (b[:, 2] - b[:, 1])
                + (t * t)[:, None] * (b[:, 3] - b[:, 2])
            )
            t = np.clip(
                t + np.sum((q - point) * d1, axis=1) / np.maximum(np.sum(d1 * d1, axis=1), 1e-12), 0.0, 1.0
            )
        return segment, t

    def _jacobian(self) -> Points:
        """Return the derivative of all control points ``(m·4·2)`` by the free parameters."""
        k = len(self.p)
        m = k - 1
        d = np.stack([np.cos(self.angle), np.sin(self.angle)], axis=1)
        n = np.stack([-d[:, 1], d[:, 0]], axis=1)
        jac = np.zeros((m, 4, 2, 5 * k))
        for i in range(k):
            x, y, turn, before, after = range(5 * i, 5 * i + 5)
            if i < m:
                for j in (0, 1):
                    jac[i, j, 0, x] = jac[i, j, 1, y] = 1.0
                jac[i, 1, :, turn] = self.arms[i, 1] * n[i]
                jac[i, 1, :, after] = d[i]
            if i > 0:
                for j in (2, 3):
                    jac[i - 1, j, 0, x] = jac[i - 1, j, 1, y] = 1.0
                jac[i - 1, 2, :, turn] = -self.arms[i, 0] * n[i]
                jac[i - 1, 2, :, before] = -d[i]
        free = np.ones(5 * k, dtype=bool)
        free[[0, 1, 3, 5 * k - 5, 5 * k - 4, 5 * k - 1]] = False
        free[2] = not self.fixed[0]
        free[5 * k - 3] = not self.fixed[1]
        self._free = free
        return jac.reshape(m * 8, 5 * k)[:, free]

    def stepped(self, q: Points, fairness: float) -> float:
        """Do one damped Gauss–Newton step on point-to-tangent distances; return how far joints moved, mm."""
        c = self.control()
        m = len(c)
        segment, t = self._feet(q)
        basis = _bernstein(t)
        b = c[segment]
        u = 1.0 - t
        point = np.einsum("nb,nbx->nx", basis, b)
        d1 = (
            (u * u)[:, None] * (b[:, 1] - b[:, 0])
            + (2 * u * t)[:, None] * (b[:, 2] - b[:, 1])
            + (t * t)[:, None] * (b[:, 3] - b[:, 2])
        )
        d1 = d1 / np.maximum(np.hypot(d1[:, 0], d1[:, 1]), 1e-12)[:, None]
        normal = np.stack([-d1[:, 1], d1[:, 0]], axis=1)
        jac = self._jacobian()
        rows = np.zeros((len(q), m, 4, 2))
        rows[np.arange(len(q)), segment] = basis[:, :, None] * normal[:, None, :]
        residuals = [np.sum((q - point) * normal, axis=1)]
        matrices = [rows.reshape(len(q), -1) @ jac]
        if fairness > 0.0:
            third = np.zeros((m, 2, m, 4, 2))
            spans = np.hypot(*(c[:, 3] - c[:, 0]).T)
            whole = float(spans.sum())
            for i in range(m):
                for j, weight in enumerate((-1.0, 3.0, -3.0, 1.0)):
                    # change of curvature over the cubic, weighed so that the whole edge's size drops out
                    third[i, 0, i, j, 0] = third[i, 1, i, j, 1] = weight * math.sqrt(
                        whole / max(spans[i], 1e-9)
                    )
            operator = third.reshape(2 * m, -1)
            weight = fairness * math.sqrt(len(q)) / max(whole, 1e-9) * 10.0
            matrices.append(weight * operator @ jac)
            residuals.append(-weight * operator @ c.ravel())
        matrix, residual = np.vstack(matrices), np.concatenate(residuals)
        # where two points are all there is, nothing depends on anything
        damping = 1e-6 * float(np.trace(matrix.T @ matrix)) / matrix.shape[1] + 1e-12
        normal_matrix = matrix.T @ matrix + damping * np.eye(matrix.shape[1])
        delta_free = np.linalg.solve(normal_matrix, matrix.T @ residual)
        flat = np.zeros(5 * len(self.p))
        flat[self._free] = delta_free
        delta = flat.reshape(-1, 5)
        # arms stay positive and directions turn by little at a time, or the tangent model no longer holds
        limit = 1.0
        turn = float(np.abs(delta[:, 2]).max())
        if turn > 0.3:
            limit = 0.3 / turn
        self.p = self.p + limit * delta[:, :2]
        self.angle = self.angle + limit * delta[:, 2]
        least = 0.02 * float(np.mean(self.arms))
        # on a straight line nothing depends on the arms: they must not run away
        most = float(np.hypot(*np.diff(q, axis=0).T).sum())
        self.arms = np.clip(self.arms + limit * delta[:, 3:], min(least, most), most)
        return float(np.abs(limit * delta[:, :2]).max()) + turn * float(np.mean(self.arms))
