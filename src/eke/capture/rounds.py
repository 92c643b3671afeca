"""From rough seeds to a solved camera: place, measure all edges along the drawn paths, solve, measure closer."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import NoReturn

import numpy as np
from numpy.typing import NDArray

from eke.capture.camera import Camera
from eke.capture.evidence import (
    Body,
    BodyPose,
    DistanceEvidence,
    EdgeEvidence,
    LensPrior,
    PointEvidence,
)
from eke.capture.light import Light
from eke.capture.measure import measure_body, pose_from_plane
from eke.capture.photo import Photo
from eke.capture.seeds import Seed, first_camera
from eke.capture.solve import Solution, solve
from eke.errors import NotTrustworthy

Array = NDArray[np.float64]
SMALL_MARKER_CORNER_PX = 0.3
SMALL_MARKER_CENTRE_PX = 0.15
LEAST_CENTRES = 4
LEAST_MARKER_EDGES = 8  # two markers
FIRST_REACH_PX = 22.0
NEXT_REACH_PX = 7.0
WARN_CHI2 = 9.0
PASSES, ROUGH_PASSES = 3, 1  # of weighing anew, within the last reach and before
ROUGH_DISAGREEMENT = 0.15  # by a camera that has seen their corners only


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """A solved survey: the bodies, what was measured of their edges, and the seeds it began with.

    ``least_seen`` is the share of its length along which the worst of the edges was seen; ``other_ratio`` that of
    its sides where a single rectangle has not the shape that was named, and
    ``shape_sigma`` how well its shape is seen (half the share by which the sides differ; 0: not asked; infinite: a card
    with sharp corners); ``sharp`` is what speaks against its cards by their corners, 0 where all are seen to be round.
    """

    bodies: tuple[Body, ...]
    solution: Solution
    edges: tuple[EdgeEvidence, ...]
    seeds: tuple[Seed, ...] = ()
    least_seen: float = 1.0
    other_ratio: float | None = None
    shape_sigma: float = 0.0
    sharp: float = 0.0


def _place(camera: Camera, seed: Seed) -> tuple[BodyPose, float] | None:
    seen = camera.to_plane(seed.points_px, seed.body.height_mm)
    if not np.isfinite(seen).all():
        return None
    pose, scale = pose_from_plane(seed.points_mm * seed.body.scale, seen)
    return replace(pose, scale=seed.body.scale), scale


def polygons(bodies: Sequence[Body], poses: Sequence[BodyPose]) -> list[Array]:
    """What the references cover in the plane, in mm; the paper is left out."""
    return [p.place(b.outline_mm) for b, p in zip(bodies, poses, strict=True) if b.kind != "paper"]


def _small_sheets(seeds: Sequence[Seed], edges: Sequence[EdgeEvidence]) -> list[int]:
    """Sheets whose markers are too small in the picture for their sides to be measured: they still have corners."""
    return [
        i
        for i, seed in enumerate(seeds)
        if seed.body.kind == "sheet" and sum(1 for e in edges if e.body == i) < LEAST_MARKER_EDGES
    ]


def centres_of(state: State) -> list[PointEvidence]:
    """The corners by which a state's small sheets were measured."""
    return [_centres(i, state.seeds[i]) for i in _small_sheets(state.seeds, state.edges)]


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


def rounds(
    light: Light,
    lens: LensPrior,
    bodies: Sequence[Body],
    camera: Camera,
    poses: Sequence[BodyPose],
    distances: Sequence[DistanceEvidence],
    reaches: Sequence[float],
    extras: Sequence[dict[str, float] | None],
    seeds: Sequence[Seed] = (),
    measured: State | None = None,
    worth: Callable[[Sequence[EdgeEvidence], float], bool] = lambda edges, least_seen: True,
) -> State | None:
    """Measure all edges within each reach in turn and solve after each; None where nothing could be measured, or what was within
    the last reach is not ``worth`` it: the edges, and the share of its length along which the worst of them was seen.

    What was ``measured`` of the first bodies already is taken as it is: where an edge runs in the picture hardly
    depends on the camera that it was looked for with.
    """
    size = camera.size_px
    state: State | None = None
    known = 0 if measured is None else len(measured.bodies)
    for reach in reaches:
        edges: list[EdgeEvidence] = [] if measured is None else list(measured.edges)
        least = 1.0 if measured is None else measured.least_seen
        hidden = polygons(bodies, poses)
        for i, body in enumerate(bodies):
            if i < known:
                continue
            cover = hidden if body.kind == "paper" else ()
            got, samples = measure_body(
                light, camera, body, poses[i], i, reach_px=reach, extras=extras[i], hidden_mm=cover
            )
            edges += got
            least = min([least, *(s.support for s in samples)])
        few = _small_sheets(seeds, edges)
        edges = [e for e in edges if e.body not in few]
        points = [_centres(i, seeds[i]) for i in few]
        last = reach == reaches[-1]
        if (not edges and not points) or (last and not worth(edges, least)):
            return None
        # where the next edges are looked for need not be known to a hundredth of a pixel
        solution = solve(
            size, lens, bodies, edges, camera=camera, poses=poses, points=points, distances=distances,
            passes=PASSES if last else ROUGH_PASSES, rough=not last,
        )  # fmt: skip
        camera, poses, extras = solution.camera, solution.poses, solution.extras
        state = State(tuple(bodies), solution, tuple(edges), tuple(seeds), least)
    return state


def start(
    photo: Photo, lens: LensPrior, seeds: Sequence[Seed], distances: Sequence[DistanceEvidence]
) -> tuple[list[Body], Camera, list[BodyPose], list[dict[str, float] | None], list[str], list[Seed]] | None:
    """First camera from the first seed and places of the others, from corners alone."""
    camera = first_camera(photo, seeds[0])
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
        pose, _ = got
        points.append(PointEvidence(len(bodies), seed.points_mm, seed.points_px, seed.sigma_px))
        bodies.append(seed.body)
        kept.append(seed)
        poses.append(pose)
    solution = solve(
        size, lens, bodies, [], camera=camera, poses=poses, points=points, distances=(), passes=1
    )
    # not before: by a camera that has seen only one of them, and no lens yet, the other may seem half as large again
    one_size(kept, solution.camera, ROUGH_DISAGREEMENT)
    return bodies, solution.camera, list(solution.poses), list(solution.extras), notes, kept


def _disagree(one: Body, other: Body, scale: float) -> NoReturn:
    raise NotTrustworthy(
        f"Two references disagree: by the {one.name} the {other.name} would be {100.0 * (scale - 1.0):+.0f} % of its size "
        "off. Say which one to trust, or lay both flat beside the paper and take the picture again.",
        references=[one.name, other.name],
    )


def one_size(seeds: Sequence[Seed], camera: Camera, most: float) -> None:
    """Refuse references that by the camera which explains all of them best differ in scale by more than a share."""
    placed = [(seed, _place(camera, seed)) for seed in seeds]
    sizes = [(got[1], seed.body) for seed, got in placed if got is not None]
    if len(sizes) > 1:
        (low, small), (high, large) = min(sizes, key=lambda s: s[0]), max(sizes, key=lambda s: s[0])
        if high / low - 1.0 > most + 2.0 * math.hypot(small.scale_sigma, large.scale_sigma):
            _disagree(small, large, high / low)


def solve_one(photo: Photo, light: Light, lens: LensPrior, seed: Seed) -> State | None:
    """Solve with a single reference; None where it cannot be."""
    started = start(photo, lens, [seed], [])
    if started is None:
        return None
    bodies, camera, poses, extras, _, _ = started
    return rounds(light, lens, bodies, camera, poses, [], (FIRST_REACH_PX, NEXT_REACH_PX), extras)
