"""Offset one edge to its left: the seam line's distance to a cut edge, constant or running from one to another.

Corners between edges are not treated here: the caller lengthens, cuts or mirrors the offset edges where they
meet. Inside an edge, small kinks are mitred on the opening side, and where the edge bends more tightly than
the offset the swallow-tail that arises is cut away.

References
----------
The exact offset ``o = p + d n`` has ``o' = (1 - d κ) p' + d' |p'| n`` (do Carmo, *Differential Geometry of
Curves and Surfaces*, 1-5); each stretch is replaced by the cubic with these ends and derivatives (Hermite),
halved until it is near enough.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from eke.errors import BadInput, BadShape
from eke.geometry import _arclength as lengths
from eke.geometry.crossings import self_crossings
from eke.geometry.path import Path, Pt
from eke.geometry.segments import Cubic, Line, Segment, distance
from eke.geometry.tolerance import CORNER_DEG, JOIN_MM, OFFSET_MM

Points = npt.NDArray[np.float64]

_MOST_HALVINGS = 10
"""A stretch halved so often is a thousandth of its curve: the tolerance is met long before."""
_SMALLEST_LOOP_MM = 1.0
"""A shorter loop is what is left of a swallow-tail at its tip, whatever the distances there say."""
_SNAP_MM = 0.25
_NO_KINK_DEG = 1.0
"""Joints that turn by less are rounding or a trembling hand: what opens or overlaps there, up to a quarter of a
millimetre, is shared by both sides and not mitred."""
_MITRE_MOST_DEG = 100.0
"""Kinks inside an edge up to here are mitred; sharper ones are bevelled, so that no spike arises."""


def offset_edge(
    path: Path, left_mm: float, end_left_mm: float | None = None, *, tolerance_mm: float = OFFSET_MM
) -> Path:
    """Return ``path`` moved to its left by ``left_mm`` (to its right where negative).

    Parameters
    ----------
    path
        The edge; its direction of walking says which side is left.
    left_mm, end_left_mm
        Distance at the start and at the end; between them it runs evenly by arc length. The end's is the
        start's where it is not given.
    tolerance_mm
        How far the cubics of the answer may lie from the exact offset.

    Raises
    ------
    BadShape
        When the edge bends so tightly everywhere that nothing is left of it at this distance.

    Examples
    --------
    >>> offset_edge(Path.line((0.0, 0.0), (100.0, 0.0)), 10.0).start
    (0.0, 10.0)
    """
    end_mm = left_mm if end_left_mm is None else end_left_mm
    if not (math.isfinite(left_mm) and math.isfinite(end_mm)):
        raise BadInput("A distance must be a number of millimetres.")
    if left_mm == 0.0 and end_mm == 0.0:
        return path
    joints = path.joints_mm
    total = path.length_mm
    _refuse_inside_out(path, left_mm, end_mm)

    def at(mm: float) -> float:
        return left_mm + (end_mm - left_mm) * (mm / total)

    chains: list[list[Segment]] = []
    for i, segment in enumerate(path.segments):
        if joints[i + 1] - joints[i] <= JOIN_MM:
            continue
        if isinstance(segment, Line):
            chains.append([_offset_line(segment, at(joints[i]), at(joints[i + 1]))])
        else:
            chains.append(_offset_cubic(path, i, left_mm, end_mm, tolerance_mm))
    segments: list[Segment] = list(chains[0])
    for chain in chains[1:]:
        _append(segments, chain)
    if path.is_closed and left_mm == end_mm:
        _close(segments)
    return _without_tails(Path(tuple(segments)), path, left_mm, end_mm)


def _refuse_inside_out(path: Path, d_start: float, d_end: float) -> None:
    mms = np.linspace(0.0, path.length_mm, 65)
    due = d_start + (d_end - d_start) * mms / path.length_mm
    curvature = path.curvatures_at(mms)
    if np.all(due * curvature > 1.0):
        x, y = path.point_at(path.length_mm / 2.0)
        raise BadShape(
            f"The line near ({x:.0f}, {y:.0f}) mm bends so tightly that nothing is left of it "
            f"{abs(d_start):.1f} mm to its side. Use less than {1.0 / float(np.abs(curvature).min()):.1f} mm there.",
            at_mm=(x, y),
        )


def _offset_line(line: Line, d0: float, d1: float) -> Segment:
    length = distance(line.p0, line.p1)
    nx, ny = -(line.p1[1] - line.p0[1]) / length, (line.p1[0] - line.p0[0]) / length
    return Line((line.p0[0] + d0 * nx, line.p0[1] + d0 * ny), (line.p1[0] + d1 * nx, line.p1[1] + d1 * ny))


def _exact(path: Path, i: int, t: Points, d_start: float, d_end: float) -> tuple[Points, Points]:
    """Return exact offset points and their derivatives by the segment's parameter at ``t`` of segment ``i``."""
    table = path._table
    segment = np.full(len(t), i, dtype=np.intp)
    point = lengths.evaluate(table, segment, t)
    first, second = lengths.derivatives(table, segment, t)
    speed = np.hypot(first[:, 0], first[:, 1])
    if speed.min() <= JOIN_MM:
        # a control point lies on its end: the direction there is the limit from inside the curve
        nudged = np.clip(t, 1e-5, 1 - 1e-5)
        first_in, second = lengths.derivatives(table, segment, nudged)
        first = np.where((speed <= JOIN_MM)[:, None], first_in, first)
        speed = np.maximum(np.hypot(first[:, 0], first[:, 1]), 1e-12)
    unit = first / speed[:, None]
    normal = np.stack([-unit[:, 1], unit[:, 0]], axis=1)
    kappa = (first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]) / speed**3
    total = path.length_mm
    d = d_start + (d_end - d_start) * lengths.mms_at(table, segment, t) / total
    slope = (d_end - d_start) / total
    offset = point + d[:, None] * normal
    derivative = (1.0 - d * kappa)[:, None] * first + (slope * speed)[:, None] * normal
    return offset, derivative


def _offset_cubic(path: Path, i: int, d_start: float, d_end: float, tolerance_mm: float) -> list[Segment]:
    done: list[tuple[float, Cubic]] = []
    t0, t1 = np.array([0.0]), np.array([1.0])
    for halving in range(_MOST_HALVINGS + 1):
        h = t1 - t0
        shares = (0.0, 0.25, 0.5, 0.75, 1.0)
        exact = [_exact(path, i, t0 + share * h, d_start, d_end) for share in shares]
        p0, p3 = exact[0][0], exact[4][0]
        p1 = p0 + exact[0][1] * (h / 3.0)[:, None]
        p2 = p3 - exact[4][1] * (h / 3.0)[:, None]
        gap = np.zeros(len(h))
        for share, (want, _) in zip(shares[1:4], exact[1:4], strict=True):
            u = 1.0 - share
            got = u**3 * p0 + 3 * u * u * share * p1 + 3 * u * share * share * p2 + share**3 * p3
            gap = np.maximum(gap, np.hypot(got[:, 0] - want[:, 0], got[:, 1] - want[:, 1]))
        good = gap <= tolerance_mm
        if halving == _MOST_HALVINGS:
            good[:] = True
        done.extend(
            (float(t0[k]), Cubic(_pt(p0[k]), _pt(p1[k]), _pt(p2[k]), _pt(p3[k])))
            for k in np.flatnonzero(good)
        )
        bad = ~good
        if not bad.any():
            break
        mid = (t0[bad] + t1[bad]) / 2.0
        t0, t1 = np.concatenate([t0[bad], mid]), np.concatenate([mid, t1[bad]])
    done.sort(key=lambda item: item[0])
    chain: list[Segment] = []
    for _, cubic in done:
        # halves computed in different passes differ by rounding only
        chain.append(cubic if not chain else cubic.with_ends(chain[-1].end, cubic.p3))
    return chain


def _pt(p: Points) -> Pt:
    return (float(p[0]), float(p[1]))


def _directions(before: Segment, after: Segment) -> tuple[Pt, Pt]:
    one, two = Path((before,)), Path((after,))
    return one.tangent_at(one.length_mm, side="before"), two.tangent_at(0.0)


def _append(segments: list[Segment], chain: list[Segment]) -> None:
    """Put ``chain`` after ``segments``: joined, mitred over an opening kink, or bridged for trimming."""
    p, q = segments[-1].end, chain[0].start
    gap = distance(p, q)
    if gap <= JOIN_MM:
        segments.append(chain[0].with_ends(p, chain[0].end))
        segments.extend(chain[1:])
        return
    u, v = _directions(segments[-1], chain[0])
    turn = math.degrees(math.atan2(u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1]))
    if gap <= OFFSET_MM or (gap <= _SNAP_MM and abs(turn) <= _NO_KINK_DEG):
        middle = ((p[0] + q[0]) / 2.0, (p[1] + q[1]) / 2.0)
        segments[-1] = segments[-1].with_ends(segments[-1].start, middle)
        segments.append(chain[0].with_ends(middle, chain[0].end))
        segments.extend(chain[1:])
        return
    ahead = (q[0] - p[0]) * (u[0] + v[0]) + (q[1] - p[1]) * (u[1] + v[1])
    if ahead > 0.0 and abs(turn) <= _MITRE_MOST_DEG:
        # both sides run on straight until they meet
        det = u[0] * v[1] - u[1] * v[0]
        reach = ((q[0] - p[0]) * v[1] - (q[1] - p[1]) * v[0]) / det if abs(det) > 1e-9 else gap / 2.0
        tip = (p[0] + reach * u[0], p[1] + reach * u[1])
        for line in (Line(p, tip), Line(tip, q)):
            if distance(line.p0, line.p1) > JOIN_MM:
                _add_line(segments, line)
    else:
        segments.append(Line(p, q))
    first = chain[0].with_ends(segments[-1].end, chain[0].end)
    if isinstance(first, Line):
        _add_line(segments, first)
    else:
        segments.append(first)
    segments.extend(chain[1:])


def _add_line(segments: list[Segment], line: Line) -> None:
    """Put a line after ``segments``, lengthening the last one where it runs the same way."""
    last = segments[-1]
    if isinstance(last, Line):
        ux, uy = last.p1[0] - last.p0[0], last.p1[1] - last.p0[1]
        vx, vy = line.p1[0] - line.p0[0], line.p1[1] - line.p0[1]
        if (
            abs(ux * vy - uy * vx) <= 1e-9 * math.hypot(ux, uy) * math.hypot(vx, vy)
            and ux * vx + uy * vy > 0.0
        ):
            segments[-1] = Line(last.p0, line.p1)
            return
    segments.append(line)


def _close(segments: list[Segment]) -> None:
    """Close a ring whose start is no corner."""
    u, v = _directions(segments[-1], segments[0])
    turn = math.degrees(math.atan2(u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1]))
    p, q = segments[-1].end, segments[0].start
    if distance(p, q) <= JOIN_MM:
        segments[-1] = segments[-1].with_ends(segments[-1].start, q)
    elif abs(turn) <= CORNER_DEG:
        segments.append(Line(p, q))


def _without_tails(offset: Path, source: Path, d_start: float, d_end: float) -> Path:
    """Return the offset without the loops that lie nearer to the source than they should."""
    for _ in range(64):
        loops = []
        for crossing in self_crossings(offset):
            a, b = crossing.at_a_mm, crossing.at_b_mm
            if b - a <= _SMALLEST_LOOP_MM:
                loops.append((b - a, a, b))
                continue
            places = np.linspace(a, b, 9)[1:-1]
            near = []
            for p in offset.points_at(places):
                foot = source.nearest(_pt(p))
                due = abs(d_start + (d_end - d_start) * foot.at_mm / source.length_mm)
                near.append(foot.distance_mm < due - 2 * OFFSET_MM or foot.distance_mm < due * 0.999)
            if sum(near) > len(near) / 2:
                loops.append((b - a, a, b))
        if not loops:
            break
        _, a, b = max(loops)
        head, tail = offset._head(a), offset._tail(b)
        kept = [p for p in (head, tail) if p is not None]
        if not kept:
            break
        if len(kept) == 2:
            last = kept[1].segments[0]
            kept[1] = Path((last.with_ends(kept[0].end, last.end), *kept[1].segments[1:]))
        offset = kept[0] if len(kept) == 1 else kept[0].joined(kept[1])
    return offset
