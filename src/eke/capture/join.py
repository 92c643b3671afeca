"""Several photographs of one paper or one long cloth, joined into one rectified picture.

Every photograph is surveyed by itself, by what gives it its scale. Then pairs are laid over each other by what both
show (drawn lines, marks, print, folds, the floor), all cameras are solved for once more together, and one picture is
drawn. Finding pieces and cloths in it is the same as in one photograph.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.camera import Camera
from eke.capture.join_adjust import Adjusted, adjusted, over_common
from eke.capture.join_match import Features, Move, Plan, features, fitted_move, guesses, plan_of
from eke.capture.join_mosaic import Mosaic, Part, compose
from eke.capture.join_ties import Look, Ties, chosen, find_ties, spots_of
from eke.capture.join_worth import JoinedCertainty
from eke.capture.photo import Photo
from eke.capture.rectify import Rectified
from eke.capture.references import Reference
from eke.capture.survey import Survey
from eke.capture.trace import Touch, Trace, find_in, look_at
from eke.capture.unroll import rectify
from eke.errors import BadInput, NotTrustworthy, Stopped

__all__ = ["MOST_PHOTOS", "Joined", "Seam", "join", "trace_joined"]

Array = NDArray[np.float64]
Listener = Callable[[str, float], None]
Stop = Callable[[], bool]

MOST_PHOTOS = 12
COARSE_MM, COARSE_REACH_MM = 1.0, 6.0  # patches of the first look: as far off as two surveys may be
FINE_MM, FINE_REACH_MM = 0.3, 1.5
NEAR_MM = 2.5  # a tie of the first look this near to the rest agrees with it
LEAST_TIES = 10
LEAST_SHARE = 0.6  # of the clear places in an overlap that must be the same in both
LEAST_SPREAD_MM = 80.0  # between the furthest ties: over less a turn is hardly known
RIVAL_SHARE = 0.7  # of the best way's ties: another way to join that has so many is as good
RIVAL_MM = 8.0  # ways nearer to each other are one
MOST_SEAM_MM = {"paper": 1.5, "cloth": 3.0}  # what may remain at a seam; cloth gives
TOLD_SEAM_MM = 0.8
SCALES_TOLD, SCALES_REFUSED = (
    1.0,
    1.8,
)  # of what both surveys state together, as far as their sizes may differ
SURE_TIE_MM = 0.6  # standard deviation along a tie's worse direction, to compare sizes

AGAIN = (
    "Take them again so that a third of each picture shows the same part and nothing is moved in between; two or three "
    "crosses drawn in that part help. What each picture shows can still be traced by itself."
)


@dataclass(frozen=True, slots=True)
class Seam:
    """How well two photographs agree where both show the same; numbers of photographs count from 0."""

    first: int
    second: int
    places: int
    p95_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Joined:
    """The joined picture, and what it is worth (as :class:`eke.capture.trace.Measured`)."""

    rectified: Rectified
    certainty: JoinedCertainty
    cameras: tuple[Camera, ...]
    seams: tuple[Seam, ...]
    reference: str
    warnings: tuple[str, ...]

    def local_mm(self, points_mm: Array) -> Array:
        """:meth:`JoinedCertainty.local_mm`."""
        return self.certainty.local_mm(points_mm)

    def length_percent(self, points_mm: Array) -> float:
        """:meth:`JoinedCertainty.length_percent`."""
        return self.certainty.length_percent(points_mm)


@dataclass(frozen=True, slots=True, eq=False)
class _Looked:
    """What is kept of one photograph once it was straightened."""

    photo: Photo
    grey: NDArray[np.uint8]
    survey: Survey
    plan: Plan
    extent_px: Array
    mm_per_px: float


@dataclass(frozen=True, slots=True, eq=False)
class _Pair:
    """How the second of two photographs lies over the first, and the ties that say so."""

    move: Move
    ties: Ties
    places: Array
    on_references: bool


def trace_joined(
    photos: Sequence[Photo],
    *,
    references: Sequence[Sequence[Reference]],
    square_paper: bool = False,
    cloth: bool = False,
    touches: Sequence[Sequence[Touch]] = (),
    listener: Listener | None = None,
    stop: Stop | None = None,
) -> Trace:
    """Pieces (or cloths) in millimetres from several photographs of one paper (or cloth).

    Parameters
    ----------
    photos
        Pictures that overlap, in any order; the joined picture is held as the first.
    references, touches
        What lies in each of them, and touches in its pixels; touches may be left out.

    Raises
    ------
    NotTrustworthy
        A picture gives no true scale, or they cannot be joined; the message says what to do.
    BadInput, Stopped
        As for one photograph.
    """
    say = listener or (lambda sentence, share: None)
    joined = join(
        photos,
        references=references,
        square_paper=square_paper,
        cloth=cloth,
        touches=touches,
        listener=lambda sentence, share: say(sentence, 0.6 * share),
        stop=stop,
    )
    there: list[Touch] = []
    for camera, own in zip(joined.cameras, touches, strict=False):
        for x, y, side in own:
            p = camera.to_plane(np.array([[x, y]]))[0]
            if np.isfinite(p).all():
                there.append((float(p[0]), float(p[1]), side))
    found = find_in(
        joined.rectified,
        joined,
        cloth=cloth,
        touches=there,
        listener=lambda sentence, share: say(sentence, 0.6 + 0.4 * share),
        stop=stop,
    )
    say("done", 1.0)
    return found


def join(
    photos: Sequence[Photo],
    *,
    references: Sequence[Sequence[Reference]],
    square_paper: bool = False,
    cloth: bool = False,
    touches: Sequence[Sequence[Touch]] = (),
    listener: Listener | None = None,
    stop: Stop | None = None,
) -> Joined:
    """Lay photographs of one plane together; see :func:`trace_joined`."""
    say = listener or (lambda sentence, share: None)
    if not 2 <= len(photos) <= MOST_PHOTOS:
        raise BadInput(f"From 2 to {MOST_PHOTOS} pictures can be joined, not {len(photos)}.")
    if len(references) != len(photos):
        raise BadInput("Say for each of the pictures what gives its scale.")

    def step(sentence: str, share: float) -> None:
        if stop is not None and stop():
            raise Stopped("Stopped while the pictures were being joined; nothing was kept.")
        say(sentence, share)

    looked = []
    for k, photo in enumerate(photos):
        step(f"looking for what gives picture {k + 1} its scale", 0.5 * k / len(photos))
        own = touches[k] if k < len(touches) else ()
        looked.append(_looked(k, photo, references[k], square_paper, cloth, own, stop))
    pairs = _pairs(looked, step)
    moves = _moves(looked, pairs)
    step("laying the pictures over each other", 0.75)
    surveys = [one.survey.certainty for one in looked]
    answer = adjusted(surveys, {k: p.ties for k, p in pairs.items()}, moves)
    ties = _fine_ties(looked, pairs, answer)
    for pair in [k for k in pairs if k not in ties]:
        del pairs[pair]
    _moves(looked, pairs)  # still all in one
    answer = adjusted(surveys, ties, answer.moves)
    warnings = [f"Picture {k + 1}: {w}" for k, one in enumerate(looked) for w in one.survey.warnings]
    seams = _seams(looked, ties, answer, cloth, warnings)
    step("drawing the joined picture", 0.85)
    cameras = tuple(over_common(c, m) for c, m in zip(answer.cameras, answer.moves, strict=True))
    parts = [
        Part(
            one.photo,
            camera,
            camera.to_plane(one.extent_px),
            tuple(
                camera.to_plane(one.survey.camera.project(one.survey.polygon(i)))
                for i, body in enumerate(one.survey.bodies)
                if body.kind != "paper"
            ),
            one.mm_per_px,
        )
        for one, camera in zip(looked, cameras, strict=True)
    ]
    mosaic = compose(parts, stop=stop)
    left = np.concatenate(list(answer.left_mm.values()))
    certainty = JoinedCertainty(
        mosaic.camera,
        answer.covariance,
        adjusted=answer,
        owner=mosaic.owner_of,
        seam_sigma_mm=float(np.sqrt(np.mean(left**2))),
    )
    names = dict.fromkeys(name for one in looked for name in one.survey.reference.split("+"))
    return Joined(
        _rectified(mosaic, certainty),
        certainty,
        cameras,
        seams,
        "+".join(names),
        tuple(dict.fromkeys(warnings)),
    )


def _looked(
    k: int,
    photo: Photo,
    references: Sequence[Reference],
    square_paper: bool,
    cloth: bool,
    touches: Sequence[Touch],
    stop: Stop | None,
) -> _Looked:
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
    return _Looked(photo, grey, seen, plan, seen.camera.project(extent), flat.mm_per_px)


def _pairs(looked: Sequence[_Looked], step: Listener) -> dict[tuple[int, int], _Pair]:
    """All pairs of photographs that show the same part."""
    count = len(looked)
    free: list[Features] = [features(one.plan, on_references=False) for one in looked]
    pairs: dict[tuple[int, int], _Pair] = {}
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


def _best(one: _Looked, other: _Looked, moves: Sequence[Move], *, on_references: bool) -> _Pair | None:
    """Of several ways to lay a photograph over another the one that the overlap bears out, if one does."""
    found: list[tuple[int, _Pair]] = []
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
            if _width(at) >= LEAST_SPREAD_MM:
                found.append((int(agree.sum()), _Pair(move, kept, at, on_references)))
    if not found:
        return None
    found.sort(key=lambda f: -f[0])
    best = found[0][1]
    for votes, rival in found[1:]:
        apart = np.hypot(*(best.move.back(best.places) - rival.move.back(best.places)).T)
        if votes > RIVAL_SHARE * found[0][0] and float(apart.max()) > RIVAL_MM:
            raise NotTrustworthy(
                "These pictures can be laid over each other in more than one way: what both show repeats itself. Draw "
                "two or three crosses in the part that both show, of different sizes, and take the pictures again.",
                reason="repeats",
            )
    return best


def _places(one: Plan, other: Plan, move: Move, *, on_references: bool) -> Array:
    """Places in the plane of the first picture that both show and where something can be seen."""
    at, clear = spots_of(one, one.seen if on_references else one.free)
    both = other.has(other.seen if on_references else other.free, move.back(at))
    at, clear = at[both], clear[both]
    return at[chosen(at, clear)]


def _agreeing(one: _Looked, ties: Ties) -> NDArray[np.bool_]:
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


def _width(at_mm: Array) -> float:
    return float(np.hypot(*np.ptp(at_mm, axis=0)))


def _connected(pairs: dict[tuple[int, int], _Pair], count: int) -> set[int]:
    """Photographs that are joined to the first, straight or by others."""
    reached = {0}
    while True:
        more = {k for pair in pairs for k in pair if reached & set(pair)} - reached
        if not more:
            return reached
        reached |= more


def _moves(looked: Sequence[_Looked], pairs: dict[tuple[int, int], _Pair]) -> list[Move]:
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


def _fine_ties(
    looked: Sequence[_Looked], pairs: dict[tuple[int, int], _Pair], answer: Adjusted
) -> dict[tuple[int, int], Ties]:
    """The ties again, at the photographs' own fineness, now that they lie nearly right."""
    cameras = [over_common(c, m) for c, m in zip(answer.cameras, answer.moves, strict=True)]
    out: dict[tuple[int, int], Ties] = {}
    for (i, j), pair in pairs.items():
        one, other = looked[i], looked[j]
        places = _places(one.plan, other.plan, pair.move, on_references=pair.on_references)
        there = cameras[i].to_plane(one.survey.camera.project(places))
        fine = max(FINE_MM, one.mm_per_px, other.mm_per_px)
        ties = find_ties(Look(one.grey, cameras[i]), Look(other.grey, cameras[j]), there, fine, FINE_REACH_MM)
        if len(ties.first_px) >= LEAST_TIES and ties.share >= LEAST_SHARE:
            out[i, j] = ties
    return out


def _seams(
    looked: Sequence[_Looked],
    ties: dict[tuple[int, int], Ties],
    answer: Adjusted,
    cloth: bool,
    warnings: list[str],
) -> tuple[Seam, ...]:
    """State what remains at each seam; refuse when it is too much, or when the pictures differ in size."""
    seams = []
    for (i, j), left in answer.left_mm.items():
        seam = Seam(i, j, len(left), float(np.percentile(left, 95.0)))
        name = f"Pictures {i + 1} and {j + 1}"
        _same_size(looked[i], looked[j], ties[i, j], name, warnings)
        most = MOST_SEAM_MM["cloth" if cloth else "paper"]
        if seam.p95_mm > most:
            raise NotTrustworthy(
                f"{name} do not fit together: what both show lies up to {seam.p95_mm:.1f} mm apart, and {most:g} mm is the "
                f"most that can be joined. The paper was moved, folded or lifted between them, or does not lie flat. {AGAIN}",
                reason="seam",
                seam_mm=seam.p95_mm,
            )
        advice = (
            " Smooth the paper flat and take them again if that is too much."
            if seam.p95_mm > TOLD_SEAM_MM
            else ""
        )
        warnings.append(
            f"{name} were joined at {seam.places} places that both show; there they agree within {max(0.1, seam.p95_mm):.1f} mm "
            f"(95 % of the places).{advice}"
        )
        seams.append(seam)
    return tuple(seams)


def _same_size(one: _Looked, other: _Looked, ties: Ties, name: str, warnings: list[str]) -> None:
    """Refuse two surveys whose sizes differ by more than both say they may."""
    sure = np.sqrt(np.linalg.eigvalsh(ties.covariance_mm2)[:, 1]) < SURE_TIE_MM
    if sure.sum() < LEAST_TIES:
        return
    a = one.survey.camera.to_plane(ties.first_px[sure])
    b = other.survey.camera.to_plane(ties.second_px[sure])
    if _width(a) < LEAST_SPREAD_MM:
        return
    laid = fitted_move(a, b).of(b)
    laid, middle = laid - laid.mean(axis=0), a - a.mean(axis=0)
    percent = 100.0 * (float((middle * laid).sum() / (laid * laid).sum()) - 1.0)
    stated = math.hypot(one.survey.length_percent(a), other.survey.length_percent(b))
    # over a short stretch the ties themselves say no more
    stated += 100.0 * SURE_TIE_MM / _width(a)
    if abs(percent) > SCALES_REFUSED * stated:
        raise NotTrustworthy(
            f"{name} disagree about the size of what both show by {abs(percent):.1f} %, and at most {stated:.1f} % is likely. "
            "Is the right reference named in both, with what was read on its check line? Trace each picture by itself to "
            "see which one is wrong.",
            reason="references disagree",
        )
    if abs(percent) > SCALES_TOLD * stated:
        warnings.append(
            f"{name} disagree about the size of what both show by {abs(percent):.1f} %; the joined picture lies between "
            "them. Check what was read on the sheets' check lines."
        )


def _rectified(mosaic: Mosaic, certainty: JoinedCertainty) -> Rectified:
    height, width = mosaic.image_rgb.shape[:2]
    left, top = mosaic.origin_mm
    right, low = left + width * mosaic.mm_per_px, top - height * mosaic.mm_per_px
    corners = np.array([[left, low], [right, low], [right, top], [left, top]])
    return Rectified(
        image_rgb=mosaic.image_rgb,
        mm_per_px=mosaic.mm_per_px,
        origin_mm=mosaic.origin_mm,
        camera=mosaic.camera,
        uncertainty_percent=certainty.length_percent(corners),
        uncertainty_mm=certainty.local_mm,
        reference_polygons_mm=mosaic.reference_polygons_mm,
        seen=mosaic.seen,
    )
