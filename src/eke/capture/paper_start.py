"""Where the camera stands, from the paper's own quadrangle: a start where the reference is too small to tell the tilt.

A bank card of 85 mm seen obliquely fits two tilts nearly as well, and a solution that begins with the wrong one stays
there. The paper is ten times as large: of all rectangles in its plane one has corners where the picture shows them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.camera import Camera, rotation_matrix
from eke.capture.evidence import Body, BodyPose, paper_body
from eke.capture.measure import camera_from_points, pose_from_plane
from eke.capture.quads import Quad
from eke.capture.seeds import Seed

__all__ = ["camera_by_paper", "rectangle_by_any_lens", "rectangle_seen"]

Array = NDArray[np.float64]
Seen = tuple[float, Body, Camera]  # error in px
ASPECTS = np.geomspace(0.55, 1.8, 60)  # of the rectangle's sides, beside what they seem in the picture
NO_VIEW_PX = 1e6  # no camera sees it so
FAR_BETTER = 0.5  # share of the error: a lens that nobody has is not taken for less
OTHER_LENS = 0.3  # of the logarithm of a focal length: usual ones lie that far apart
FINER = 16  # steps between two of them: to a thousandth of a per cent


def rectangle_seen(size_px: tuple[int, int], focal_px: float, quad: Quad, height_mm: float) -> Seen | None:
    """(error px, body, camera) of the rectangle of a given height whose corners come closest to a quadrangle's."""
    side = np.hypot(*(np.roll(quad.corners_px, -1, axis=0) - quad.corners_px).T)

    def seen(log_aspect: float) -> Seen | None:
        body = paper_body(height_mm * math.exp(log_aspect), height_mm)
        got = camera_from_points(size_px, focal_px, body.outline_mm, quad.corners_px)
        return None if got is None else (got[1], body, got[0])

    tried = np.log(ASPECTS * (side[0] + side[2]) / (side[1] + side[3]))
    # neighbours are two per cent apart, which is tens of pixels along a paper that fills the picture
    return _closest(seen, tried.tolist(), float(tried[1] - tried[0]))[1]


def rectangle_by_any_lens(
    size_px: tuple[int, int], focals_px: Sequence[float], quad: Quad, height_mm: float
) -> Seen | None:
    """:func:`rectangle_seen` with the best of some lenses; of several, with any lens near the best that fits far better.

    Seen straight from above, or tilted about one of its sides, a rectangle fits nearly any lens.
    """

    def seen(log_focal: float) -> Seen | None:
        return rectangle_seen(size_px, math.exp(log_focal), quad, height_mm)

    tried = [math.log(each) for each in focals_px]
    usual, finer = _closest(seen, tried, OTHER_LENS if len(tried) > 1 else 0.0)
    return finer if finer is not None and usual is not None and finer[0] < FAR_BETTER * usual[0] else usual


def _closest(
    seen: Callable[[float], Seen | None], tried: Sequence[float], reach: float
) -> tuple[Seen | None, Seen | None]:
    """What has the least error of all that were tried, and of all within ``reach`` of it."""
    found: list[Seen] = []

    def error_px(at: float) -> float:
        got = seen(at)
        if got is None:
            return NO_VIEW_PX
        found.append(got)
        return got[0]

    best = tried[int(np.argmin([error_px(each) for each in tried]))]
    first = min(found, key=lambda s: s[0], default=None)
    if first is not None and reach:
        from scipy.optimize import minimize_scalar  # takes a quarter of a second to load, and is seldom asked

        minimize_scalar(
            error_px, bounds=(best - reach, best + reach), method="bounded", options={"maxiter": FINER}
        )
    return first, min(found, key=lambda s: s[0], default=None)


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
