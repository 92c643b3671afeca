"""Another direction at an end of a path: the line is bent towards it by as little as that takes."""

from __future__ import annotations

from typing import Final, Literal

from eke.errors import BadInput
from eke.geometry.move import Pt
from eke.geometry.path import Path
from eke.geometry.segments import Cubic, Line, Segment, distance

BEND_REACH_MM: Final = 60.0
"""A new direction at an end runs into the old line over at most so much …"""
BEND_SHARE: Final = 0.5
"""… and over at most this share of the path."""
_STOPS_MM: Final = 1e-6
"""A curve whose handle is shorter stands still at its end: its direction cannot be turned by its handle."""
_STILL_T: Final = 0.05
"""So much of such a curve is taken as straight; of one 60 mm long it is less than half a millimetre."""


def with_end_direction(
    path: Path, end: Literal["start", "end"], direction: Pt, straight_mm: float = 0.0
) -> Path:
    """Return the path with another direction at one end, both ends kept.

    The line is pushed aside, not drawn anew: over its last ``r`` mm by the cubic that is 0 at the end, turns it there and dies
    away with no turn at ``r``, ``f(u) = r w u (1 - u)²`` with ``u`` from 0 at the end to 1, and ``w`` the new direction less
    the old one. So a tight round end stays round: for a turn of 1° over 60 mm no place moves by more than 0.16 mm.

    Parameters
    ----------
    direction
        Unit direction in which the path leaves that end, into the path.
    straight_mm
        How far it runs straight from there before it bends into the old line.

    Raises
    ------
    BadInput
        When the path is too short for it.
    """
    if end == "end":
        return with_end_direction(path.reversed(), "start", direction, straight_mm).reversed()
    length = path.length_mm
    reach = min(straight_mm + BEND_REACH_MM, max(BEND_SHARE * length, 2.0 * straight_mm))
    if straight_mm > 0.0 and reach >= length - 1.0:
        raise BadInput(
            f"A line of {length:.1f} mm is too short to be made straight for {straight_mm:g} mm at its end."
        )
    (x, y), (dx, dy) = path.start, direction
    bend = (x + straight_mm * dx, y + straight_mm * dy)
    near, far = path.slice(straight_mm, length).split(reach - straight_mm)
    near = _starting_with_a_handle(near)
    (px, py), (tx, ty) = near.start, near.start_direction
    made = _pushed(near, (bend[0] - px, bend[1] - py), (dx - tx, dy - ty))
    head: tuple[Segment, ...] = (Line(path.start, bend),) if straight_mm > 0.0 else ()
    return Path((*head, *made.starting_at(bend).segments, *far.segments))


def _starting_with_a_handle(path: Path) -> Path:
    first = path.segments[0]
    p, q, _, _ = first.control()
    if distance(p, q) > _STOPS_MM:
        return path
    head, tail = first.split(_STILL_T)
    return Path((Line(head.start, head.end), tail, *path.segments[1:]))


def _pushed(path: Path, shift: Pt, turn: Pt) -> Path:
    """Return a path pushed by ``shift`` at its start and by nothing at its end, turned by ``turn`` and by nothing."""
    length = path.length_mm

    def push(mm: float) -> tuple[Pt, Pt]:
        """How far the place is pushed, and how fast that grows with the length."""
        u = mm / length
        a, b = (1.0 - u) ** 2 * (1.0 + 2.0 * u), length * u * (1.0 - u) ** 2
        da, db = -6.0 * u * (1.0 - u) / length, (1.0 - u) * (1.0 - 3.0 * u)
        return (
            (a * shift[0] + b * turn[0], a * shift[1] + b * turn[1]),
            (da * shift[0] + db * turn[0], da * shift[1] + db * turn[1]),
        )

    joints = path.joints_mm
    made: list[Segment] = []
    for segment, start, end in zip(path.segments, joints, joints[1:], strict=False):
        p, q, r, t = segment.control()
        ((ax, ay), (avx, avy)), ((bx, by), (bvx, bvy)) = push(start), push(end)
        first, last = distance(p, q), distance(r, t)
        made.append(
            Cubic(
                (p[0] + ax, p[1] + ay),
                (q[0] + ax + first * avx, q[1] + ay + first * avy),
                (r[0] + bx - last * bvx, r[1] + by - last * bvy),
                (t[0] + bx, t[1] + by),
            )
        )
    return Path(tuple(made))
