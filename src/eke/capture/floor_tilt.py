"""The tilt of the camera by the joints of the floor, where nothing else large shows it.

Boards, tiles and the planks of a table are laid alongside one another: their joints run in parallel, and across at a right
angle. A bank card is too small to show the tilt well, and a tilt that is off by half a degree makes one per cent of a piece
that lies beside it. So lines of the floor that agree, with one another and with what the reference leaves open, are evidence
like the edges of paper that is cut square, only looser. A floor whose lines do not agree is left alone.

References
----------
B. Caprile, V. Torre, "Using vanishing points for camera calibration", Int. J. Computer Vision 4 (1990).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from eke.capture.camera import Camera
from eke.capture.evidence import (
    Body,
    BodyEdge,
    BodyPose,
    DistanceEvidence,
    EdgeEvidence,
    Extra,
    LensPrior,
    PointEvidence,
)
from eke.capture.floor_joints import Floor, Joint, floor_joints, look_at_floor
from eke.capture.paper_edges import stranger_lens
from eke.capture.photo import Photo
from eke.capture.rounds import WARN_CHI2, State, centres_of, polygons
from eke.capture.solve import Solution, solve
from eke.capture.straight_edges import Beside, helped

__all__ = ["by_floor_joints", "floor_seen"]

Array = NDArray[np.float64]

PARALLEL_SIGMA_RAD = math.radians(0.15)  # own estimate: a joint between tiles wanders by 1 to 2 mm in 60 cm
SQUARE_SIGMA_RAD = math.radians(0.15)  # the same, of all joints across against those along
LEAST_JOINTS = 4  # two meet anywhere, three alongside one another or at a right angle do so by chance
LEAST_AGREE = 0.75  # share of all lines that must
OUTLIER_SIGMAS = 3.0
MOST_MOVED = 1.3  # of what the reference alone leaves open with 95 % confidence
PASSES = 2  # what single points are worth is known from the solution without joints
SOMEWHERE_MM, SOMEWHERE_PX = 1000.0, 100.0  # where a line lies is not known at all
# first with the camera as it is known; where joints do not agree closely, with the one that was found by them, if any
SLACK_DEG = (2.0, 0.6)
CLOSELY, LOOSELY = 2.0, 4.0  # in units of what joints of one floor wander
WANDER_RAD = math.radians(0.03)


def by_floor_joints(
    photo: Photo,
    lens: LensPrior,
    state: State,
    floor: Floor,
    paper_px: Array,
    distances: Sequence[DistanceEvidence],
    beside: Sequence[Beside] = (),
    check: Callable[[], None] | None = None,
) -> State:
    """The state of the same bodies, the tilt of its camera seen by the joints of the floor too.

    Parameters
    ----------
    floor
        What :func:`floor_seen` showed by a camera that was not much worse.
    paper_px
        (n, 2) what the paper covers in the picture: nothing on it is floor.
    beside
        Further evidence from this picture.
    check
        Called between the steps; may raise to stop.

    Returns
    -------
    State
        As it was, where the floor shows no lines that agree.
    """
    got: Solution | None = None
    for slack_deg in SLACK_DEG:
        if got is not None:
            again = floor_seen(photo, state.bodies, got, paper_px, got.poses[-1].turn_rad)
            if again is None:
                return state
            floor = again
        joints, turn = floor_joints(floor, slack_deg)
        agreed = _agreed(lens, state, joints, turn, floor.copied.camera, paper_px, distances, beside, check)
        if agreed is None:
            got = None
            continue  # looked at more strictly, fewer lines are taken that are none
        got, scatter = agreed
        if scatter <= CLOSELY:
            break
    return state if got is None else helped(state, got)


def floor_seen(
    photo: Photo, bodies: Sequence[Body], solution: Solution, paper_px: Array, turn: float | None = None
) -> Floor | None:
    """The floor as a solution's camera sees it; None where hardly any is seen.

    Parameters
    ----------
    bodies
        That lie in the picture: no floor.
    paper_px
        (n, 2) what the paper covers in the picture: no floor either.
    turn
        The direction in rad in which joints run, where it is known.
    """
    paper = solution.camera.to_plane(paper_px)
    if not np.isfinite(paper).all():
        return None
    lying = polygons(bodies, solution.poses[: len(bodies)])
    return look_at_floor(photo, solution.camera, [paper, *lying], turn)


def _agreed(
    lens: LensPrior,
    state: State,
    joints: list[Joint],
    turn: float,
    camera: Camera,
    paper_px: Array,
    distances: Sequence[DistanceEvidence],
    beside: Sequence[Beside],
    check: Callable[[], None] | None,
) -> tuple[Solution, float] | None:
    """The answer by those joints that agree, and how well they do: 1 is closely; None where too few do, or with the reference they
    do not."""
    total = len(joints)
    got: Solution | None = None
    while len(joints) >= max(LEAST_JOINTS, LEAST_AGREE * total):
        if check is not None:
            check()
        got = _solved(lens, state, joints, turn, camera, distances, beside, got)
        own = got.extras[-1]
        if abs(own["square"]) > OUTLIER_SIGMAS * SQUARE_SIGMA_RAD:
            return None
        off = np.abs([own[_name(k)] / math.hypot(WANDER_RAD, j.sigma_rad) for k, j in enumerate(joints)])
        scatter = max(1.4826 * float(np.median(off)), 1.0)
        if off.max() <= OUTLIER_SIGMAS * scatter:
            agree = scatter <= LOOSELY and _believed(lens, state, got, paper_px)
            return (got, scatter) if agree else None
        # a wrong line turns the others: the worst go first
        limit = max(OUTLIER_SIGMAS * scatter, 0.7 * float(off.max()))
        joints = [j for j, by in zip(joints, off, strict=True) if by < limit]
    return None


def _sigma_rad(joint: Joint) -> float:
    return math.hypot(PARALLEL_SIGMA_RAD, joint.sigma_rad)


def _name(number: int) -> str:
    return f"turn {number}"


def _believed(lens: LensPrior, before: State, after: Solution, paper_px: Array) -> bool:
    """Does the answer keep what the reference said: the lens, and where the paper's corners may lie?"""
    if after.chi2 > max(WARN_CHI2, before.solution.chi2) or stranger_lens(lens, before.solution, after):
        return False
    was, now = before.solution.camera.to_plane(paper_px), after.camera.to_plane(paper_px)
    if not np.isfinite(now).all():
        return False
    moved = (now - now.mean(axis=0)) - (was - was.mean(axis=0))
    may_mm = before.solution.certainty.local_mm(was)
    return bool(np.all(np.hypot(moved[:, 0], moved[:, 1]) < MOST_MOVED * may_mm))


def _solved(
    lens: LensPrior,
    state: State,
    joints: Sequence[Joint],
    turn: float,
    camera: Camera,
    distances: Sequence[DistanceEvidence],
    beside: Sequence[Beside],
    before: Solution | None,
) -> Solution:
    """The answer with the joints, as the ``camera`` shows them, as its last body; begun where the one ``before`` ended."""
    known = len(state.bodies)
    middle = np.mean([j.ends_mm.mean(axis=0) for j in joints], axis=0)
    pose = BodyPose((float(middle[0]), float(middle[1])), turn, 1.0)
    floor, number = _floor_body(joints, pose), known + len(beside)
    edges = list(state.edges)
    for k, (_, _, own) in enumerate(beside):
        edges += [replace(e, body=known + k) for e in own]
    edges += [_seen(joint, k, number, camera) for k, joint in enumerate(joints)]
    # nothing says where on the floor the pattern lies: it is held loosely where it was drawn
    hold = PointEvidence(number, np.zeros((1, 2)), camera.project(middle[None]), SOMEWHERE_PX)
    return solve(
        camera.size_px, lens, [*state.bodies, *(b for b, _, _ in beside), floor], edges,
        camera=camera if before is None else before.camera,
        poses=[*state.solution.poses, *(p for _, p, _ in beside), pose] if before is None else before.poses,
        passes=PASSES, points=[*centres_of(state), hold], distances=distances,
    )  # fmt: skip


def _floor_body(joints: Sequence[Joint], pose: BodyPose) -> Body:
    """Lines along and across, each with a place and a turn of its own; those across share one more turn."""
    extras = [Extra(_name(k), _sigma_rad(j), True) for k, j in enumerate(joints)]
    extras += [Extra(f"place {k}", SOMEWHERE_MM, True) for k in range(len(joints))]
    extras.append(Extra("square", SQUARE_SIGMA_RAD, True))
    count = len(extras)
    c, s = math.cos(pose.turn_rad), math.sin(pose.turn_rad)
    into = np.array([[c, -s], [s, c]])
    edges = []
    for k, joint in enumerate(joints):
        a, b = (((end - pose.middle_mm) @ into) for end in joint.ends_mm)
        fixed = 0 if joint.across else 1  # drawn exactly along or across, through its middle
        middle = float((a + b)[fixed]) / 2.0
        a, b = a.copy(), b.copy()
        a[fixed] = b[fixed] = middle
        place, turned = np.zeros(count), np.zeros(count)
        place[len(joints) + k] = 1.0
        turned[k] = 1.0
        turned[-1] = float(joint.across)
        edges.append(
            BodyEdge((float(a[0]), float(a[1])), (float(b[0]), float(b[1])), tuple(place), tuple(turned))
        )
    outline = np.zeros((0, 2))
    return Body("paper", "floor", tuple(edges), outline, extras=tuple(extras), height_by=(0.0,) * count)


def _seen(joint: Joint, number: int, body: int, camera: Camera) -> EdgeEvidence:
    """A joint by its ends: how far it wanders between them says nothing of the lens."""
    mm = joint.ends_mm
    along = (mm[1] - mm[0]) / math.dist(*mm)
    px = camera.project(mm)
    aside = camera.project(mm + np.array([along[1], -along[0]])) - px
    normals = aside / np.hypot(aside[:, 0], aside[:, 1])[:, None]
    nothing = np.zeros(len(px))
    return EdgeEvidence(body, number, px, normals, nothing, nothing)
