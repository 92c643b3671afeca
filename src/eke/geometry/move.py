"""Affine moves of the plane: turn, shift, mirror, scale, and one after the other."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from eke.errors import BadInput
from eke.geometry.tolerance import RIGID_REL

Pt = tuple[float, float]
"""A point or a vector: x to the right, y up, mm."""


@dataclass(frozen=True, slots=True)
class Move:
    """The move ``x' = a x + b y + tx``, ``y' = c x + d y + ty``.

    Examples
    --------
    >>> Move.rotation(90.0, (0.0, 0.0)).then(Move.translation(10.0, 0.0)).apply((1.0, 0.0))
    (10.0, 1.0)
    """

    a: float = 1.0
    b: float = 0.0
    tx: float = 0.0
    c: float = 0.0
    d: float = 1.0
    ty: float = 0.0

    @classmethod
    def translation(cls, dx_mm: float, dy_mm: float) -> Move:
        """Return the shift by ``dx_mm`` to the right and ``dy_mm`` up."""
        return cls(tx=float(dx_mm), ty=float(dy_mm))

    @classmethod
    def rotation(cls, turn_deg: float, about: Pt = (0.0, 0.0)) -> Move:
        """Return the turn by ``turn_deg`` (counter-clockwise positive) about a point; quarter turns are exact."""
        quarters, rest = divmod(turn_deg, 90.0)
        if rest == 0.0:
            cos, sin = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarters) % 4]
        else:
            cos, sin = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
        x, y = about
        return cls(cos, -sin, x - cos * x + sin * y, sin, cos, y - sin * x - cos * y)

    @classmethod
    def mirror(cls, p: Pt, q: Pt) -> Move:
        """Return the reflection in the line through ``p`` and ``q``.

        Raises
        ------
        BadInput
            When the two points are the same, so that they give no line.
        """
        dx, dy = q[0] - p[0], q[1] - p[1]
        square = dx * dx + dy * dy
        if not square > 0.0:
            raise BadInput("A mirror line needs two different points.")
        a, b = (dx * dx - dy * dy) / square, 2.0 * dx * dy / square
        return cls(a, b, p[0] - a * p[0] - b * p[1], b, -a, p[1] - b * p[0] + a * p[1])

    @classmethod
    def scale(cls, sx: float, sy: float | None = None, about: Pt = (0.0, 0.0)) -> Move:
        """Return the scaling by ``sx`` across and ``sy`` up (the same where not given) about a point."""
        sy = sx if sy is None else sy
        return cls(float(sx), 0.0, about[0] * (1.0 - sx), 0.0, float(sy), about[1] * (1.0 - sy))

    @classmethod
    def between(cls, p: Pt, q: Pt, p_to: Pt, q_to: Pt) -> Move:
        """Return the rigid move that takes ``p`` to ``p_to`` and the direction of ``q`` to that of ``q_to``."""
        turn = math.atan2(q_to[1] - p_to[1], q_to[0] - p_to[0]) - math.atan2(q[1] - p[1], q[0] - p[0])
        return cls.rotation(math.degrees(turn), p).then(cls.translation(p_to[0] - p[0], p_to[1] - p[1]))

    def then(self, other: Move) -> Move:
        """Return the move that does this one first and ``other`` after it."""
        o = other
        return Move(
            o.a * self.a + o.b * self.c,
            o.a * self.b + o.b * self.d,
            o.a * self.tx + o.b * self.ty + o.tx,
            o.c * self.a + o.d * self.c,
            o.c * self.b + o.d * self.d,
            o.c * self.tx + o.d * self.ty + o.ty,
        )

    @property
    def determinant(self) -> float:
        """The factor by which areas grow; negative when the move turns the plane over."""
        return self.a * self.d - self.b * self.c

    @property
    def flips(self) -> bool:
        """Whether the move turns the plane over, as a mirror does."""
        return self.determinant < 0.0

    @property
    def is_rigid(self) -> bool:
        """Whether the move keeps all lengths (a mirror does)."""
        return (
            abs(self.a * self.a + self.c * self.c - 1.0) <= RIGID_REL
            and abs(self.b * self.b + self.d * self.d - 1.0) <= RIGID_REL
            and abs(self.a * self.b + self.c * self.d) <= RIGID_REL
        )

    @property
    def turn_deg(self) -> float:
        """The angle by which the x axis is turned, -180 to 180."""
        return math.degrees(math.atan2(self.c, self.a))

    def inverse(self) -> Move:
        """Return the move back.

        Raises
        ------
        BadInput
            When the move flattens the plane to a line, so that there is no way back.
        """
        det = self.determinant
        if det == 0.0:
            raise BadInput("A move that flattens everything to a line cannot be taken back.")
        a, b, c, d = self.d / det, -self.b / det, -self.c / det, self.a / det
        return Move(a, b, -a * self.tx - b * self.ty, c, d, -c * self.tx - d * self.ty)

    def apply(self, pt: Pt) -> Pt:
        """Return the moved point."""
        x, y = pt
        return (float(self.a * x + self.b * y + self.tx), float(self.c * x + self.d * y + self.ty))

    def apply_vector(self, vector: Pt) -> Pt:
        """Return the moved vector: turned and scaled, not shifted."""
        x, y = vector
        return (float(self.a * x + self.b * y), float(self.c * x + self.d * y))

    def apply_array(self, points: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        """Return the moved points of an ``(n, 2)`` array."""
        matrix = np.array([[self.a, self.c], [self.b, self.d]])
        return np.asarray(points @ matrix + np.array([self.tx, self.ty]), dtype=np.float64)
