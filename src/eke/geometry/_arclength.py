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

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from eke.geometry.tolerance import ARC_LENGTH_DEPTH, ARC_LENGTH_FLOOR, ARC_LENGTH_REL, INVERSE_MM

Array = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(16)
_NODES = (_NODES + 1.0) / 2.0
_WEIGHTS = _WEIGHTS / 2.0

_SLOW = 0.3
"""A cubic whose slowest sample runs below this share of its fastest may all but stop between the samples."""
_STOPPED = 0.02
"""It all but stops below this share: the dip is then narrower than the nodes of the rule."""
_GRADES = 4.0 ** -np.arange(1, 14)
"""Distances, by parameter, of the cuts around such a place; what is left between them has no length."""


@dataclass(frozen=True, slots=True)
class ArcTable:
    """Stretches of a chain: ``segment``, parameters ``t0``–``t1``, and ``cum`` mm at their ends (k + 1)."""

    power: Array
    """Polynomial coefficients ``(n, 4, 2)``: ``p(t) = c0 + c1 t + c2 t² + c3 t³``."""
    is_line: npt.NDArray[np.bool_]
    segment: Index
    t0: Array
    t1: Array
    cum: Array
    starts: Array
    """Arc length at the start of each segment and at the end of the last: ``(n + 1,)``."""


def power_form(control: Array) -> Array:
    """Return the polynomial coefficients of cubics with control points ``control`` ``(n, 4, 2)``."""
    p0, p1, p2, p3 = control[:, 0], control[:, 1], control[:, 2], control[:, 3]
    return np.stack([p0, 3 * (p1 - p0), 3 * (p2 - 2 * p1 + p0), p3 - p0 + 3 * (p1 - p2)], axis=1)


def _lengths(power: Array, segment: Index, t0: Array, t1: Array) -> Array:
    """Return the arc lengths of the stretches by one 16-point rule each."""
    h = t1 - t0
    t = t0[:, None] + h[:, None] * _NODES
    c = power[segment]
    dx = c[:, 1, 0, None] + t * (2 * c[:, 2, 0, None] + t * (3 * c[:, 3, 0, None]))
    dy = c[:, 1, 1, None] + t * (2 * c[:, 2, 1, None] + t * (3 * c[:, 3, 1, None]))
    return np.asarray(h * (np.hypot(dx, dy) @ _WEIGHTS), dtype=np.float64)


def _first_stretches(power: Array, curved: Index) -> tuple[Index, Array, Array]:
    """Return the stretches to begin with: whole cubics, but graded towards a place where one all but stops.

    Two rules that are both blind to a dip of the speed beyond their outermost nodes would agree, and wrongly.
    """
    if not len(curved):
        return curved, np.zeros(0), np.zeros(0)
    t = np.linspace(0.0, 1.0, 33)[None, :]
    c = power[curved]
    d = [c[:, 1, i, None] + t * (2 * c[:, 2, i, None] + t * (3 * c[:, 3, i, None])) for i in (0, 1)]
    speed = np.hypot(d[0], d[1])
    fastest = speed.max(axis=1)
    segment: list[int] = []
    cuts_from: list[float] = []
    cuts_to: list[float] = []
    for k, s in enumerate(curved):
        cuts = [0.0, 1.0]
        if speed[k].min() < _SLOW * fastest[k]:
            c1, c2, c3 = c[k, 1], 2 * c[k, 2], 3 * c[k, 3]
            # the derivative of the squared speed, highest power first
            roots = np.roots([4 * (c3 @ c3), 6 * (c2 @ c3), 2 * (c2 @ c2 + 2 * (c1 @ c3)), 2 * (c1 @ c2)])
            places = [float(np.clip(r, 0.0, 1.0)) for r in roots[np.abs(roots.imag) < 1e-6].real] + [0.0, 1.0]
            for at in places:
                if np.hypot(*(c1 + at * (c2 + at * c3))) < _STOPPED * fastest[k]:
                    cuts += [at, *(at - _GRADES), *(at + _GRADES)]
        ordered = sorted({cut for cut in cuts if 0.0 <= cut <= 1.0})
        segment += [int(s)] * (len(ordered) - 1)
        cuts_from += ordered[:-1]
        cuts_to += ordered[1:]
    return np.array(segment, dtype=np.intp), np.array(cuts_from), np.array(cuts_to)


def arc_table(control: Array, is_line: npt.NDArray[np.bool_]) -> ArcTable:
    """Return the table of the chain; ``is_line`` ``(n,)`` marks segments that need no quadrature."""
    power = power_form(control)
    n = len(control)
    lines = np.flatnonzero(is_line)
    done_seg = [lines]
    done_t0 = [np.zeros(len(lines))]
    done_t1 = [np.ones(len(lines))]
    done_len = [np.hypot(*(control[lines, 3] - control[lines, 0]).T)]
    seg, t0, t1 = _first_stretches(power, np.flatnonzero(~is_line))
    whole = _lengths(power, seg, t0, t1)
    # near a cusp the speed itself is rounding noise: a stretch that short of its segment is let go
    floor = np.zeros(n)
    np.add.at(floor, seg, ARC_LENGTH_FLOOR * whole)
    for depth in range(ARC_LENGTH_DEPTH):
        if not len(seg):
            break
        mid = (t0 + t1) / 2.0
        left, right = _lengths(power, seg, t0, mid), _lengths(power, seg, mid, t1)
        error = np.abs(left + right - whole)
        good = (error <= ARC_LENGTH_REL * (left + right)) | (error <= floor[seg])
        if depth == ARC_LENGTH_DEPTH - 1:
            good[:] = True
        for a, b, part in ((t0, mid, left), (mid, t1, right)):
            done_seg.append(seg[good])
            done_t0.append(a[good])
            done_t1.append(b[good])
            done_len.append(part[good])
        bad = ~good
        seg = np.concatenate([seg[bad], seg[bad]])
        t0, t1 = np.concatenate([t0[bad], mid[bad]]), np.concatenate([mid[bad], t1[bad]])
        whole = np.concatenate([left[bad], right[bad]])
    segment, start, end, length = (np.concatenate(p) for p in (done_seg, done_t0, done_t1, done_len))
    order = np.lexsort((start, segment))
    segment, start, end, length = segment[order], start[order], end[order], length[order]
    cum = np.concatenate([[0.0], np.cumsum(length)])
    starts = cum[np.searchsorted(segment, np.arange(n + 1))]
    return ArcTable(power, is_line, segment, start, end, cum, starts)


def params_at(table: ArcTable, mm: Array) -> tuple[Index, Array]:
    """Return segment numbers and parameters of arc lengths ``mm`` ``(m,)``, which lie within the chain."""
    k = np.clip(np.searchsorted(table.cum, mm, side="right") - 1, 0, len(table.segment) - 1)
    seg, t0, t1 = table.segment[k], table.t0[k], table.t1[k]
    target = mm - table.cum[k]
    part = table.cum[k + 1] - table.cum[k]
    share = np.divide(target, part, out=np.zeros_like(target), where=part > 0)
    t = t0 + np.clip(share, 0.0, 1.0) * (t1 - t0)
    todo = np.flatnonzero(~table.is_line[seg])
    low, high = t0.copy(), t1.copy()
    for _ in range(60):
        if not len(todo):
            break
        s, now = seg[todo], t[todo]
        err = _lengths(table.power, s, t0[todo], now) - target[todo]
        high[todo] = np.where(err > 0, now, high[todo])
        low[todo] = np.where(err <= 0, now, low[todo])
        c = table.power[s]
        d = c[:, 1] + now[:, None] * (2 * c[:, 2] + now[:, None] * (3 * c[:, 3]))
        speed = np.hypot(d[:, 0], d[:, 1])
        step = np.divide(err, speed, out=np.full_like(err, np.inf), where=speed > 0)
        new = now - step
        outside = ~((new >= low[todo]) & (new <= high[todo]))
        new = np.where(outside, (low[todo] + high[todo]) / 2.0, new)
        near = (np.abs(err) <= INVERSE_MM) | (high[todo] - low[todo] <= 1e-16)
        t[todo] = np.where(near, now, new)
        todo = todo[~near]
    return seg, t


def mm_at(table: ArcTable, segment: int, t: float) -> float:
    """Return the arc length from the start of the chain to parameter ``t`` of ``segment``."""
    first, last = np.searchsorted(table.segment, [segment, segment + 1])
    if table.is_line[segment]:
        return float(table.cum[first] + t * (table.cum[first + 1] - table.cum[first]))
    k = int(min(max(np.searchsorted(table.t0[first:last], t, side="right") - 1 + first, first), last - 1))
    part = _lengths(table.power, table.segment[k : k + 1], table.t0[k : k + 1], np.array([t]))
    return float(table.cum[k] + part[0])


def mms_at(table: ArcTable, segment: Index, t: Array) -> Array:
    """Return the arc lengths ``(m,)`` at parameters ``t`` of ``segment``: :func:`mm_at` for many places."""
    keys = table.segment + table.t0
    k = np.searchsorted(keys, segment + np.minimum(t, np.nextafter(1.0, 0.0)), side="right") - 1
    k = np.clip(k, np.searchsorted(table.segment, segment), np.searchsorted(table.segment, segment + 1) - 1)
    part = _lengths(table.power, table.segment[k], table.t0[k], t)
    straight = table.is_line[segment]
    part = np.where(straight, t * (table.cum[k + 1] - table.cum[k]), part)
    return np.asarray(table.cum[k] + part, dtype=np.float64)


def evaluate(table: ArcTable, segment: Index, t: Array) -> Array:
    """Return the points ``(m, 2)`` at parameters ``t`` of ``segment``."""
    c = table.power[segment]
    t = t[:, None]
    return np.asarray(c[:, 0] + t * (c[:, 1] + t * (c[:, 2] + t * c[:, 3])), dtype=np.float64)


def derivatives(table: ArcTable, segment: Index, t: Array) -> tuple[Array, Array]:
    """Return first and second derivative ``(m, 2)`` each by the segment's own parameter."""
    c = table.power[segment]
    t = t[:, None]
    first = c[:, 1] + t * (2 * c[:, 2] + t * (3 * c[:, 3]))
    return first, 2 * c[:, 2] + 6 * t * c[:, 3]
