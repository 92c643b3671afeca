"""Where a straight edge leaves its line on a short way: paper over a fold or with a corner up.

A lens is solved for from the straight part of an edge, and what lies apart from it is left out as a stain or a leg of
a table would be. Here the edge is followed once more as it runs, by the path of strongest steps with least bending
(dynamic programming), and asked whether it leaves the line as one piece and comes back.

References
----------
A. A. Amini, T. E. Weymouth, R. C. Jain, "Using dynamic programming for solving variational problems in vision", IEEE
Transactions on Pattern Analysis and Machine Intelligence 12 (1990).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.camera import Camera
from eke.capture.evidence import Body, BodyPose
from eke.capture.light import MIN_STEP, STEP_PX, Light, profiles
from eke.capture.measure import BORDER_PX, edge_path

__all__ = ["lift_along"]

Array = NDArray[np.float64]

REACH_MM, REACH_PX = 6.0, (8.0, 40.0)
SPACING_PX = 6.0
LEAST_PLACES = 24
STEEPEST = 3  # steps of half a pixel between two samples: a quarter of their spacing
BEND_COST = 0.08  # of a full step in light, for half a pixel aside
OFF_MM = 0.35  # from here on the edge is away from its line
FAR_MM, FAR_PX = 0.6, 2.0  # and here surely: neither cutting nor noise does it on a short way
LEAST_LONG_MM = 12.0
STEEP = 0.25  # paper rises gradually; a grain of the floor beside the edge begins at once
LEAST_STRAIGHT = 0.4  # share of the edge that lies on its line
SURELY = 0.6  # of the edge's usual step is seen where it is said to run
PEAK_SHARE = 0.6  # of the greatest distance: there
LINE_EMPTY = 0.25  # at most so much more than its spill is seen on the line itself
SPREAD_PX = 1.5  # standard deviation of the spill: blur of the picture and of looking


@dataclass(frozen=True, slots=True, eq=False)
class _Followed:
    """An edge followed as it runs: at n places along it, how far it lies outside its line, in mm; how much of its usual step
    is seen there, and on the line itself; which places could be looked at; and how far each lies outwards from below the
    camera."""

    off_mm: Array
    seen_there: Array
    seen_on_line: Array
    usable: NDArray[np.bool_]
    from_below_mm: Array
    px_per_mm: float


def lift_along(
    light: Light,
    camera: Camera,
    body: Body,
    pose: BodyPose,
    edge: int,
    extras: dict[str, float] | None,
    hidden_mm: Sequence[Array],
) -> float:
    """How far in mm, at most, an edge of a body leaves its straight line on a short way; 0 where it does not surely.

    ``hidden_mm`` are convex polygons of the plane that cover it.
    """
    got = _follow(light, camera, body, pose, edge, extras, hidden_mm)
    if got is None or np.mean((np.abs(got.off_mm) < OFF_MM) & (got.seen_there > SURELY)) < LEAST_STRAIGHT:
        return 0.0
    away = np.abs(got.off_mm) >= OFF_MM
    starts = np.flatnonzero(np.diff(np.r_[False, away].astype(int)) == 1)
    ends = np.flatnonzero(np.diff(np.r_[away, False].astype(int)) == -1) + 1
    runs = [slice(int(start), int(end)) for start, end in zip(starts, ends, strict=True)]
    return max(
        (float(np.percentile(np.abs(got.off_mm[run]), 95.0)) for run in runs if _is_lift(got, run)),
        default=0.0,
    )


def _follow(
    light: Light,
    camera: Camera,
    body: Body,
    pose: BodyPose,
    edge: int,
    extras: dict[str, float] | None,
    hidden_mm: Sequence[Array],
) -> _Followed | None:
    path, normal, per_mm = edge_path(camera, body, pose, body.edges[edge], extras)
    if not np.isfinite(path).all() or not per_mm > 0.0:
        return None
    along = np.r_[0.0, np.cumsum(np.hypot(*np.diff(path, axis=0).T))]
    count = int(along[-1] / SPACING_PX)
    if count < LEAST_PLACES:
        return None
    at = np.linspace(0.0, along[-1], count)
    path = np.column_stack([np.interp(at, along, path[:, i]) for i in (0, 1)])
    normal = np.column_stack([np.interp(at, along, normal[:, i]) for i in (0, 1)])
    reach = float(np.clip(REACH_MM * per_mm, *REACH_PX))
    seen = _seen(path, light, camera, hidden_mm, reach)
    offsets, values = profiles(light, path, normal, reach)
    usable = seen & np.isfinite(values).all(axis=1)
    smooth = cv2.GaussianBlur(
        np.nan_to_num(values).astype(np.float32), (0, 0), sigmaX=1.2 / STEP_PX, sigmaY=1.0
    )
    slope = np.asarray(-np.gradient(smooth, STEP_PX, axis=1), dtype=np.float64)
    line = np.abs(offsets) <= 1.0
    on_line = slope[:, line][np.arange(count), np.abs(slope[:, line]).argmax(axis=1)]
    if usable.sum() < count / 2:
        return None
    usual = float(np.median(on_line[usable]))
    if abs(usual) < MIN_STEP / 2.0:
        return None
    strength = np.clip(slope / usual, 0.0, 1.0)  # steps of the other sign are other edges
    strength[~usable] = 0.0
    chosen = _path(strength)
    outward = pose.place(np.array([body.edges[edge].normal])) - pose.place(np.zeros((1, 2)))
    return _Followed(
        off_mm=offsets[chosen] / per_mm,
        seen_there=strength[np.arange(count), chosen],
        seen_on_line=strength[:, line].max(axis=1),
        usable=usable,
        from_below_mm=(camera.to_plane(path) - camera.position_mm()[:2]) @ outward[0],
        px_per_mm=per_mm,
    )


def _is_lift(got: _Followed, run: slice) -> bool:
    """Whether places that lie off the line one after the other are an edge that is lifted there, and nothing else."""
    off = got.off_mm[run]
    mm_apart = SPACING_PX / got.px_per_mm
    # what is lifted looks moved away from the place below the camera
    if not (got.from_below_mm[run] * off).mean() > 0.0 or np.ptp(np.sign(off)) != 0.0:
        return False
    far = np.abs(off) >= max(FAR_MM, FAR_PX / got.px_per_mm, PEAK_SHARE * float(np.abs(off).max()))
    if not far.any() or len(off) * mm_apart < LEAST_LONG_MM:
        return False
    around = got.off_mm[max(0, run.start - 3) : run.stop + 3]
    spill = np.exp(-0.5 * (np.maximum(np.abs(off) * got.px_per_mm - 1.0, 0.0) / SPREAD_PX) ** 2)
    return bool(
        got.usable[run].mean() > SURELY
        and got.seen_there[run].mean() > SURELY
        and _steepest(around) < STEEP * 2.0 * mm_apart
        and (got.seen_on_line[run] - spill)[far].mean() < LINE_EMPTY
    )


def _steepest(around: Array) -> float:
    """By how much, in mm, the offsets of a run and of what lies beside it change between two samples after the next."""
    return float(np.abs(around[2:] - around[:-2]).max(initial=0.0))


def _seen(
    path: Array, light: Light, camera: Camera, hidden_mm: Sequence[Array], reach: float
) -> NDArray[np.bool_]:
    """(n,) which places lie in the picture and under nothing."""
    height, width = light.shape
    border = BORDER_PX + reach
    seen = (path > border).all(axis=1) & (path[:, 0] < width - border) & (path[:, 1] < height - border)
    for polygon in hidden_mm:
        there = camera.project(polygon).astype(np.float32)
        if np.isfinite(there).all():
            seen &= np.array(
                [cv2.pointPolygonTest(there, (float(p[0]), float(p[1])), True) < -reach for p in path]
            )
    return np.asarray(seen)


def _path(strength: Array) -> NDArray[np.int64]:
    """(n,) the column of each row on the path of greatest strength that turns aside least."""
    count, columns = strength.shape
    moves = np.arange(-STEEPEST, STEEPEST + 1)
    cost = BEND_COST * np.abs(moves)
    total = strength[0].copy()
    came = np.zeros((count, columns), dtype=np.int64)
    for row in range(1, count):
        padded = np.pad(total, STEEPEST, constant_values=-np.inf)
        choices = np.stack([padded[STEEPEST + m : STEEPEST + m + columns] for m in moves]) - cost[:, None]
        best = choices.argmax(axis=0)
        came[row] = np.arange(columns) + moves[best]
        total = choices[best, np.arange(columns)] + strength[row]
    chosen = np.zeros(count, dtype=np.int64)
    chosen[-1] = int(total.argmax())
    for row in range(count - 1, 0, -1):
        chosen[row - 1] = came[row, chosen[row]]
    return chosen
