"""Where the camera stands, from the paper's own quadrangle: a start where the reference is too small to tell the tilt.

A bank card of 85 mm seen obliquely fits two tilts nearly as well, and a solution that begins with the wrong one stays
there. The paper is ten times as large: of all rectangles in its plane one has corners where the picture shows them.
"""

from __future__ import annotations

import math
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.camera import Camera, rotation_matrix
from eke.capture.evidence import Body, paper_body
from eke.capture.measure import camera_from_points, pose_from_plane
from eke.capture.quads import Quad
from eke.capture.seeds import Seed
from eke.capture.solve import BodyPose

__all__ = ["camera_by_paper", "rectangle_seen"]

Array = NDArray[np.float64]
ASPECTS = np.geomspace(0.55, 1.8, 60)  # of the rectangle's sides, beside what they seem in the picture


def rectangle_seen(
    size_px: tuple[int, int], focal_px: float, quad: Quad, height_mm: float
) -> tuple[float, Body, Camera] | None:
    """(error px, body, camera) of the rectangle of a given height whose corners come closest to a quadrangle's."""
    side = np.hypot(*(np.roll(quad.corners_px, -1, axis=0) - quad.corners_px).T)
    best: tuple[float, Body, Camera] | None = None
    for aspect in ASPECTS * (side[0] + side[2]) / (side[1] + side[3]):
        body = paper_body(height_mm * float(aspect), height_mm)
        got = camera_from_points(size_px, focal_px, body.outline_mm, quad.corners_px)
        if got is not None and (best is None or got[1] < best[0]):
            best = (got[1], body, got[0])
    return best


def camera_by_paper(
    size_px: tuple[int, int], focal_px: float, quad: Quad, reference: Seed
) -> tuple[Camera, Body, BodyPose] | None:
    """(camera, paper, its pose) with the one reference at the plane's origin, the tilt by the paper's four corners."""
    seen = rectangle_seen(size_px, focal_px, quad, 500.0)
    if seen is None:
        return None
    _, body, over_paper = seen
    on_plane = over_paper.to_plane(reference.points_px)
    if not np.isfinite(on_plane).all():
        return None
    place, grow = pose_from_plane(reference.points_mm * reference.body.scale, on_plane)
    # `grow` is how much too large the plane was taken
    over_paper = replace(over_paper, translation_mm=over_paper.translation_mm / grow)
    body = paper_body(*(float(s) / grow for s in np.ptp(body.outline_mm, axis=0)))
    # the plane moved and turned so that the reference lies at its origin; the world's y runs down (see Camera)
    c, s = math.cos(place.turn_rad), math.sin(place.turn_rad)
    turn = rotation_matrix(over_paper.rotation_rad)
    back = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    mx, my = (v / grow for v in place.middle_mm)
    vector, _ = cv2.Rodrigues(turn @ back)
    moved = over_paper.translation_mm + turn @ np.array([mx, -my, 0.0])
    over_reference = replace(over_paper, rotation_rad=np.asarray(vector).ravel(), translation_mm=moved)
    pose, _ = pose_from_plane(body.outline_mm, over_reference.to_plane(quad.corners_px))
    return over_reference, body, pose
