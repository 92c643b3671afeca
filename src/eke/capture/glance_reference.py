"""What of known size may lie in a picture, at a quick look: printed marks, sheets of A4 or Letter, cards.

Quicker and more trusting than :mod:`eke.capture.survey`, which measures: what is told here is whether it is worth
going on, never a scale.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.belief import doubt_at_sight
from eke.capture.evidence import rectangle_body
from eke.capture.glance_marks import Marks, read_marks
from eke.capture.measure import camera_from_points
from eke.capture.photo import Photo
from eke.capture.quads import Quad, find_quads, plainness
from eke.capture.seeds import (
    BLANK_CHROMA,
    BLANK_LIGHTNESS,
    BLANK_ROUGHNESS,
    LEAST_HEIGHT_MM,
    Seed,
    as_rectangle,
    first_camera,
    guesses,
)
from eke.capture.sheet import OWN_DICTIONARY, own_sheet, own_sheet_number

__all__ = ["Kind", "Look", "SeenReference", "look_for_reference", "small_copy"]

Array = NDArray[np.float64]
Kind = Literal["sheet", "marks", "a4", "letter", "card"]

MARKS_SIDE_PX = 1400
QUADS_SIDE_PX = 640
ROUGH_SIDE_PX = 420  # where marks give the scale already, and only the paper is still looked for
SHEET_MARKS = 3
FOREIGN_MARKS = 4
MARGIN_MM = 5.0  # of white around the marks of a sheet that lies wholly in the picture
MARGIN_SIDES = 0.3  # the same for a foreign sheet, in sides of a mark
PAPER_AREAS = (1.0, 2.5)  # of the area that its marks cover
MOST_ON = 0.9
LIKELY_PAPER = 7.0  # the most surprise of a sheet: see `guesses`
LIKELY_CARD = 16.0
NEARLY_FIT = 0.02  # of the diagonal
NEARLY_SUPPORT = 0.75
NEARLY_HEIGHT_MM = 1500.0  # a card is used for small things, from near
STRIP_RATIO = 5.0  # a ruler of 30 cm is eight times as long as wide
STRIP_SHARE = 0.12  # of the picture's longer side
STRIP_SUPPORT = 0.75
CUT_SHARES = (0.004, 0.3)  # of the picture: a sheet of which a part is cut off


@dataclass(frozen=True, slots=True, eq=False)
class SeenReference:
    """Something of known size. ``outline_px`` (n, 2) is where it lies; ``ratio`` of its sides where it is known;
    ``cut`` whether the picture's border cuts it off; ``mm_per_px`` and ``height_mm`` of the camera where they follow."""

    kind: Kind
    outline_px: Array
    cut: bool = False
    mm_per_px: float | None = None
    height_mm: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """What was seen: ``references``, likely first; ``rectangles`` for the slant; ``quads``. Where nothing else gives a
    scale: ``cut_sheet`` (4, 2), the part of a blank sheet that the border cuts off, and ``strip`` (4, 2), something
    long and narrow that may be a ruler or a tape."""

    references: tuple[SeenReference, ...]
    rectangles: tuple[tuple[Array, float | None], ...]
    quads: tuple[Quad, ...]
    cut_sheet: Array | None
    strip: Array | None


def small_copy(photo: Photo, side_px: int) -> tuple[Photo, float]:
    """The picture with at most so many pixels along its longer side, and how many times smaller it is."""
    longest = max(photo.width_px, photo.height_px)
    if longest <= side_px:
        return photo, 1.0
    shrink = side_px / longest
    size = (round(photo.width_px * shrink), round(photo.height_px * shrink))
    pixels = np.asarray(cv2.resize(photo.pixels_rgb, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    focal = None if photo.focal_px_prior is None else photo.focal_px_prior * shrink
    return replace(photo, pixels_rgb=pixels, focal_px_prior=focal), 1.0 / shrink


def look_for_reference(photo: Photo, focals_px: Sequence[float]) -> Look:
    """Look for it in small copies of the picture; all places are in the picture's own pixels."""
    fine, larger = small_copy(photo, MARKS_SIDE_PX)
    marks = read_marks(np.asarray(cv2.cvtColor(fine.pixels_rgb, cv2.COLOR_RGB2GRAY), dtype=np.uint8))
    if marks is not None:
        marks = replace(marks, corners_px=_full(marks.corners_px, larger))
    small, shrunk = small_copy(fine, QUADS_SIDE_PX if marks is None else ROUGH_SIDE_PX)
    shrunk *= larger
    rough = find_quads(small.pixels_rgb)
    quads = tuple(replace(q, corners_px=_full(q.corners_px, shrunk)) for q in rough)
    found: list[SeenReference] = []
    rectangles: list[tuple[Array, float | None]] = []
    if marks is not None:
        found += _sheets(marks, photo, focals_px, quads)
        rectangles += [(quad, 1.0) for quad in marks.corners_px]
    if not found:
        found = _plain_things(small, rough, marks, shrunk)
    cut = None if found else _cut_sheet(small, rough, shrunk)
    if not found and cut is None:
        found = _believable(small, _nearly(small, rough), rough, marks, shrunk)
    if found and found[0].kind in ("a4", "letter", "card"):
        best = found[0]
        sides = np.hypot(*(np.roll(_box(best.kind), -1, axis=0) - _box(best.kind)).T)
        rectangles.append((best.outline_px, float(sides[0] / sides[1])))
    strip = None if found else next((q.corners_px for q in quads if _is_strip(q, photo)), None)
    return Look(tuple(found), tuple(rectangles), quads, cut, strip)


def _full(points: Array, larger: float) -> Array:
    return np.asarray((points + 0.5) * larger - 0.5)


def _box(kind: Kind) -> Array:
    assert kind in ("a4", "letter", "card")
    return rectangle_body(kind).outline_mm


def _area(points: Array) -> float:
    return float(abs(cv2.contourArea(points.astype(np.float32))))


# ---- sheets of marks


def _sheets(
    marks: Marks, photo: Photo, focals_px: Sequence[float], quads: Sequence[Quad]
) -> list[SeenReference]:
    if marks.dictionary == OWN_DICTIONARY:
        seen = Counter(n for m in marks.numbers if (n := own_sheet_number(m)) is not None)
        found = [
            _own(marks, number, photo, focals_px) for number, count in seen.items() if count >= SHEET_MARKS
        ]
        if any(f is not None for f in found):
            return sorted((f for f in found if f is not None), key=lambda f: (f.cut, -_area(f.outline_px)))
    if len(marks.numbers) < FOREIGN_MARKS:
        hull = cv2.convexHull(marks.corners_px.reshape(-1, 2).astype(np.float32)).reshape(-1, 2)
        return [SeenReference("marks", hull.astype(np.float64), cut=True)]
    corners = marks.corners_px.reshape(-1, 2)
    side = math.sqrt(float(np.median([_area(q) for q in marks.corners_px])))
    room = np.min(np.concatenate([corners + 0.5, [photo.width_px, photo.height_px] - corners - 0.5], axis=1))
    hull = cv2.convexHull(corners.astype(np.float32)).reshape(-1, 2).astype(np.float64)
    paper = [q for q in quads if _carries(q, marks, _area(hull))]
    cut = room < MARGIN_SIDES * side or (bool(paper) and not any(q.whole for q in paper))
    return [SeenReference("marks", hull, cut=bool(cut))]


def _carries(quad: Quad, marks: Marks, area_px: float) -> bool:
    """Whether it is the paper that the marks are printed on."""
    ring = quad.corners_px.astype(np.float32).reshape(-1, 1, 2)
    if not PAPER_AREAS[0] * area_px < _area(quad.corners_px) < PAPER_AREAS[1] * area_px:
        return False
    on = [cv2.pointPolygonTest(ring, (float(x), float(y)), False) >= 0 for x, y in marks.middles_px]
    return float(np.mean(on)) > MOST_ON


def _own(marks: Marks, number: int, photo: Photo, focals_px: Sequence[float]) -> SeenReference | None:
    """Eke's own sheet by the middles of its marks, which need no order around."""
    sheet = own_sheet("a4", number)
    of = {m.number: np.asarray(m.corners_mm).mean(axis=0) for m in sheet.markers}
    rows = [k for k, m in enumerate(marks.numbers) if m in of]
    model = np.array([of[marks.numbers[k]] for k in rows])
    image = marks.middles_px[rows]
    first = np.array([m.corners_mm for m in sheet.markers]).reshape(-1, 2)
    low, high = first.min(axis=0) - MARGIN_MM, first.max(axis=0) + MARGIN_MM
    rim = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
    own = marks.corners_px[rows].reshape(-1, 2).astype(np.float32)
    h = cv2.findHomography(model, image, cv2.RANSAC, 4.0)[0] if len(rows) >= 4 else None
    if h is None:
        hull = cv2.convexHull(own).reshape(-1, 2).astype(np.float64)
        return SeenReference("sheet", hull, cut=True)
    outline = cv2.perspectiveTransform(rim[None], h)[0]
    outside = (outline < -0.5) | (outline > np.array([photo.width_px, photo.height_px]) - 0.5)
    up = (model - model.mean(axis=0)) * [1.0, -1.0]
    cameras = [
        got
        for focal in focals_px
        if (got := camera_from_points((photo.width_px, photo.height_px), focal, up, image)) is not None
    ]
    height = float(min(cameras, key=lambda c: c[1])[0].position_mm()[2]) if cameras else None
    return SeenReference(
        "sheet", np.asarray(outline, dtype=np.float64), bool(outside.any()),
        math.sqrt(float(np.prod(high - low)) / max(_area(outline), 1.0)), height,
    )  # fmt: skip


# ---- plain sheets and cards


def _plain_things(
    small: Photo, quads: Sequence[Quad], marks: Marks | None, larger: float
) -> list[SeenReference]:
    likely = [
        (surprise, seed)
        for surprise, seed in guesses(small, quads)
        if surprise <= (LIKELY_CARD if seed.body.kind == "card" else LIKELY_PAPER)
    ]
    return _believable(small, likely, quads, marks, larger)


def _believable(
    small: Photo,
    seeds: Sequence[tuple[float, Seed]],
    quads: Sequence[Quad],
    marks: Marks | None,
    larger: float,
) -> list[SeenReference]:
    middles = np.zeros((0, 2)) if marks is None else (marks.middles_px + 0.5) / larger - 0.5
    return [
        SeenReference(kind, _full(seed.points_px, larger), False, *_scale(small, seed, larger))
        for _, seed in seeds
        if (kind := _kind(seed)) is not None and doubt_at_sight(middles, seed, quads) is None
    ]


def _nearly(small: Photo, quads: Sequence[Quad]) -> list[tuple[float, Seed]]:
    """What has the shape of a card only roughly, where nothing fits better: it is not called missing."""
    found = []
    for quad in quads:
        if not quad.whole or quad.support < NEARLY_SUPPORT:
            continue
        for misfit, _, seed in as_rectangle(small, rectangle_body("card"), quad)[:1]:
            camera = first_camera(small, seed)
            if (
                misfit <= NEARLY_FIT
                and camera is not None
                and LEAST_HEIGHT_MM <= camera.position_mm()[2] <= NEARLY_HEIGHT_MM
            ):
                found.append((misfit, seed))
    return sorted(found, key=lambda f: f[0])


def _kind(seed: Seed) -> Kind | None:
    kind = seed.body.kind
    return kind if kind in ("a4", "letter", "card") else None


def _scale(small: Photo, seed: Seed, larger: float) -> tuple[float, float | None]:
    """(mm to a pixel of the full picture, height of the camera)."""
    camera = first_camera(small, seed)
    scale = math.sqrt(_area(seed.body.outline_mm) / max(_area(seed.points_px), 1e-3)) / larger
    return scale, None if camera is None else float(camera.position_mm()[2])


def _is_strip(quad: Quad, photo: Photo) -> bool:
    sides = np.hypot(*(np.roll(quad.corners_px, -1, axis=0) - quad.corners_px).T)
    long = STRIP_SHARE * max(photo.width_px, photo.height_px)
    narrow = sides.max() > STRIP_RATIO * sides.min()
    return bool(quad.whole and quad.support > STRIP_SUPPORT and sides.max() > long and narrow)


def _cut_sheet(small: Photo, quads: Sequence[Quad], larger: float) -> Array | None:
    """Blank paper that the picture's border cuts off: the largest, (4, 2) in the full picture."""
    area = small.width_px * small.height_px
    for quad in quads:
        if (
            not 1 <= sum(quad.at_border) <= 2
            or not CUT_SHARES[0] * area < quad.area_px < CUT_SHARES[1] * area
        ):
            continue
        light, chroma, rough = plainness(small.pixels_rgb, quad)
        if light > BLANK_LIGHTNESS and chroma < BLANK_CHROMA and rough < BLANK_ROUGHNESS:
            return _full(quad.corners_px, larger)
    return None
