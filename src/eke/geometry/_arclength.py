"""Arc length of chains of lines and cubic Béziers: numeric kernels on arrays.

A chain is a ``(n, 4, 2)`` array of control points; a line is raised to a cubic with evenly spaced control
points, so its parameter is its share of length. The table of a chain cuts each segment into stretches on
which a 16-point Gauss–Legendre rule is exact to rounding; a length is then looked up by bisection of the
table and one Newton iteration inside a stretch.

References
----------
The rule and its error term: Abramowitz & Stegun, *Handbook of Mathematical Functions*, 25.4.29–30.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from eke.geometry.tolerance import ARC_LENGTH_DEPTH, ARC_LENGTH_FLOOR, ARC_LENGTH_REL, INVERSE_MM

Array = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]
Index = npt.NDArray[np.intp]

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(16)
_NODES = (_NODES + 1.0) / 2.0
_WEIGHTS = _WEIGHTS / 2.0

_POWER = np.array(
    [[1.0, 0.0, 0.0, 0.0], [-3.0, 3.0, 0.0, 0.0], [3.0, -6.0, 3.0, 0.0], [-1.0, 3.0, -3.0, 1.0]]
)
"""From control points to coefficients."""
_RISES = np.array([1.0, 2.0, 3.0])
"""From the coefficients of a polynomial to those of its derivative."""

MOST_CHORDS = 20_000
"""A curve is cut into no more chords, whatever comes in."""

_SLOW = 0.3
"""A cubic whose slowest sample runs below this share of its fastest may all but stop between the samples."""
_SURE = 64.0
"""A Newton step from an error ``e`` leaves about ``e² / L`` times the change of the speed over its stretch of ``L`` mm,
which grading keeps to a few times itself: no need to measure again when ``e² < INVERSE_MM · L / 64``."""
_STOPPED = 0.02
"""It all but stops below this share: the dip is then narrower than the nodes of the rule."""
_GRADES = 4.0 ** -np.arange(1, 14)
"""Distances, by parameter, of the cuts around such a place; what is left between them has no length."""


@dataclass(frozen=True, slots=True)
class ArcTable:
    """Stretches of a chain: ``segment``, parameters ``t0``–``t1``, and ``cum`` mm at their ends (k + 1)."""

    power: Array
    """Polynomial coefficients ``(n, 4, 2)``: ``p(t) = c0 + c1 t + c2 t² + c3 t³``."""
    velocity: Complex
    """Coefficients ``(n, 3)`` of the derivatives, x + iy."""
    is_line: npt.NDArray[np.bool_]
    segment: Index
    t0: Array
    t1: Array
    cum: Array
    starts: Array
    """Arc length at the start of each segment and at the end of the last: ``(n + 1,)``."""


def power_form(control: Array) -> Array:
    """Return the polynomial coefficients of cubics with control points ``control`` ``(n, 4, 2)``."""
    return np.asarray(_POWER @ control, dtype=np.float64)


def _velocities(power: Array) -> Complex:
    """Return the coefficients ``(n, 3)`` of the derivatives, x + iy: one absolute value is then a speed."""
    return np.asarray(power.view(np.complex128)[:, 1:, 0] * _RISES)


def _lengths(velocity: Complex, t0: Array, t1: Array) -> Array:
    """Return the arc lengths of stretches of cubics by one 16-point rule each."""
    h = t1 - t0
    t = t0[:, None] + h[:, None] * _NODES
    speed = np.abs(velocity[:, 0, None] + t * (velocity[:, 1, None] + t * velocity[:, 2, None]))
    return np.asarray(h * (speed @ _WEIGHTS), dtype=np.float64)


_SAMPLES = np.concatenate([_NODES, _NODES / 2.0, (1.0 + _NODES) / 2.0, np.linspace(0.0, 1.0, 33)])
"""Where every cubic is looked at first: the rule over the whole, over both its halves, and evenly for its speed."""
_HALVES = np.array([0.0, 0.5])
_SAMPLED = np.stack([np.ones_like(_SAMPLES), _SAMPLES, _SAMPLES**2])
_RULES = np.zeros((48, 3))
_RULES[:16, 0] = _WEIGHTS
_RULES[16:32, 1] = _RULES[32:, 2] = _WEIGHTS / 2.0
"""From the speeds at those places to the lengths of the whole, the first and the second half."""


def _graded_cuts(c: Complex, fastest: float) -> list[float]:
    """Return the cuts of a cubic with the velocity ``c`` to begin with, graded towards a place where it all but stops.

    Two rules that are both blind to a dip of the speed beyond their outermost nodes would agree, and wrongly.
    """
    cuts = [0.0, 1.0]
    c1, c2, c3 = (np.array([z.real, z.imag]) for z in c)
    # the derivative of the squared speed, highest power first
    roots = np.roots([4 * (c3 @ c3), 6 * (c2 @ c3), 2 * (c2 @ c2 + 2 * (c1 @ c3)), 2 * (c1 @ c2)])
    places = [float(np.clip(r, 0.0, 1.0)) for r in roots[np.abs(roots.imag) < 1e-6].real] + [0.0, 1.0]
    for at in places:
        if np.hypot(*(c1 + at * (c2 + at * c3))) < _STOPPED * fastest:
            cuts += [at, *(at - _GRADES), *(at + _GRADES)]
    return sorted({cut for cut in cuts if 0.0 <= cut <= 1.0})


def _adaptive(c: Complex, fastest: float) -> tuple[Array, Array, Array]:
    """Return parameters at both ends and the lengths of the stretches that an uneven cubic is cut into."""
    cuts = np.array(_graded_cuts(c, fastest))
    t0, t1 = cuts[:-1], cuts[1:]

    def measured(a: Array, b: Array) -> Array:
        return _lengths(np.broadcast_to(c, (len(a), 3)), a, b)

    whole = measured(t0, t1)
    # near a cusp the speed itself is rounding noise: a stretch that short of its segment is let go
    floor = ARC_LENGTH_FLOOR * float(whole.sum())
    done: list[tuple[Array, Array, Array]] = []
    for depth in range(ARC_LENGTH_DEPTH):
        if not len(t0):
            break
        mid = (t0 + t1) / 2.0
        left, right = measured(t0, mid), measured(mid, t1)
        error = np.abs(left + right - whole)
        good = (error <= ARC_LENGTH_REL * (left + right)) | (error <= floor)
        if depth == ARC_LENGTH_DEPTH - 1:
            good[:] = True
        done += [(t0[good], mid[good], left[good]), (mid[good], t1[good], right[good])]
        bad = ~good
        t0, t1 = np.concatenate([t0[bad], mid[bad]]), np.concatenate([mid[bad], t1[bad]])
        whole = np.concatenate([left[bad], right[bad]])
    start, end, length = (np.concatenate(p) for p in zip(*done, strict=True))
    order = np.argsort(start)
    return start[order], end[order], length[order]


def arc_table(control: Array, is_line: npt.NDArray[np.bool_]) -> ArcTable:
    """Return the table of the chain; ``is_line`` ``(n,)`` marks segments that need no quadrature.

    Most cubics are told by two halves, all of them in one go; only an uneven one is cut further, by itself.
    """
    power = power_form(control)
    velocity = _velocities(power)
    speed = np.abs(velocity @ _SAMPLED)
    whole, left, right = (speed[:, :48] @ _RULES).T
    even = speed[:, 48:]
    slow = even.min(axis=1) < _SLOW * even.max(axis=1)
    uneven = (slow | (np.abs(left + right - whole) > ARC_LENGTH_REL * (left + right))) & ~is_line
    n = len(control)
    if not (is_line | uneven).any():
        cum = np.zeros(2 * n + 1)
        np.cumsum(np.stack([left, right], axis=1).ravel(), out=cum[1:])
        t0 = np.tile(_HALVES, n)
        return ArcTable(
            power, velocity, is_line, np.repeat(np.arange(n), 2), t0, t0 + 0.5, cum, cum[::2].copy()
        )
    further = {int(s): _adaptive(velocity[s], float(even[s].max())) for s in np.flatnonzero(uneven)}
    counts = np.where(is_line, 1, 2)
    for s, (start, _, _) in further.items():
        counts[s] = len(start)
    until = np.cumsum(counts)
    first, total = until - counts, int(until[-1])
    t0, t1, length = np.zeros(total), np.ones(total), np.empty(total)
    chord = control[:, 3] - control[:, 0]
    length[first] = np.where(is_line, np.hypot(chord[:, 0], chord[:, 1]), left)
    halved = ~(is_line | uneven)
    t1[first[halved]] = t0[first[halved] + 1] = 0.5
    length[first[halved] + 1] = right[halved]
    for s, rows in further.items():
        here = slice(first[s], until[s])
        t0[here], t1[here], length[here] = rows
    cum = np.zeros(total + 1)
    np.cumsum(length, out=cum[1:])
    starts = np.zeros(n + 1)
    starts[1:] = cum[until]
    return ArcTable(power, velocity, is_line, np.repeat(np.arange(n), counts), t0, t1, cum, starts)


def params_at(table: ArcTable, mm: Array) -> tuple[Index, Array]:
    """Return segment numbers and parameters of arc lengths ``mm`` ``(m,)``, which lie within the chain."""
    k = np.minimum(np.maximum(np.searchsorted(table.cum, mm, side="right") - 1, 0), len(table.segment) - 1)
    seg, t0, t1 = table.segment[k], table.t0[k], table.t1[k]
    target = mm - table.cum[k]
    part = table.cum[k + 1] - table.cum[k]
    share = np.divide(target, part, out=np.zeros_like(target), where=part > 0)
    t = t0 + np.minimum(np.maximum(share, 0.0), 1.0) * (t1 - t0)
    todo = np.flatnonzero(~table.is_line[seg])
    # what is looked for among the places still open: velocity, start, bracket, length wanted, where now
    c, start, want, now = table.velocity[seg[todo]], t0[todo], target[todo], t[todo]
    low, high, sure = start, t1[todo], INVERSE_MM * part[todo] / _SURE
    for _ in range(60):
        if not len(todo):
            break
        err = _lengths(c, start, now) - want
        high, low = np.where(err > 0, now, high), np.where(err <= 0, now, low)
        speed = np.abs(c[:, 0] + now * (c[:, 1] + now * c[:, 2]))
        new = now - np.divide(err, speed, out=np.full_like(err, np.inf), where=speed > 0)
        new = np.where((new >= low) & (new <= high), new, (low + high) / 2.0)
        t[todo] = now = new
        left = (err * err > sure) & (high - low > 1e-16)
        if not left.all():
            todo, c, start, want, sure = todo[left], c[left], start[left], want[left], sure[left]
            low, high, now = low[left], high[left], now[left]
    return seg, t


def param_at(table: ArcTable, mm: float) -> tuple[int, float]:
    """Return segment number and parameter of one arc length: :func:`params_at` without its arrays of one."""
    k = min(max(int(table.cum.searchsorted(mm, side="right")) - 1, 0), len(table.segment) - 1)
    segment, low, high = int(table.segment[k]), float(table.t0[k]), float(table.t1[k])
    before, after = float(table.cum[k]), float(table.cum[k + 1])
    want, t0 = mm - before, low
    now = low + (min(max(want / (after - before), 0.0), 1.0) if after > before else 0.0) * (high - low)
    if table.is_line[segment]:
        return segment, now
    a, b, c = table.velocity[segment].tolist()
    for _ in range(60):
        err = _length(a, b, c, t0, now) - want
        low, high = (low, now) if err > 0 else (now, high)
        speed = abs(a + now * (b + now * c))
        new = now - err / speed if speed > 0 else math.inf
        now = new if low <= new <= high else (low + high) / 2.0
        if err * err <= INVERSE_MM * (after - before) / _SURE or high - low <= 1e-16:
            break
    return segment, now


def _length(a: complex, b: complex, c: complex, t0: float, t1: float) -> float:
    """Return the arc length of one stretch by one 16-point rule; ``a``, ``b``, ``c``: the velocity's coefficients."""
    t = t0 + (t1 - t0) * _NODES
    return float((t1 - t0) * (np.abs(a + t * (b + t * c)) @ _WEIGHTS))


def mm_at(table: ArcTable, segment: int, t: float) -> float:
    """Return the arc length from the start of the chain to parameter ``t`` of ``segment``."""
    first, last = table.segment.searchsorted([segment, segment + 1])
    if table.is_line[segment]:
        return float(table.cum[first] + t * (table.cum[first + 1] - table.cum[first]))
    k = int(min(max(table.t0[first:last].searchsorted(t, side="right") - 1 + first, first), last - 1))
    a, b, c = table.velocity[segment].tolist()
    return float(table.cum[k]) + _length(a, b, c, float(table.t0[k]), t)


def mms_at(table: ArcTable, segment: Index, t: Array) -> Array:
    """Return the arc lengths ``(m,)`` at parameters ``t`` of ``segment``: :func:`mm_at` for many places."""
    keys = table.segment + table.t0
    k = np.searchsorted(keys, segment + np.minimum(t, np.nextafter(1.0, 0.0)), side="right") - 1
    k = np.clip(k, np.searchsorted(table.segment, segment), np.searchsorted(table.segment, segment + 1) - 1)
    part = _lengths(table.velocity[table.segment[k]], table.t0[k], t)
    straight = table.is_line[segment]
    part = np.where(straight, t * (table.cum[k + 1] - table.cum[k]), part)
    return np.asarray(table.cum[k] + part, dtype=np.float64)


def points_of(power: Array, t: Array) -> Array:
    """Return the points ``(m, 2)`` of the cubics ``power`` ``(m, 4, 2)`` at one parameter each."""
    t = t[:, None]
    return np.asarray(power[:, 0] + t * (power[:, 1] + t * (power[:, 2] + t * power[:, 3])), dtype=np.float64)


def evaluate(table: ArcTable, segment: Index, t: Array) -> Array:
    """Return the points ``(m, 2)`` at parameters ``t`` of ``segment``."""
    return points_of(table.power[segment], t)


def derivatives(table: ArcTable, segment: Index, t: Array) -> tuple[Array, Array]:
    """Return first and second derivative ``(m, 2)`` each by the segment's own parameter."""
    c = table.power[segment]
    t = t[:, None]
    first = c[:, 1] + t * (2 * c[:, 2] + t * (3 * c[:, 3]))
    return first, 2 * c[:, 2] + 6 * t * c[:, 3]


def chords(
    control: Array, is_line: npt.NDArray[np.bool_] | bool, tolerance_mm: float
) -> tuple[Index, Array, Array, Index]:
    """Return the chords that stay within ``tolerance_mm`` of a chain, evenly spaced by parameter on each segment.

    They are segment, parameters at both ends, and how many each segment has. The chord of a step ``h`` leaves the
    curve by at most ``h²/8 · max|p''|``, and ``|p''|`` is at most six times the greatest second difference of the
    control points.
    """
    second = control[:, :-2] - 2.0 * control[:, 1:-1] + control[:, 2:]
    bend = np.abs(second.view(np.complex128)[..., 0]).max(axis=1)
    most = np.ceil(np.sqrt(0.75 * bend / tolerance_mm))
    counts = np.where(is_line, 1, np.minimum(np.maximum(most, 1), MOST_CHORDS)).astype(np.intp)
    segment = np.repeat(np.arange(len(counts)), counts)
    step = np.arange(len(segment)) - np.repeat(np.cumsum(counts) - counts, counts)
    each = counts[segment]
    return segment, step / each, (step + 1) / each, counts


def flattened(control: Array, is_line: npt.NDArray[np.bool_] | bool, tolerance_mm: float) -> Array:
    """Return points ``(m, 2)`` whose chords stay within ``tolerance_mm`` of a chain; all its ends are among them."""
    segment, _, t, counts = chords(control, is_line, tolerance_mm)
    points = np.empty((len(t) + 1, 2))
    points[0] = control[0, 0]
    points[1:] = points_of(power_form(control)[segment], t)
    points[np.cumsum(counts)] = control[:, 3]
    return points
