"""Lines and cubic Béziers through measured points: few pieces, smooth joins, the noise left out.

One edge (a stretch between two corners) is described by as few pieces as its own unevenness asks for: a
line, else one cubic, else a chain whose joins are found by dynamic programming over candidate knots, then
all its parameters are settled together. How many pieces is decided by the Bayesian information criterion on
points thinned to the distance over which a hand's waver is correlated, so that waver is not fitted.

References
----------
G. Schwarz, "Estimating the dimension of a model", Annals of Statistics 6 (1978).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from eke.capture.fitting_knots import NOISE_FLOOR_MM, SHORTEST_PIECE_MM, chains, one_cubic
from eke.capture.fitting_settle import leaving, settle, state_of

__all__ = ["Chain", "bezier", "fit_edge", "flatten_segments"]

Points = NDArray[np.float64]
Floats = NDArray[np.float64]

WAVER_MM = 25.0  # a hand's waver is much the same over about this length: one independent reading each
LINE_PARAMETERS = 2
CUBIC_PARAMETERS = 4
WORST_MM = 0.45  # a chain that leaves the points by more is not taken while another keeps closer
FLATTEN_MM = 0.05
LEAST_NOISE = 0.7  # of the squares of the points' own unevenness, which no chain of a few pieces comes below


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
        state = state_of(self.controls)
        state.knots[0], state.knots[-1] = start, end
        state, rms, _ = settle(state, work, (start, end), False, 15)
        controls = state.controls()
        controls[0][0], controls[-1][-1] = start, end
        return Chain(controls, rms)

    @property
    def start_direction(self) -> Points:
        """Unit direction at the start."""
        return _unit(leaving(self.controls[0]))

    @property
    def end_direction(self) -> Points:
        """Unit direction at the end."""
        return _unit(-leaving(self.controls[-1][::-1]))


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
    noise = _own_noise(work, spacing)
    if not closed:
        state, rms, worst = settle(one_cubic(work, angles), work, pins, closed, 40)
        tries.append(_Try(value(rms**2, CUBIC_PARAMETERS), state.controls(), rms, worst))
        best = min(tries, key=lambda r: r.value)
        if best.rms < max(1.35 * noise, floor_mm):
            return Chain(best.controls, best.rms)
    for start in chains(work, angles, spacing, closed):
        # a smooth join takes a place and a direction away, and the choice of where it lies gives them back
        parameters = sum(LINE_PARAMETERS if s else CUBIC_PARAMETERS for s in start.straight)
        if tries and best.worst < WORST_MM and value(LEAST_NOISE * noise**2, parameters) > best.value:
            continue  # even if it went through all but the points' own noise
        state, rms, worst = settle(start, work, pins, closed, 40)
        tries.append(_Try(value(rms**2, parameters), state.controls(), rms, worst))
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
