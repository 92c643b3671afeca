"""Making the rectified picture: how fine, how much of the plane, and the drawing itself."""

from __future__ import annotations

import math
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.camera import Camera
from eke.capture.photo import Photo
from eke.capture.rectify import Rectified
from eke.capture.survey import Survey
from eke.errors import NotTrustworthy, Stopped

__all__ = ["pixel_maps", "rectify"]

Array = NDArray[np.float64]

MOST_PIXELS = 20_000_000  # with maps and copies well under a gigabyte
FINEST_MM, COARSEST_MM = 0.04, 1.0  # per pixel
COARSE_SHARE = 0.4  # where the picture shows less than this share of its usual pixels per mm it is left out
GRID = (25, 19)  # places of the picture that are asked what they see
CELL = 16  # the map is exact at every 16th pixel and straight between: off by less than 0.01 px
STRIP = 512  # rows drawn at a time
THREADS = 2  # strips side by side: OpenCV leaves the interpreter free


def _region(survey: Survey) -> tuple[Array, float]:
    """((min x, min y, max x, max y) of the plane worth drawing, pixels of the photograph per mm)."""
    camera = survey.camera
    width, height = camera.size_px
    u, v = np.meshgrid(np.linspace(0, width - 1, GRID[0]), np.linspace(0, height - 1, GRID[1]))
    px = np.column_stack([u.ravel(), v.ravel()])
    plane = camera.to_plane(px)
    side = camera.to_plane(px + np.array([1.0, 0.0])) - plane
    down = camera.to_plane(px + np.array([0.0, 1.0])) - plane
    area = np.abs(side[:, 0] * down[:, 1] - side[:, 1] * down[:, 0])
    good = np.isfinite(plane).all(axis=1) & np.isfinite(area) & (area > 0.0)
    if good.sum() < 8:
        raise NotTrustworthy(
            "The picture hardly shows the plane of the paper. Hold the camera above the paper and take it again.",
            reason="tilt",
        )
    density = np.zeros(len(px))
    density[good] = 1.0 / np.sqrt(area[good])
    wanted = [survey.polygon(i) for i in range(len(survey.bodies))]
    usual = float(np.median(density[good]))
    keep = good & (density >= COARSE_SHARE * usual)
    points = [plane[keep]]
    if survey.paper is not None:
        points.append(wanted[survey.paper])
    every = np.concatenate(points)
    low, high = every.min(axis=0), every.max(axis=0)
    return np.r_[low, high], float(np.percentile(density[keep], 70.0))


def pixel_maps(
    camera: Camera, origin: Array, mm_per_px: float, columns: int, top: int, rows: int
) -> tuple[Array, Array]:
    """Where in the photograph each pixel of a strip lies, float32 maps for remap."""
    # cv2.resize draws the pixel x of a copy CELL times as large from (x + 0.5) / CELL - 0.5: nodes stand there, one more
    # on each side so that no pixel lies beyond the outermost
    half = (CELL - 1) / 2.0
    nodes_x = np.arange(-CELL, columns + 2 * CELL, CELL) + half
    nodes_y = top + np.arange(-CELL, rows + 2 * CELL, CELL) + half
    gx, gy = np.meshgrid(nodes_x, nodes_y)
    plane = np.column_stack([origin[0] + mm_per_px * gx.ravel(), origin[1] - mm_per_px * gy.ravel()])
    px = np.nan_to_num(camera.project(plane), nan=-1e6, posinf=-1e6, neginf=-1e6)
    node = np.clip(px, -1e6, 1e6).reshape(len(nodes_y), len(nodes_x), 2).astype(np.float32)
    size = (CELL * len(nodes_x), CELL * len(nodes_y))
    x, y = (
        cv2.resize(np.ascontiguousarray(node[..., k]), size, interpolation=cv2.INTER_LINEAR)[
            CELL : CELL + rows, CELL : CELL + columns
        ]
        for k in range(2)
    )
    return np.ascontiguousarray(x), np.ascontiguousarray(y)


def rectify(photo: Photo, survey: Survey, *, stop: Callable[[], bool] | None = None) -> Rectified:
    """The photograph as seen from straight above, at a scale that keeps what the photograph resolves."""
    box, density = _region(survey)
    span = box[2:] - box[:2]
    mm_per_px = float(np.clip(1.0 / density, FINEST_MM, COARSEST_MM))
    while span[0] * span[1] / mm_per_px**2 > MOST_PIXELS:
        mm_per_px *= 1.05
    columns, rows = (max(2, math.ceil(s / mm_per_px)) for s in span)
    origin = np.array([box[0] + mm_per_px / 2.0, box[3] - mm_per_px / 2.0])
    image = np.zeros((rows, columns, 3), np.uint8)
    seen = np.zeros((rows, columns), np.bool_)
    camera = survey.camera
    width, height = camera.size_px

    def draw(top: int) -> None:
        if stop is not None and stop():
            raise Stopped("Stopped while the picture was being straightened; nothing was kept.")
        count = min(STRIP, rows - top)
        map_x, map_y = pixel_maps(camera, origin, mm_per_px, columns, top, count)
        drawn = cv2.remap(photo.pixels_rgb, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
        inside = cv2.inRange(map_x, 0.0, width - 1.0) & cv2.inRange(map_y, 0.0, height - 1.0)
        # masked: the last row of the photograph would fade into nothing otherwise
        image[top : top + count] = cv2.copyTo(drawn, inside)
        seen[top : top + count] = inside != 0

    with ThreadPoolExecutor(THREADS) as crew:
        for _ in crew.map(draw, range(0, rows, STRIP)):
            pass
    references = tuple(survey.polygon(i) for i, b in enumerate(survey.bodies) if b.kind != "paper")
    paper = None if survey.paper is None else survey.polygon(survey.paper)
    corners = (
        paper
        if paper is not None
        else np.array([[box[0], box[1]], [box[2], box[1]], box[2:], [box[0], box[3]]])
    )
    return Rectified(
        image_rgb=image,
        mm_per_px=mm_per_px,
        origin_mm=(float(origin[0]), float(origin[1])),
        camera=camera,
        uncertainty_percent=survey.length_percent(corners),
        uncertainty_mm=survey.local_mm,
        reference_polygons_mm=references,
        paper_polygon_mm=paper,
        likely_paper_mm=None if survey.likely_paper_px is None else camera.to_plane(survey.likely_paper_px),
        seen=seen,
    )
