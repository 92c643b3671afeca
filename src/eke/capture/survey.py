"""From a photograph and what the maker says lies in it to the camera over the plane.

The order of things: see the references roughly; a first camera from the best of them; place the others and
the paper; measure all edges along the paths that the camera draws; solve; measure again closer; solve; then
the gates that decide whether the answer can be promised.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.camera import Camera, rotation_matrix
from eke.capture.certainty import Certainty
from eke.capture.evidence import (
    Body,
    DistanceEvidence,
    EdgeEvidence,
    PointEvidence,
    paper_body,
    rectangle_body,
    sheet_body,
)
from eke.capture.light import Light, linear_luminance
from eke.capture.markers import SeenSheet, find_own_sheets, find_sheet, looks_mirrored
from eke.capture.measure import camera_from_points, measure_body, pose_from_plane
from eke.capture.photo import Photo
from eke.capture.quads import Quad, find_quads, plainness, quad_from_corners
from eke.capture.references import Reference
from eke.capture.solve import BodyPose, LensPrior, Solution, solve
from eke.errors import BadInput, NotTrustworthy, Stopped

__all__ = ["Survey", "survey"]

Array = NDArray[np.float64]
Stop = Callable[[], bool]

FOCAL_GUESSES_DIAGONALS = (0.6, 0.47, 0.36, 0.8)  # 26, 20, 15 and 35 mm equivalents
ROUGH_CORNER_PX = 6.0  # corners of quadrangles in the small copy, a lens not yet known
MARKER_CORNER_PX = 0.5
SMALL_MARKER_CORNER_PX = 0.3
SMALL_MARKER_CENTRE_PX = 0.15
LEAST_CENTRES = 4
LEAST_MARKER_EDGES = 8  # two markers
FIT_SHARE = 0.035  # of a quadrangle's diagonal: how far its corners may lie from the drawn rectangle's
FIRST_REACH_PX = 22.0
NEXT_REACH_PX = 7.0
LEAST_SUPPORT = 0.5
TOUCH_SIGMA_PX = 1.5
TICK_SIGMA_MM = 0.25  # a scale's tick against its nominal place

GUESS_FIT = 0.012
GUESS_SUPPORT = 0.8
MOST_GUESSES = 6
BLANK_LIGHTNESS, BLANK_CHROMA, BLANK_ROUGHNESS = (
    50.0,
    16.0,
    4.0,
)  # of Lab; white paper in dim warm light passes
USUAL_HEIGHT_MM, USUAL_HEIGHT_SIGMA = 800.0, 0.5  # a phone in a standing person's hands, and a factor of 1.6
CARD_SURPRISE = 6.0  # boards and boxes with a card's shape are common, sheets of white paper are not
CLEAR_LEAD = 9.0  # of misfit: three standard deviations
RIVAL_CHI2 = 2.0

MAX_TILT_DEG = 50.0
MAX_FOCAL_PULL = 4.5  # standard deviations of the EXIF value
MAX_CHI2 = 40.0
WARN_CHI2 = 9.0
SCALE_DISAGREEMENT = 0.04
PAPER_SQUARE_DEG = 3.0
PAPER_SHARE = 0.05  # of the picture: less is not the paper that somebody photographs
PAPER_TILT_SIGMAS = 6.0


@dataclass(frozen=True, slots=True, eq=False)
class Seed:
    """A body that was seen roughly: where some of its points lie in the picture."""

    body: Body
    points_mm: Array
    points_px: Array
    sigma_px: float


@dataclass(frozen=True, slots=True, eq=False)
class Survey:
    """The camera over the plane, with everything that was learnt on the way.

    The plane's frame: the picture's upward direction is +y. ``bodies`` and ``poses`` hold references first;
    ``paper`` is the index of the paper's body or None. ``reference`` names what gave the scale.
    """

    camera: Camera
    bodies: tuple[Body, ...]
    poses: tuple[BodyPose, ...]
    paper: int | None
    reference: str
    certainty: Certainty
    solution: Solution
    turn_rad: float
    warnings: tuple[str, ...]

    def local_mm(self, points_mm: Array) -> Array:
        """:meth:`Certainty.local_mm` for points in this survey's frame."""
        return self.certainty.local_mm(_turned(points_mm, -self.turn_rad))

    def length_percent(self, points_mm: Array) -> float:
        """:meth:`Certainty.length_percent` for points in this survey's frame."""
        return self.certainty.length_percent(_turned(points_mm, -self.turn_rad))

    def polygon(self, index: int) -> Array:
        """What body ``index`` covers, (n, 2) in the plane, anticlockwise."""
        body = self.bodies[index]
        outline = body.outline_mm
        if body.kind == "paper":
            extras = self.solution.extras[index]
            grow = np.array([extras["width"], extras["height"]]) / 2.0
            outline = outline + np.sign(outline) * grow
        return self.poses[index].place(outline)


def _turned(points_mm: Array, angle_rad: float) -> Array:
    c, s = math.cos(angle_rad), math.sin(angle_rad)
    return np.asarray(np.asarray(points_mm, dtype=np.float64).reshape(-1, 2) @ np.array([[c, s], [-s, c]]))


# ---- seeing the references roughly ---------------------------------------------------------------------


def _sheet_seed(seen: SeenSheet, check_line_mm: float | None) -> Seed:
    middle = np.array(seen.geometry.sheet_mm) / 2.0
    corners = [np.asarray(seen.geometry.markers[k].corners_mm) for k in seen.index]
    points = (np.concatenate(corners) - middle) * [1.0, -1.0]
    return Seed(
        sheet_body(seen.geometry, check_line_mm), points, seen.corners_px.reshape(-1, 2), MARKER_CORNER_PX
    )


def _focals(photo: Photo) -> tuple[float, ...]:
    if photo.focal_px_prior:
        return (photo.focal_px_prior,)
    diagonal = math.hypot(photo.width_px, photo.height_px)
    return tuple(share * diagonal for share in FOCAL_GUESSES_DIAGONALS)


def _as_rectangle(photo: Photo, body: Body, quad: Quad) -> tuple[float, Seed] | None:
    """(misfit as a share of the diagonal, seed) of a quadrangle taken for a body, either way round."""
    size = (photo.width_px, photo.height_px)
    diagonal = float(np.hypot(*np.ptp(quad.corners_px, axis=0)))
    best: tuple[float, Seed] | None = None
    for turn in (0, 1):
        corners = np.roll(quad.corners_px, turn, axis=0)
        for focal in _focals(photo):
            got = camera_from_points(size, focal, body.outline_mm, corners)
            if got is None or got[0].tilt_deg > MAX_TILT_DEG + 10.0:
                continue
            misfit = got[1] / diagonal
            if best is None or misfit < best[0]:
                best = (misfit, Seed(body, body.outline_mm, corners, ROUGH_CORNER_PX))
    return best


def _rectangle_seeds(photo: Photo, body: Body, quads: Sequence[Quad]) -> list[tuple[float, Seed]]:
    """Quadrangles that may be the body, most likely first."""
    found = []
    for quad in quads:
        if not quad.whole:
            continue
        fit = _as_rectangle(photo, body, quad)
        if fit is not None and fit[0] < FIT_SHARE:
            score = fit[0] / 0.003 + 10.0 * (1.0 - quad.support)
            if body.kind in ("a4", "letter"):
                # a larger sheet of the same shape may carry the tracing: the blank one is the reference
                lightness, chroma, rough = plainness(photo.pixels_rgb, quad)
                score += 2.0 * (rough > BLANK_ROUGHNESS) + 1.0 * (
                    lightness < BLANK_LIGHTNESS or chroma > BLANK_CHROMA
                )
            found.append((score, quad, fit[1]))
    found.sort(key=lambda f: f[0])
    return [(score, seed) for score, _, seed in found]


# ---- solving -------------------------------------------------------------------------------------------


def _first_camera(photo: Photo, seed: Seed) -> Camera | None:
    size = (photo.width_px, photo.height_px)
    best: tuple[float, Camera] | None = None
    for k, focal in enumerate(_focals(photo)):
        got = camera_from_points(
            size, focal, seed.points_mm * seed.body.scale, seed.points_px, seed.body.height_mm
        )
        if got is None:
            continue
        error = got[1] * (1.0 + 0.05 * k)
        if best is None or error < best[0]:
            best = (error, got[0])
    return best[1] if best else None


@dataclass(frozen=True, slots=True, eq=False)
class _State:
    bodies: tuple[Body, ...]
    solution: Solution
    edges: tuple[EdgeEvidence, ...]
    seeds: tuple[Seed, ...] = ()


def _place(camera: Camera, seed: Seed) -> tuple[BodyPose, float] | None:
    seen = camera.to_plane(seed.points_px, seed.body.height_mm)
    if not np.isfinite(seen).all():
        return None
    pose, scale = pose_from_plane(seed.points_mm * seed.body.scale, seen)
    return replace(pose, scale=seed.body.scale), scale


def _polygons(bodies: Sequence[Body], poses: Sequence[BodyPose]) -> list[Array]:
    return [p.place(b.outline_mm) for b, p in zip(bodies, poses, strict=True) if b.kind != "paper"]


def _centres(number: int, seed: Seed) -> PointEvidence:
    """Middles of a sheet's markers, where the diagonals cross: blur moves corners inwards but not these."""
    if len(seed.points_mm) < 4 * LEAST_CENTRES:
        return PointEvidence(number, seed.points_mm, seed.points_px, SMALL_MARKER_CORNER_PX)
    model = seed.points_mm.reshape(-1, 4, 2).mean(axis=1)
    a, b, c, d = (seed.points_px.reshape(-1, 4, 2)[:, k] for k in range(4))
    ac, bd, ab = c - a, d - b, b - a
    cross = ac[:, 0] * bd[:, 1] - ac[:, 1] * bd[:, 0]
    t = (ab[:, 0] * bd[:, 1] - ab[:, 1] * bd[:, 0]) / cross
    return PointEvidence(number, model, a + t[:, None] * ac, SMALL_MARKER_CENTRE_PX)


def _rounds(
    light: Light,
    lens: LensPrior,
    bodies: Sequence[Body],
    camera: Camera,
    poses: Sequence[BodyPose],
    distances: Sequence[DistanceEvidence],
    reaches: Sequence[float],
    extras: Sequence[dict[str, float] | None],
    seeds: Sequence[Seed] = (),
) -> _State | None:
    size = camera.size_px
    state: _State | None = None
    for reach in reaches:
        edges: list[EdgeEvidence] = []
        hidden = _polygons(bodies, poses)
        for i, body in enumerate(bodies):
            cover = hidden if body.kind == "paper" else ()
            got, _ = measure_body(
                light, camera, body, poses[i], i, reach_px=reach, extras=extras[i], hidden_mm=cover
            )
            edges += got
        points = []
        for i, seed in enumerate(seeds):
            # markers too small for their sides to be measured still have corners
            few = sum(1 for e in edges if e.body == i) < LEAST_MARKER_EDGES
            if seed.body.kind == "sheet" and few:
                edges = [e for e in edges if e.body != i]
                points.append(_centres(i, seed))
        if not edges and not points:
            return None
        solution = solve(
            size, lens, bodies, edges, camera=camera, poses=poses, points=points, distances=distances
        )
        camera, poses, extras = solution.camera, solution.poses, solution.extras
        state = _State(tuple(bodies), solution, tuple(edges), tuple(seeds))
    return state


def _start(
    photo: Photo, lens: LensPrior, seeds: Sequence[Seed], distances: Sequence[DistanceEvidence]
) -> tuple[list[Body], Camera, list[BodyPose], list[dict[str, float] | None], list[str], list[Seed]] | None:
    """First camera from the first seed and places of the others, from corners alone."""
    camera = _first_camera(photo, seeds[0])
    if camera is None:
        return None
    size = (photo.width_px, photo.height_px)
    poses = [BodyPose((0.0, 0.0), 0.0, seeds[0].body.scale)]
    bodies = [seeds[0].body]
    kept = [seeds[0]]
    notes = []
    points = [PointEvidence(0, seeds[0].points_mm, seeds[0].points_px, seeds[0].sigma_px)]
    for seed in seeds[1:]:
        got = _place(camera, seed)
        if got is None:
            notes.append(f"The {seed.body.name} could not be placed and was left out.")
            continue
        pose, scale = got
        if abs(scale - 1.0) > SCALE_DISAGREEMENT + 2.0 * seed.body.scale_sigma:
            raise NotTrustworthy(
                f"Two references disagree: by the {bodies[0].name} the {seed.body.name} would be "
                f"{100.0 * (scale - 1.0):+.0f} % of its size off. Say which one to trust, or lay both flat "
                "beside the paper and take the picture again.",
                references=[bodies[0].name, seed.body.name],
            )
        points.append(PointEvidence(len(bodies), seed.points_mm, seed.points_px, seed.sigma_px))
        bodies.append(seed.body)
        kept.append(seed)
        poses.append(pose)
    solution = solve(
        size, lens, bodies, [], camera=camera, poses=poses, points=points, distances=(), passes=1
    )
    return bodies, solution.camera, list(solution.poses), list(solution.extras), notes, kept


def _well_seen(state: _State, index: int) -> bool:
    """True when enough edges of a body carry the answer."""
    body = state.bodies[index]
    count = sum(1 for e in state.edges if e.body == index)
    return body.kind == "sheet" or count >= 3


# ---- the paper -----------------------------------------------------------------------------------------


def _paper_seed(
    photo: Photo, camera: Camera, quads: Sequence[Quad], covered: Sequence[Array], inside: Sequence[Array]
) -> tuple[Body, BodyPose, Quad] | None:
    """The largest right-angled quadrangle that is no reference: body and pose of the paper."""
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
        if np.any(np.abs(corner_deg[real]) > PAPER_SQUARE_DEG) or np.sum(~cut) < 2:
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
        score = area * quad.support**2
        if best is None or score > best[0]:
            body = paper_body(width, height, sides=[i for i in range(4) if not cut[i]])
            pose, _ = pose_from_plane(body.outline_mm, plane)
            best = (score, body, pose, quad)
    return None if best is None else best[1:]


def _add_paper(
    light: Light,
    lens: LensPrior,
    state: _State,
    paper: tuple[Body, BodyPose],
    distances: Sequence[DistanceEvidence],
) -> tuple[_State | None, str | None]:
    body, pose = paper
    bodies = [*state.bodies, body]
    poses = [*state.solution.poses, pose]
    extras = [*state.solution.extras, None]
    camera = state.solution.camera
    reaches = (FIRST_REACH_PX, NEXT_REACH_PX)
    got = _rounds(light, lens, bodies, camera, poses, distances, reaches, extras, state.seeds)
    if got is None:
        return None, "The paper's edges could not be measured, so they did not help."
    sides = sum(1 for e in got.edges if e.body == len(bodies) - 1)
    if sides < 2:
        return None, "Too little of the paper's edges could be measured, so they did not help."
    own = got.solution.extras[-1]
    worst = max(abs(own[f"tilt {i}"]) for i in range(4))
    limit = PAPER_TILT_SIGMAS * math.radians(0.03)
    if worst > limit or got.solution.chi2 > max(WARN_CHI2, 4.0 * state.solution.chi2):
        return None, (
            f"The paper's edges are not straight and square (an edge is {math.degrees(worst):.2f} degrees off), "
            "so they were not used."
        )
    return got, None


# ---- the whole -----------------------------------------------------------------------------------------


def _seeds(
    photo: Photo,
    grey: NDArray[np.uint8],
    references: Sequence[Reference],
    quads: Callable[[], tuple[Quad, ...]],
) -> tuple[list[list[Seed]], list[str]]:
    """For every stated reference the ways it may lie there, likely first; and notes."""
    options: list[list[Seed]] = []
    notes: list[str] = []
    own = [r for r in references if r.kind == "sheet" and r.geometry is None]
    for ref in references:
        if ref.kind == "sheet":
            if ref.geometry is None and ref is not own[0]:
                continue  # all of Eke's own sheets are taken up together, by their numbers
            if ref.geometry is not None:
                one = find_sheet(grey, ref.geometry)
                seen: tuple[SeenSheet, ...] = (one,) if one else ()
            else:
                seen = find_own_sheets(grey)
            if not seen:
                if looks_mirrored(grey, ref.geometry):
                    raise NotTrustworthy(
                        "This picture is mirrored: the sheet can be read only in a mirror. Use the picture as the "
                        "camera took it.",
                        reason="mirrored",
                    )
                raise NotTrustworthy(
                    "No reference sheet is seen in the picture. Lay the printed sheet flat beside the paper, wholly "
                    "inside the picture and in even light, and take it again.",
                    reason="no reference",
                )
            # several readings belong to the sheets in the order of their numbers; a single one to all of them
            readings = [r.check_line_mm for r in own] if ref.geometry is None else [ref.check_line_mm]
            readings += [readings[-1]] * (len(seen) - len(readings))
            options += [[_sheet_seed(s, reading)] for s, reading in zip(seen, readings, strict=False)]
            if ref.check_line_mm is None:
                notes.append(
                    "The check line of the reference sheet was not measured, so its print may be up to 3 % off. "
                    "Measure the line and give its length."
                )
        elif ref.kind in ("a4", "letter", "card"):
            body = rectangle_body(ref.kind)
            if ref.corners_px is not None:
                fit = _as_rectangle(photo, body, quad_from_corners(np.array(ref.corners_px)))
                if fit is None or fit[0] > 2.0 * FIT_SHARE:
                    raise NotTrustworthy(
                        f"The four corners given for the {body.name} do not have its shape. Put them on its four "
                        "corners, or say what lies there.",
                        reason="corners",
                    )
                options.append([fit[1]])
                continue
            found = _rectangle_seeds(photo, body, quads())
            if not found:
                raise NotTrustworthy(
                    f"No {body.name} is seen in the picture. Lay it flat and whole inside the picture, on a ground "
                    "that differs from it or in light that draws its shadow; or mark its four corners.",
                    reason="no reference",
                )
            options.append([seed for _, seed in found[:4]])
    return options, notes


def survey(
    photo: Photo,
    references: Sequence[Reference],
    *,
    square_paper: bool = False,
    inside_px: Sequence[tuple[float, float]] = (),
    stop: Stop | None = None,
) -> Survey:
    """The camera over the plane of the paper, from what the maker says lies in the picture.

    Raises
    ------
    NotTrustworthy
        No reference is seen, or what is seen does not agree well enough to promise a scale.
    BadInput
        References that cannot be used together.
    """
    grey = cv2.cvtColor(photo.pixels_rgb, cv2.COLOR_RGB2GRAY)
    light = linear_luminance(photo.pixels_rgb)
    lens = LensPrior(photo.focal_px_prior, photo.focal_sigma)
    memory: list[tuple[Quad, ...]] = []

    def quads() -> tuple[Quad, ...]:
        if not memory:
            memory.append(find_quads(photo.pixels_rgb))
        return memory[0]

    def check() -> None:
        if stop is not None and stop():
            raise Stopped("Stopped while measuring the picture; nothing was kept.")

    stated = [r for r in references if r.kind != "auto"]
    distances = [_distance(r, photo) for r in stated if r.kind == "points"]
    if not stated:
        return _auto(
            photo, grey, light, lens, square_paper=square_paper, inside_px=inside_px, stop=stop, quads=quads
        )
    options, notes = _seeds(photo, grey, stated, quads)
    check()
    if not options:
        return _points_only(photo, light, lens, distances, square_paper, inside_px, quads)
    state = _best_start(photo, light, lens, options, distances, notes)
    check()
    _not_the_other(photo, light, lens, state)
    return _finish(photo, light, lens, state, distances, square_paper, inside_px, quads, notes)


def _distance(ref: Reference, photo: Photo) -> DistanceEvidence:
    assert ref.from_px is not None
    assert ref.to_px is not None
    assert ref.distance_mm is not None
    for x, y in (ref.from_px, ref.to_px):
        if not (-1.0 <= x <= photo.width_px and -1.0 <= y <= photo.height_px):
            raise BadInput(
                f"The point {x:g}:{y:g} lies outside the picture, which is {photo.width_px} x {photo.height_px} pixels."
            )
    mm_per_px = ref.distance_mm / math.dist(ref.from_px, ref.to_px)
    sigma = math.hypot(TICK_SIGMA_MM, TOUCH_SIGMA_PX * math.sqrt(2.0) * mm_per_px)
    return DistanceEvidence(ref.from_px, ref.to_px, ref.distance_mm, ref.height_mm, sigma)


def _best_start(
    photo: Photo,
    light: Light,
    lens: LensPrior,
    options: Sequence[Sequence[Seed]],
    distances: Sequence[DistanceEvidence],
    notes: list[str],
) -> _State:
    """Solve with the likeliest way each reference may lie there; try the next where its edges are not seen."""
    ranked = sorted(options, key=lambda o: {"sheet": 0, "a4": 1, "letter": 1, "card": 2}[o[0].body.kind])
    pick = [0] * len(ranked)
    best: tuple[float, _State, list[str]] | None = None
    tries = 0
    while tries < 6:
        tries += 1
        seeds = [o[p] for o, p in zip(ranked, pick, strict=True)]
        started = _start(photo, lens, seeds, distances)
        state = None
        if started is not None:
            bodies, camera, poses, extras, more, kept = started
            reaches = (
                (NEXT_REACH_PX,)
                if all(b.kind == "sheet" for b in bodies)
                else (FIRST_REACH_PX, NEXT_REACH_PX)
            )
            state = _rounds(light, lens, bodies, camera, poses, distances, reaches, extras, kept)
            if state is not None and all(_well_seen(state, i) for i in range(len(bodies))):
                whole = sum(len(b.edges) for b in bodies if b.kind != "sheet")
                missing = whole - sum(1 for e in state.edges if bodies[e.body].kind != "sheet")
                score = state.solution.chi2 + WARN_CHI2 * missing
                if best is None or score < best[0]:
                    best = (score, state, more)
                if score < WARN_CHI2:
                    break
        loose = next((i for i in range(len(ranked)) if pick[i] + 1 < len(ranked[i])), None)
        if loose is None:
            break
        pick[loose] += 1
    if best is None:
        names = ", ".join(o[0].body.name for o in ranked)
        raise NotTrustworthy(
            f"The edges of the reference ({names}) are not seen clearly enough. Lay it flat on a ground that differs "
            "from it, without glare, and take the picture again.",
            reason="reference unclear",
        )
    notes += best[2]
    return best[1]


def _points_only(
    photo: Photo,
    light: Light,
    lens: LensPrior,
    distances: Sequence[DistanceEvidence],
    square_paper: bool,
    inside_px: Sequence[tuple[float, float]],
    quads: Callable[[], tuple[Quad, ...]],
) -> Survey:
    """Two ticks give a length but no tilt: that comes from the paper's square edges."""
    if not square_paper:
        raise NotTrustworthy(
            "Two points alone do not say how the camera was tilted. Say that the paper is cut square, or lay a card "
            "or a sheet of A4 beside it.",
            reason="no tilt",
        )
    size = (photo.width_px, photo.height_px)
    share = PAPER_SHARE * size[0] * size[1]
    ranked = [
        q
        for q in quads()
        if q.whole
        and q.area_px > share
        and q.support > 0.6
        and all(
            cv2.pointPolygonTest(
                q.corners_px.astype(np.float32).reshape(-1, 1, 2), (float(p[0]), float(p[1])), False
            )
            >= 0
            for p in inside_px
        )
    ]
    ranked.sort(key=lambda q: -q.area_px * q.support**2)
    d = distances[0]
    for quad in ranked[:3]:
        side = np.hypot(*(np.roll(quad.corners_px, -1, axis=0) - quad.corners_px).T)
        mm_per_px = d.distance_mm / math.dist(d.from_px, d.to_px)
        best: tuple[float, Body, Camera] | None = None
        for aspect in np.geomspace(0.6, 1.7, 60) * (side[0] + side[2]) / (side[1] + side[3]):
            height = float(side[[1, 3]].mean()) * mm_per_px
            body = paper_body(height * float(aspect), height)
            for focal in _focals(photo):
                got = camera_from_points(size, focal, body.outline_mm, quad.corners_px)
                if got is not None and (best is None or got[1] < best[0]):
                    best = (got[1], body, got[0])
        if best is None:
            continue
        _, body, camera = best
        ends = camera.to_plane(np.array([d.from_px, d.to_px]), d.height_mm)
        grow = d.distance_mm / max(math.dist(ends[0], ends[1]), 1e-9)
        if not math.isfinite(grow):
            continue
        body = paper_body(
            float(np.ptp(body.outline_mm[:, 0])) * grow, float(np.ptp(body.outline_mm[:, 1])) * grow
        )
        camera = replace(camera, translation_mm=camera.translation_mm * grow)
        state = _rounds(
            light, lens, [body], camera, [BodyPose((0.0, 0.0), 0.0, 1.0)], distances,
            (FIRST_REACH_PX, NEXT_REACH_PX), [None],
        )  # fmt: skip
        if state is not None and sum(1 for e in state.edges if e.body == 0) == 4:
            return _finish(photo, light, lens, state, distances, False, inside_px, quads, [])
    raise NotTrustworthy(
        "The four edges of the paper are not all seen, and two points alone do not say how the camera was tilted. "
        "Take the picture again with the whole paper in it, or lay a card or a sheet of A4 beside it.",
        reason="no tilt",
    )


def _guesses(photo: Photo, quads: Sequence[Quad]) -> list[tuple[float, Seed]]:
    """Everything that may be a sheet of A4 or Letter or a card, likely first; the number is its surprise."""
    out: list[tuple[float, Seed]] = []
    for quad in quads:
        if not quad.whole or quad.support < GUESS_SUPPORT:
            continue
        lightness, chroma, rough = plainness(photo.pixels_rgb, quad)
        blank = lightness > BLANK_LIGHTNESS and chroma < BLANK_CHROMA and rough < BLANK_ROUGHNESS
        for kind in ("a4", "letter", "card"):
            if kind != "card" and not blank:
                continue
            fit = _as_rectangle(photo, rectangle_body(kind), quad)
            if fit is None or fit[0] > GUESS_FIT:
                continue
            camera = _first_camera(photo, fit[1])
            if camera is None:
                continue
            height = math.log(max(camera.position_mm()[2], 1.0) / USUAL_HEIGHT_MM) / USUAL_HEIGHT_SIGMA
            surprise = height**2 + 20.0 * (1.0 - quad.support) + (CARD_SURPRISE if kind == "card" else 0.0)
            out.append((surprise + (fit[0] / 0.003) ** 2, fit[1]))
    out.sort(key=lambda g: g[0])
    return out


def _auto(
    photo: Photo,
    grey: NDArray[np.uint8],
    light: Light,
    lens: LensPrior,
    *,
    square_paper: bool,
    inside_px: Sequence[tuple[float, float]],
    stop: Stop | None,
    quads: Callable[[], tuple[Quad, ...]],
) -> Survey:
    """Own sheets; else A4 or Letter, told apart; else a card."""
    if find_own_sheets(grey):
        return survey(photo, [Reference("sheet")], square_paper=square_paper, inside_px=inside_px, stop=stop)
    if looks_mirrored(grey, None):
        raise NotTrustworthy(
            "This picture is mirrored: the sheet can be read only in a mirror. Use the picture as the camera took it.",
            reason="mirrored",
        )
    found: list[tuple[float, _State]] = []
    for surprise, seed in _guesses(photo, quads())[:MOST_GUESSES]:
        state = _solve_one(photo, light, lens, seed)
        if state is None or len(state.edges) < 4:
            continue
        try:
            _gates(lens, state, [])
        except NotTrustworthy:
            continue  # it is something else of about that shape
        found.append((state.solution.misfit + min(surprise, 25.0), state))
        if stop is not None and stop():
            raise Stopped("Stopped while measuring the picture; nothing was kept.")
    if not found:
        raise NotTrustworthy(
            "Nothing of known size is seen in the picture. Lay a sheet of A4 or Letter, a bank card or the printed "
            "reference sheet flat beside the paper, wholly inside the picture, and take it again.",
            reason="no reference",
        )
    found.sort(key=lambda f: f[0])
    cost, best = found[0]
    notes = []
    rival = next((f for f in found[1:] if f[1].bodies[0].kind != best.bodies[0].kind), None)
    if rival is not None and rival[0] < cost + CLEAR_LEAD:
        names = f"{_with_article(best.bodies[0].name)} or {_with_article(rival[1].bodies[0].name)}"
        notes.append(f"The reference may be {names}; the first was taken. Say which one lies there.")
    return _finish(photo, light, lens, best, [], square_paper, inside_px, quads, notes)


def _with_article(name: str) -> str:
    return ("an " if name.startswith("A4") else "a ") + name


def _solve_one(photo: Photo, light: Light, lens: LensPrior, seed: Seed) -> _State | None:
    started = _start(photo, lens, [seed], [])
    if started is None:
        return None
    bodies, camera, poses, extras, _, _ = started
    return _rounds(light, lens, bodies, camera, poses, [], (FIRST_REACH_PX, NEXT_REACH_PX), extras)


def _not_the_other(photo: Photo, light: Light, lens: LensPrior, state: _State) -> None:
    """Refuse an A4 sheet that is plainly a Letter sheet, and the other way round."""
    at = next((i for i, b in enumerate(state.bodies) if b.kind in ("a4", "letter")), None)
    if at is None or state.solution.chi2 < RIVAL_CHI2 or len(state.bodies) > 1:
        return
    body, solution = state.bodies[at], state.solution
    corners = solution.camera.project(solution.poses[at].place(body.outline_mm))
    other = rectangle_body("letter" if body.kind == "a4" else "a4")
    fit = _as_rectangle(photo, other, quad_from_corners(corners))
    rival = _solve_one(photo, light, lens, fit[1]) if fit else None
    if rival is not None and rival.solution.misfit + 25.0 < solution.misfit:
        raise NotTrustworthy(
            f"The sheet in the picture has the shape of {_with_article(other.name)}, not of "
            f"{_with_article(body.name)}. Say which one lies there.",
            reason="a4 or letter",
        )


def _finish(
    photo: Photo,
    light: Light,
    lens: LensPrior,
    state: _State,
    distances: Sequence[DistanceEvidence],
    square_paper: bool,
    inside_px: Sequence[tuple[float, float]],
    quads: Callable[[], tuple[Quad, ...]],
    notes: list[str],
) -> Survey:
    """Bring in the paper, pass the gates, turn the plane so that up is up."""
    paper_at = next((i for i, b in enumerate(state.bodies) if b.kind == "paper"), None)
    if paper_at is None:
        camera = state.solution.camera
        covered = _polygons(state.bodies, state.solution.poses)
        touched = [camera.to_plane(np.array([p]))[0] for p in inside_px]
        seed = _paper_seed(photo, camera, quads(), covered, touched)
        if seed is not None and square_paper:
            more, trouble = _add_paper(light, lens, state, (seed[0], seed[1]), distances)
            if more is not None:
                state = more
                paper_at = len(state.bodies) - 1
            elif trouble:
                notes.append(trouble)
        elif square_paper:
            notes.append(
                "The edges of the paper are not seen clearly, so they did not help: the scale rests on the reference alone."
            )
    _gates(lens, state, notes)
    solution = state.solution
    camera = solution.camera
    turn, shift = _upright(camera)
    rot = rotation_matrix(camera.rotation_rad)
    # new plane frame = old one turned by `turn`; world is (x, -y, -h), where the same turn runs the other way
    c, s = math.cos(turn), math.sin(turn)
    back = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    vector, _ = cv2.Rodrigues(rot @ back)
    upright = replace(camera, rotation_rad=np.asarray(vector).ravel())
    poses = tuple(
        BodyPose((float(m[0]), float(m[1])), p.turn_rad + turn, p.scale)
        for p in solution.poses
        for m in [_turned(np.array([p.middle_mm]), turn)[0]]
    )
    names = [b.kind for b in state.bodies if b.kind != "paper"] + (["points"] if distances else [])
    _ = shift
    return Survey(
        camera=upright,
        bodies=state.bodies,
        poses=poses,
        paper=paper_at,
        reference="+".join(dict.fromkeys(names)),
        certainty=Certainty(camera, solution.covariance),
        solution=solution,
        turn_rad=turn,
        warnings=tuple(dict.fromkeys(notes)),
    )


def _upright(camera: Camera) -> tuple[float, Array]:
    """(turn in rad that makes the picture's upward direction +y, middle of the picture in the plane)."""
    w, h = camera.size_px
    middle = camera.to_plane(np.array([[w / 2.0, h / 2.0], [w / 2.0, h / 2.0 - 20.0]]))
    up = middle[1] - middle[0]
    if not np.isfinite(up).all():
        return 0.0, np.zeros(2)
    return math.pi / 2.0 - math.atan2(up[1], up[0]), middle[0]


def _gates(lens: LensPrior, state: _State, notes: list[str]) -> None:
    solution = state.solution
    camera = solution.camera
    if camera.tilt_deg > MAX_TILT_DEG:
        raise NotTrustworthy(
            f"The camera was tilted by {camera.tilt_deg:.0f} degrees; up to {MAX_TILT_DEG:.0f} can be measured. Hold it "
            "level above the paper and take the picture again.",
            reason="tilt",
        )
    if lens.focal_px:
        pull = abs(math.log(solution.focal_ratio)) / lens.focal_sigma
        if pull > MAX_FOCAL_PULL:
            raise NotTrustworthy(
                f"The reference and the lens do not fit each other: the picture asks for a focal length "
                f"{100.0 * (solution.focal_ratio - 1.0):+.0f} % off what the camera wrote. Is the right reference named, "
                "and does it lie flat? Use the picture as the camera took it, not cropped.",
                reason="focal length",
            )
        if pull > 3.0:
            notes.append(
                "The lens looks unlike what the camera wrote in the picture: the scale is less certain."
            )
    if solution.chi2 > MAX_CHI2:
        raise NotTrustworthy(
            "The edges of the reference do not fit one flat plane: it is bent, lifted, or not what was named. "
            "Lay it flat and take the picture again.",
            reason="not flat",
        )
    if solution.chi2 > WARN_CHI2:
        notes.append("The reference does not lie quite flat, or it is not exactly what was named.")
    for d, off in zip(_none_or(solution.distance_residuals_mm), solution.distance_residuals_mm, strict=True):
        if abs(off) > 4.0:
            notes.append(f"Two marked points are {off:+.1f} mm from the distance that was given{d}.")


def _none_or(values: Sequence[float]) -> list[str]:
    return [f" (pair {i + 1})" if len(values) > 1 else "" for i in range(len(values))]
