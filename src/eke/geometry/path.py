"""Paths: chains of straight lines and cubic Béziers, measured by arc length in mm.

Words
-----
path
    A contiguous chain of segments, open or closed; a value, never changed.
mm of a path
    The arc length from its start: every place on a path is named so.
left
    The side to the left of the direction of walking; curvature is positive where the path turns left. For a
    counter-clockwise outline left is inside.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Literal

import numpy as np
import numpy.typing as npt

from eke.errors import BadInput, BadShape
from eke.geometry import _arclength as lengths
from eke.geometry._arclength import flattened, power_form
from eke.geometry._nearest import nearest_place
from eke.geometry.move import Move, Pt
from eke.geometry.segments import Cubic, Line, Segment, direction, distance, unit_roots
from eke.geometry.smooth import smooth_control
from eke.geometry.tolerance import FLATTEN_MM, JOIN_MM

__all__ = [
    "Cubic",
    "Line",
    "Move",
    "Nearest",
    "Path",
    "Pt",
    "Segment",
    "flattened",
    "power_form",
]

Points = npt.NDArray[np.float64]
Side = Literal["before", "after"]

_NO_MOVE = Move()


@dataclass(frozen=True, slots=True)
class Nearest:
    """The nearest point of a path: its arc length, where it is, and how far away."""

    at_mm: float
    point: Pt
    distance_mm: float


@dataclass(frozen=True)
class Path:
    """A contiguous chain of segments, open or closed.

    Raises
    ------
    BadShape
        When there is no segment, a coordinate is no finite number, or the chain has a gap.

    Examples
    --------
    >>> square = Path.polyline([(0, 0), (10, 0), (10, 10), (0, 10), (0, 0)])
    >>> square.length_mm, square.is_closed, square.point_at(15.0)
    (40.0, True, (10.0, 5.0))
    """

    segments: tuple[Segment, ...]

    def __post_init__(self) -> None:
        if not self.segments:
            raise BadShape("A line needs at least two points.")
        end: Pt | None = None
        for segment in self.segments:
            # one coordinate that is no number, or without end, makes the sum so
            if not math.isfinite(sum(map(sum, segment.points))):
                raise BadShape("A point of the line has no place: one of its coordinates is no number.")
            if end is not None and end != segment.p0:
                _refuse_gap(end, segment.p0)
            end = segment.end

    @classmethod
    def _part(cls, segments: tuple[Segment, ...]) -> Path:
        """Return a path of segments of another one in their order: what was found sound there is not checked anew."""
        made = object.__new__(cls)
        object.__setattr__(made, "segments", segments)
        return made

    @classmethod
    def chained(cls, paths: Iterable[Path]) -> Path:
        """Return paths one after the other as one.

        Raises
        ------
        BadShape
            When one does not start where the one before it ends.
        """
        parts = tuple(paths)
        for before, after in pairwise(parts):
            _refuse_gap(before.end, after.start)
        segments = tuple(segment for path in parts for segment in path.segments)
        if not segments:
            return cls(())
        made = cls._part(segments)
        # what is known of the parts, such as of edges that stay in one outline after the other, is not made anew
        made.__dict__["_parts"] = parts
        return made

    # ---------------------------------------------------------------- making

    @classmethod
    def line(cls, p: Pt, q: Pt) -> Path:
        """Return the straight path from ``p`` to ``q``."""
        return cls((Line(_pt(p), _pt(q)),))

    @classmethod
    def polyline(cls, points: Iterable[Pt] | Points, *, closed: bool = False) -> Path:
        """Return straight lines through ``points``; repeated points are dropped; ``closed`` returns to the first.

        Raises
        ------
        BadShape
            When fewer than two different points are left.
        """
        clean: list[Pt] = []
        for p in points:
            q = _pt(p)
            if not clean or q != clean[-1]:
                clean.append(q)
        if closed and clean and clean[0] != clean[-1]:
            clean.append(clean[0])
        if len(clean) < 2:
            raise BadShape("A line needs at least two different points.")
        return cls(tuple(Line(p, q) for p, q in pairwise(clean)))

    @classmethod
    def from_points(cls, points: Iterable[Pt] | Points, *, closed: bool = False) -> Path:
        """Return a smooth path through all ``points``: cubics with the directions of the circles through three
        neighbouring points, so it has no jump in direction.

        To *fit* few curves to many noisy points, see :mod:`eke.geometry.fairing`.
        """
        chain = cls.polyline(points, closed=closed)
        if len(chain.segments) == 1:
            return chain
        pts = np.array([s.start for s in chain.segments] + [chain.end])
        return cls.from_control(smooth_control(pts, closed=closed))

    @classmethod
    def from_control(cls, control: Points) -> Path:
        """Return the path of cubics with the control points ``control`` ``(n, 4, 2)``."""
        rows = control.tolist()
        made = cls(tuple(Cubic((a, b), (c, d), (e, f), (g, h)) for (a, b), (c, d), (e, f), (g, h) in rows))
        made.__dict__["_control"] = np.array(control, dtype=np.float64)
        return made

    @classmethod
    def arc(cls, centre: Pt, radius_mm: float, from_deg: float, to_deg: float) -> Path:
        """Return a circular arc, clockwise where ``to_deg`` < ``from_deg``, true to 4e-6 of its radius."""
        if not radius_mm > 0.0 or to_deg == from_deg:
            raise BadShape("An arc needs a radius and an angle above 0.")
        n = max(1, math.ceil(abs(to_deg - from_deg) / 45.0 - 1e-9))
        angles = [math.radians(from_deg + (to_deg - from_deg) * i / n) for i in range(n + 1)]
        arm = 4.0 / 3.0 * math.tan((angles[1] - angles[0]) / 4.0) * radius_mm
        on = [(centre[0] + radius_mm * math.cos(a), centre[1] + radius_mm * math.sin(a)) for a in angles]
        if abs(abs(to_deg - from_deg) - 360.0) < 1e-12:
            on[-1] = on[0]
        return cls(
            tuple(
                Cubic(
                    p,
                    (p[0] - arm * math.sin(a), p[1] + arm * math.cos(a)),
                    (q[0] + arm * math.sin(b), q[1] - arm * math.cos(b)),
                    q,
                )
                for p, q, a, b in zip(on, on[1:], angles, angles[1:], strict=False)
            )
        )

    # ---------------------------------------------------------------- measuring

    @property
    def start(self) -> Pt:
        """The first point."""
        return self.segments[0].start

    @property
    def end(self) -> Pt:
        """The last point."""
        return self.segments[-1].end

    @property
    def start_direction(self) -> Pt:
        """The unit direction in which the path begins: :meth:`tangent_at` 0, without the length of the path."""
        return direction(self.segments[0], 0.0)

    @property
    def end_direction(self) -> Pt:
        """The unit direction in which the path ends."""
        return direction(self.segments[-1], 1.0)

    @cached_property
    def is_closed(self) -> bool:
        """Whether the path ends where it starts and has a length."""
        return distance(self.start, self.end) <= JOIN_MM and self.length_mm > JOIN_MM

    @cached_property
    def _control(self) -> Points:
        parts: tuple[Path, ...] | None = self.__dict__.get("_parts")
        if parts is not None:
            return np.concatenate([part._control for part in parts])
        return np.array([s.control() for s in self.segments], dtype=np.float64)

    @cached_property
    def _is_line(self) -> npt.NDArray[np.bool_]:
        parts: tuple[Path, ...] | None = self.__dict__.get("_parts")
        if parts is not None:
            return np.concatenate([part._is_line for part in parts])
        return np.array([isinstance(s, Line) for s in self.segments])

    @cached_property
    def _table(self) -> lengths.ArcTable:
        return lengths.arc_table(self._control, self._is_line)

    @cached_property
    def length_mm(self) -> float:
        """The arc length in mm, to a relative error below 1e-9."""
        if len(self.segments) == 1 and isinstance(self.segments[0], Line):
            return distance(self.start, self.end)
        return float(self._table.cum[-1])

    @cached_property
    def joints_mm(self) -> tuple[float, ...]:
        """Arc lengths of the joints between segments, with 0 and the whole length."""
        return tuple(self._table.starts.tolist())

    @cached_property
    def bounds(self) -> tuple[float, float, float, float]:
        """The upright box that just holds the path: least x, least y, greatest x, greatest y."""
        xs: list[float] = []
        ys: list[float] = []
        for segment in self.segments:
            ts = [0.0, 1.0]
            if isinstance(segment, Cubic):
                for axis in (0, 1):
                    p0, p1, p2, p3 = (p[axis] for p in segment.control())
                    ts += unit_roots(3 * (p3 - 3 * p2 + 3 * p1 - p0), 6 * (p2 - 2 * p1 + p0), 3 * (p1 - p0))
            for t in ts:
                x, y = segment.point(t)
                xs.append(x)
                ys.append(y)
        return (min(xs), min(ys), max(xs), max(ys))

    def _clamped(self, mm: float) -> float:
        if not -JOIN_MM <= mm <= self.length_mm + JOIN_MM:
            raise BadInput(f"There is nothing {mm:.1f} mm along a line that is {self.length_mm:.1f} mm long.")
        return min(max(mm, 0.0), self.length_mm)

    def _locate(self, mm: float, side: Side = "after") -> tuple[int, float]:
        mm = self._clamped(mm)
        if mm == 0.0:
            return 0, 0.0
        if mm == self.length_mm:
            return len(self.segments) - 1, 1.0
        s, u = lengths.param_at(self._table, mm)
        joints = self.joints_mm
        if side == "before" and s > 0 and mm - joints[s] <= JOIN_MM:
            return s - 1, 1.0
        if side == "after" and s + 1 < len(self.segments) and joints[s + 1] - mm <= JOIN_MM:
            return s + 1, 0.0
        return s, u

    def point_at(self, mm: float) -> Pt:
        """Return the point ``mm`` along the path. Raises :class:`BadInput` beyond its ends."""
        mm = self._clamped(mm)
        if mm == 0.0:
            return self.start
        if mm == self.length_mm:
            return self.end
        s, t = self._locate(mm)
        return self.segments[s].point(t)

    def points_at(self, mms: Sequence[float] | Points) -> Points:
        """Return the points ``(n, 2)`` at the arc lengths ``mms`` ``(n,)``."""
        return lengths.evaluate(self._table, *lengths.params_at(self._table, self._within(mms)))

    def tangent_at(self, mm: float, *, side: Side = "after") -> Pt:
        """Return the unit direction of walking at ``mm``; at a corner that of the ``side`` asked for."""
        s, t = self._locate(mm, side)
        return direction(self.segments[s], t)

    def tangents_at(self, mms: Sequence[float] | Points) -> Points:
        """Return the unit directions ``(n, 2)`` at the arc lengths ``mms``; after the corner at corners."""
        return self.places_at(mms)[1]

    def places_at(self, mms: Sequence[float] | Points) -> tuple[Points, Points]:
        """Return points and unit directions at the arc lengths ``mms``, as :meth:`points_at` and :meth:`tangents_at`."""
        segment, t = lengths.params_at(self._table, self._within(mms))
        first, _ = lengths.derivatives(self._table, segment, t)
        norm = np.sqrt(first[:, 0] * first[:, 0] + first[:, 1] * first[:, 1])
        for i in np.flatnonzero(norm <= JOIN_MM):
            first[i] = direction(self.segments[int(segment[i])], float(t[i]))
            norm[i] = 1.0
        return lengths.evaluate(self._table, segment, t), first / norm[:, None]

    def _within(self, mms: Sequence[float] | Points) -> Points:
        return np.minimum(np.maximum(np.asarray(mms, dtype=np.float64), 0.0), self.length_mm)

    def normal_at(self, mm: float, *, side: Side = "after") -> Pt:
        """Return the unit vector to the left of the path at ``mm``."""
        x, y = self.tangent_at(mm, side=side)
        return (-y, x)

    def curvature_at(self, mm: float) -> float:
        """Return the curvature in 1/mm at ``mm``, positive where the path turns left; 0 on a line.

        At a cusp, where a curve stops and turns, there is none: infinity is returned.
        """
        s, t = self._locate(mm)
        if isinstance(self.segments[s], Line):
            return 0.0
        return float(self._curvatures(np.array([s]), np.array([t]))[0])

    def curvatures_at(self, mms: Sequence[float] | Points) -> Points:
        """Return the curvatures in 1/mm at the arc lengths ``mms``."""
        return self._curvatures(*lengths.params_at(self._table, self._within(mms)))

    def _curvatures(self, segment: npt.NDArray[np.intp], t: Points) -> Points:
        first, second = lengths.derivatives(self._table, segment, t)
        cross = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
        cube = np.hypot(first[:, 0], first[:, 1]) ** 3
        cross = np.where(self._table.is_line[segment], 0.0, cross)
        found = np.divide(cross, cube, out=np.full_like(cross, np.inf), where=cube > JOIN_MM**3)
        return np.asarray(found, dtype=np.float64)

    def nearest(self, pt: Pt) -> Nearest:
        """Return the point of the path that is nearest to ``pt``; the first one where several are."""
        gap, s, u = nearest_place(self.segments, self._control, self._table, pt)
        return Nearest(min(lengths.mm_at(self._table, s, u), self.length_mm), self.segments[s].point(u), gap)

    # ---------------------------------------------------------------- cutting and joining

    def split(self, mm: float) -> tuple[Path, Path]:
        """Return the parts before and after ``mm``.

        Raises
        ------
        BadInput
            When ``mm`` is at an end or beyond it, so that one part would have no length.
        """
        if not JOIN_MM < mm < self.length_mm - JOIN_MM:
            raise BadInput(
                f"A line of {self.length_mm:.1f} mm cannot be cut in two at {mm:.1f} mm. "
                f"Choose a place between its ends."
            )
        i, t = self._cut(mm)
        if t == 0.0:
            return Path._part(self.segments[:i]), Path._part(self.segments[i:])
        head, tail = self.segments[i].split(t)
        return Path._part((*self.segments[:i], head)), Path._part((tail, *self.segments[i + 1 :]))

    def _cut(self, mm: float) -> tuple[int, float]:
        """Return where the path is cut at ``mm``: within a segment, or at parameter 0 of the one that starts there."""
        if mm <= JOIN_MM:
            return 0, 0.0
        if mm >= self.length_mm - JOIN_MM:
            return len(self.segments), 0.0
        joints = self.joints_mm
        # the first joint that lies near, or beyond
        i = bisect_left(joints, mm - JOIN_MM)
        return (i, 0.0) if joints[i] - mm <= JOIN_MM else self._locate(mm)

    def slice(self, a_mm: float, b_mm: float) -> Path:
        """Return the stretch from ``a_mm`` to ``b_mm``; on a closed path it may run on over the start.

        Raises
        ------
        BadInput
            When the stretch has no length or reaches beyond the ends.
        """
        a, b = self._clamped(a_mm), self._clamped(b_mm)
        if self.is_closed and b <= a and a - b > JOIN_MM:
            parts = [p for p in (self._tail(a), self._head(b)) if p is not None]
            return parts[0] if len(parts) == 1 else parts[0].joined(parts[1])
        if b - a <= JOIN_MM:
            raise BadInput(f"The stretch from {a_mm:.1f} to {b_mm:.1f} mm has no length.")
        (i, t), (j, u) = self._cut(a), self._cut(b)
        if (i, t) == (0, 0.0) and j == len(self.segments):
            return self
        segments = list(self.segments[i : j + 1] if u > 0.0 else self.segments[i:j])
        if u > 0.0:
            segments[-1] = segments[-1].split(u)[0]
        if t > 0.0:
            # where both cuts lie in one segment its parameter runs over what the other cut left
            segments[0] = segments[0].split(t / u if i == j else t)[1]
        return Path._part(tuple(segments))

    def _head(self, mm: float) -> Path | None:
        if mm <= JOIN_MM:
            return None
        return self if mm >= self.length_mm - JOIN_MM else self.split(mm)[0]

    def _tail(self, mm: float) -> Path | None:
        if mm >= self.length_mm - JOIN_MM:
            return None
        return self if mm <= JOIN_MM else self.split(mm)[1]

    def before(self, segment: int, t: float) -> Path:
        """Return the part before parameter ``t`` of a segment. Raises :class:`BadShape` where there is none."""
        cut = self.segments[segment]
        at = cut.point(t)
        if distance(cut.start, at) <= JOIN_MM:
            parts = self.segments[:segment]
        elif distance(at, cut.end) <= JOIN_MM:
            parts = self.segments[: segment + 1]
        else:
            parts = (*self.segments[:segment], cut.split(t)[0])
        return Path._part(parts) if parts else Path(())

    def after(self, segment: int, t: float) -> Path:
        """Return the part after parameter ``t`` of a segment. Raises :class:`BadShape` where there is none."""
        cut = self.segments[segment]
        at = cut.point(t)
        if distance(at, cut.end) <= JOIN_MM:
            parts = self.segments[segment + 1 :]
        elif distance(cut.start, at) <= JOIN_MM:
            parts = self.segments[segment:]
        else:
            parts = (cut.split(t)[1], *self.segments[segment + 1 :])
        return Path._part(parts) if parts else Path(())

    def reversed(self) -> Path:
        """Return the same path, walked the other way."""
        made = Path._part(tuple(s.reversed() for s in reversed(self.segments)))
        # its length is the same, to the last digit, whether or not somebody asked for it before: summed up from the other
        # end it would differ by rounding, and a replay would not give the same
        made.__dict__["length_mm"] = self.length_mm
        return made

    def joined(self, other: Path) -> Path:
        """Return this path and ``other`` after it; ``other`` must start where this one ends.

        Raises
        ------
        BadShape
            When there is a gap between them.
        """
        return Path.chained((self, other))

    # ---------------------------------------------------------------- shapes from it

    def moved(self, move: Move) -> Path:
        """Return the moved path. A mirrored outline runs clockwise: reverse it to walk it the usual way."""
        if move == _NO_MOVE:
            return self
        return Path(tuple(s.moved(move) for s in self.segments))

    def starting_at(self, start: Pt) -> Path:
        """Return the path with its first point put elsewhere, the rest of it kept: for ends that differ by rounding."""
        first = Path((self.segments[0].with_ends(start, self.segments[0].end),))
        return first if len(self.segments) == 1 else Path.chained((first, Path._part(self.segments[1:])))

    def with_ends(self, start: Pt, end: Pt) -> Path:
        """Return the path turned and stretched so that its ends lie at ``start`` and ``end``.

        The least change of shape that does it: one turn and one scaling about the start. Where the ends of
        this path coincide it is moved along by a share of its length instead.
        """
        ax, ay = self.start
        bx, by = self.end[0] - ax, self.end[1] - ay
        cx, cy = end[0] - start[0], end[1] - start[1]
        square = bx * bx + by * by
        if square <= JOIN_MM**2:
            raise BadShape("A line whose ends coincide cannot be stretched between two points.")
        cos, sin = (bx * cx + by * cy) / square, (bx * cy - by * cx) / square
        move = Move(cos, -sin, start[0] - cos * ax + sin * ay, sin, cos, start[1] - sin * ax - cos * ay)
        segments = list(self.moved(move).segments)
        segments[0] = _with_start(segments[0], _pt(start))
        segments[-1] = _with_end(segments[-1], _pt(end))
        return Path(tuple(segments))

    def flatten(self, tolerance_mm: float = FLATTEN_MM) -> Points:
        """Return points ``(n, 2)`` whose chords stay within ``tolerance_mm``; both ends are among them."""
        return flattened(self._control, self._is_line, tolerance_mm)


def _refuse_gap(end: Pt, start: Pt) -> None:
    gap, (x, y) = distance(end, start), end
    if gap > JOIN_MM:
        raise BadShape(
            f"The line has a gap of {gap:.3g} mm near ({x:.1f}, {y:.1f}). Join its parts first.", at_mm=(x, y)
        )


def _pt(p: Sequence[float] | Points) -> Pt:
    return (float(p[0]), float(p[1]))


def _with_start(segment: Segment, start: Pt) -> Segment:
    return segment.with_ends(start, segment.end)


def _with_end(segment: Segment, end: Pt) -> Segment:
    return segment.with_ends(segment.start, end)
