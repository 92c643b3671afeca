"""From a photograph and what the maker says lies in it to the camera over the plane.

The order of things: see the references roughly; a first camera from the best of them; place the others and
the paper; measure all edges along the paths that the camera draws; solve; measure again closer; solve; then
the gates that decide whether the answer can be promised.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.aspect import UNCHECKED_SIGMA, not_that_shape, refuse_other_shape, unchecked
from eke.capture.auto import believed_things, card_by_paper
from eke.capture.camera import Camera, rotation_matrix
from eke.capture.certainty import Certainty
from eke.capture.evidence import (
    Body,
    BodyPose,
    DistanceEvidence,
    LensPrior,
    paper_body,
)
from eke.capture.flatness import not_flat
from eke.capture.floor_tilt import by_floor_joints, floor_seen
from eke.capture.gates import pass_gates
from eke.capture.light import Light, light_of
from eke.capture.markers import find_own_sheets, looks_mirrored
from eke.capture.paper_edges import OTHER_WAY, PAPER_SHARE, UNSEEN, add_paper, paper_look, paper_seed
from eke.capture.paper_lines import rectangles_in_plane
from eke.capture.paper_start import rectangle_by_any_lens
from eke.capture.photo import Photo
from eke.capture.quads import Quad, drawn_on, find_quads
from eke.capture.quads_unlike import RareColours, rare_colours
from eke.capture.references import Reference
from eke.capture.rounds import (
    FIRST_REACH_PX,
    NEXT_REACH_PX,
    State,
    polygons,
    rounds,
)
from eke.capture.scan import scan_camera
from eke.capture.seeds import Seed, focals, rarest_card, stated_seeds
from eke.capture.solve import Solution
from eke.capture.straight_edges import Beside, by_straight_edges
from eke.capture.ways import Way, best_start, sure, ways_to_lie
from eke.errors import BadInput, NotTrustworthy, Stopped

__all__ = ["Survey", "survey"]

Array = NDArray[np.float64]
Stop = Callable[[], bool]
TOUCH_SIGMA_PX = 1.5
TICK_SIGMA_MM = 0.25  # a scale's tick against its nominal place
RULER_WIDTH = (
    0.25  # of the distance of two ticks: what both lie on and is narrower is their ruler, and no paper
)
WIDE_DIAGONALS = (
    0.45  # of the picture's diagonal: a focal length of 19.5 mm equivalent, between usual and wide lenses
)
SEEN_BY_SHAPE = ("auto", "a4", "letter", "card")
UNTOLD_LENS = (
    "This looks like a wide lens, and the picture does not say which: beside two points alone the scale is less certain. "
    "Use the picture as the camera took it, take it with the usual lens, or lay a sheet of A4 or Letter beside the paper."
)


@dataclass(frozen=True, slots=True, eq=False)
class Survey:
    """The camera over the plane, with everything that was learnt on the way.

    The plane's frame: the picture's upward direction is +y. ``bodies`` and ``poses`` hold references first;
    ``paper`` is the index of the paper's body or None. ``reference`` names what gave the scale. ``solution`` is None for
    a scan, where nothing had to be solved. ``unflat_mm``: the most that an edge which should be straight is bowed.
    ``likely_paper_px``: (4, 2) in the picture, where something looks like the paper and was not taken for certain.
    """

    camera: Camera
    bodies: tuple[Body, ...]
    poses: tuple[BodyPose, ...]
    paper: int | None
    reference: str
    certainty: Certainty
    solution: Solution | None
    turn_rad: float
    warnings: tuple[str, ...]
    unflat_mm: float = 0.0
    likely_paper_px: Array | None = None

    def local_mm(self, points_mm: Array) -> Array:
        """:meth:`Certainty.local_mm` for points in this survey's frame; what paper that is not flat adds is in it."""
        return np.hypot(self.certainty.local_mm(_turned(points_mm, -self.turn_rad)), self.unflat_mm)

    def length_percent(self, points_mm: Array) -> float:
        """:meth:`Certainty.length_percent` for points in this survey's frame."""
        return self.certainty.length_percent(_turned(points_mm, -self.turn_rad))

    def polygon(self, index: int) -> Array:
        """What body ``index`` covers, (n, 2) in the plane, anticlockwise."""
        body = self.bodies[index]
        outline = body.outline_mm
        if body.kind == "paper" and self.solution is not None:
            extras = self.solution.extras[index]
            grow = np.array([extras["width"], extras["height"]]) / 2.0
            outline = outline + np.sign(outline) * grow
        return self.poses[index].place(outline)


def _turned(points_mm: Array, angle_rad: float) -> Array:
    c, s = math.cos(angle_rad), math.sin(angle_rad)
    return np.asarray(np.asarray(points_mm, dtype=np.float64).reshape(-1, 2) @ np.array([[c, s], [-s, c]]))


def survey(
    photo: Photo,
    references: Sequence[Reference],
    *,
    square_paper: bool = False,
    straight_paper: bool = False,
    inside_px: Sequence[tuple[float, float]] = (),
    stop: Stop | None = None,
) -> Survey:
    """The camera over the plane of the paper, from what the maker says lies in the picture.

    Parameters
    ----------
    square_paper
        The maker says that the paper's edges are cut straight and square.
    straight_paper
        There is paper, of which nothing is said: edges that turn out straight may show what the lens bends.

    Raises
    ------
    NotTrustworthy
        No reference is seen, or what is seen does not agree well enough to promise a scale.
    BadInput
        References that cannot be used together.
    """
    scans = [r for r in references if r.kind == "scan"]
    if scans:
        if len(references) > 1:
            raise BadInput(
                "A scan has its scale from the scanner. Leave everything else out that might give it."
            )
        camera, certainty = scan_camera(photo, scans[0])
        return Survey(camera, (), (), None, "scan", certainty, None, 0.0, ())
    memory: list[Future[tuple[Quad, ...]]] = []

    def look_for_quads() -> None:
        crew = ThreadPoolExecutor(1)
        memory.append(crew.submit(find_quads, photo.pixels_rgb))
        crew.shutdown(wait=False)

    def quads() -> tuple[Quad, ...]:
        if not memory:
            look_for_quads()
        return memory[0].result()

    if square_paper or any(r.kind in SEEN_BY_SHAPE and r.corners_px is None for r in references):
        look_for_quads()  # they will be asked for: meanwhile other things are done

    def check() -> None:
        if stop is not None and stop():
            raise Stopped("Stopped while measuring the picture; nothing was kept.")

    grey = cv2.cvtColor(photo.pixels_rgb, cv2.COLOR_RGB2GRAY)
    light = light_of(photo.pixels_rgb)
    lens = LensPrior(photo.focal_px_prior, photo.focal_sigma)
    look = _Look(photo, grey, light, lens, square_paper, straight_paper, tuple(inside_px), quads, check)
    stated = [r for r in references if r.kind != "auto"]
    return _stated(look, stated) if stated else _auto(look)


@dataclass(frozen=True, slots=True, eq=False)
class _Look:
    """A picture while it is measured, and what the maker says of it; see :func:`survey`."""

    photo: Photo
    grey: NDArray[np.uint8]
    light: Light
    lens: LensPrior
    square_paper: bool
    straight_paper: bool
    inside_px: Sequence[tuple[float, float]]
    quads: Callable[[], tuple[Quad, ...]]
    check: Callable[[], None]


def _stated(look: _Look, stated: Sequence[Reference]) -> Survey:
    distances = [_distance(r, look.photo) for r in stated if r.kind == "points"]
    lying = [r for r in stated if r.kind != "points"]
    known: list[Way] = []
    rare: RareColours | None = None
    if len(lying) == 1 and lying[0].kind == "card" and lying[0].corners_px is None:
        rare = rare_colours(look.photo.pixels_rgb)
        first = rarest_card(look.photo, look.grey, rare)
        known = (
            ways_to_lie(look.photo, look.light, look.lens, [first], distances, check=look.check)
            if first
            else []
        )

    @cache
    def seeds() -> tuple[list[Sequence[Seed]], list[str]]:
        return stated_seeds(look.photo, look.grey, stated, look.quads, rare)

    def others() -> Sequence[State]:
        """The other ways in which a single reference may lie there."""
        look.check()
        options = seeds()[0]
        if len(options) > 1 or state.bodies[0].kind == "sheet":
            return ()
        every = ways_to_lie(
            look.photo, look.light, look.lens, options, distances, every=True, check=look.check
        )
        return [other for _, other, _ in every if other.other_ratio is None]

    if known and sure(known[0]):
        _, state, notes = known[0]
    else:
        options, notes = seeds()
        look.check()
        if not options:
            return _points_only(look, distances)
        state = best_start(look.photo, look.light, look.lens, options, distances, notes, look.check, known)
    look.check()
    return _finish(look, state, distances, notes, others)


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


def _points_only(look: _Look, distances: Sequence[DistanceEvidence]) -> Survey:
    """Two ticks give a length but no tilt: that comes from the paper's square edges."""
    photo = look.photo
    if not look.square_paper:
        raise NotTrustworthy(
            "Two points alone do not say how the camera was tilted. Say that the paper is cut square, or lay a card "
            "or a sheet of A4 beside it.",
            reason="no tilt",
        )
    size = (photo.width_px, photo.height_px)
    share = PAPER_SHARE * size[0] * size[1]
    ranked = [
        q
        for q in look.quads()
        if q.whole
        and q.area_px > share
        and not _is_ruler(q, distances[0])
        and q.support > 0.6
        and all(
            cv2.pointPolygonTest(
                q.corners_px.astype(np.float32).reshape(-1, 1, 2), (float(p[0]), float(p[1])), False
            )
            >= 0
            for p in look.inside_px
        )
    ]
    ranked.sort(key=lambda q: -q.area_px * paper_look(photo, q))
    d = distances[0]
    for quad in ranked[:3]:
        side = np.hypot(*(np.roll(quad.corners_px, -1, axis=0) - quad.corners_px).T)
        mm_per_px = d.distance_mm / math.dist(d.from_px, d.to_px)
        height = float(side[[1, 3]].mean()) * mm_per_px
        best = rectangle_by_any_lens(size, focals(photo), quad, height)
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
        state = rounds(
            look.light, look.lens, [body], camera, [BodyPose((0.0, 0.0), 0.0, 1.0)], distances,
            (FIRST_REACH_PX, NEXT_REACH_PX), [None],
        )  # fmt: skip
        if state is not None and sum(1 for e in state.edges if e.body == 0) == 4:
            wide = state.solution.camera.focal_px < WIDE_DIAGONALS * math.hypot(*size)
            return _finish(look, state, distances, [UNTOLD_LENS] if wide and not photo.focal_px_prior else [])
    raise NotTrustworthy(
        "The four edges of the paper are not all seen, and two points alone do not say how the camera was tilted. "
        "Take the picture again with the whole paper in it, or lay a card or a sheet of A4 beside it.",
        reason="no tilt",
    )


def _is_ruler(quad: Quad, d: DistanceEvidence) -> bool:
    """Is a quadrangle the very ruler on which both points were marked?"""
    outline = quad.corners_px.astype(np.float32).reshape(-1, 1, 2)
    narrow = float(np.hypot(*(np.roll(quad.corners_px, -1, axis=0) - quad.corners_px).T).min())
    apart = math.dist(d.from_px, d.to_px)
    ends = (cv2.pointPolygonTest(outline, (float(x), float(y)), True) for x, y in (d.from_px, d.to_px))
    return narrow < RULER_WIDTH * apart and all(inside > -0.1 * narrow for inside in ends)


def _auto(look: _Look) -> Survey:
    """Own sheets; else sheets of A4 or Letter and cards that are believed."""
    if find_own_sheets(look.grey):
        return _stated(look, [Reference("sheet")])
    if looks_mirrored(look.grey, None):
        raise NotTrustworthy(
            "This picture is mirrored: the sheet can be read only in a mirror. Use the picture as the camera took it.",
            reason="mirrored",
        )
    try:
        best, notes = believed_things(look.photo, look.grey, look.light, look.lens, look.quads(), look.check)
    except NotTrustworthy:
        if not look.square_paper:
            raise

        def with_paper(alone: State) -> State | None:
            return _if_with_paper(look, alone, [])

        card = card_by_paper(
            look.photo, look.grey, look.light, look.lens, look.quads(), with_paper, look.check
        )
        if card is None:
            raise
        best, notes = card
    return _finish(look, best, [], notes)


def _finish(
    look: _Look,
    state: State,
    distances: Sequence[DistanceEvidence],
    notes: list[str],
    others: Callable[[], Sequence[State]] = tuple,
) -> Survey:
    """Bring in the paper, pass the gates, turn the plane so that up is up.

    Where the paper does not fit to the reference, it is tried with ``others``: a small card seen from above looks like one
    turned by a right angle and seen from the side, and only the paper tells.
    """
    likely_px: Array | None = None
    paper_at = next((i for i, b in enumerate(state.bodies) if b.kind == "paper"), None)
    if paper_at is None and look.square_paper:
        joined, trouble = _with_paper(look, state, distances)
        if joined is None and trouble in OTHER_WAY:
            tried = (_if_with_paper(look, o, distances) for o in others())
            joined = next((each for each in tried if each is not None), None)
        if joined is None:
            notes.append(trouble)
        else:
            state = joined
            paper_at = len(state.bodies) - 1
    if paper_at is None and look.straight_paper and all(b.kind != "sheet" for b in state.bodies):
        seed = _paper_seen(look, state)
        if seed is not None:
            likely_px = seed[2].corners_px
            state = _by_what_lies_around(look, state, seed, distances)
    if state.shape_sigma > UNCHECKED_SIGMA:
        notes.append(unchecked(state.bodies[0]))
    pass_gates(look.lens, state, notes)
    bent, unflat_mm = not_flat(look.light, state)
    notes += bent
    solution = state.solution
    camera = solution.camera
    turn = _upright(camera)
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
    return Survey(
        camera=upright,
        bodies=state.bodies,
        poses=poses,
        paper=paper_at,
        reference="+".join(dict.fromkeys(names)),
        certainty=solution.certainty,
        solution=solution,
        turn_rad=turn,
        warnings=tuple(dict.fromkeys(notes)),
        unflat_mm=unflat_mm,
        likely_paper_px=likely_px,
    )


def _by_what_lies_around(
    look: _Look, state: State, paper: tuple[Body, BodyPose, Quad], distances: Sequence[DistanceEvidence]
) -> State:
    """The state with what the lines show that nobody has said anything of: the paper's edges, the joints of the floor."""
    look.check()
    beside: tuple[Beside, ...] = ()
    paper_px = paper[2].corners_px
    with ThreadPoolExecutor(1) as crew:  # that looks at the floor while the edges are followed here
        looking = crew.submit(floor_seen, look.photo, state.bodies, state.solution, paper_px)
        if not look.square_paper:
            state, beside = by_straight_edges(look.light, look.lens, state, paper, distances)
        floor = looking.result()
    look.check()
    if floor is None:
        return state
    return by_floor_joints(look.photo, look.lens, state, floor, paper_px, distances, beside, look.check)


def _if_with_paper(look: _Look, alone: State, distances: Sequence[DistanceEvidence]) -> State | None:
    """The state with the paper's edges; None where they do not fit, or by them the reference has another shape."""
    try:
        return _with_paper(look, alone, distances)[0]
    except NotTrustworthy:
        return None


def _with_paper(look: _Look, alone: State, distances: Sequence[DistanceEvidence]) -> tuple[State | None, str]:
    """The state with the paper's edges as its last body; or why they did not help."""
    seed = _paper_seen(look, alone)
    if seed is None:
        return None, UNSEEN
    joined, trouble = add_paper(look.light, look.lens, alone, seed, distances)
    return (None, trouble) if joined is None else (_checked_by_paper(look.lens, alone, joined), "")


def _paper_seen(look: _Look, alone: State) -> tuple[Body, BodyPose, Quad] | None:
    """What looks most like the paper beside the reference, see :func:`paper_seed`."""
    camera = alone.solution.camera
    covered = polygons(alone.bodies, alone.solution.poses)
    touched = [camera.to_plane(np.array([p]))[0] for p in look.inside_px]
    certainty = alone.solution.certainty
    seed = paper_seed(look.photo, certainty, look.quads(), covered, touched)
    if seed is None or not drawn_on(look.photo.pixels_rgb, seed[2]):
        more_quads = (*look.quads(), *rectangles_in_plane(look.photo, camera))
        seed = paper_seed(look.photo, certainty, more_quads, covered, touched)
    return seed


def _checked_by_paper(lens: LensPrior, alone: State, state: State) -> State:
    """The state with the paper; a reference whose own shape its own picture left open is looked at once more beside it."""
    if alone.shape_sigma <= UNCHECKED_SIGMA:
        return state
    ratio, sigma = not_that_shape(lens, state.bodies, state.edges, state.solution)
    if ratio is not None:
        refuse_other_shape(state.bodies[0], ratio)
    return replace(state, shape_sigma=sigma)


def _upright(camera: Camera) -> float:
    """Turn in rad that makes the picture's upward direction +y."""
    w, h = camera.size_px
    middle = camera.to_plane(np.array([[w / 2.0, h / 2.0], [w / 2.0, h / 2.0 - 20.0]]))
    up = middle[1] - middle[0]
    if not np.isfinite(up).all():
        return 0.0
    return math.pi / 2.0 - math.atan2(up[1], up[0])
