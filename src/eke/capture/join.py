"""Several photographs of one paper or one long cloth, joined into one rectified picture.

Every photograph is surveyed by itself, by what gives it its scale. Then pairs are laid over each other by what both
show (drawn lines, marks, print, folds, the floor), all cameras are solved for once more together, and one picture is
drawn. Finding pieces and cloths in it is the same as in one photograph.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from eke.capture.by_hand import Stroke
from eke.capture.join_adjust import Adjusted, adjusted, over_common
from eke.capture.join_lines import seen_twice
from eke.capture.join_match import fitted_move
from eke.capture.join_mosaic import Mosaic, Part, compose
from eke.capture.join_pairs import (
    AGAIN,
    LEAST_SPREAD_MM,
    LEAST_TIES,
    NEXT_REACHES,
    Looked,
    look_over,
    moves_of,
    nearer_ties,
    pairs_of,
    width_mm,
)
from eke.capture.join_ties import Look, Ties, spots_of
from eke.capture.join_worth import JoinedCertainty
from eke.capture.photo import Photo
from eke.capture.rectify import Rectified
from eke.capture.references import Reference
from eke.capture.side_by_side import side_by_side
from eke.capture.trace import Touch, Trace, TracedCloth, TracedPiece, find_drawn, plane_strokes
from eke.errors import BadInput, NotTrustworthy, Stopped

__all__ = ["MOST_PHOTOS", "Joined", "Seam", "join", "trace_joined"]

Array = NDArray[np.float64]
Listener = Callable[[str, float], None]
Stop = Callable[[], bool]

MOST_PHOTOS = 12
MOST_SEAM_MM = {"paper": 1.5, "cloth": 3.0}  # what may remain at a seam; cloth gives
TOLD_SEAM_MM = 0.8
SCALES_TOLD, SCALES_REFUSED = 1.0, 1.8  # times what both surveys state: a difference in size
MOST_PULL = (
    1.65  # as far as a survey may be changed, root mean square of its 13 unknowns: one in a thousand is
)
SURE_TIE_MM = 0.6  # standard deviation along a tie's worse direction, to compare sizes


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
    looks: tuple[Look, ...]
    spots: tuple[tuple[Array, Array], ...]
    seams: tuple[Seam, ...]
    reference: str
    warnings: tuple[str, ...]

    def local_mm(self, points_mm: Array) -> Array:
        """:meth:`JoinedCertainty.local_mm`."""
        return self.certainty.local_mm(points_mm)

    def length_percent(self, points_mm: Array) -> float:
        """:meth:`JoinedCertainty.length_percent`."""
        return self.certainty.length_percent(points_mm)


@side_by_side
def trace_joined(
    photos: Sequence[Photo],
    *,
    references: Sequence[Sequence[Reference]],
    square_paper: bool | Sequence[bool] = False,
    cloth: bool = False,
    touches: Sequence[Sequence[Touch]] = (),
    touches_mm: Sequence[Touch] = (),
    strokes: Sequence[Sequence[Stroke]] = (),
    strokes_mm: Sequence[Stroke] = (),
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
    square_paper
        The paper's edges are cut straight and square, said of all pictures or of each.
    touches_mm
        Touches in the plane of the joined picture.
    strokes, strokes_mm
        What was drawn on each of them, in its pixels, and on the joined picture, in mm of its plane.

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
    there: list[Touch] = list(touches_mm)
    for look, own in zip(joined.looks, touches, strict=False):
        for x, y, side in own:
            p = look.camera.to_plane(np.array([[x, y]]))[0]
            if np.isfinite(p).all():
                there.append((float(p[0]), float(p[1]), side))
    drawn = [
        s for look, own in zip(joined.looks, strokes, strict=False) for s in plane_strokes(look.camera, own)
    ]
    try:
        found = find_drawn(
            joined.rectified,
            joined,
            [*drawn, *strokes_mm],
            cloth=cloth,
            touches=there,
            listener=lambda sentence, share: say(sentence, 0.6 + 0.38 * share),
            stop=stop,
        )
    except NotTrustworthy as no:
        if no.data.get("reason", "nothing found") != "nothing found":
            raise
        raise NotTrustworthy(
            f"{no.message} That is said of the joined picture: if something was moved between the pictures, a line is "
            "broken where they meet.",
            **no.data,
        ) from no
    say("looking at the line where two pictures show it", 0.98)
    found = _line_agrees(joined, found, cloth)
    say("done", 1.0)
    return found


def _line_agrees(joined: Joined, found: Trace, cloth: bool) -> Trace:
    """Refuse what lies elsewhere in two photographs; else add to each outline's uncertainty what they differ by."""
    most = MOST_SEAM_MM["cloth" if cloth else "paper"]
    pairs = [(s.first, s.second) for s in joined.seams]
    warnings = list(found.warnings)

    def wider(what: TracedPiece | TracedCloth) -> float:
        name = "The cloth's edge" if cloth else f"The line of outline {what.name}"
        apart = 0.0
        for i, j in pairs:
            seen = seen_twice(what.found.outline_mm, joined.spots, joined.looks, (i, j), most, AGAIN)
            if seen is None:
                continue
            apart = max(apart, seen.p95_mm)
            pictures = f"pictures {i + 1} and {j + 1}"
            warnings.append(
                f"{name} was compared at {seen.places} places that {pictures} show: it lies within "
                f"{max(0.1, seen.p95_mm):.1f} mm of itself (95 % of the places)."
            )
            if not seen.sure:
                warnings.append(
                    f"What {pictures} both show of outline {what.name} is only straight lines in one direction: nothing in "
                    "it tells whether it was moved along them in between. If it was, draw two or three crosses there and "
                    "take the pictures again."
                )
        return math.hypot(what.uncertainty_mm, apart)

    return replace(
        found,
        pieces=tuple(replace(p, uncertainty_mm=wider(p)) for p in found.pieces),
        cloths=tuple(replace(c, uncertainty_mm=wider(c)) for c in found.cloths),
        warnings=tuple(dict.fromkeys(warnings)),
    )


def join(
    photos: Sequence[Photo],
    *,
    references: Sequence[Sequence[Reference]],
    square_paper: bool | Sequence[bool] = False,
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
        square = square_paper if isinstance(square_paper, bool) else square_paper[k]
        looked.append(look_over(k, photo, references[k], square, cloth, own, stop))
    pairs = pairs_of(looked, step)
    moves = moves_of(looked, pairs)
    step("laying the pictures over each other", 0.75)
    surveys = [one.survey.certainty for one in looked]
    answer = adjusted(surveys, {k: p.ties for k, p in pairs.items()}, moves)
    ties: dict[tuple[int, int], Ties] = {}
    for fine_mm, reach_mm in NEXT_REACHES:
        ties = nearer_ties(looked, pairs, answer, fine_mm, reach_mm)
        pairs = {k: p for k, p in pairs.items() if k in ties}
        moves_of(looked, pairs)  # still all in one
        answer = adjusted(surveys, ties, answer.moves)
    warnings = [f"Picture {k + 1}: {w}" for k, one in enumerate(looked) for w in one.survey.warnings]
    seams = _seams(looked, ties, answer, cloth, warnings)
    step("drawing the joined picture", 0.85)
    cameras = tuple(over_common(c, m) for c, m in zip(answer.cameras, answer.moves, strict=True))
    looks = tuple(Look(one.grey, camera) for one, camera in zip(looked, cameras, strict=True))
    spots = tuple(
        (camera.to_plane(one.survey.camera.project(at)), clear)
        for one, camera in zip(looked, cameras, strict=True)
        for at, clear in [spots_of(one.plan, one.plan.free)]
    )
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
        looks,
        spots,
        seams,
        "+".join(names),
        tuple(dict.fromkeys(warnings)),
    )


def _seams(
    looked: Sequence[Looked],
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
    if max(answer.pull) > MOST_PULL:
        raise NotTrustworthy(
            f"The pictures can be laid over each other only by bending them more than is likely (picture "
            f"{1 + int(np.argmax(answer.pull))} most). Something was moved between them, or the paper did not lie flat. {AGAIN}",
            reason="moved",
        )
    return tuple(seams)


def _same_size(one: Looked, other: Looked, ties: Ties, name: str, warnings: list[str]) -> None:
    """Refuse two surveys whose sizes differ by more than both say they may."""
    sure = np.sqrt(np.linalg.eigvalsh(ties.covariance_mm2)[:, 1]) < SURE_TIE_MM
    if sure.sum() < LEAST_TIES:
        return
    a = one.survey.camera.to_plane(ties.first_px[sure])
    b = other.survey.camera.to_plane(ties.second_px[sure])
    if width_mm(a) < LEAST_SPREAD_MM:
        return
    laid = fitted_move(a, b).of(b)
    laid, middle = laid - laid.mean(axis=0), a - a.mean(axis=0)
    percent = 100.0 * (float((middle * laid).sum() / (laid * laid).sum()) - 1.0)
    stated = math.hypot(one.survey.length_percent(a), other.survey.length_percent(b))
    # over a short stretch the ties themselves say no more
    stated += 100.0 * SURE_TIE_MM / width_mm(a)
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
