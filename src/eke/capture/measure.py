"""Along a body's edges, as a first guess of the camera draws them, the edges as the picture shows them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.camera import Camera, rotation_matrix
from eke.capture.evidence import Body, BodyEdge, BodyPose, EdgeEvidence
from eke.capture.follow import EdgeSamples, follow_edge
from eke.capture.light import Light

__all__ = [
    "camera_from_points",
    "cameras_from_points",
    "edge_path",
    "measure_body",
    "measure_quad",
    "pose_from_plane",
]

Array = NDArray[np.float64]

SHORT_EDGE_SAMPLES = 12  # sides of markers
LONG_EDGE_SPACING_PX = 10.0
LONG_EDGE_SAMPLES = (24, 140)
# a sample is the mean over so many pixels: of something as small as a card none is left out
CARD_SPACING_PX = 5.0
PLATEAU_PX = 5.0
CELL_SHARE = 0.42  # of a marker's cell: beyond that the profile meets the next cell
BORDER_PX = 3.0  # places this close to the picture's border are not looked at
TRIM_SHARE = 0.02  # the ends of a side that was only roughly found
REACH_SHARE, LEAST_REACH_PX = (
    0.08,
    7.0,
)  # of a thing's shorter side: further in, a card has stripes like edges
MIN_SUPPORT = 0.35  # an edge seen along less of its length is not trusted
# samples of an edge that is seen scatter by 0.02 to 0.5 px; more, and they are of several things
MOST_SCATTER_PX = 1.0


def cameras_from_points(
    size_px: tuple[int, int], focal_px: float, points_mm: Array, points_px: Array, height_mm: float = 0.0
) -> list[tuple[Camera, float]]:
    """(camera without distortion, RMS error in px) of each that sees plane points at pixels, from above: up to two, for a
    small thing tilted towards the viewer looks much like one tilted away. The one with less error first.

    The points' own frame (x right, y up) becomes the plane's.
    """
    world = np.column_stack([points_mm[:, 0], -points_mm[:, 1], np.zeros(len(points_mm))])
    centre = ((size_px[0] - 1) / 2.0, (size_px[1] - 1) / 2.0)
    k = np.array([[focal_px, 0, centre[0]], [0, focal_px, centre[1]], [0, 0, 1.0]])
    try:
        _, turns, moves, _ = cv2.solvePnPGeneric(
            world, np.ascontiguousarray(points_px, dtype=np.float64), k, None, flags=cv2.SOLVEPNP_IPPE
        )
    except cv2.error:
        return []
    out: list[tuple[Camera, float]] = []
    for turn, move in zip(turns, moves, strict=True):
        camera = Camera(size_px, focal_px, centre, 0.0, 0.0, turn.ravel().copy(), move.ravel().copy())
        if not camera.position_mm()[2] > 0.0:
            continue
        error = camera.project(points_mm) - points_px
        rms = float(np.sqrt(np.mean(np.sum(error**2, axis=1))))
        if math.isfinite(rms):
            # the points lie above the plane: the plane's origin is further along its downward normal
            down = rotation_matrix(camera.rotation_rad)[:, 2]
            out.append((replace(camera, translation_mm=camera.translation_mm + down * height_mm), rms))
    return sorted(out, key=lambda c: c[1])


def camera_from_points(
    size_px: tuple[int, int], focal_px: float, points_mm: Array, points_px: Array, height_mm: float = 0.0
) -> tuple[Camera, float] | None:
    """The first of :func:`cameras_from_points`, or None when no such camera exists."""
    found = cameras_from_points(size_px, focal_px, points_mm, points_px, height_mm)
    return found[0] if found else None


def pose_from_plane(points_mm: Array, seen_mm: Array) -> tuple[BodyPose, float]:
    """(pose without scale, scale) that carries body points onto plane points best; never mirrored."""
    a, b = points_mm.mean(axis=0), seen_mm.mean(axis=0)
    p, q = points_mm - a, seen_mm - b
    cross = float(np.sum(p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]))
    dot = float(np.sum(p * q))
    turn = math.atan2(cross, dot)
    scale = math.hypot(cross, dot) / max(float(np.sum(p * p)), 1e-12)
    c, s = math.cos(turn), math.sin(turn)
    middle = b - np.array([c * a[0] - s * a[1], s * a[0] + c * a[1]])
    return BodyPose((float(middle[0]), float(middle[1])), turn, 1.0), scale


def edge_path(
    camera: Camera, body: Body, pose: BodyPose, edge: BodyEdge, extras: dict[str, float] | None = None
) -> tuple[Array, Array, float]:
    """(path (m, 2) px, outward normals (m, 2), px per mm) of an edge as the camera draws it."""
    start, end = np.asarray(edge.start_mm), np.asarray(edge.end_mm)
    if extras:
        move = sum(by * extras[e.name] for by, e in zip(edge.offset_by, body.extras, strict=True))
        start, end = start + edge.normal * move, end + edge.normal * move
    length = float(np.hypot(*(end - start)))
    trim = min(edge.trim_mm, 0.3 * length)
    ends = camera.project(pose.place(np.array([start, end])), body.height_mm)
    long_px = float(np.hypot(*(ends[1] - ends[0])))
    if body.kind == "sheet":
        count = SHORT_EDGE_SAMPLES
    else:
        spacing = CARD_SPACING_PX if body.kind == "card" else LONG_EDGE_SPACING_PX
        count = int(np.clip(long_px / spacing, *LONG_EDGE_SAMPLES)) if math.isfinite(long_px) else 24
    t = np.linspace(trim / length, 1.0 - trim / length, count)[:, None]
    at = start + t * (end - start)
    step = 0.5
    path = camera.project(pose.place(at), body.height_mm)
    beyond = camera.project(pose.place(at + edge.normal * step), body.height_mm)
    ahead = camera.project(pose.place(at + edge.direction * step), body.height_mm)
    tangent = ahead - path
    # the normal in the picture stands on the drawn edge; "outward" only says to which side
    normal = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    normal *= np.sign(np.sum(normal * (beyond - path), axis=1))[:, None]
    size = np.maximum(np.hypot(normal[:, 0], normal[:, 1]), 1e-12)
    normal = normal / size[:, None]
    per_mm = float(np.nanmedian(np.sum(normal * (beyond - path), axis=1))) / (step * pose.scale)
    return path, normal, per_mm


def measure_quad(
    light: Light, quad_px: Array, body: Body, number: int, *, reach_px: float
) -> list[EdgeEvidence]:
    """Evidence along the sides of a quadrangle (4, 2) of the picture that is a body's outline: what is seen there does not
    depend on a camera."""
    outline = body.outline_mm
    evidence = []
    for k, edge in enumerate(body.edges):
        side = int(np.argmin(np.hypot(*(outline - edge.start_mm).T)))
        a, b = quad_px[side], quad_px[(side + 1) % 4]
        length = float(np.hypot(*(b - a)))
        trim = min(0.3, TRIM_SHARE + edge.trim_mm / float(np.hypot(*np.subtract(edge.end_mm, edge.start_mm))))
        t = np.linspace(trim, 1.0 - trim, int(np.clip(length / LONG_EDGE_SPACING_PX, *LONG_EDGE_SAMPLES)))
        d = (b - a) / max(length, 1e-9)
        path = a + t[:, None] * (b - a)
        # anticlockwise as seen, rows down: the outside is to this side
        normals = np.repeat(np.array([[-d[1], d[0]]]), len(path), axis=0)
        got = follow_edge(
            light, path, normals, reach_px=reach_px, polarity=edge.polarity, plateau_px=PLATEAU_PX
        )
        if got.support >= MIN_SUPPORT:
            evidence.append(EdgeEvidence(number, k, got.points_px, got.normals_px, got.step, got.seen))
    return evidence


def _scatter_px(got: EdgeSamples, path_px: Array) -> float:
    """How far the samples of an edge scatter about a smooth curve, robust, in px."""
    off = np.sum((got.points_px - path_px[got.kept]) * got.normals_px, axis=1)
    along = np.linspace(-1.0, 1.0, len(off))
    rest = off - np.polyval(np.polyfit(along, off, 2), along)
    return 1.4826 * float(np.median(np.abs(rest)))


def measure_body(
    light: Light,
    camera: Camera,
    body: Body,
    pose: BodyPose,
    number: int,
    *,
    reach_px: float,
    extras: dict[str, float] | None = None,
    hidden_mm: Sequence[Array] = (),
) -> tuple[list[EdgeEvidence], list[EdgeSamples]]:
    """Evidence along all edges of a body, and the samples (for judging how well it was seen).

    ``hidden_mm`` are convex polygons of the plane that cover others: an edge is not looked for under them.
    """
    evidence, samples = [], []
    height, width = light.shape
    outline = body.outline_mm
    for k, edge in enumerate(body.edges):
        path, normal, per_mm = edge_path(camera, body, pose, edge, extras)
        plateau, reach = PLATEAU_PX, reach_px
        if body.kind == "sheet":
            cell_px = 2.0 * edge.trim_mm * per_mm
            plateau = min(PLATEAU_PX, CELL_SHARE * cell_px)
            reach = min(reach, plateau)
        elif body.kind != "paper":
            narrow_px = per_mm * float(np.ptp(outline, axis=0).min())
            reach = min(reach, max(LEAST_REACH_PX, REACH_SHARE * narrow_px))
        if plateau < 2.0:
            continue
        inside = (
            np.isfinite(path).all(axis=1)
            & (path[:, 0] > BORDER_PX)
            & (path[:, 0] < width - 1 - BORDER_PX)
            & (path[:, 1] > BORDER_PX)
            & (path[:, 1] < height - 1 - BORDER_PX)
        )
        for polygon in hidden_mm:
            there = camera.project(polygon).astype(np.float32)
            if np.isfinite(there).all():
                inside &= np.array(
                    [cv2.pointPolygonTest(there, (float(p[0]), float(p[1])), True) < -12.0 for p in path]
                )
        if inside.sum() < 6:
            continue
        got = follow_edge(
            light, path[inside], normal[inside], reach_px=reach, polarity=edge.polarity, plateau_px=plateau,
            in_colour=body.kind == "card",
        )  # fmt: skip
        share = got.kept.sum() / len(path)
        samples.append(got)
        if share < MIN_SUPPORT or (body.kind == "card" and _scatter_px(got, path[inside]) > MOST_SCATTER_PX):
            continue
        evidence.append(EdgeEvidence(number, k, got.points_px, got.normals_px, got.step, got.seen))
    return evidence, samples
