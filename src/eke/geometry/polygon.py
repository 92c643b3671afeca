"""Areas, centres, winding and simplicity of closed outlines, as arrays of points or as exact paths."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from eke.errors import BadShape
from eke.geometry.crossings import self_crossings
from eke.geometry.path import Path, Pt
from eke.geometry.tolerance import FLATTEN_FINE_MM, SPIKE_DEG

Points = npt.NDArray[np.float64]

_AREA = (
    np.array([[0.0, 6.0, 3.0, 1.0], [-6.0, 0.0, 3.0, 3.0], [-3.0, -3.0, 0.0, 6.0], [-1.0, -3.0, -6.0, 0.0]])
    / 20.0
)
"""``x @ _AREA @ y`` of a cubic's control points is the area that it sweeps as seen from the origin: half the integral
of ``x y' - y x'``, in Bernstein polynomials."""


def signed_area_mm2(points: Points) -> float:
    """Return the area of a closed polygon ``(n, 2)``: positive where it runs counter-clockwise."""
    x, y = points[:, 0] - points[0, 0], points[:, 1] - points[0, 1]
    return float(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def path_area_mm2(path: Path) -> float:
    """Return the exact signed area within a path; an open one is closed by its chord."""
    # the closing chord runs to the origin, so it sweeps nothing; no table of arc lengths is needed
    control = path._control - path._control[0, 0]
    return float(((control[:, :, 0] @ _AREA) * control[:, :, 1]).sum())


def centroid(points: Points) -> Pt:
    """Return the centre of area of a polygon ``(n, 2)``.

    Raises
    ------
    BadShape
        When it has no area.
    """
    origin = points[0]
    x, y = (points - origin).T
    cross = x * np.roll(y, -1) - np.roll(x, -1) * y
    total = float(cross.sum())
    if total == 0.0:
        raise BadShape("A shape without area has no centre.")
    return (
        float(origin[0] + ((x + np.roll(x, -1)) * cross).sum() / (3.0 * total)),
        float(origin[1] + ((y + np.roll(y, -1)) * cross).sum() / (3.0 * total)),
    )


def is_ccw(points: Points) -> bool:
    """Whether the polygon runs counter-clockwise."""
    return signed_area_mm2(points) > 0.0


def counter_clockwise(points: Points) -> Points:
    """Return the polygon, turned round where it ran clockwise; the first point stays the first."""
    return points if is_ccw(points) else np.vstack([points[:1], points[:0:-1]])


def contains(points: Points, pt: Pt) -> bool:
    """Whether ``pt`` lies inside the polygon, by the even-odd rule; on the boundary either answer may come."""
    x, y = points.T
    x2, y2 = np.roll(x, -1), np.roll(y, -1)
    spans = (y > pt[1]) != (y2 > pt[1])
    with np.errstate(divide="ignore", invalid="ignore"):
        crosses = pt[0] < (x2 - x) * (pt[1] - y) / (y2 - y) + x
    return bool(np.count_nonzero(spans & crosses) % 2)


@dataclass(frozen=True, slots=True)
class Trouble:
    """Why an outline is not simple: ``kind``, where, and the two arc lengths that meet there."""

    kind: str
    at: Pt
    at_a_mm: float
    at_b_mm: float


def trouble_of(outline: Path) -> Trouble | None:
    """Return the first place at which an outline crosses, touches or turns back on itself, or nothing."""
    ring = outline.flatten(FLATTEN_FINE_MM)
    if len(ring) >= 4 and shapely.LinearRing(ring).is_simple:
        # the cheap answer holds unless a curve leaves its chord at the very place
        return None
    crossings = self_crossings(outline)
    if crossings:
        first = crossings[0]
        return Trouble("crosses itself", first.point, first.at_a_mm, first.at_b_mm)
    return _spike(outline)


def _spike(outline: Path) -> Trouble | None:
    joints = outline.joints_mm
    for mm in joints[:-1] if outline.is_closed else joints[1:-1]:
        before_mm = mm if mm > 0.0 else outline.length_mm
        u, v = outline.tangent_at(before_mm, side="before"), outline.tangent_at(mm)
        turn = np.degrees(np.arctan2(u[0] * v[1] - u[1] * v[0], u[0] * v[0] + u[1] * v[1]))
        if 180.0 - abs(float(turn)) <= SPIKE_DEG:
            return Trouble("turns back on itself", outline.point_at(mm), mm, mm)
    return None


def require_simple(outline: Path, name: str) -> None:
    """Raise :class:`BadShape` where the outline called ``name`` crosses itself or has no area."""
    trouble = trouble_of(outline)
    if trouble is not None:
        x, y = trouble.at
        raise BadShape(
            f"The outline of “{name}” {trouble.kind} near ({x:.0f}, {y:.0f}) mm. Move the line apart there.",
            at_mm=trouble.at,
        )
    if abs(path_area_mm2(outline)) <= FLATTEN_FINE_MM:
        raise BadShape(f"The outline of “{name}” has no area. Draw it as a shape with some width.")
