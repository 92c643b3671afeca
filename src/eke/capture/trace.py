"""From a photograph to pieces or cloths in millimetres, each with its uncertainty: the whole of this folder.

Two kinds of error meet in a traced outline: that of the picture's scale and straightness (from the solution's
covariance, the reference's own tolerance included) and that of the drawn line as it was found. They are
independent, so they add as squares.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal, Protocol

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.by_hand import Stroke, drawn_share, with_strokes
from eke.capture.camera import Camera
from eke.capture.found import FoundCloth, FoundPiece
from eke.capture.photo import Photo
from eke.capture.rectify import Rectified
from eke.capture.references import Reference
from eke.capture.side_by_side import side_by_side
from eke.capture.survey import Survey, survey
from eke.capture.unroll import rectify
from eke.errors import BadInput, NotTrustworthy

__all__ = [
    "Measured",
    "Trace",
    "TracedCloth",
    "TracedPiece",
    "find_drawn",
    "find_in",
    "look_at",
    "plane_strokes",
    "trace",
    "trace_json",
]

Array = NDArray[np.float64]
Touch = tuple[float, float, Literal["+", "-"]]
Listener = Callable[[str, float], None]
Stop = Callable[[], bool]

MAX_UNCERTAINTY_PERCENT = 4.0  # worse is no pattern: two sizes of a garment differ by four per cent
WARN_UNCERTAINTY_PERCENT = 2.5
NORMAL_95 = 1.96  # 95 % of the outline's points, each off with a normal distribution
SURE_OF_SIGMA = (
    1.5  # our own limit: the fit follows a part of the hand's shake, so the line scatters about it by less
)
BLUR_WIDTH_PX = 6.0  # edges of a reference spread over more than this: the picture is shaken or out of focus
DRAWN_SHARE = 0.05  # of an outline: what 95 % of it lies within says nothing of less
DRAWN_MM = 1.5  # our own limit: a fingertip under a magnifier, on a picture of a metre
OTHER_PAPER = "What looked like the paper was something else, so its edges did not help: the scale rests on the reference alone."
LIGHT_SIDE_PX = 480  # as many pixels of its shorter side say how bright a picture is
LONGEST_ASPECT = 2.4  # longer pictures are panoramas, stitched from several views


@dataclass(frozen=True, slots=True, eq=False)
class TracedPiece:
    """A piece as found, with what its outline is worth (95 % confidence for 95 % of it)."""

    name: str
    found: FoundPiece
    uncertainty_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class TracedCloth:
    """A cloth as found, with what its outline is worth."""

    name: str
    found: FoundCloth
    uncertainty_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """All that one photograph yields.

    ``reference`` names what gave the scale; ``uncertainty_percent`` holds for lengths across what was found,
    with 95 % confidence.
    """

    reference: str
    uncertainty_percent: float
    pieces: tuple[TracedPiece, ...]
    cloths: tuple[TracedCloth, ...]
    warnings: tuple[str, ...]
    rectified: Rectified


class Measured(Protocol):
    """What gave a rectified picture its scale, and how sure that is; a survey, or several that were joined."""

    @property
    def reference(self) -> str:
        """What gave the scale."""

    @property
    def warnings(self) -> tuple[str, ...]:
        """Sentences for the maker."""

    def local_mm(self, points_mm: Array) -> Array:
        """(n,) with 95 % confidence, how far each plane point is from its true place among the given ones."""

    def length_percent(self, points_mm: Array) -> float:
        """With 95 % confidence, the error of lengths between far points of the given ones, in per cent."""


@side_by_side
def trace(
    photo: Photo,
    *,
    references: Sequence[Reference] = (),
    square_paper: bool = False,
    cloth: bool = False,
    touches: Sequence[Touch] = (),
    strokes: Sequence[Stroke] = (),
    listener: Listener | None = None,
    stop: Stop | None = None,
) -> Trace:
    """Pieces (or cloths) in millimetres from one photograph.

    Parameters
    ----------
    photo
        The picture, upright.
    references
        What lies in it; nothing means: look for what is there.
    square_paper
        The paper's edges are cut straight and square.
    cloth
        Look for cloth instead of drawn pieces.
    touches
        (x, y, "+" or "-") in pixels of the upright picture: inside or outside what is wanted.
    strokes
        What the maker drew on the picture or rubbed out of it, in such pixels. Of cloth nothing is drawn.
    listener
        Called with a sentence and the share done.
    stop
        Asked now and then; True ends the work.

    Raises
    ------
    NotTrustworthy
        The picture cannot give a true scale, or shows nothing to trace; the message says how to retake it.
    BadInput
        References or touches that make no sense.
    Stopped
        ``stop`` said so.
    """
    say = listener or (lambda sentence, share: None)
    try:
        return _once(photo, references, square_paper, cloth, touches, strokes, say, stop)
    except NotTrustworthy as no:
        only_points = bool(references) and all(r.kind == "points" for r in references)
        if not square_paper or cloth or only_points or no.data.get("reason") != "nothing found":
            raise
        first = no
    # what was taken for the paper may be a tile or a table: look everywhere, without its edges
    try:
        again = _once(photo, references, False, cloth, touches, strokes, say, stop)
    except NotTrustworthy:
        raise first from None
    return replace(again, warnings=(*again.warnings, OTHER_PAPER))


def _once(
    photo: Photo,
    references: Sequence[Reference],
    square_paper: bool,
    cloth: bool,
    touches: Sequence[Touch],
    strokes: Sequence[Stroke],
    say: Listener,
    stop: Stop | None,
) -> Trace:
    say("looking for what gives the scale", 0.02)
    seen = look_at(
        photo, references=references, square_paper=square_paper, cloth=cloth, touches=touches, stop=stop
    )
    say("straightening the picture", 0.3)
    flat = rectify(photo, seen, stop=stop)
    plane_touches: list[Touch] = []
    for t in touches:
        p = seen.camera.to_plane(np.array([[t[0], t[1]]]))[0]
        if np.isfinite(p).all():
            plane_touches.append((float(p[0]), float(p[1]), t[2]))

    def inner(sentence: str, share: float) -> None:
        say(sentence, 0.45 + 0.5 * share)

    found = find_drawn(
        flat,
        seen,
        plane_strokes(seen.camera, strokes),
        cloth=cloth,
        touches=plane_touches,
        listener=inner,
        stop=stop,
    )
    say("done", 1.0)
    return found


def plane_strokes(camera: Camera, strokes: Sequence[Stroke]) -> list[Stroke]:
    """Strokes said in pixels of a camera's picture, in mm of its plane; what lies above the horizon is left out."""
    there = [replace(s, points=camera.to_plane(s.points)) for s in strokes]
    return [s for s in there if np.isfinite(s.points).all()]


def find_drawn(
    flat: Rectified,
    seen: Measured,
    strokes: Sequence[Stroke],
    *,
    cloth: bool,
    touches: Sequence[Touch],
    listener: Listener | None,
    stop: Stop | None,
) -> Trace:
    """:func:`find_in` in a picture on which the maker has drawn ``strokes``, mm of its plane; of cloth nothing is drawn."""
    put, lines = with_strokes(flat, [] if cloth else strokes)
    found = find_in(put, seen, cloth=cloth, touches=touches, listener=listener, stop=stop)
    return replace(found, pieces=tuple(_by_hand(p, lines) for p in found.pieces), rectified=flat)


def _by_hand(piece: TracedPiece, lines: Sequence[Array]) -> TracedPiece:
    """What an outline is worth of which the maker drew a part on the picture: with a finger, not along the garment."""
    if drawn_share(piece.found.outline_mm, lines) <= DRAWN_SHARE:
        return piece
    return replace(piece, uncertainty_mm=float(np.hypot(piece.uncertainty_mm, DRAWN_MM)))


def look_at(
    photo: Photo,
    *,
    references: Sequence[Reference] = (),
    square_paper: bool = False,
    cloth: bool = False,
    touches: Sequence[Touch] = (),
    stop: Stop | None = None,
) -> Survey:
    """The first half of :func:`trace`: where the camera stood, and how sure that is."""
    stated = tuple(references) or (Reference("auto"),)
    if photo.scanned and all(r.kind == "auto" for r in stated):
        stated = (Reference("scan"),)
    if all(r.kind != "scan" for r in stated):
        _by_one_lens(photo)
    _bright_enough(photo)
    for x, y, _ in touches:
        if not (-0.5 <= x <= photo.width_px and -0.5 <= y <= photo.height_px):
            raise BadInput(
                f"The touch at {x:g}:{y:g} lies outside the picture, which is {photo.width_px} x "
                f"{photo.height_px} pixels."
            )
    if cloth and all(r.kind == "points" for r in stated):
        raise NotTrustworthy(
            "Two points alone do not say how the camera was tilted, and cloth has no straight, square edge that would. Lay "
            "a sheet of A4 or Letter, or the printed reference sheet, flat beside the cloth, and take the picture again.",
            reason="no tilt",
        )
    inside = [(t[0], t[1]) for t in touches if t[2] == "+"]
    return survey(
        photo,
        stated,
        square_paper=square_paper,
        straight_paper=not cloth,
        inside_px=() if cloth else inside,
        stop=stop,
    )


def find_in(
    flat: Rectified,
    seen: Measured,
    *,
    cloth: bool = False,
    touches: Sequence[Touch] = (),
    listener: Listener | None = None,
    stop: Stop | None = None,
) -> Trace:
    """The second half of :func:`trace`: pieces (or cloths) in a rectified picture; ``touches`` are in mm of its plane."""
    warnings = list(seen.warnings)
    pieces: list[TracedPiece] = []
    cloths: list[TracedCloth] = []
    outlines: list[Array] = []
    if cloth:
        from eke.capture.cloth_edge import find_cloths

        for k, found in enumerate(find_cloths(flat, touches=touches, listener=listener, stop=stop)):
            cloths.append(TracedCloth(str(k + 1), found, _worth(seen, found.outline_mm, found.sigma_mm)))
            outlines.append(found.outline_mm)
            warnings += found.warnings
    else:
        from eke.capture.outline import find_pieces

        drawn = find_pieces(flat, touches=touches, listener=listener, stop=stop)
        # from left to right as they lie in the picture: the order in which a maker names them
        for k, piece in enumerate(sorted(drawn, key=lambda p: float(p.outline_mm[:, 0].mean()))):
            pieces.append(
                TracedPiece(str(k + 1), piece, _worth(seen, piece.outline_mm, piece.drawn_sigma_mm))
            )
            outlines.append(piece.outline_mm)
            warnings += piece.warnings
    if not outlines:
        raise NotTrustworthy(
            "Nothing to trace was found in the picture. Draw the outline closed and in one clear line, and keep "
            "hands, feet and tools off the paper.",
            reason="nothing found",
        )
    percent = max(seen.length_percent(_spread(o)) for o in outlines)
    _promise(percent, warnings)
    return Trace(seen.reference, percent, tuple(pieces), tuple(cloths), tuple(dict.fromkeys(warnings)), flat)


def _by_one_lens(photo: Photo) -> None:
    """Refuse what no lens drew in one go."""
    long, short = max(photo.width_px, photo.height_px), min(photo.width_px, photo.height_px)
    if long > LONGEST_ASPECT * short:
        raise NotTrustworthy(
            f"This picture is {photo.width_px} x {photo.height_px} pixels: a panorama or a strip. Panoramas are joined "
            "from several views and cannot be measured; take one ordinary photograph.",
            reason="panorama",
        )


def _bright_enough(photo: Photo) -> None:
    """Refuse what is too dark to measure."""
    step = max(1, min(photo.width_px, photo.height_px) // LIGHT_SIDE_PX)
    few = np.ascontiguousarray(photo.pixels_rgb[::step, ::step])
    small = cv2.resize(few, (160, 120), interpolation=cv2.INTER_AREA)
    bright = float(np.percentile(small.max(axis=2), 98.0))
    if bright < 40.0:
        raise NotTrustworthy(
            f"The picture is too dark: its brightest parts reach {100.0 * bright / 255.0:.0f} % of white. Put on more "
            "light, without flash, and take it again.",
            reason="dark",
        )


def _spread(outline_mm: Array) -> Array:
    """At most forty points of an outline, evenly along it."""
    count = min(40, len(outline_mm))
    return np.asarray(outline_mm[np.linspace(0, len(outline_mm) - 1, count).astype(int)])


def _worth(seen: Measured, outline_mm: Array, drawn_sigma_mm: float) -> float:
    """With 95 % confidence, what 95 % of an outline lies within of the drawn line."""
    local_mm = float(np.percentile(seen.local_mm(_spread(outline_mm)), 95.0))
    line_mm = NORMAL_95 * SURE_OF_SIGMA * drawn_sigma_mm
    return float(np.hypot(local_mm, line_mm))


def _promise(percent: float, warnings: list[str]) -> None:
    advice = (
        "Lay the paper in the middle with the reference close beside it, hold the camera level and near enough to fill "
        "the picture, say whether the paper is cut square, and take it again."
    )
    if not percent <= MAX_UNCERTAINTY_PERCENT:
        raise NotTrustworthy(
            f"Lengths from this picture may be {percent:.1f} % off; at most {MAX_UNCERTAINTY_PERCENT:g} % can be "
            f"promised. {advice}",
            reason="uncertain",
            uncertainty_percent=percent,
        )
    if percent > WARN_UNCERTAINTY_PERCENT:
        warnings.append(f"Lengths from this picture may be {percent:.1f} % off. {advice}")


def _list(points: Array, decimals: int = 4) -> list[list[float]]:
    return [[round(float(x), decimals), round(float(y), decimals)] for x, y in points]


def trace_json(trace: Trace) -> dict[str, Any]:
    """The trace as a JSON value of format ``eke-trace-1``: mm, x right, y up."""
    return {
        "format": "eke-trace-1",
        "unit": "mm",
        "scale": {"reference": trace.reference, "uncertainty_percent": round(trace.uncertainty_percent, 3)},
        "pieces": [
            {
                "name": p.name,
                "outline": _list(p.found.outline_mm),
                "segments": [{"kind": kind, "points": _list(points)} for kind, points in p.found.segments],
                "corners": _list(p.found.corners_mm),
                "marks": [{"kind": m.kind, "points": _list(m.points_mm)} for m in p.found.marks],
                "uncertainty_mm": round(p.uncertainty_mm, 3),
            }
            for p in trace.pieces
        ],
        "cloths": [
            {
                "outline": _list(c.found.outline_mm),
                "holes": [_list(h) for h in c.found.holes_mm],
                "flaws": [_list(f) for f in c.found.flaws_mm],
                "grain_deg": None if c.found.grain_deg is None else round(c.found.grain_deg % 180.0, 3),
                "repeat_mm": [None if r is None else round(r, 4) for r in c.found.repeat_mm],
                "uncertainty_mm": round(c.uncertainty_mm, 3),
            }
            for c in trace.cloths
        ],
        "warnings": list(trace.warnings),
    }
