"""What may give a picture its scale, seen roughly: sheets by their markers, paper and cards by their shape."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush
from itertools import count
from typing import overload

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.camera import Camera
from eke.capture.evidence import (
    Body,
    rectangle_body,
    sheet_body,
)
from eke.capture.markers import SeenSheet, find_own_sheets, find_sheet, foreign_marks, looks_mirrored
from eke.capture.measure import cameras_from_points
from eke.capture.photo import Photo
from eke.capture.quads import Quad, drawn_on, plainness, quad_from_corners, tone_apart
from eke.capture.quads_unlike import RAREST, RareColours, find_small_quads, rare_colours, rare_shares
from eke.capture.references import Reference
from eke.errors import NotTrustworthy

Array = NDArray[np.float64]
FOCAL_GUESSES_DIAGONALS = (0.6, 0.47, 0.36, 0.8)  # 26, 20, 15 and 35 mm equivalents
ROUGH_CORNER_PX = 6.0  # corners of quadrangles in the small copy, a lens not yet known
MARKER_CORNER_PX = 0.5
FIT_SHARE = 0.035  # of a quadrangle's diagonal: how far its corners may lie from the drawn rectangle's
FIT_UNIT = 0.003  # of the diagonal: how far corners usually lie from there
USUAL_TILT_DEG = 20.0
OTHER_WAY_DEG = 40.0  # the less likely of both ways must not need more tilt than this
GUESS_FIT = 0.012
GUESS_SUPPORT = 0.8
BLANK_LIGHTNESS, BLANK_CHROMA, BLANK_ROUGHNESS = (
    50.0,
    16.0,
    4.0,
)  # of Lab; white paper in dim warm light passes
USUAL_HEIGHT_MM, USUAL_HEIGHT_SIGMA = 800.0, 0.5  # a phone in a standing person's hands, and a factor of 1.6
LEAST_HEIGHT_MM, MOST_HEIGHT_MM = (
    120.0,
    3500.0,
)  # no paper is photographed from nearer; from a ladder, with arms up
CARD_SURPRISE = 6.0  # boards and boxes with a card's shape are common, sheets of white paper are not
DRAWN_SURPRISE = 6.0  # what carries lines is the tracing, unless nothing else has the reference's shape
SAME_TONE_SURPRISE = 4.0  # tiles and columns of print lie among their like
COMMON_SURPRISE = (
    6.0  # a card's colours are rare, those of a tile or a column of print are all over the picture
)
MOST_WAYS = 16  # of one reference to lie in the picture that are looked at
MAX_TILT_DEG = 50.0


@dataclass(frozen=True, slots=True, eq=False)
class Seed:
    """A body that was seen roughly: where some of its points lie in the picture."""

    body: Body
    points_mm: Array
    points_px: Array
    sigma_px: float


def _sheet_seed(seen: SeenSheet, check_line_mm: float | None) -> Seed:
    middle = np.array(seen.geometry.sheet_mm) / 2.0
    corners = [np.asarray(seen.geometry.markers[k].corners_mm) for k in seen.index]
    points = (np.concatenate(corners) - middle) * [1.0, -1.0]
    return Seed(
        sheet_body(seen.geometry, check_line_mm), points, seen.corners_px.reshape(-1, 2), MARKER_CORNER_PX
    )


def focals(photo: Photo) -> tuple[float, ...]:
    """Focal lengths to begin with, in pixels: what the camera wrote, or a few usual ones."""
    return (
        (photo.focal_px_prior,) if photo.focal_px_prior else usual_focals((photo.width_px, photo.height_px))
    )


def usual_focals(size_px: tuple[int, int]) -> tuple[float, ...]:
    """Focal lengths of phones in pixels, the most usual first."""
    return tuple(share * math.hypot(*size_px) for share in FOCAL_GUESSES_DIAGONALS)


def as_rectangle(photo: Photo, body: Body, quad: Quad) -> list[tuple[float, float, Seed]]:
    """(misfit as a share of the diagonal, surprise of the tilt, seed) of a quadrangle taken for a body upright and lying,
    the likelier first: a small card seen from above looks nearly like one turned by a right angle and seen from the side."""
    size = (photo.width_px, photo.height_px)
    diagonal = float(np.hypot(*np.ptp(quad.corners_px, axis=0)))
    ways: list[tuple[float, float, Seed]] = []
    for turn in (0, 1):
        corners = np.roll(quad.corners_px, turn, axis=0)
        best: tuple[float, float] | None = None
        for focal in focals(photo):
            for camera, error in cameras_from_points(size, focal, body.outline_mm, corners):
                now = (error / diagonal, _tilt_surprise(camera))
                if camera.tilt_deg < MAX_TILT_DEG + 10.0 and (
                    best is None or _surprise(*now) < _surprise(*best)
                ):
                    best = now
        if best is not None:
            ways.append((*best, Seed(body, body.outline_mm, corners, ROUGH_CORNER_PX)))
    ways.sort(key=lambda w: _surprise(w[0], w[1]))
    # seen from far enough aside everything has any shape
    return ways[:1] + [way for way in ways[1:] if way[1] < (OTHER_WAY_DEG / USUAL_TILT_DEG) ** 2]


def _surprise(misfit: float, tilt: float) -> float:
    return misfit / FIT_UNIT + tilt


def _tilt_surprise(camera: Camera) -> float:
    return (camera.tilt_deg / USUAL_TILT_DEG) ** 2


def _rectangle_seeds(
    photo: Photo, body: Body, quads: Sequence[Quad], rare: RareColours | None = None
) -> Sequence[Seed]:
    """Quadrangles that may be the body, most likely first; where ``rare`` is given, they should be of rare colours."""
    likely: list[tuple[Quad, list[tuple[float, Seed]]]] = []
    shares = [1.0] * len(quads) if rare is None else rare_shares(rare, quads)
    for quad, share in zip(quads, shares, strict=True):
        if not quad.whole:
            continue
        seen = 10.0 * (1.0 - quad.support) + COMMON_SURPRISE * (1.0 - share)
        ways = []
        for misfit, tilt, seed in as_rectangle(photo, body, quad):
            height = _height_surprise(photo, seed)
            if misfit < FIT_SHARE and math.isfinite(height):
                ways.append((seen + _surprise(misfit, tilt) + height, seed))
        if ways:
            likely.append((quad, ways))
    return _Likeliest(photo, body, likely)


class _Likeliest(Sequence[Seed]):
    """Seeds of one body, likely first, at most ``MOST_WAYS``.

    How a quadrangle looks takes long to see and only adds to its surprise: it is looked at when no other is likelier without.
    """

    def __init__(
        self, photo: Photo, body: Body, likely: Sequence[tuple[Quad, list[tuple[float, Seed]]]]
    ) -> None:
        self._photo, self._body = photo, body
        self._unseen = sorted(likely, key=_least, reverse=True)
        self._seen: list[tuple[float, int, Seed]] = []
        self._number = count()
        self._out: list[Seed] = []
        self._count = min(MOST_WAYS, sum(len(ways) for _, ways in likely))

    def __len__(self) -> int:
        return self._count

    @overload
    def __getitem__(self, k: int) -> Seed: ...

    @overload
    def __getitem__(self, k: slice) -> list[Seed]: ...

    def __getitem__(self, k: int | slice) -> Seed | list[Seed]:
        last = len(self) if isinstance(k, slice) or k < 0 else k + 1
        while len(self._out) < min(last, len(self)):
            self._out.append(self._next())
        return self._out[k]

    def _next(self) -> Seed:
        while self._unseen and (not self._seen or _least(self._unseen[-1]) < self._seen[0][0]):
            quad, ways = self._unseen.pop()
            looks = _looks_surprise(self._photo, self._body, quad)
            for score, seed in ways:
                heappush(self._seen, (score + looks, next(self._number), seed))
        return heappop(self._seen)[2]


def _least(each: tuple[Quad, list[tuple[float, Seed]]]) -> float:
    """The least surprise of a quadrangle's ways to be a body."""
    return min(score for score, _ in each[1])


def _looks_surprise(photo: Photo, body: Body, quad: Quad) -> float:
    """How little a quadrangle looks like a reference, inside and beside what lies around it."""
    score = SAME_TONE_SURPRISE * (1.0 - tone_apart(photo.pixels_rgb, quad))
    if body.kind in ("a4", "letter"):
        # a larger sheet of the same shape may carry the tracing: the blank one is the reference
        lightness, chroma, rough = plainness(photo.pixels_rgb, quad)
        score += 2.0 * (rough > BLANK_ROUGHNESS)
        score += 1.0 * (lightness < BLANK_LIGHTNESS or chroma > BLANK_CHROMA)
        score += DRAWN_SURPRISE * drawn_on(photo.pixels_rgb, quad)
    return score


def _height_surprise(photo: Photo, seed: Seed) -> float:
    """How unusual the camera's height would be: squared standard deviations, infinite where nobody holds one."""
    camera = first_camera(photo, seed)
    height = float(camera.position_mm()[2]) if camera is not None else 0.0
    if not LEAST_HEIGHT_MM <= height <= MOST_HEIGHT_MM:
        return math.inf
    return (math.log(height / USUAL_HEIGHT_MM) / USUAL_HEIGHT_SIGMA) ** 2


def _unmarked(grey: NDArray[np.uint8], quads: Sequence[Quad]) -> list[Quad]:
    """Those without a printed marker on them: one of a sheet's marks has nearly the shape of a card."""
    marks = foreign_marks(grey).astype(np.float32)
    return [
        quad
        for quad in quads
        if not any(
            cv2.pointPolygonTest(quad.corners_px.astype(np.float32), (float(x), float(y)), False) >= 0
            for x, y in marks
        )
    ]


def first_camera(photo: Photo, seed: Seed) -> Camera | None:
    """The camera that sees a seed's points best, over the usual focal lengths; of rough corners, the one that asks for the
    least tilt beside."""
    size = (photo.width_px, photo.height_px)
    diagonal = float(np.hypot(*np.ptp(seed.points_px, axis=0)))
    best: tuple[float, Camera] | None = None
    for k, focal in enumerate(focals(photo)):
        for camera, rms in cameras_from_points(
            size, focal, seed.points_mm * seed.body.scale, seed.points_px, seed.body.height_mm
        ):
            error = rms * (1.0 + 0.05 * k)
            if seed.sigma_px > MARKER_CORNER_PX:
                error = _surprise(error / diagonal, _tilt_surprise(camera))
            if best is None or error < best[0]:
                best = (error, camera)
    return best[1] if best else None


def stated_seeds(
    photo: Photo,
    grey: NDArray[np.uint8],
    references: Sequence[Reference],
    quads: Callable[[], tuple[Quad, ...]],
    rare: RareColours | None = None,
) -> tuple[list[Sequence[Seed]], list[str]]:
    """For every stated reference the ways it may lie there, likely first; and notes. ``rare``: where that was reckoned before."""
    options: list[Sequence[Seed]] = []
    notes: list[str] = []
    own = [r for r in references if r.kind == "sheet" and r.geometry is None]
    markers: dict[tuple[str, bool], dict[int, list[Array]]] = {}
    for ref in references:
        if ref.kind == "sheet":
            if ref.geometry is None and ref is not own[0]:
                continue  # all of Eke's own sheets are taken up together, by their numbers
            if ref.geometry is not None:
                one = find_sheet(grey, ref.geometry, markers)
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
                ways = as_rectangle(photo, body, quad_from_corners(np.array(ref.corners_px)))
                fits = [seed for misfit, _, seed in ways if misfit <= 2.0 * FIT_SHARE]
                if not fits:
                    raise NotTrustworthy(
                        f"The four corners given for the {body.name} do not have its shape. Put them on its four "
                        "corners, or say what lies there.",
                        reason="corners",
                    )
                options.append(fits)
                continue
            if ref.kind == "card":
                rare = rare or rare_colours(photo.pixels_rgb)
                found = _card_seeds(photo, grey, rare, (*find_small_quads(rare), *quads()))
            else:
                found = _rectangle_seeds(photo, body, quads())
            if not found:
                raise NotTrustworthy(
                    f"No {body.name} is seen in the picture. Lay it flat and whole inside the picture, on a ground "
                    "that differs from it or in light that draws its shadow; or mark its four corners.",
                    reason="no reference",
                )
            options.append(found)
    return options, notes


def rarest_card(photo: Photo, grey: NDArray[np.uint8], rare: RareColours) -> Sequence[Seed]:
    """The ways in which a card may lie where the picture's colours are the rarest, likely first: it nearly always lies there."""
    return _card_seeds(photo, grey, rare, find_small_quads(rare, RAREST))


def _card_seeds(
    photo: Photo, grey: NDArray[np.uint8], rare: RareColours, quads: Sequence[Quad]
) -> Sequence[Seed]:
    return _rectangle_seeds(photo, rectangle_body("card"), _unmarked(grey, quads), rare)


def guesses(photo: Photo, quads: Sequence[Quad], most_misfit: float = GUESS_FIT) -> list[tuple[float, Seed]]:
    """Everything that may be a sheet of A4 or Letter or a card, likely first; the number is its surprise."""
    out: list[tuple[float, Seed]] = []
    for quad in quads:
        if not quad.whole or quad.support < GUESS_SUPPORT:
            continue
        lightness, chroma, rough = plainness(photo.pixels_rgb, quad)
        blank = lightness > BLANK_LIGHTNESS and chroma < BLANK_CHROMA and rough < BLANK_ROUGHNESS
        blank = blank and not drawn_on(photo.pixels_rgb, quad)
        for kind in ("a4", "letter", "card"):
            if kind != "card" and not blank:
                continue
            for misfit, tilt, seed in as_rectangle(photo, rectangle_body(kind), quad)[:1]:
                height = _height_surprise(photo, seed)
                if misfit > most_misfit or not math.isfinite(height):
                    continue
                surprise = height + 20.0 * (1.0 - quad.support) + (CARD_SURPRISE if kind == "card" else 0.0)
                out.append((surprise + tilt + (misfit / FIT_UNIT) ** 2, seed))
    out.sort(key=lambda g: g[0])
    return out


def with_article(name: str) -> str:
    """ "an A4 sheet", "a Letter sheet"."""
    return ("an " if name.startswith("A4") else "a ") + name
