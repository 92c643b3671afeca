"""Where paths cross each other or themselves.

Curves are flattened finely, crossing chords are found with NumPy, and each crossing is polished by Newton
steps on the exact curves. Stretches where two paths run on top of each other are not crossings.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from eke.geometry import _arclength as lengths
from eke.geometry.path import Path, Pt
from eke.geometry.segments import distance, velocity
from eke.geometry.tolerance import CROSSING_MM, FLATTEN_FINE_MM, SAME_PLACE_MM

Points = npt.NDArray[np.float64]
Index = npt.NDArray[np.intp]

_MANY_PAIRS = 20_000
"""From here on a tree of boxes is quicker than comparing all with all."""
_NOISE = 1e-9
"""Share of the largest coefficient below which one is rounding, and how far beyond an end a root is the end."""
_DOUBLE = 1e-7
"""Imaginary part that rounding gives to the two halves of a double root: the square root of double precision."""


@dataclass(frozen=True, slots=True)
class Crossing:
    """A point that two paths (or two places of one path) share, by arc length on each."""

    at_a_mm: float
    at_b_mm: float
    point: Pt


@dataclass(frozen=True, slots=True)
class _Chords:
    p: Points
    q: Points
    segment: npt.NDArray[np.intp]
    t0: Points
    t1: Points


def _chords(path: Path, only: Index | None = None) -> _Chords:
    """Return the chords of a path, or of some of its segments."""
    control, is_line = path._control, path._is_line
    if only is not None:
        control, is_line = control[only], is_line[only]
    segment, t0, t1, counts = lengths.chords(control, is_line, FLATTEN_FINE_MM)
    q = lengths.points_of(lengths.power_form(control)[segment], t1)
    # a chord begins where the one before it on its segment ends
    p = np.empty_like(q)
    p[1:] = q[:-1]
    p[np.cumsum(counts) - counts] = control[:, 0]
    return _Chords(
        p,
        q,
        segment if only is None else only[segment],
        t0,
        t1,
    )


def _meeting_segments(a: Path, b: Path) -> tuple[Index, Index]:
    """Return the segments of each path whose control points' boxes meet one of the other's: a curve stays in its box."""
    alo, ahi = a._control.min(axis=1) - 2 * FLATTEN_FINE_MM, a._control.max(axis=1) + 2 * FLATTEN_FINE_MM
    blo, bhi = b._control.min(axis=1), b._control.max(axis=1)
    meet = ((alo[:, None] <= bhi) & (blo <= ahi[:, None])).all(axis=2)
    return np.flatnonzero(meet.any(axis=1)), np.flatnonzero(meet.any(axis=0))


def _candidate_pairs(a: _Chords, b: _Chords, slack_mm: float) -> npt.NDArray[np.intp]:
    """Return the pairs ``(k, 2)`` of chords whose boxes, grown by ``slack_mm``, overlap."""
    alo, ahi = np.minimum(a.p, a.q) - slack_mm, np.maximum(a.p, a.q) + slack_mm
    blo, bhi = np.minimum(b.p, b.q), np.maximum(b.p, b.q)
    if len(alo) * len(blo) > _MANY_PAIRS:
        tree = shapely.STRtree(shapely.box(blo[:, 0], blo[:, 1], bhi[:, 0], bhi[:, 1]))
        found = tree.query(shapely.box(alo[:, 0], alo[:, 1], ahi[:, 0], ahi[:, 1]))
        order = np.lexsort((found[1], found[0]))
        return np.asarray(found.T[order], dtype=np.intp)
    meet = np.ones((len(alo), len(blo)), dtype=bool)
    for axis in (0, 1):
        meet &= alo[:, None, axis] <= bhi[None, :, axis]
        meet &= blo[None, :, axis] <= ahi[:, None, axis]
    return np.argwhere(meet)


def _polish(a: Path, b: Path, sa: int, ta: float, sb: int, tb: float) -> tuple[float, float] | None:
    """Return the parameters at which the two segments share a point near (``ta``, ``tb``), or nothing."""
    one, two = a.segments[sa], b.segments[sb]
    for _ in range(20):
        (ax, ay), (bx, by) = one.point(ta), two.point(tb)
        gx, gy = ax - bx, ay - by
        if math.hypot(gx, gy) <= CROSSING_MM * 1e-3:
            break
        (ux, uy), (vx, vy) = velocity(one, ta), velocity(two, tb)
        det = uy * vx - ux * vy
        if abs(det) <= 1e-14 * (math.hypot(ux, uy) * math.hypot(vx, vy) + 1e-300):
            break
        ta = min(max(ta + (gx * vy - gy * vx) / det, 0.0), 1.0)
        tb = min(max(tb + (gx * uy - gy * ux) / det, 0.0), 1.0)
    if distance(one.point(ta), two.point(tb)) > CROSSING_MM:
        return None
    return ta, tb


def _chord_meetings(
    a: _Chords, b: _Chords, pairs: npt.NDArray[np.intp]
) -> tuple[Points, Points, npt.NDArray[np.bool_]]:
    """Return where the lines of the chord pairs meet, as shares of each chord, and which do near both."""
    p, r = a.p[pairs[:, 0]], (a.q - a.p)[pairs[:, 0]]
    q, s = b.p[pairs[:, 1]], (b.q - b.p)[pairs[:, 1]]
    det = r[:, 0] * s[:, 1] - r[:, 1] * s[:, 0]
    w = q - p
    scale = np.hypot(r[:, 0], r[:, 1]) * np.hypot(s[:, 0], s[:, 1])
    fair = np.abs(det) > 1e-12 * np.where(scale > 0, scale, 1.0)
    u = np.divide(w[:, 0] * s[:, 1] - w[:, 1] * s[:, 0], det, out=np.full(len(det), np.nan), where=fair)
    v = np.divide(w[:, 0] * r[:, 1] - w[:, 1] * r[:, 0], det, out=np.full(len(det), np.nan), where=fair)
    # a curve leaves its chord by the flattening tolerance: look a little beyond the chord's ends
    margin_u = 2 * FLATTEN_FINE_MM / np.maximum(np.hypot(r[:, 0], r[:, 1]), FLATTEN_FINE_MM) + 1e-9
    margin_v = 2 * FLATTEN_FINE_MM / np.maximum(np.hypot(s[:, 0], s[:, 1]), FLATTEN_FINE_MM) + 1e-9
    near = (u >= -margin_u) & (u <= 1 + margin_u) & (v >= -margin_v) & (v <= 1 + margin_v)
    return u, v, near


@dataclass(frozen=True, slots=True)
class Meeting:
    """A point that two paths share, by segment and parameter on each: what is known of it without arc lengths."""

    segment_a: int
    t_a: float
    segment_b: int
    t_b: float
    point: Pt


def _polished(a: Path, b: Path, ca: _Chords, cb: _Chords, pairs: Index) -> list[Meeting]:
    found: list[Meeting] = []
    if not len(pairs):
        return found
    u, v, near = _chord_meetings(ca, cb, pairs)
    for k in np.flatnonzero(near):
        i, j = int(pairs[k, 0]), int(pairs[k, 1])
        ta = float(ca.t0[i] + min(max(u[k], 0.0), 1.0) * (ca.t1[i] - ca.t0[i]))
        tb = float(cb.t0[j] + min(max(v[k], 0.0), 1.0) * (cb.t1[j] - cb.t0[j]))
        sa, sb = int(ca.segment[i]), int(cb.segment[j])
        polished = _polish(a, b, sa, ta, sb, tb)
        if polished is not None:
            found.append(Meeting(sa, polished[0], sb, polished[1], a.segments[sa].point(polished[0])))
    return found


def _crossing(a: Path, b: Path, met: Meeting) -> Crossing:
    return Crossing(
        lengths.mm_at(a._table, met.segment_a, met.t_a),
        lengths.mm_at(b._table, met.segment_b, met.t_b),
        met.point,
    )


def _gap_mm(path: Path, one: float, other: float) -> float:
    gap = abs(one - other)
    return min(gap, path.length_mm - gap) if path.is_closed else gap


def meetings(a: Path, b: Path) -> list[Meeting]:
    """Return the points that two paths share, in no order; one at a joint of segments is told for each of them."""
    some_a, some_b = _meeting_segments(a, b)
    if not len(some_a):
        return []
    ca, cb = _chords(a, some_a), _chords(b, some_b)
    return _polished(a, b, ca, cb, _candidate_pairs(ca, cb, 2 * FLATTEN_FINE_MM))


def intersections(a: Path, b: Path) -> tuple[Crossing, ...]:
    """Return the points that two paths share, in the order along ``a``; touching ends count.

    Stretches where they run on top of each other are left out, as are two curves that touch without crossing
    by less than 0.005 mm.
    """
    kept: list[Crossing] = []
    found = (_crossing(a, b, met) for met in meetings(a, b))
    for crossing in sorted(found, key=lambda c: (c.at_a_mm, c.at_b_mm)):
        if not any(
            _gap_mm(a, crossing.at_a_mm, k.at_a_mm) <= SAME_PLACE_MM
            and _gap_mm(b, crossing.at_b_mm, k.at_b_mm) <= SAME_PLACE_MM
            for k in kept
        ):
            kept.append(crossing)
    return tuple(kept)


def line_crossings(path: Path, through: Pt, direction: Pt) -> tuple[tuple[float, Pt], ...]:
    """Return where an endless straight line crosses a path: (mm along it, point), in order; touching ends count.

    ``direction`` is a unit vector. Exact (the roots of each cubic's distance from the line), and far quicker than
    :func:`intersections`, since segments whose control points all lie on one side are passed over. A segment that runs
    along the line is left out.
    """
    control = path._control
    off = (control[..., 0] - through[0]) * -direction[1] + (control[..., 1] - through[1]) * direction[0]
    met = np.flatnonzero((off.min(axis=1) <= CROSSING_MM) & (off.max(axis=1) >= -CROSSING_MM))
    found: list[tuple[float, Pt]] = []
    for segment in met:
        a, b, c, d = off[segment]
        if max(abs(a), abs(b), abs(c), abs(d)) <= CROSSING_MM:
            continue
        if path._is_line[segment]:
            roots = [float(a / (a - d))]
        else:
            # power form of the cubic's signed distance
            roots = _real_roots((d - 3.0 * c + 3.0 * b - a, 3.0 * (c - 2.0 * b + a), 3.0 * (b - a), a))
        # ends within rounding count as the ends
        for root in (min(max(t, 0.0), 1.0) for t in roots if -_NOISE <= t <= 1.0 + _NOISE):
            mm = lengths.mm_at(path._table, int(segment), root)
            if all(_gap_mm(path, mm, other) > SAME_PLACE_MM for other, _ in found):
                found.append((mm, path.segments[segment].point(root)))
    return tuple(sorted(found))


def _real_roots(power: tuple[float, float, float, float]) -> list[float]:
    """Real roots of a cubic in power form, in order."""
    largest = max(abs(p) for p in power)
    coefficients = np.array([p if abs(p) > _NOISE * largest else 0.0 for p in power])
    roots = np.roots(np.trim_zeros(coefficients, "f"))
    real = roots[np.abs(roots.imag) <= _DOUBLE].real
    return [float(t) for t in np.sort(real)]


def self_crossings(path: Path) -> tuple[Crossing, ...]:
    """Return where a path crosses or touches itself; the common end of a closed path does not count."""
    chords = _chords(path)
    pairs = _candidate_pairs(chords, chords, 2 * FLATTEN_FINE_MM)
    # neighbours share an end by construction
    pairs = pairs[pairs[:, 1] > pairs[:, 0] + 1]
    if path.is_closed:
        pairs = pairs[~((pairs[:, 0] == 0) & (pairs[:, 1] == len(chords.p) - 1))]
    kept: list[Crossing] = []
    found = (_crossing(path, path, met) for met in _polished(path, path, chords, chords, pairs))
    for crossing in sorted(found, key=lambda c: (c.at_a_mm, c.at_b_mm)):
        if _gap_mm(path, crossing.at_a_mm, crossing.at_b_mm) <= SAME_PLACE_MM:
            continue
        if not any(
            abs(crossing.at_a_mm - k.at_a_mm) <= SAME_PLACE_MM
            and abs(crossing.at_b_mm - k.at_b_mm) <= SAME_PLACE_MM
            for k in kept
        ):
            kept.append(crossing)
    return tuple(kept)
