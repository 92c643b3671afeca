"""What gives a picture its scale when nobody has said what lies in it: things believed, or a question.

See :mod:`eke.capture.belief` for what a thing must show. Where several are believed they must agree about the scale;
where one is nearly believed, the maker is asked about it, with its corners, so that one touch answers.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.belief import Doubt, doubt, doubt_at_sight
from eke.capture.evidence import Body, LensPrior
from eke.capture.gates import pass_gates
from eke.capture.light import Light
from eke.capture.markers import foreign_marks
from eke.capture.measure import pose_from_plane
from eke.capture.photo import Photo
from eke.capture.quads import Quad
from eke.capture.quads_unlike import find_small_quads, rare_colours
from eke.capture.rounds import State, solve_one
from eke.capture.seeds import FIT_SHARE, Seed, guesses, with_article
from eke.capture.ways import best_start
from eke.errors import NotTrustworthy

__all__ = ["believed_things", "card_by_paper"]

Array = NDArray[np.float64]

SHEET_MARKS = 4  # anywhere in the picture
MOST_SOLVED = 8  # things that are looked at closely
MOST_BESIDE_PAPER = 5
SAME_PLACE = 0.4  # of its size: nearer than this, and of about its size, is the same thing
SAME_SIZE = 0.25
AGREE_SIGMAS = 3.0
AGREE_SHARE = 0.006  # of the scale: what the place of a thing in the picture adds to its tolerance

Thing = tuple[Seed, State]


def believed_things(
    photo: Photo,
    grey: NDArray[np.uint8],
    light: Light,
    lens: LensPrior,
    quads: Sequence[Quad],
    check: Callable[[], None],
) -> tuple[State, list[str]]:
    """The state solved from everything that is believed, and notes for the maker.

    Raises
    ------
    NotTrustworthy
        Nothing is believed, or what is believed disagrees. ``data["places_px"]`` are corners that the question is
        about, and ``data["answers"]`` what may be said of them, as references in their plain form.
    """
    believed: list[Thing] = []
    doubted: list[tuple[Seed, Doubt]] = []
    marks = foreign_marks(grey)
    solved = 0
    for _, seed in guesses(photo, quads):
        if any(_same_place(seed.points_px, b.points_px) for b, _ in believed):
            continue
        if solved >= MOST_SOLVED:
            break
        why = doubt_at_sight(marks, seed, quads)
        if why is None:
            solved += 1
            check()
            state = solve_one(photo, light, lens, seed)
            if state is None:
                continue
            why = doubt(light, lens, state, seed) or _gate(lens, state)
            if why is None:
                believed.append((seed, state))
                continue
        doubted.append((seed, why))
    if not believed:
        raise _question(marks, doubted)
    notes = [_taken(seed.body, state) for seed, state in believed[:1]]
    if len(believed) == 1:
        return believed[0][1], notes
    _must_agree(believed)
    more: list[str] = []
    state = best_start(photo, light, lens, [[seed] for seed, _ in believed], [], more)
    return state, more  # two things of known size that agree say more than a note


def card_by_paper(
    photo: Photo,
    grey: NDArray[np.uint8],
    light: Light,
    lens: LensPrior,
    quads: Sequence[Quad],
    with_paper: Callable[[State], State | None],
    check: Callable[[], None],
) -> tuple[State, list[str]] | None:
    """A card that alone does not show its shape well enough, but does beside the paper's square edges; or None.

    Things that are small in the picture are looked at closely. ``with_paper`` gives a state with the paper's edges, or
    None where they do not fit.
    """
    marks = foreign_marks(grey)
    near = (*quads, *find_small_quads(rare_colours(photo.pixels_rgb)))
    cards = [seed for _, seed in guesses(photo, near, FIT_SHARE) if seed.body.kind == "card"]
    for seed in [c for c in cards if doubt_at_sight(marks, c, quads) is None][:MOST_BESIDE_PAPER]:
        check()
        alone = solve_one(photo, light, lens, seed)
        state = None if alone is None else with_paper(alone)
        if state is not None and doubt(light, lens, state, seed) is None and _gate(lens, state) is None:
            return state, [_taken(seed.body, state)]
    return None


def _same_place(a: Array, b: Array) -> bool:
    size = math.sqrt(abs(cv2.contourArea(b.astype(np.float32))))
    other = math.sqrt(abs(cv2.contourArea(a.astype(np.float32))))
    apart = float(np.hypot(*(a.mean(axis=0) - b.mean(axis=0))))
    return apart < SAME_PLACE * size and abs(other / size - 1.0) < SAME_SIZE


def _gate(lens: LensPrior, state: State) -> Doubt | None:
    try:
        pass_gates(lens, state, [])
    except NotTrustworthy as no:
        return Doubt("gate", no.message)
    return None


def _taken(body: Body, state: State) -> str:
    height = float(state.solution.camera.position_mm()[2]) / 1000.0
    if body.kind == "card":
        return (
            "The scale rests on something that looks like a bank card. If it is none, say what lies there: all lengths "
            "would be wrong."
        )
    other = "another of its shape, such as A5 or A3," if body.kind == "a4" else "none,"
    return (
        f"The scale rests on a sheet that was taken for {with_article(body.name)}, seen from {height:.1f} m. If it is "
        f"{other} say what lies there: all lengths would be wrong."
    )


def _must_agree(believed: Sequence[Thing]) -> None:
    first, state = believed[0]
    camera = state.solution.camera
    for seed, own in believed[1:]:
        corners = own.solution.camera.project(
            own.solution.poses[0].place(seed.body.outline_mm), seed.body.height_mm
        )
        there = camera.to_plane(corners, seed.body.height_mm)
        _, scale = pose_from_plane(seed.body.outline_mm, there)
        allowed = AGREE_SIGMAS * math.hypot(first.body.scale_sigma, seed.body.scale_sigma) + AGREE_SHARE
        if not abs(scale - 1.0) <= allowed:
            raise NotTrustworthy(
                f"Two things in the picture give different scales: by the {first.body.name}, what looks like "
                f"{with_article(seed.body.name)} would be {100.0 * (scale - 1.0):+.0f} % of its size off. Say which of "
                "them is what it looks like.",
                reason="which reference",
                places_px=_corners(seed),
                answers=[_answer(first), _answer(seed)],
            )


def _corners(seed: Seed) -> list[list[float]]:
    return [[float(x), float(y)] for x, y in seed.points_px]


def _answer(seed: Seed) -> dict[str, object]:
    return {"kind": seed.body.kind, "corners_px": _corners(seed)}


def _question(foreign_px: Array, doubted: Sequence[tuple[Seed, Doubt]]) -> NotTrustworthy:
    """The refusal that helps most: about marks, else about a thing that is nearly believed, else in general."""
    marks = next((seed for seed, why in doubted if why.reason == "marks"), None)
    if marks is not None or len(foreign_px) >= SHEET_MARKS:
        return NotTrustworthy(
            "A sheet of printed marks lies in the picture, but it is not one of Eke's, so its size is not known. "
            "Give its measures, or lay a plain sheet of A4 or Letter or a bank card beside the paper, and take the "
            "picture again.",
            reason="unknown marks",
            places_px=_corners(marks) if marks is not None else [],
            answers=[],
        )
    for seed, why in doubted:
        if why.reason not in ("corners", "height", "unsure shape"):
            continue
        name = "a bank card" if seed.body.kind == "card" else with_article(seed.body.name)
        return NotTrustworthy(
            f"Something in the picture has about the shape of {name}, but {why.because}. Is it {name}? If so, say that it "
            f"lies there. If not, lay a plain sheet of A4 or Letter or a bank card beside the paper, or mark two points "
            "whose distance you know.",
            reason="which reference",
            places_px=_corners(seed),
            answers=[_answer(seed)],
        )
    return NotTrustworthy(
        "Nothing of known size is seen in the picture. Lay a sheet of A4 or Letter, a bank card or the printed "
        "reference sheet flat beside the paper, wholly inside the picture, and take it again.",
        reason="no reference",
    )
