"""Lines and cubic Béziers through measured points: few pieces, smooth joins, the noise left out.

One edge (a stretch between two corners) is described by as few pieces as its own unevenness asks for: a
line, else one cubic, else a chain whose joins are found by dynamic programming over candidate knots, then
all its parameters are settled together. How many pieces is decided by the Bayesian information criterion on
points thinned to the distance over which a hand's waver is correlated, so that waver is not fitted.

References
----------
P. J. Schneider, "An algorithm for automatically fitting digitized curves", Graphics Gems (1990): a cubic
with given end directions. W. Wang, H. Pottmann and Y. Liu, "Fitting B-spline curves to point clouds by
curvature-based squared distance minimization", ACM Trans. Graphics 25 (2006): residuals along the normal.
G. Schwarz, "Estimating the dimension of a model", Annals of Statistics 6 (1978).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

__all__ = ["Chain", "bezier", "fit_edge", "flatten_segments"]

Points = NDArray[np.float64]
Floats = NDArray[np.float64]

WAVER_MM = 25.0  # a hand's waver is much the same over about this length: one independent reading each
NOISE_FLOOR_MM = 0.06  # finer differences are not worth a piece
MOST_PIECES = 6
KNOT_SPACING_MM = 14.0
MOST_KNOTS = 15
SHORTEST_PIECE_MM = 10.0
LINE_PARAMETERS = 2
CUBIC_PARAMETERS = 4
WORST_MM = 0.45  # a chain that leaves the points by more is not taken while another keeps closer
SETTLED = 1e-4  # share of the squares that a round must gain to go on
FLATTEN_MM = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """Pieces of one edge: knots, unit directions at both sides of each piece, and which are straight.

    Parameters
    ----------
    controls
        One array per piece: (2, 2) for a line, (4, 2) for a cubic.
    rms_mm
        Root mean square distance of the points from the chain.
    """

    controls: tuple[Points, ...]
    rms_mm: float

    def pinned(self, points: Points, start: Points, end: Points) -> Chain:
        """The same kind of chain through the same points, beginning and ending exactly where told."""
        if len(self.controls) == 1 and len(self.controls[0]) == 2:
            feet = np.array([start, end])
            return Chain((feet,), math.sqrt(_line_squares(points, feet) / len(points)))
        work = _thinned(np.concatenate([start[None], points, end[None]]), 220)
        state = _state_of(self.controls)
        state.knots[0], state.knots[-1] = start, end
        state, rms, _ = _settle(state, work, (start, end), False, 15)
        controls = _controls(state)
        controls[0][0], controls[-1][-1] = start, end
        return Chain(controls, rms)

    @property
    def start_direction(self) -> Points:
        """Unit direction at the start."""
        return _unit(_leaving(self.controls[0]))

    @property
    def end_direction(self) -> Points:
        """Unit direction at the end."""
        return _unit(-_leaving(self.controls[-1][::-1]))


def _leaving(control: Points) -> Points:
    for k in range(1, len(control)):
        d = control[k] - control[0]
        if float(np.hypot(d[0], d[1])) > 1e-9:
            return np.asarray(d, dtype=np.float64)
    return np.array([1.0, 0.0])


def _unit(v: Points) -> Points:
    n = float(np.hypot(v[0], v[1]))
    return v / n if n > 0 else np.array([1.0, 0.0])


def bezier(control: Points, t: Floats) -> Points:
    """Points of a line (2 controls) or cubic (4 controls) at parameters ``t``."""
    t = t[:, None]
    if len(control) == 2:
        return np.asarray(control[0] * (1 - t) + control[1] * t)
    u = 1 - t
    return np.asarray(
        control[0] * u**3 + control[1] * (3 * u * u * t) + control[2] * (3 * u * t * t) + control[3] * t**3
    )


def flatten_segments(controls: list[Points] | tuple[Points, ...], tolerance_mm: float = FLATTEN_MM) -> Points:
    """Closed polyline of a closed chain of pieces, within ``tolerance_mm``, first point not repeated."""
    out = []
    for c in controls:
        if len(c) == 2:
            out.append(c[:1])
            continue
        # Wang's bound: chord error of n equal parameter steps is at most sqrt(3)/(...)·max second difference
        second = np.abs(np.diff(c, n=2, axis=0)).max()
        n = max(1, math.ceil(math.sqrt(6.0 * math.sqrt(2.0) * float(second) / (8.0 * tolerance_mm))))
        out.append(bezier(c, np.linspace(0, 1, n, endpoint=False)))
    return np.concatenate(out)


def _line_fit(points: Points) -> tuple[Points, float]:
    """Total least squares; end points are the feet of the first and last point. Sum of squares too."""
    middle = points.mean(axis=0)
    _, values, axes = np.linalg.svd(points - middle, full_matrices=False)
    axis = axes[0]
    feet = middle + np.outer((points[[0, -1]] - middle) @ axis, axis)
    return feet, float(values[1] ** 2)


@dataclass(slots=True, eq=False)
class _State:
    """Parameters of a chain with smooth joins: knots, direction angles, handle lengths, straightness."""

    knots: Points  # (m + 1, 2)
    theta: Floats  # (m + 1,)
    out: Floats  # (m,) handle leaving the start of each piece
    back: Floats  # (m,) handle arriving at the end of each piece
    straight: NDArray[np.bool_]  # (m,)

    def control(self, k: int) -> Points:
        a, b = self.knots[k], self.knots[k + 1]
        if self.straight[k]:
            return np.array([a, a + (b - a) / 3, b - (b - a) / 3, b])
        u = np.array([math.cos(self.theta[k]), math.sin(self.theta[k])])
        v = np.array([math.cos(self.theta[k + 1]), math.sin(self.theta[k + 1])])
        return np.array([a, a + self.out[k] * u, b - self.back[k] * v, b])


def _settle(
    state: _State,
    points: Points,
    pins: tuple[Points, Points] | None,
    closed: bool,
    rounds: int,
) -> tuple[_State, float, float]:
    """Levenberg-Marquardt on all parameters with residuals along the normal.

    Returns the state, the rms and the worst distance (over a few points, so that no speck counts).
    """
    m = len(state.straight)
    size = 3 * (m + 1) + 2 * m
    t = np.linspace(0, 1, 33 if m < 3 else 21)
    ends = pins if pins is not None else (points[0], points[-1])
    hard = 30.0 if pins is not None else 1.0
    rows, residual = _residuals(state, points, t, size)
    extra, target = _constraints(state, m, size, ends, hard, closed)
    _tie(extra, state, m)
    cost = float((residual**2).sum() + (target**2).sum())
    damping = 1e-3
    for _ in range(rounds):
        a = np.vstack([rows, extra])
        normal = a.T @ a
        gradient = a.T @ np.concatenate([residual, target])
        scale = np.maximum(np.diag(normal), 1e-3 * float(np.diag(normal).max()))
        gained = 0.0
        for _ in range(5):
            step = np.linalg.solve(normal + np.diag(damping * scale), gradient)
            trial = _stepped(state, step, m)
            trial_rows, trial_residual = _residuals(trial, points, t, size)
            trial_extra, trial_target = _constraints(trial, m, size, ends, hard, closed)
            _tie(trial_extra, trial, m)
            trial_cost = float((trial_residual**2).sum() + (trial_target**2).sum())
            if trial_cost < cost:
                gained = 1.0 - trial_cost / cost
                state, cost = trial, trial_cost
                rows, residual, extra, target = trial_rows, trial_residual, trial_extra, trial_target
                damping = max(damping * 0.2, 1e-7)
                break
            damping *= 8.0
        if gained < SETTLED:
            break
    few = np.convolve(residual, np.ones(5) / 5, mode="same")
    return state, math.sqrt(float((residual**2).mean())), float(np.abs(few).max())


def _residuals(state: _State, points: Points, t: Floats, size: int) -> tuple[Floats, Floats]:
    """Distance of each point along the curve's normal, and how the curve's normal place moves."""
    m = len(state.straight)
    controls = [state.control(k) for k in range(m)]
    seg, u = _feet(controls, points, t)
    x, y, dx, dy = _at(np.array([_powers(c) for c in controls])[seg], u)
    gx, gy = points[:, 0] - x, points[:, 1] - y
    speed = np.maximum(np.hypot(dx, dy), 1e-9)
    n = np.column_stack([-dy / speed, dx / speed])
    # a point beyond an end is as far as it is, not as far as its foot on the tangent
    beyond = (np.abs(gx * dx + gy * dy) > 1e-3 * speed) & ((u <= 0) | (u >= 1))
    if beyond.any():
        gap = np.column_stack([gx[beyond], gy[beyond]])
        n[beyond] = gap / np.maximum(np.hypot(gap[:, 0], gap[:, 1]), 1e-9)[:, None]
    residual = gx * n[:, 0] + gy * n[:, 1]
    rows = np.zeros((len(points), size))
    for k in range(m):
        here = np.flatnonzero(seg == k)
        if len(here):
            _fill_rows(rows, here, n[here], u[here], state, k, m)
    _tie(rows, state, m)
    return rows, np.asarray(residual)


def _feet(controls: list[Points], points: Points, t: Floats) -> tuple[NDArray[np.int64], Floats]:
    """Nearest piece and parameter of each point (dense samples, then Newton steps)."""
    samples = np.concatenate([bezier(c, t) for c in controls])
    d2 = (points[:, None, 0] - samples[None, :, 0]) ** 2 + (points[:, None, 1] - samples[None, :, 1]) ** 2
    near = d2.argmin(axis=1)
    seg = near // len(t)
    powers = np.array([_powers(c) for c in controls])
    par = _to_feet(powers[seg], points, t[near % len(t)])
    # the sample at a join belongs to both pieces: a foot that wants beyond it lies on the other one
    for k in range(len(controls) - 1):
        over = (seg == k) & (par >= 1.0)
        under = (seg == k + 1) & (par <= 0.0)
        for move, to, start in ((over, k + 1, 0.0), (under, k, 1.0)):
            if move.any():
                seg[move] = to
                par[move] = _to_feet(powers[seg[move]], points[move], np.full(int(move.sum()), start))
    return seg.astype(np.int64), par


def _to_feet(powers: Floats, points: Points, u: Floats) -> Floats:
    """Parameters slid to the feet of points (n, 2), each on the cubic whose ``powers`` (n, 4, 2) are given."""
    for _ in range(3):
        x, y, dx, dy = _at(powers, u)
        ahead = (points[:, 0] - x) * dx + (points[:, 1] - y) * dy
        u = np.clip(u + ahead / np.maximum(dx * dx + dy * dy, 1e-12), 0.0, 1.0)
    return u


def _at(powers: Floats, u: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """x, y and their derivatives by the parameter, point by point."""
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = powers.transpose(1, 2, 0)
    return (
        x0 + u * (x1 + u * (x2 + u * x3)),
        y0 + u * (y1 + u * (y2 + u * y3)),
        x1 + u * (2.0 * x2 + 3.0 * x3 * u),
        y1 + u * (2.0 * y2 + 3.0 * y3 * u),
    )


def _powers(c: Points) -> list[Points]:
    """A cubic's coefficients of 1, t, t^2 and t^3."""
    return [c[0], 3 * (c[1] - c[0]), 3 * (c[0] - 2 * c[1] + c[2]), c[3] - c[0] + 3 * (c[1] - c[2])]


def _fill_rows(
    rows: Floats, here: NDArray[np.int64], n: Points, u: Floats, s: _State, k: int, m: int
) -> None:
    """Derivatives of the normal residual's model part by every parameter of piece ``k``."""
    theta0, handle0 = 2 * (m + 1), 3 * (m + 1)
    if s.straight[k]:
        for axis in (0, 1):
            rows[here, 2 * k + axis] += (1 - u) * n[:, axis]
            rows[here, 2 * (k + 1) + axis] += u * n[:, axis]
        return
    v = 1 - u
    b0, b1, b2, b3 = v**3, 3 * v * v * u, 3 * v * u * u, u**3
    for axis in (0, 1):
        rows[here, 2 * k + axis] += (b0 + b1) * n[:, axis]
        rows[here, 2 * (k + 1) + axis] += (b2 + b3) * n[:, axis]
    e = np.array([math.cos(s.theta[k]), math.sin(s.theta[k])])
    f = np.array([math.cos(s.theta[k + 1]), math.sin(s.theta[k + 1])])
    rows[here, theta0 + k] += b1 * s.out[k] * (n @ np.array([-e[1], e[0]]))
    rows[here, theta0 + k + 1] -= b2 * s.back[k] * (n @ np.array([-f[1], f[0]]))
    rows[here, handle0 + k] += b1 * (n @ e)
    rows[here, handle0 + m + k] -= b2 * (n @ f)


def _constraints(
    s: _State, m: int, size: int, ends: tuple[Points, Points], hard: float, closed: bool
) -> tuple[Floats, Floats]:
    """Rows that hold the ends, tie straight pieces to their directions, and close a smooth ring."""
    rows: list[Floats] = []
    target: list[float] = []

    def add(row: Floats, value: float) -> None:
        rows.append(row)
        target.append(value)

    theta0 = 2 * (m + 1)
    if closed:
        for axis in (0, 1):
            row = np.zeros(size)
            row[axis], row[2 * m + axis] = 100.0, -100.0
            add(row, 100.0 * float(s.knots[m, axis] - s.knots[0, axis]))
        row = np.zeros(size)
        row[theta0], row[theta0 + m] = 1000.0, -1000.0
        add(row, 1000.0 * _wrap(float(s.theta[m] - s.theta[0])))
    else:
        for k, end in ((0, ends[0]), (m, ends[1])):
            if hard > 1.0:
                for axis in (0, 1):
                    row = np.zeros(size)
                    row[2 * k + axis] = hard
                    add(row, hard * float(end[axis] - s.knots[k, axis]))
            else:  # only along the edge: across it the points decide
                e = np.array([math.cos(s.theta[k]), math.sin(s.theta[k])])
                row = np.zeros(size)
                row[2 * k : 2 * k + 2] = hard * e
                add(row, hard * float((end - s.knots[k]) @ e))
    if not rows:
        return np.zeros((0, size)), np.zeros(0)
    return np.array(rows), np.array(target)


def _tie(rows: Floats, s: _State, m: int) -> None:
    """The direction at both ends of a straight piece is that of the piece: hand it on to its knots."""
    theta0 = 2 * (m + 1)
    for k in np.flatnonzero(s.straight):
        chord = s.knots[k + 1] - s.knots[k]
        side = np.array([-chord[1], chord[0]]) / max(float(chord @ chord), 1e-9)
        for knot in (k, k + 1):
            column = rows[:, theta0 + knot].copy()
            rows[:, 2 * k : 2 * k + 2] -= np.outer(column, side)
            rows[:, 2 * k + 2 : 2 * k + 4] += np.outer(column, side)
            rows[:, theta0 + knot] = 0.0


def _tied_angles(theta: Floats, knots: Points, straight: NDArray[np.bool_]) -> Floats:
    out = theta.copy()
    for k in np.flatnonzero(straight):
        chord = knots[k + 1] - knots[k]
        out[k] = out[k + 1] = math.atan2(chord[1], chord[0])
    return out


def _wrap(angle: float) -> float:
    return (angle + math.pi) % (2 * math.pi) - math.pi


def _stepped(s: _State, step: Floats, m: int) -> _State:
    knots = s.knots + step[: 2 * (m + 1)].reshape(-1, 2)
    turn = np.clip(step[2 * (m + 1) : 3 * (m + 1)], -0.5, 0.5)
    chord = np.hypot(*np.diff(knots, axis=0).T)
    low, high = 0.08 * chord, 1.1 * chord
    out = np.clip(s.out + step[3 * (m + 1) : 3 * (m + 1) + m], low, high)
    back = np.clip(s.back + step[3 * (m + 1) + m :], low, high)
    return _State(knots, _tied_angles(s.theta + turn, knots, s.straight), out, back, s.straight)


def _state_of(controls: tuple[Points, ...]) -> _State:
    """The parameters that a chain of pieces has."""
    m = len(controls)
    state = _State(
        np.array([c[0] for c in controls] + [controls[-1][-1]]),
        np.zeros(m + 1),
        np.empty(m),
        np.empty(m),
        np.array([len(c) == 2 for c in controls], dtype=np.bool_),
    )
    for k, c in enumerate(controls):
        chord = max(float(np.hypot(*(c[-1] - c[0]))), 1e-6)
        leave, arrive = _leaving(c), -_leaving(c[::-1])
        state.out[k] = chord / 3 if len(c) == 2 else float(np.hypot(*(c[1] - c[0])))
        state.back[k] = chord / 3 if len(c) == 2 else float(np.hypot(*(c[3] - c[2])))
        if k == 0 or len(c) == 2:
            state.theta[k] = math.atan2(leave[1], leave[0])
        state.theta[k + 1] = math.atan2(arrive[1], arrive[0])
    return state


def _start_state(points: Points, places: list[int], angles: Floats, straight: list[bool]) -> _State:
    at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    knots = points[places].copy()
    third = np.maximum(np.diff(at[places]) / 3.0, 1e-3)
    theta = angles[places].copy()
    flags = np.array(straight, dtype=np.bool_)
    return _State(knots, _tied_angles(theta, knots, flags), third.copy(), third.copy(), flags)


def _angles(points: Points, reach: int) -> Floats:
    """Direction at each point from a parabola through its neighbourhood."""
    n = len(points)
    slope = np.empty((n, 2))
    # in the middle of an even neighbourhood the parabola's slope is that of the straight line
    reach = max(1, min(reach, (n - 1) // 2))
    s = np.arange(-reach, reach + 1)
    for axis in (0, 1):
        inner = np.correlate(points[:, axis], s / float(s @ s), mode="valid")
        slope[reach : n - reach, axis] = inner
    for i in [*range(reach), *range(n - reach, n)]:
        lo, hi = max(0, i - reach), min(n, i + reach + 1)
        near = np.vander(np.arange(lo, hi) - i, 3 if hi - lo > 4 else 2, increasing=True)
        slope[i] = np.linalg.lstsq(near, points[lo:hi], rcond=None)[0][1]
    return np.asarray(np.arctan2(slope[:, 1], slope[:, 0]))


def fit_edge(
    points: Points,
    *,
    pins: tuple[Points, Points] | None = None,
    closed: bool = False,
    waver_mm: float = WAVER_MM,
    floor_mm: float = NOISE_FLOOR_MM,
) -> Chain:
    """Lines and cubics along one smooth edge.

    Parameters
    ----------
    points
        (n, 2) in order along the edge, evenly spaced or nearly so; gaps allowed.
    pins
        Where the edge must begin and end exactly; None leaves its ends to the points.
    closed
        The edge is a whole smooth ring: ends meet in place and direction.
    waver_mm
        Length over which deviations hang together.
    floor_mm
        Unevenness that is never worth another piece.

    Raises
    ------
    ValueError
        With fewer than two points.
    """
    if len(points) < 2:
        raise ValueError("an edge needs two points at least")
    points = np.asarray(points, dtype=np.float64)
    length = float(np.hypot(*np.diff(points, axis=0).T).sum())
    readings = max(length / waver_mm, 2.0)

    def value(ss_mean: float, parameters: int) -> float:
        return readings * math.log(ss_mean + floor_mm**2) + parameters * math.log(readings + 1.0) * 1.3

    tries: list[_Try] = []
    if not closed:
        feet, ss = _line_fit(points)
        if pins is not None:
            feet = np.array(pins)
            ss = _line_squares(points, feet)
        rms = math.sqrt(ss / len(points))
        if len(points) < 5 or length < SHORTEST_PIECE_MM or rms < floor_mm * 0.6:
            return Chain((feet,), rms)
        tries.append(_Try(value(ss / len(points), LINE_PARAMETERS), (feet,), rms, 3.0 * rms))
    work = _thinned(points, 220)
    spacing = length / max(1, len(work) - 1)
    angles = _angles(work, max(2, round(6.0 / spacing)))
    last = len(work) - 1
    if not closed:
        start = _start_state(work, [0, last], angles, [False])
        state, rms, worst = _settle(start, work, pins, closed, 30)
        tries.append(_Try(value(rms**2, CUBIC_PARAMETERS), _controls(state), rms, worst))
        best = min(tries, key=lambda r: r.value)
        if best.rms < max(1.35 * _own_noise(work, spacing), floor_mm):
            return Chain(best.controls, best.rms)
    for places, straight in _chains(work, angles, spacing, closed):
        start = _start_state(work, places, angles, straight)
        state, rms, worst = _settle(start, work, pins, closed, 40)
        # a smooth join takes a place and a direction away, and the choice of where it lies gives them back
        parameters = sum(LINE_PARAMETERS if s else CUBIC_PARAMETERS for s in straight)
        tries.append(_Try(value(rms**2, parameters), _controls(state), rms, worst))
        best = min(tries, key=lambda r: r.value)
        if len(tries) > 3 and min(r.value for r in tries[-2:]) > best.value and best.worst < WORST_MM:
            break  # more pieces have stopped to help
    near = [r for r in tries if r.worst < WORST_MM]
    chosen = min(near or tries, key=lambda r: r.value)
    return Chain(chosen.controls, chosen.rms)


@dataclass(frozen=True, slots=True, eq=False)
class _Try:
    value: float  # the information criterion: less is better
    controls: tuple[Points, ...]
    rms: float
    worst: float


def _line_squares(points: Points, feet: Points) -> float:
    d = _unit(feet[1] - feet[0])
    off = (points - feet[0]) @ np.array([-d[1], d[0]])
    return float((off**2).sum())


def _controls(state: _State) -> tuple[Points, ...]:
    return tuple(
        state.knots[k : k + 2].copy() if state.straight[k] else state.control(k)
        for k in range(len(state.straight))
    )


def _thinned(points: Points, most: int) -> Points:
    if len(points) <= most:
        return points
    # means of runs rather than single points: nothing that was measured is thrown away
    edges = np.linspace(0, len(points), most + 1).astype(int)
    sums = np.add.reduceat(points, edges[:-1], axis=0)
    out = sums / np.diff(edges)[:, None]
    out[0], out[-1] = points[0], points[-1]
    return np.asarray(out)


def _own_noise(points: Points, spacing: float) -> float:
    """Root mean square unevenness about parabolas over 45 mm: what no sensible curve would follow."""
    half = max(4, round(22.0 / spacing))
    if len(points) < 2 * half + 1:
        half = max(2, (len(points) - 1) // 2)
    s = np.arange(-half, half + 1) * spacing
    fit = np.linalg.pinv(np.vander(s, 4, increasing=True))
    residuals = []
    for i in range(half, len(points) - half, max(1, half // 2)):
        window = points[i - half : i + half + 1]
        if len(window) != len(s):
            break
        rest = window - np.vander(s, 4, increasing=True) @ (fit @ window)
        d = _unit(window[-1] - window[0])
        residuals.append(float(((rest @ np.array([-d[1], d[0]])) ** 2).mean()))
    return math.sqrt(float(np.median(residuals))) if residuals else NOISE_FLOOR_MM


def _chains(
    points: Points, angles: Floats, spacing: float, closed: bool
) -> list[tuple[list[int], list[bool]]]:
    """Best chains of 2, 3, … pieces by dynamic programming over candidate knots."""
    length = spacing * (len(points) - 1)
    count = int(np.clip(length / KNOT_SPACING_MM, 3, MOST_KNOTS))
    knots = np.unique(np.round(np.linspace(0, len(points) - 1, count + 1)).astype(int)).tolist()
    k_count = len(knots)
    cost = np.full((k_count, k_count), math.inf)
    line = np.zeros((k_count, k_count), dtype=np.bool_)
    for i in range(k_count):
        for j in range(i + 1, k_count):
            a, b = knots[i], knots[j]
            if (b - a) * spacing < SHORTEST_PIECE_MM * 0.8:
                continue
            run = points[a : b + 1]
            cubic = _quick_cubic(run, angles[a], angles[b])
            _, ss_line = _line_fit(run)
            floor = (NOISE_FLOOR_MM**2) * len(run)
            straight = ss_line < 1.15 * cubic + floor and (b - a) * spacing > 2 * SHORTEST_PIECE_MM
            cost[i, j] = ss_line if straight else cubic
            line[i, j] = straight
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
        straight = [bool(line[i, j]) for i, j in pairwise(path)]
        if any(a and b for a, b in pairwise(straight)):
            # two straight pieces that join smoothly are one: let the second bend
            straight = [s and not (k > 0 and straight[k - 1]) for k, s in enumerate(straight)]
        out.append(([knots[i] for i in path], straight))
    return out


def _quick_cubic(run: Points, angle0: float, angle1: float) -> float:
    """Sum of squared distances of the best cubic with the given ends and end directions."""
    (ax, ay), (bx, by) = run[0].tolist(), run[-1].tolist()
    ex, ey, fx, fy = math.cos(angle0), math.sin(angle0), math.cos(angle1), math.sin(angle1)
    x, y = run[:, 0], run[:, 1]
    at = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    t = at / max(float(at[-1]), 1e-9)
    chord = math.hypot(bx - ax, by - ay)
    for _ in range(3):
        u = 1.0 - t
        b0, b1, b2, b3 = u * u * u, 3.0 * u * u * t, 3.0 * u * t * t, t * t * t
        start, end = b0 + b1, b2 + b3
        gx, gy = x - (start * ax + end * bx), y - (start * ay + end * by)
        m00, m11, m01 = float(b1 @ b1), float(b2 @ b2), -float(b1 @ b2) * (ex * fx + ey * fy)
        r0 = ex * float(b1 @ gx) + ey * float(b1 @ gy)
        r1 = -(fx * float(b2 @ gx) + fy * float(b2 @ gy))
        det = m00 * m11 - m01 * m01
        if abs(det) > 1e-12:
            alpha, beta = (r0 * m11 - r1 * m01) / det, (r1 * m00 - r0 * m01) / det
        else:
            alpha = beta = chord / 3
        alpha = min(max(alpha, 0.08 * chord), 1.1 * chord)
        beta = min(max(beta, 0.08 * chord), 1.1 * chord)
        mx, my = gx - (alpha * ex) * b1 + (beta * fx) * b2, gy - (alpha * ey) * b1 + (beta * fy) * b2
        cx, cy, hx, hy = ax + alpha * ex, ay + alpha * ey, bx - beta * fx, by - beta * fy
        w0, w1, w2 = 3.0 * u * u, 6.0 * u * t, 3.0 * t * t
        dx = (cx - ax) * w0 + (hx - cx) * w1 + (bx - hx) * w2
        dy = (cy - ay) * w0 + (hy - cy) * w1 + (by - hy) * w2
        square = np.maximum(dx * dx + dy * dy, 1e-12)
        t = np.clip(t + (mx * dx + my * dy) / square, 0.0, 1.0)
    return float((np.square(my * dx - mx * dy) / square).sum())
