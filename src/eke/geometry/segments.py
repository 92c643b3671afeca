"""The two kinds of segment that a path is made of: straight lines and cubic Béziers."""

from __future__ import annotations

import math
from dataclasses import dataclass

from eke.errors import BadShape
from eke.geometry.move import Move, Pt
from eke.geometry.tolerance import JOIN_MM


def lerp(p: Pt, q: Pt, t: float) -> Pt:
    """Return the point at share ``t`` of the way from ``p`` to ``q``."""
    return (p[0] + (q[0] - p[0]) * t, p[1] + (q[1] - p[1]) * t)


def distance(p: Pt, q: Pt) -> float:
    """Return the distance of two points in mm."""
    return math.hypot(q[0] - p[0], q[1] - p[1])


def unit(p: Pt, q: Pt) -> Pt:
    """Return the unit direction from one point to another, which must not be the same."""
    size = distance(p, q)
    return ((q[0] - p[0]) / size, (q[1] - p[1]) / size)


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line from ``p0`` to ``p1``."""

    p0: Pt
    p1: Pt

    @property
    def start(self) -> Pt:
        """Its first point."""
        return self.p0

    @property
    def end(self) -> Pt:
        """Its last point."""
        return self.p1

    @property
    def points(self) -> tuple[Pt, ...]:
        """Its control points."""
        return (self.p0, self.p1)

    def control(self) -> tuple[Pt, Pt, Pt, Pt]:
        """Return the four control points of the same line as a cubic."""
        return (self.p0, lerp(self.p0, self.p1, 1 / 3), lerp(self.p0, self.p1, 2 / 3), self.p1)

    def point(self, t: float) -> Pt:
        """Return the point at parameter ``t``, 0 to 1."""
        return self.p0 if t == 0.0 else self.p1 if t == 1.0 else lerp(self.p0, self.p1, t)

    def split(self, t: float) -> tuple[Line, Line]:
        """Return the two parts before and after parameter ``t``."""
        middle = self.point(t)
        return Line(self.p0, middle), Line(middle, self.p1)

    def reversed(self) -> Line:
        """Return the same line, walked the other way."""
        return Line(self.p1, self.p0)

    def moved(self, move: Move) -> Line:
        """Return the moved line."""
        return Line(move.apply(self.p0), move.apply(self.p1))

    def with_ends(self, start: Pt, end: Pt) -> Line:
        """Return the line between other ends."""
        return Line(start, end)


@dataclass(frozen=True, slots=True)
class Cubic:
    """A cubic Bézier from ``p0`` to ``p3`` with the control points ``p1`` and ``p2``."""

    p0: Pt
    p1: Pt
    p2: Pt
    p3: Pt

    @property
    def start(self) -> Pt:
        """Its first point."""
        return self.p0

    @property
    def end(self) -> Pt:
        """Its last point."""
        return self.p3

    @property
    def points(self) -> tuple[Pt, ...]:
        """Its control points."""
        return (self.p0, self.p1, self.p2, self.p3)

    def control(self) -> tuple[Pt, Pt, Pt, Pt]:
        """Return its four control points."""
        return (self.p0, self.p1, self.p2, self.p3)

    def point(self, t: float) -> Pt:
        """Return the point at parameter ``t``, 0 to 1."""
        if t == 0.0:
            return self.p0
        if t == 1.0:
            return self.p3
        u = 1.0 - t
        a, b, c, d = u * u * u, 3 * u * u * t, 3 * u * t * t, t * t * t
        return (
            a * self.p0[0] + b * self.p1[0] + c * self.p2[0] + d * self.p3[0],
            a * self.p0[1] + b * self.p1[1] + c * self.p2[1] + d * self.p3[1],
        )

    def split(self, t: float) -> tuple[Cubic, Cubic]:
        """Return the two parts before and after parameter ``t`` (de Casteljau)."""
        a, b, c = lerp(self.p0, self.p1, t), lerp(self.p1, self.p2, t), lerp(self.p2, self.p3, t)
        d, e = lerp(a, b, t), lerp(b, c, t)
        middle = lerp(d, e, t)
        return Cubic(self.p0, a, d, middle), Cubic(middle, e, c, self.p3)

    def reversed(self) -> Cubic:
        """Return the same curve, walked the other way."""
        return Cubic(self.p3, self.p2, self.p1, self.p0)

    def moved(self, move: Move) -> Cubic:
        """Return the moved curve."""
        return Cubic(move.apply(self.p0), move.apply(self.p1), move.apply(self.p2), move.apply(self.p3))

    def with_ends(self, start: Pt, end: Pt) -> Cubic:
        """Return the curve with its ends put elsewhere, the control points carried along by the same shifts."""
        return Cubic(
            start,
            (self.p1[0] + start[0] - self.p0[0], self.p1[1] + start[1] - self.p0[1]),
            (self.p2[0] + end[0] - self.p3[0], self.p2[1] + end[1] - self.p3[1]),
            end,
        )


Segment = Line | Cubic


def unit_roots(a: float, b: float, c: float) -> list[float]:
    """Return the roots of ``a t² + b t + c`` between 0 and 1."""
    if abs(a) <= 1e-14 * (abs(b) + abs(c)):
        roots = [-c / b] if b else []
    else:
        disc = b * b - 4 * a * c
        if disc < 0:
            return []
        q = -0.5 * (b + math.copysign(math.sqrt(disc), b))
        roots = [q / a] + ([c / q] if q else [])
    return [t for t in roots if 0.0 < t < 1.0]


def velocity(segment: Segment, t: float) -> Pt:
    """Return the derivative by the parameter, in mm."""
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = segment.control()
    u = 1.0 - t
    a, b, c = 3 * u * u, 6 * u * t, 3 * t * t
    return (
        a * (x1 - x0) + b * (x2 - x1) + c * (x3 - x2),
        a * (y1 - y0) + b * (y2 - y1) + c * (y3 - y2),
    )


def direction(segment: Segment, t: float) -> Pt:
    """Return the unit direction; where the curve stops for a moment, the direction in which it goes on."""
    p0, p1, p2, p3 = segment.control()
    x, y = velocity(segment, t)
    norm = math.hypot(x, y)
    if norm > JOIN_MM:
        return (x / norm, y / norm)
    order = (p1, p2, p3) if t < 0.5 else (p2, p1, p0)
    origin, sign = (p0, 1.0) if t < 0.5 else (p3, -1.0)
    for p in order:
        dx, dy = sign * (p[0] - origin[0]), sign * (p[1] - origin[1])
        norm = math.hypot(dx, dy)
        if norm > JOIN_MM:
            return (dx / norm, dy / norm)
    raise BadShape("A stretch of the line is a single point and has no direction.")


def foot(segment: Segment, pt: Pt, low: float, high: float) -> float:
    """Return the parameter in ``low``–``high`` at which ``segment`` is nearest to ``pt``."""
    if isinstance(segment, Line):
        dx, dy = segment.p1[0] - segment.p0[0], segment.p1[1] - segment.p0[1]
        square = dx * dx + dy * dy
        if square == 0.0:
            return 0.0
        t = ((pt[0] - segment.p0[0]) * dx + (pt[1] - segment.p0[1]) * dy) / square
        return min(max(t, 0.0), 1.0)
    # where the way to the point runs square to the curve: Newton, halving the bracket where that would leave it
    p0, p1, p2, p3 = (complex(*p) for p in segment.control())
    c0, c1, c2, c3 = p0 - complex(*pt), 3.0 * (p1 - p0), 3.0 * (p2 - 2.0 * p1 + p0), p3 - p0 + 3.0 * (p1 - p2)

    def gap(t: float) -> complex:
        return c0 + t * (c1 + t * (c2 + t * c3))

    def slope(t: float) -> float:
        here, run = gap(t), c1 + t * (2.0 * c2 + t * (3.0 * c3))
        return here.real * run.real + here.imag * run.imag

    if slope(low) > 0.0 or slope(high) < 0.0:
        return min((low, high), key=lambda u: abs(gap(u)))
    a, b, t = low, high, (low + high) / 2.0
    for _ in range(60):
        here, run, turn = gap(t), c1 + t * (2.0 * c2 + t * (3.0 * c3)), 2.0 * c2 + t * (6.0 * c3)
        rise = here.real * run.real + here.imag * run.imag
        bend = run.real**2 + run.imag**2 + here.real * turn.real + here.imag * turn.imag
        a, b = (a, t) if rise > 0.0 else (t, b)
        new = t - rise / bend if bend > 0.0 else math.inf
        new = new if a <= new <= b else (a + b) / 2.0
        if abs(new - t) < 1e-15:
            break
        t = new
    return min((low, high, t), key=lambda u: abs(gap(u)))
