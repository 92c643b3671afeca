"""Which photographs of one plane show the same part, and how they lie over each other there."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.join_adjust import Adjusted, over_common
from eke.capture.join_match import Features, Move, Plan, features, fitted_move, guesses, plan_of
from eke.capture.join_ties import Look, Ties, chosen, find_ties, spots_of
from eke.capture.photo import Photo
from eke.capture.references import Reference
from eke.capture.survey import Survey
from eke.capture.trace import Touch, look_at
from eke.capture.unroll import rectify
from eke.errors import BadInput, NotTrustworthy

__all__ = [
    "AGAIN",
    "LEAST_SPREAD_MM",
    "LEAST_TIES",
    "NEXT_REACHES",
    "Looked",
    "Pair",
    "look_over",
    "moves_of",
    "nearer_ties",
    "pairs_of",
    "width_mm",
]

Array = NDArray[np.float64]
Listener = Callable[[str, float], None]
Stop = Callable[[], bool]

COARSE_MM, COARSE_REACH_MM = 1.0, 8.0  # patches of the first look: as far off as two surveys may be
NEXT_REACHES = (
    (1.0, 5.0),
    (0.3, 1.5),
)  # mm a pixel (or the photographs' own), reach: each look nearer than the last
NEAR_MM = 3.5  # a tie of the first look this near to the rest agrees with it
LEAST_TIES = 10
LEAST_SHARE = 0.6  # of the clear places in an overlap that must be the same in both
LEAST_SPREAD_MM = 80.0  # between the furthest ties: over less a turn is hardly known
RIVAL_SHARE = 0.7  # of the best way's ties: another way to join that has so many is as good
RIVAL_MM = 8.0  # ways nearer to each other are one

AGAIN = (
    "Take them again so that a third of each picture shows the same part and nothing is moved in between; two or three "
    "crosses drawn in that part help. What each picture shows can still be traced by itself."
)


@dataclass(frozen=True, slots=True, eq=False)
class Looked:
    """What is kept of one photograph once it was straightened."""

    photo: Photo
    grey: NDArray[np.uint8]
    survey: Survey
    plan: Plan
    extent_px: Array
    mm_per_px: float


@dataclass(frozen=True, slots=True, eq=False)
class Pair:
    """How the second of two photographs lies over the first, and the ties that say so."""

    move: Move
    ties: Ties
    places: Array
    on_references: bool


def look_over(
    k: int,
    photo: Photo,
    references: Sequence[Reference],
    square_paper: bool,
    cloth: bool,
    touches: Sequence[Touch],
    stop: Stop | None,
) -> Looked:
    """Survey one photograph; what is refused says which one it is, counted from 0 by ``k``."""
    try:
        seen = look_at(
            photo, references=references, square_paper=square_paper, cloth=cloth, touches=touches, stop=stop
        )
        flat = rectify(photo, seen, stop=stop)
    except (NotTrustworthy, BadInput) as no:
        raise type(no)(f"Picture {k + 1}: {no.message}", **{**no.data, "picture": k}) from no
    plan = plan_of(flat)
    rows, columns = np.nonzero(plan.seen[::20, ::20])
    extent = plan.to_mm(20.0 * np.column_stack([columns, rows]).astype(np.float64))
    grey = np.asarray(cv2.cvtColor(photo.pixels_rgb, cv2.COLOR_RGB2GRAY), np.uint8)
    return Looked(photo, grey, seen, plan, seen.camera.project(extent), flat.mm_per_px)


def pairs_of(looked: Sequence[Looked], step: Listener) -> dict[tuple[int, int], Pair]:
    """All pairs of photographs that show the same part."""
    count = len(looked)
    free: list[Features] = [features(one.plan, on_references=False) for one in looked]
    pairs: dict[tuple[int, int], Pair] = {}
    number = count * (count - 1) // 2
    for i in range(count):
        for j in range(i + 1, count):
            step("looking for what the pictures share", 0.5 + 0.2 * len(pairs) / number)
            found = _best(looked[i], looked[j], guesses(free[i], free[j]), on_references=False)
            if found is not None:
                pairs[i, j] = found
    if len(_connected(pairs, count)) < count:
        # only where nothing else joins them: a sheet may have been laid anew, but what lies around it tells
        every = [features(one.plan, on_references=True) for one in looked]
        for i in range(count):
            for j in range(i + 1, count):
                if (i, j) not in pairs:
                    step("looking for sheets that the pictures share", 0.7)
                    found = _best(looked[i], looked[j], guesses(every[i], every[j]), on_references=True)
                    if found is not None:
                        pairs[i, j] = found
    return pairs


def _best(one: Looked, other: Looked, moves: Sequence[Move], *, on_references: bool) -> Pair | None:
    """Of several ways to lay a photograph over another the one that the overlap bears out, if one does."""
    found: list[tuple[int, Pair]] = []
    for move in moves:
        places = _places(one.plan, other.plan, move, on_references=False)
        ties = find_ties(
            Look(one.grey, one.survey.camera),
            Look(other.grey, over_common(other.survey.camera, move)),
            places,
            COARSE_MM,
            COARSE_REACH_MM,
        )
        agree = _agreeing(one, ties)
        if agree.sum() >= LEAST_TIES and ties.share >= LEAST_SHARE:
            kept = ties.only(agree)
            at = one.survey.camera.to_plane(kept.first_px)
            if width_mm(at) >= LEAST_SPREAD_MM:
                found.append((int(agree.sum()), Pair(move, kept, at, on_references)))
    if not found:
        return None
    found.sort(key=lambda f: -f[0])
    best = found[0][1]
    for votes, rival in found[1:]:
        apart = np.hypot(*(best.move.back(best.places) - rival.move.back(best.places)).T)
        if votes > RIVAL_SHARE * found[0][0] and float(apart.max()) > RIVAL_MM:
            raise NotTrustworthy(
                "These pictures can be laid over each other in more than one way: what both show repeats itself, or something "
                "was moved in between. Leave everything where it lies, draw two or three crosses of different sizes in the "
                "part that both show, and take the pictures again.",
                reason="repeats",
            )
    return best


def _places(one: Plan, other: Plan, move: Move, *, on_references: bool) -> Array:
    """Places in the plane of the first picture that both show and where something can be seen."""
    at, clear = spots_of(one, one.seen if on_references else one.free)
    both = other.has(other.seen if on_references else other.free, move.back(at))
    at, clear = at[both], clear[both]
    return at[chosen(at, clear)]


def _agreeing(one: Looked, ties: Ties) -> NDArray[np.bool_]:
    """Ties that one rigid move explains, across what is clear; two surveys never agree to the last millimetre."""
    keep = np.ones(len(ties.first_px), bool)
    if len(keep) < LEAST_TIES:
        return keep
    at = one.survey.camera.to_plane(ties.first_px)
    for _ in range(4):
        if keep.sum() < 3:
            break
        sure = 1.0 / np.trace(ties.covariance_mm2, axis1=1, axis2=2)
        rest = (
            ties.apart_mm
            + at
            - fitted_move((at + ties.apart_mm)[keep], at[keep], np.minimum(sure, 25.0)[keep]).of(at)
        )
        keep = ties.across_mm(rest) < NEAR_MM
    return keep


def width_mm(at_mm: Array) -> float:
    """How far places reach, from corner to corner of their box."""
    return float(np.hypot(*np.ptp(at_mm, axis=0)))


def _connected(pairs: dict[tuple[int, int], Pair], count: int) -> set[int]:
    """Photographs that are joined to the first, straight or by others."""
    reached = {0}
    while True:
        more = {k for pair in pairs for k in pair if reached & set(pair)} - reached
        if not more:
            return reached
        reached |= more


def moves_of(looked: Sequence[Looked], pairs: dict[tuple[int, int], Pair]) -> list[Move]:
    """From each survey's own plane to the upright plane of the first, along the pairs with most ties.

    Raises
    ------
    NotTrustworthy
        When a photograph is joined to none of the others.
    """
    found: dict[int, Move] = {0: Move(0.0, (0.0, 0.0))}
    while len(found) < len(looked):
        open_pairs = [(len(p.places), k) for k, p in pairs.items() if (k[0] in found) != (k[1] in found)]
        if not open_pairs:
            lost = [k + 1 for k in range(len(looked)) if k not in found]
            which = f"Picture {lost[0]} shows" if len(lost) == 1 else f"Pictures {_and(lost)} show"
            raise NotTrustworthy(
                f"{which} no part that is clearly the same as in picture 1 or those joined to it. {AGAIN}",
                reason="no overlap",
                pictures=[k - 1 for k in lost],
            )
        i, j = max(open_pairs)[1]
        move = pairs[i, j].move
        if i in found:
            found[j] = _after(found[i], move)
        else:
            back = Move(-move.turn_rad, (0.0, 0.0))
            shift = -back.of(np.array([move.shift_mm]))[0]
            found[i] = _after(found[j], Move(-move.turn_rad, (float(shift[0]), float(shift[1]))))
    return [_after(found[k], Move(one.survey.turn_rad, (0.0, 0.0))) for k, one in enumerate(looked)]


def _and(numbers: Sequence[int]) -> str:
    return ", ".join(map(str, numbers[:-1])) + f" and {numbers[-1]}"


def _after(second: Move, first: Move) -> Move:
    shift = second.of(np.array([first.shift_mm]))[0]
    return Move(second.turn_rad + first.turn_rad, (float(shift[0]), float(shift[1])))


def nearer_ties(
    looked: Sequence[Looked],
    pairs: dict[tuple[int, int], Pair],
    answer: Adjusted,
    step_mm: float,
    reach_mm: float,
) -> dict[tuple[int, int], Ties]:
    """The ties again, finer and from nearer, now that the photographs lie more nearly right."""
    cameras = [over_common(c, m) for c, m in zip(answer.cameras, answer.moves, strict=True)]
    out: dict[tuple[int, int], Ties] = {}
    for (i, j), pair in pairs.items():
        one, other = looked[i], looked[j]
        places = _places(one.plan, other.plan, pair.move, on_references=pair.on_references)
        there = cameras[i].to_plane(one.survey.camera.project(places))
        fine = max(step_mm, one.mm_per_px, other.mm_per_px)
        ties = find_ties(Look(one.grey, cameras[i]), Look(other.grey, cameras[j]), there, fine, reach_mm)
        if len(ties.first_px) >= LEAST_TIES and ties.share >= LEAST_SHARE:
            out[i, j] = ties
    return out
