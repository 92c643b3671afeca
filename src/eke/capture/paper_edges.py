"""The edges of the paper as evidence, where the maker says that it is cut straight and square."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.certainty import Certainty
from eke.capture.evidence import (
    Body,
    BodyPose,
    DistanceEvidence,
    LensPrior,
    paper_body,
)
from eke.capture.flatness import bows
from eke.capture.light import Light
from eke.capture.measure import measure_quad, pose_from_plane
from eke.capture.paper_start import camera_by_paper
from eke.capture.photo import Photo
from eke.capture.problem import K1_SIGMA, K2_SIGMA
from eke.capture.quads import Quad, drawn_on, tone_apart
from eke.capture.rounds import FIRST_REACH_PX, NEXT_REACH_PX, WARN_CHI2, State, centres_of, rounds
from eke.capture.seeds import usual_focals
from eke.capture.solve import Solution, solve

Array = NDArray[np.float64]
PAPER_SQUARE_DEG = 3.0
PAPER_SQUARE_MOST_DEG = 25.0
PAPER_SHARE = 0.05  # of the picture: less is not the paper that somebody photographs
PAPER_TILT_SIGMAS = 6.0
LENS_PULL = 4.5  # standard deviations of what is known of lenses
SUPPORT_POWER = 6  # a quadrangle round the paper and the sheet beside it is larger, but its sides have gaps
BLANK_WORTH = 0.2  # of a quadrangle on which nothing is drawn

UNSEEN = "The edges of the paper are not seen clearly, so they did not help: the scale rests on the reference alone."
OTHER_LENS = "The paper's edges and the reference ask for different lenses, so the edges did not help."
NOT_FOLLOWED = "The paper's edges could not be followed surely, so they did not help."
OTHER_WAY = (UNSEEN, OTHER_LENS, NOT_FOLLOWED)
"""What is said where the reference may have been taken for something that lies otherwise, and the paper is all right."""


def paper_seed(
    photo: Photo,
    certainty: Certainty,
    quads: Sequence[Quad],
    covered: Sequence[Array],
    inside: Sequence[Array],
) -> tuple[Body, BodyPose, Quad] | None:
    """The largest quadrangle that may be right-angled and is no reference: body and pose of the paper.

    A small reference leaves the camera's tilt so open that the paper's corners seem several degrees off; how far they
    may be is what the ``certainty`` of the camera so far says.
    """
    camera = certainty.camera
    best: tuple[float, Body, BodyPose, Quad] | None = None
    share = PAPER_SHARE * photo.width_px * photo.height_px
    for quad in quads:
        if quad.area_px < share or quad.support < 0.6:
            continue
        plane = camera.to_plane(quad.corners_px)
        if not np.isfinite(plane).all():
            continue
        sides = np.roll(plane, -1, axis=0) - plane
        length = np.hypot(sides[:, 0], sides[:, 1])
        unit = sides / length[:, None]
        corner_deg = np.degrees(np.arcsin(np.clip(np.sum(unit * np.roll(unit, 1, axis=0), axis=1), -1, 1)))
        cut = np.array(quad.at_border)
        real = ~(cut | np.roll(cut, 1))
        if np.sum(~cut) < 2:
            continue
        unsure_deg = np.degrees(2.0 * certainty.local_mm(plane).max() / length.min())
        if np.any(np.abs(corner_deg[real]) > min(PAPER_SQUARE_DEG + unsure_deg, PAPER_SQUARE_MOST_DEG)):
            continue
        if cut.any() and not real.any():
            continue
        outline = plane.astype(np.float32).reshape(-1, 1, 2)
        area = float(cv2.contourArea(outline))
        clash = False
        for polygon in covered:
            shared, _ = cv2.intersectConvexConvex(outline, polygon.astype(np.float32).reshape(-1, 1, 2))
            own = float(cv2.contourArea(polygon.astype(np.float32)))
            # it may carry the reference, but it must not be the reference or a part of it
            if shared > 0.5 * min(area, own) and area < 1.8 * own:
                clash = True
        if clash:
            continue
        if any(cv2.pointPolygonTest(outline, (float(p[0]), float(p[1])), False) < 0 for p in inside):
            continue
        width = float(length[[0, 2]].mean()) if not (cut[0] or cut[2]) else float(length[[0, 2]].max())
        height = float(length[[1, 3]].mean())
        if best is not None and area <= best[0]:
            continue
        score = area * paper_look(photo, quad)
        if best is None or score > best[0]:
            body = paper_body(width, height, sides=[i for i in range(4) if not cut[i]])
            pose, _ = pose_from_plane(body.outline_mm, plane)
            best = (score, body, pose, quad)
    return None if best is None else best[1:]


def paper_look(photo: Photo, quad: Quad) -> float:
    """How much a quadrangle looks like paper with a tracing, up to 1: all its sides are seen, it differs from what lies around
    it, and something is drawn on it."""
    worth = quad.support**SUPPORT_POWER * tone_apart(photo.pixels_rgb, quad)
    return worth if drawn_on(photo.pixels_rgb, quad) else BLANK_WORTH * worth


def add_paper(
    light: Light,
    lens: LensPrior,
    state: State,
    paper: tuple[Body, BodyPose, Quad],
    distances: Sequence[DistanceEvidence],
) -> tuple[State | None, str]:
    """Solve again with the paper's edges as evidence; or say why they did not help.

    First with the edges as the quadrangle shows them: the camera so far may be too far off to draw them where they are.
    """
    body, pose, quad = paper
    bodies = [*state.bodies, body]
    poses = [*state.solution.poses, pose]
    extras = [*state.solution.extras, None]
    camera = state.solution.camera
    sides = measure_quad(light, quad.corners_px, body, len(bodies) - 1, reach_px=FIRST_REACH_PX)
    if sides:
        begin = [(camera, poses, bodies)]
        if len(state.bodies) == 1 and state.bodies[0].kind != "sheet" and quad.whole and state.seeds:
            # a lens that the camera did not write down may have been solved for wrongly, and the tilt with it
            lenses = () if lens.focal_px else usual_focals(camera.size_px)
            for focal in (camera.focal_px, *lenses):
                other = camera_by_paper(camera.size_px, focal, quad, state.seeds[0])
                if other is not None:
                    begin.append((other[0], [*state.solution.poses, other[2]], [*state.bodies, other[1]]))
        solved = [
            (solve(
                camera.size_px, lens, things, [*state.edges, *sides], camera=start, poses=places,
                points=centres_of(state), distances=distances, rough=True,
            ), things)
            for start, places, things in begin
        ]  # fmt: skip
        first, bodies = min(solved, key=lambda s: s[0].misfit)
        camera, poses, extras = first.camera, list(first.poses), list(first.extras)
    reaches = (NEXT_REACH_PX,) if sides else (FIRST_REACH_PX, NEXT_REACH_PX)
    got = rounds(light, lens, bodies, camera, poses, distances, reaches, extras, state.seeds, measured=state)
    if got is None:
        return None, "The paper's edges could not be measured, so they did not help."
    if sum(1 for e in got.edges if e.body == len(bodies) - 1) < 2:
        return None, "Too little of the paper's edges could be measured, so they did not help."
    own = got.solution.extras[-1]
    worst = max(abs(own[f"tilt {i}"]) for i in range(4))
    limit = PAPER_TILT_SIGMAS * math.radians(0.03)
    if stranger_lens(lens, state.solution, got.solution):
        return None, OTHER_LENS
    bent = [b for b in bows(got) if b.body == len(bodies) - 1]
    if bent and not bows(replace(got, edges=tuple(sides))):
        # straight where it was seen without a camera: this one drew it elsewhere
        return None, NOT_FOLLOWED
    if bent:
        return None, (
            f"The paper does not lie flat, or is not cut straight: its {bent[0].side} edge is bowed by {bent[0].mm:.1f} mm. "
            "So its edges were not used, and what is drawn near there may be off by as much. Press it flat, smooth its "
            "folds, weigh the corners down, and take the picture again."
        )
    if worst > limit or got.solution.chi2 > max(WARN_CHI2, 4.0 * state.solution.chi2):
        return None, (
            f"The paper's edges are not straight and square (an edge is {math.degrees(worst):.2f} degrees off), "
            "so they were not used."
        )
    return got, ""


def stranger_lens(lens: LensPrior, before: Solution, after: Solution) -> bool:
    """Is a solution's lens unlike all that is known of lenses, and more so than before?"""
    pull = _lens_pull(lens, after)
    return pull > LENS_PULL and pull > _lens_pull(lens, before)


def _lens_pull(lens: LensPrior, solution: Solution) -> float:
    """By how many standard deviations a solution's lens is unlike what is known of it and of phones' lenses."""
    camera = solution.camera
    focal = abs(math.log(solution.focal_ratio)) / lens.focal_sigma if lens.focal_px else 0.0
    return max(focal, abs(camera.k1) / K1_SIGMA, abs(camera.k2) / K2_SIGMA)
