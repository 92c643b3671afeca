"""Paper that does not lie flat, noticed from its edges: cut straight, they look bowed where it is lifted or folded.

A point of paper that is lifted by h appears moved away from the point below the camera by about h times its distance
from there over the camera's height: 10 mm at 300 mm under a camera at 900 mm are 3 mm. An edge of which one end or
the middle is lifted is no straight line any more, whatever the camera.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from eke.capture.camera import Camera
from eke.capture.evidence import Body, EdgeEvidence
from eke.capture.lifts import lift_along
from eke.capture.light import Light
from eke.capture.rounds import State, polygons

__all__ = ["Bow", "bows", "lifts", "not_flat"]

Array = NDArray[np.float64]

LEAST_POINTS = 16
BOW_DEGREE = 3  # a lifted corner bends one end of an edge, a fold its middle
TOLD_MM = 1.0  # knife and guillotine cut straighter, and what a lens leaves over is a few tenths
NOISES = 4.0
MOST_MM = 15.0  # beyond this it is another edge
MOST_LONE_MM = 0.5


@dataclass(frozen=True, slots=True)
class Bow:
    """An edge of a body that is not straight: how far it leaves its chord, in mm, and where in the picture it lies."""

    body: int
    side: str
    mm: float


def bows(state: State) -> tuple[Bow, ...]:
    """Long edges that are bowed by more than cutting and lens explain, the most bowed first."""
    camera = state.solution.camera
    out = []
    for edge in state.edges:
        body = state.bodies[edge.body]
        if body.kind in ("paper", "a4", "letter") and len(edge.points_px) >= LEAST_POINTS:
            mm, limit = _bow(camera, body, edge)
            if limit < mm < MOST_MM:
                out.append(Bow(edge.body, _side(camera, state, edge), mm))
    return tuple(sorted(out, key=lambda b: -b.mm))


def lifts(light: Light, state: State) -> tuple[Bow, ...]:
    """Edges of the paper that leave their straight line on a short way, as over a fold; what was measured of them for the
    lens is the straight rest."""
    hidden = polygons(state.bodies, state.solution.poses)
    out = []
    for edge in state.edges:
        body = state.bodies[edge.body]
        if body.kind == "paper":
            mm = lift_along(
                light, state.solution.camera, body, state.solution.poses[edge.body], edge.edge,
                state.solution.extras[edge.body], hidden,
            )  # fmt: skip
            if 0.0 < mm < MOST_MM:
                out.append(Bow(edge.body, _side(state.solution.camera, state, edge), mm))
    return tuple(out)


def not_flat(light: Light, state: State) -> tuple[list[str], float]:
    """A sentence for each body of which an edge is bowed, and the most that one is, in mm."""
    said = []
    told: set[int] = set()
    found = sorted((*bows(state), *lifts(light, state)), key=lambda b: -b.mm)
    for bow in found:
        if bow.body in told:
            continue
        told.add(bow.body)
        body = state.bodies[bow.body]
        name = "paper" if body.kind == "paper" else body.name
        said.append(
            f"The {name} does not lie flat, or is not cut straight: its {bow.side} edge is bowed by {bow.mm:.1f} mm. What "
            "is drawn near there may be off by as much. Press it flat, smooth its folds, weigh the corners down, and "
            "take the picture again."
        )
    return said, max((b.mm for b in found), default=0.0)


def _bow(camera: Camera, body: Body, edge: EdgeEvidence) -> tuple[float, float]:
    """(how far an edge leaves its chord, how far it may) in mm."""
    at = camera.to_plane(edge.points_px, body.height_mm)
    at = at[np.isfinite(at).all(axis=1)]
    middle = at.mean(axis=0)
    along = np.linalg.svd(at - middle, full_matrices=False)[2][0]
    t = (at - middle) @ along
    off = (at - middle) @ np.array([-along[1], along[0]])
    length = float(np.ptp(t))
    place = 2.0 * (t - t.min()) / max(length, 1e-9) - 1.0
    smooth = np.polynomial.Polynomial.fit(place, off, BOW_DEGREE, domain=[-1, 1])
    order = np.argsort(t)
    between = np.interp(t[order][1:-1], t[order][::2], off[order][::2])
    lone = np.abs(off[order][1:-1] - between)[
        ::2
    ]  # every other point, against the line between its neighbours
    if (
        float(np.percentile(lone, 95.0)) > MOST_LONE_MM
    ):  # no one edge that was followed, but stretches of several
        return 0.0, TOLD_MM
    noise = float(np.median(lone)) / math.sqrt(len(off) / (BOW_DEGREE + 1))
    grid = np.linspace(-1.0, 1.0, 61)
    curve = smooth(grid)
    chord = curve[0] + (curve[-1] - curve[0]) * (grid + 1.0) / 2.0
    limit = max(TOLD_MM, NOISES * noise)
    return float(np.abs(curve - chord).max()), limit


def _side(camera: Camera, state: State, edge: EdgeEvidence) -> str:
    """Which edge of its body that is, as the picture is held."""
    body = state.bodies[edge.body]
    centre = camera.project(np.array([state.solution.poses[edge.body].middle_mm]), body.height_mm)[0]
    x, y = edge.points_px.mean(axis=0) - centre
    if abs(x) > abs(y):
        return "right" if x > 0 else "left"
    return "lower" if y > 0 else "upper"
