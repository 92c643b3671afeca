"""The paper's edges as straight lines, where nobody said that they are square.

A straight line shows how much the lens bends, wherever it runs: nothing is asked of the angles between the edges. A small
reference leaves that open, and over a piece it makes up to one per cent. Edges that are not straight are left alone.

References
----------
D. C. Brown, "Close-range camera calibration" (1971): the lens from plumb lines.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from eke.capture.evidence import Body, BodyPose, DistanceEvidence, EdgeEvidence, LensPrior
from eke.capture.flatness import bows
from eke.capture.light import Light
from eke.capture.measure import measure_quad
from eke.capture.paper_edges import stranger_lens
from eke.capture.quads import Quad
from eke.capture.rounds import FIRST_REACH_PX, WARN_CHI2, State, centres_of
from eke.capture.solve import Solution, solve

__all__ = ["Beside", "by_straight_edges", "helped"]

Beside = tuple[Body, BodyPose, Sequence[EdgeEvidence]]
"""What else lies in the picture and is no reference: its shape, where it lies, and what was measured of it."""

ANY_TILT_RAD = math.radians(6.0)  # of an edge against its rectangle: no matter what angles it was cut with
STRAIGHT_SIGMA_MM = 0.25  # our own limit: scissors along a drawn line bend it more, and that is seen
LEAST_EDGES = 3  # two may be bowed alike by scissors, as by a lens


def by_straight_edges(
    light: Light,
    lens: LensPrior,
    state: State,
    paper: tuple[Body, BodyPose, Quad],
    distances: Sequence[DistanceEvidence],
) -> tuple[State, tuple[Beside, ...]]:
    """The state of the same bodies, its lens seen by the paper's edges too, and what was measured of these; the state as it
    was where they are not straight or not seen."""
    body, pose, quad = paper
    extras = tuple(replace(e, sigma=ANY_TILT_RAD) if e.name.startswith("tilt") else e for e in body.extras)
    loose = replace(body, extras=extras, straight_sigma_mm=STRAIGHT_SIGMA_MM)
    bodies = (*state.bodies, loose)
    sides = measure_quad(light, quad.corners_px, loose, len(state.bodies), reach_px=FIRST_REACH_PX)
    if len(sides) < LEAST_EDGES:
        return state, ()
    edges = (*state.edges, *sides)
    got = solve(
        state.solution.camera.size_px, lens, bodies, edges, camera=state.solution.camera,
        poses=[*state.solution.poses, pose], points=centres_of(state), distances=distances,
    )  # fmt: skip
    bent = any(
        b.body == len(state.bodies) for b in bows(replace(state, bodies=bodies, edges=edges, solution=got))
    )
    if bent or got.chi2 > max(WARN_CHI2, state.solution.chi2) or stranger_lens(lens, state.solution, got):
        return state, ()
    return helped(state, got), ((loose, pose, sides),)


def helped(state: State, got: Solution) -> State:
    """The state with a solution's camera, and without what else the solution asked for it."""
    known, measured = len(state.bodies), len(state.edges)
    own = replace(
        got, poses=got.poses[:known], extras=got.extras[:known], extra_sigmas=got.extra_sigmas[:known],
        noise_px=got.noise_px[:known], edge_rms_px=got.edge_rms_px[:measured],
    )  # fmt: skip
    return replace(state, solution=own)
