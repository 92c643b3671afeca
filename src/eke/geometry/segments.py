"""The two kinds of segment that a path is made of: straight lines and cubic Béziers."""

from __future__ import annotations

import math
from dataclasses import dataclass

from eke.geometry.move import Move, Pt


def lerp(p: Pt, q: Pt, t: float) -> Pt:
    """Return the point at share ``t`` of the way from ``p`` to ``q``."""
    return (p[0] + (q[0] - p[0]) * t, p[1] + (q[1] - p[1]) * t)


def distance(p: Pt, q: Pt) -> float:
    """Return the distance of two points in mm."""
    return math.hypot(q[0] - p[0], q[1] - p[1])


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
