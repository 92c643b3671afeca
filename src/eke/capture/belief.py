"""What a thing that nobody has named must show before it is believed to be a sheet of A4 or Letter or a bank card.

A rectangle of about the right shape is no evidence: books, tiles, photographs, telephones and the marks of foreign
sheets have shapes like these, and a wrong name makes all lengths wrong. So a thing is believed only when

- all its edges are seen along most of their length, and all belong to the outline that was found at first;
- its shape, with the aspect set free, is that of the standard within what the picture can tell, and the picture can
  tell it apart from the shapes of common things;
- its corners are round as a card's are (ISO/IEC 7810: 2.88 to 3.48 mm), or sharp as those of cut paper are;
- no printed marker, and no row of things like it, says that it belongs to a sheet of marks or a pattern;
- the camera stood where somebody can hold it.

What fails is not used but asked about.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.aspect import ASPECT_SIGMAS, aspect_tolerance, free_aspect
from eke.capture.evidence import LensPrior
from eke.capture.light import Light
from eke.capture.quads import Quad
from eke.capture.round_corners import CARD_RADIUS_MM, corner_radius_mm
from eke.capture.rounds import State
from eke.capture.seeds import Seed

__all__ = ["Doubt", "aspect_doubt", "doubt", "doubt_at_sight"]

Array = NDArray[np.float64]

FEW_MARKERS = 2  # on one thing; a single one of thousands of codes may be chance
AROUND_SHARE = 1.0  # of its size: how far around a thing marks are looked for

HELD_MM = (200.0, 2200.0)  # nearer no phone focuses on a sheet, higher nobody holds one
LEAST_SEEN = 0.6  # of an edge's length
STRAY_SHARE = 0.06  # of its size: how far solved corners may lie from those that were found
STRAY_PX = 6.0

CLEAR_CHI2 = 4.0
TELLS_CARD = 0.006  # of the half difference of both sides: the sheet of 139.7 x 215.9 mm is 0.013 off a card
TELLS_PAPER = 0.012  # a photograph of 10 x 15 cm is 0.03 off A4, Letter 0.045

SHARP_MM = 2.5  # of cut paper; telephones and tablets have 6 and more

ALIKE_SHARE = 0.12  # of their size: things of one size
ALIKE_COUNT = 3
ALIKE_REACH = 4.0  # of its size: a pattern is close by


@dataclass(frozen=True, slots=True)
class Doubt:
    """Why a thing is not believed to be what it may be: ``reason`` in a word, ``because`` as the end of a sentence."""

    reason: str
    because: str


def doubt_at_sight(marks_px: Array, seed: Seed, quads: Sequence[Quad]) -> Doubt | None:
    """Why a thing is not believed before anything is measured, or None; ``marks_px`` from :func:`foreign_marks`."""
    if _marked(marks_px, seed.points_px):
        return Doubt("marks", "printed marks lie on it or around it")
    if seed.body.kind == "card" and _one_of_many(seed.points_px, quads):
        return Doubt("pattern", "several things of its size lie around it")
    return None


def doubt(light: Light, lens: LensPrior, state: State, seed: Seed) -> Doubt | None:
    """Why the solved state of one seed is not believed, or None; the paper may stand beside it."""
    body, pose = state.bodies[0], state.solution.poses[0]
    camera = state.solution.camera
    corners = camera.project(pose.place(body.outline_mm), body.height_mm)
    size = math.sqrt(abs(cv2.contourArea(corners.astype(np.float32))))
    stray = float(np.max(np.hypot(*(corners - seed.points_px).T)))
    if not stray <= STRAY_PX + STRAY_SHARE * size:
        return Doubt("edges", "its edges are not seen as one outline")
    if sum(1 for e in state.edges if e.body == 0) < len(body.edges) or state.least_seen < LEAST_SEEN:
        return Doubt("edges", "not all its edges are seen clearly")
    aspect = aspect_doubt(lens, state)
    if aspect is not None:
        return aspect
    height = float(camera.position_mm()[2])
    if not HELD_MM[0] <= height <= HELD_MM[1]:
        return Doubt("height", f"the camera would have been {height / 1000.0:.1f} m above it")
    radius = corner_radius_mm(light, camera, body, pose)
    if body.kind == "card":
        if radius is None:
            return Doubt("corners", "its corners are not seen clearly enough to tell")
        if not CARD_RADIUS_MM[0] <= radius <= CARD_RADIUS_MM[1]:
            how = "sharp" if radius < CARD_RADIUS_MM[0] else "rounder than a card's"
            return Doubt("corners", f"its corners are {how}")
    elif radius is not None and radius > SHARP_MM:
        return Doubt("corners", "its corners are round")
    return None


def aspect_doubt(lens: LensPrior, state: State) -> Doubt | None:
    """Whether the shape, left free, is the standard's as far as the picture can tell."""
    body = state.bodies[0]
    off, sigma = free_aspect(lens, state.bodies, state.edges, state.solution)
    if not sigma <= (TELLS_CARD if body.kind == "card" else TELLS_PAPER):
        clear = state.solution.chi2 < CLEAR_CHI2
        return Doubt(
            "unsure shape" if clear else "edges", "the picture does not show its shape exactly enough"
        )
    if abs(off) > ASPECT_SIGMAS * math.hypot(sigma, aspect_tolerance(body)):
        return Doubt("shape", f"its sides are {200.0 * abs(off):.1f} % off that shape")
    return None


def _marked(marks_px: Array, corners_px: Array) -> bool:
    """Whether printed markers lie on a thing or close around it."""
    size = np.ptp(corners_px, axis=0)
    low, high = corners_px.min(axis=0) - AROUND_SHARE * size, corners_px.max(axis=0) + AROUND_SHARE * size
    return int(np.sum(((marks_px > low) & (marks_px < high)).all(axis=1))) >= FEW_MARKERS


def _one_of_many(corners_px: Array, quads: Sequence[Quad]) -> bool:
    """Whether things of the same size lie around: marks, tiles, boards, columns of print."""
    middle = corners_px.mean(axis=0)
    area = abs(cv2.contourArea(corners_px.astype(np.float32)))
    size = math.sqrt(area)
    places = [middle]
    for quad in quads:
        at = quad.corners_px.mean(axis=0)
        far = min(float(np.hypot(*(at - p))) for p in places)
        near = float(np.hypot(*(at - middle)))
        alike = abs(math.sqrt(quad.area_px) / size - 1.0) < ALIKE_SHARE
        if alike and far > 0.8 * size and near < ALIKE_REACH * size:
            places.append(at)
    return len(places) >= ALIKE_COUNT
