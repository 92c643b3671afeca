"""From rough seeds to a solved camera: place, measure all edges along the drawn paths, solve, measure closer."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import NoReturn

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.aspect import not_that_shape, refuse_other_shape
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
from eke.capture.round_corners import CARD_RADIUS_MM, corner_radius_mm
from eke.capture.seeds import MAX_TILT_DEG, Seed, first_camera
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
GOOD_SCORE = (
    3.0  # what lies there as it was taken for has about 1; an edge that ran after a card's print has 2 to 7
)
UNSEEN_SCORE = 8.0  # of edges that were not seen along any of their length
SCALE_DISAGREEMENT = 0.04
ROUGH_DISAGREEMENT = 0.15  # by a camera that has seen their corners only
MOST_TRIES, LAST_TRIES = 8, 16  # of ways to lie; the last ones where none before looked like what was named
SHARP_SCORE = 30.0  # of a "card" without a card's round corners: print, a label, a window of a drawing
OTHER_SHAPE_SCORE = 1000.0  # what has another shape is taken only to say so
SAME_WAY_PX = 12.0  # seeds whose corners all lie this near to a solved body's end where it ended


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """A solved survey: the bodies, what was measured of their edges, and the seeds it began with.

    ``least_seen`` is the share of its length along which the worst of the edges was seen; ``other_ratio`` that of
    its sides where a single rectangle has not the shape that was named, and
    ``shape_sigma`` how well its shape is seen (half the share by which the sides differ; 0: not asked; infinite: a card
    with sharp corners).
    """

    bodies: tuple[Body, ...]
    solution: Solution
    edges: tuple[EdgeEvidence, ...]
    seeds: tuple[Seed, ...] = ()
    least_seen: float = 1.0
    other_ratio: float | None = None
    shape_sigma: float = 0.0


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
) -> State | None:
    """Measure all edges within each reach in turn and solve after each; None where nothing could be measured.

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
        if not edges and not points:
            return None
        solution = solve(
            size, lens, bodies, edges, camera=camera, poses=poses, points=points, distances=distances
        )
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
    _one_size(kept, solution.camera, ROUGH_DISAGREEMENT)
    return bodies, solution.camera, list(solution.poses), list(solution.extras), notes, kept


def _disagree(one: Body, other: Body, scale: float) -> NoReturn:
    raise NotTrustworthy(
        f"Two references disagree: by the {one.name} the {other.name} would be {100.0 * (scale - 1.0):+.0f} % of its size "
        "off. Say which one to trust, or lay both flat beside the paper and take the picture again.",
        references=[one.name, other.name],
    )


def _one_size(seeds: Sequence[Seed], camera: Camera, most: float) -> None:
    """Refuse references that by the camera which explains all of them best differ in scale by more than a share."""
    placed = [(seed, _place(camera, seed)) for seed in seeds]
    sizes = [(got[1], seed.body) for seed, got in placed if got is not None]
    if len(sizes) > 1:
        (low, small), (high, large) = min(sizes, key=lambda s: s[0]), max(sizes, key=lambda s: s[0])
        if high / low - 1.0 > most + 2.0 * math.hypot(small.scale_sigma, large.scale_sigma):
            _disagree(small, large, high / low)


def _well_seen(state: State, index: int) -> bool:
    """True when enough edges of a body carry the answer."""
    body = state.bodies[index]
    count = sum(1 for e in state.edges if e.body == index)
    return body.kind == "sheet" or count >= 3


def solve_one(photo: Photo, light: Light, lens: LensPrior, seed: Seed) -> State | None:
    """Solve with a single reference; None where it cannot be."""
    started = start(photo, lens, [seed], [])
    if started is None:
        return None
    bodies, camera, poses, extras, _, _ = started
    return rounds(light, lens, bodies, camera, poses, [], (FIRST_REACH_PX, NEXT_REACH_PX), extras)


def _sharp_corners(light: Light, state: State) -> float:
    """What speaks against the cards of a state: corners that are not round as the standard's, or not to be seen."""
    total = 0.0
    for body, pose in zip(state.bodies, state.solution.poses, strict=True):
        if body.kind == "card":
            radius = corner_radius_mm(light, state.solution.camera, body, pose)
            if radius is None:
                total += WARN_CHI2
            elif not CARD_RADIUS_MM[0] <= radius <= CARD_RADIUS_MM[1]:
                total += SHARP_SCORE
    return total


def ways_to_lie(
    photo: Photo,
    light: Light,
    lens: LensPrior,
    options: Sequence[Sequence[Seed]],
    distances: Sequence[DistanceEvidence],
    *,
    every: bool = False,
    check: Callable[[], None] | None = None,
) -> list[tuple[float, State, list[str]]]:
    """(score, state, notes) of the ways in which the references may lie there, the best first; as far as the first that
    leaves nothing to be desired, or ``every`` one that is tried. ``check`` is called before each and may raise to stop."""
    ranked = sorted(options, key=lambda o: {"sheet": 0, "a4": 1, "letter": 1, "card": 2}[o[0].body.kind])
    pick = [0] * len(ranked)
    out: list[tuple[float, State, list[str]]] = []
    for number in range(LAST_TRIES):
        if number >= MOST_TRIES and any(way[0] < SHARP_SCORE for way in out):
            break
        if check is not None:
            check()
        seeds = [o[p] for o, p in zip(ranked, pick, strict=True)]
        idle = _ends_as_another(seeds, out) or (not every and _beside_a_sure_card(seeds, out))
        got = None if idle else _scored(photo, light, lens, seeds, distances)
        if got is not None:
            out.append(got)
            if got[0] < GOOD_SCORE and not every:
                break
        loose = next((i for i in range(len(ranked)) if pick[i] + 1 < len(ranked[i])), None)
        if loose is None:
            break
        pick[loose] += 1
    return sorted(out, key=lambda w: w[0])


def _corners_px(state: State, number: int) -> Array:
    """Where a state draws the corners of one of its bodies, (n, 2)."""
    body, solution = state.bodies[number], state.solution
    return solution.camera.project(solution.poses[number].place(body.outline_mm), body.height_mm)


def _ends_as_another(seeds: Sequence[Seed], ways: Sequence[tuple[float, State, list[str]]]) -> bool:
    """Has a way that was tried already ended where these seeds begin? From within the first reach the same edges are seen."""
    return any(
        len(state.bodies) == len(seeds) and all(_lies_as(seed, state, i) for i, seed in enumerate(seeds))
        for _, state, _ in ways
    )


def _lies_as(seed: Seed, state: State, number: int) -> bool:
    if seed is state.seeds[number]:
        return True
    if seed.body.kind == "sheet" or seed.body.kind != state.bodies[number].kind:
        return False
    ended = _corners_px(state, number)
    # turned by half a turn it is the same
    return any(
        float(np.hypot(*(np.roll(ended, turn, axis=0) - seed.points_px).T).max()) < FIRST_REACH_PX
        for turn in (0, 2)
    )


def _beside_a_sure_card(seeds: Sequence[Seed], ways: Sequence[tuple[float, State, list[str]]]) -> bool:
    """Does a card of these seeds lie elsewhere than one of whose four edges and round corners nothing is left to be desired,
    or across it?

    Else, in the same place, an edge may have run after print on the card, which has the card's corners too.
    """
    best = min(ways, key=lambda way: way[0], default=None)
    # an unseen edge, sharp corners and such that are not seen add as much
    if best is None or best[0] >= WARN_CHI2:
        return False
    state = best[1]
    for i, seed in enumerate(seeds):
        if seed.body.kind == "card" and len(state.bodies) == len(seeds):
            card = _corners_px(state, i)
            x, y = seed.points_px.mean(axis=0)
            if cv2.pointPolygonTest(card.astype(np.float32), (float(x), float(y)), False) < 0:
                return True
            # its sides are 1 to 1.586: across, it would be seen at 66 degrees at least, or the sure one is
            off = [
                float(np.hypot(*(np.roll(card, turn, axis=0) - seed.points_px).T).max()) for turn in range(4)
            ]
            if int(np.argmin(off)) % 2 and state.solution.camera.tilt_deg < MAX_TILT_DEG:
                return True
    return False


def _scored(
    photo: Photo, light: Light, lens: LensPrior, seeds: Sequence[Seed], distances: Sequence[DistanceEvidence]
) -> tuple[float, State, list[str]] | None:
    """(what speaks against it, state, notes) of one way; None where the edges are not seen."""
    started = start(photo, lens, seeds, distances)
    if started is None:
        return None
    bodies, camera, poses, extras, notes, kept = started
    near, far = (NEXT_REACH_PX,), (FIRST_REACH_PX, NEXT_REACH_PX)
    best: tuple[float, State] | None = None
    # a seed that lies well already is only led astray by what is further away
    for reaches in (near,) if all(b.kind == "sheet" for b in bodies) else (far, near):
        state = rounds(light, lens, bodies, camera, poses, distances, reaches, extras, kept)
        if state is None or not all(_well_seen(state, i) for i in range(len(bodies))):
            continue
        score, state = _score(light, lens, state, distances)
        if best is None or score < best[0]:
            best = score, state
        if score < GOOD_SCORE:
            break
    return None if best is None else (*best, notes)


def _score(
    light: Light, lens: LensPrior, state: State, distances: Sequence[DistanceEvidence]
) -> tuple[float, State]:
    """What speaks against a solved state, and the state with what its shape says."""
    bodies = state.bodies
    whole = sum(len(b.edges) for b in bodies if b.kind != "sheet")
    missing = whole - sum(1 for e in state.edges if bodies[e.body].kind != "sheet")
    score = state.solution.chi2 + WARN_CHI2 * missing + UNSEEN_SCORE * (1.0 - state.least_seen)
    # several things check each other; a single one has only its shape to show for itself
    if not distances:
        ratio, sigma = not_that_shape(lens, bodies, state.edges, state.solution)
        state = replace(state, other_ratio=ratio, shape_sigma=sigma)
        score += OTHER_SHAPE_SCORE if ratio is not None else 0.0
    corners = _sharp_corners(light, state)
    if corners >= SHARP_SCORE and not distances:
        state = replace(state, shape_sigma=math.inf)  # whatever its sides are, it does not look like a card
    return score + corners, state


def best_start(
    photo: Photo,
    light: Light,
    lens: LensPrior,
    options: Sequence[Sequence[Seed]],
    distances: Sequence[DistanceEvidence],
    notes: list[str],
    check: Callable[[], None] | None = None,
) -> State:
    """Solve with the likeliest way each reference may lie there; try the next where its edges are not seen."""
    ways = ways_to_lie(photo, light, lens, options, distances, check=check)
    if not ways:
        names = ", ".join(dict.fromkeys(o[0].body.name for o in options))
        raise NotTrustworthy(
            f"The edges of the reference ({names}) are not seen clearly enough. Lay it flat on a ground that differs "
            "from it, without glare, and take the picture again.",
            reason="reference unclear",
        )
    _, best, more = ways[0]
    _one_size(best.seeds, best.solution.camera, SCALE_DISAGREEMENT)
    if best.other_ratio is not None:
        refuse_other_shape(best.bodies[0], best.other_ratio)
    notes += more
    return best
