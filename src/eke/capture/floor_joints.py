"""The joints of a floor: thin straight lines outside the paper that run alongside one another, and across at a right angle.

In a small copy of the plane the direction of most segments tells how boards or tiles lie. Sums of what is darker (or lighter)
than both its sides, along all lines in about that direction, have their peaks at the joints (Radon's transform): the grain of
a board runs the same way, but not on one straight line across the floor. Each joint is then followed, and is taken where it is
seen nearly all along and is straight.

References
----------
J. Radon, "Ueber die Bestimmung von Funktionen durch ihre Integralwerte laengs gewisser Mannigfaltigkeiten" (1917); S. R. Deans,
"The Radon transform and some of its applications" (1983), for finding lines by it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.camera import Camera
from eke.capture.floor_ends import ends_of_boards, straight, upright
from eke.capture.paper_lines import main_turns, segments_of
from eke.capture.photo import Photo
from eke.capture.plane_copy import PlaneCopy, plane_copy

__all__ = ["Floor", "Joint", "floor_joints", "look_at_floor"]

Array = NDArray[np.float64]
FloatImage = NDArray[np.float32]

SLACK_STEP_DEG = 0.2
KEEP_OFF_MM = 12.0  # from the paper and from references: their own edges and shadows
RIDGE_SIGMA_PX = 1.3
MOST_RIDGE = 12.0  # in standard deviations: no single dark place makes a line
SPARSE = 3  # every so many pixels tell how rough the floor is
FLOOR_LEAST = 0.08  # share of the copy that must be floor
LEAST_FLOOR_PX = 36  # of floor along a line, in a copy 1000 px long
LEAST_LINE_PX = 220  # from its first place that is seen to its last
WEAKEST = 0.25  # of the strongest line
APART_PX = 12.0
MOST_JOINTS = 12  # in each of the two directions
TURNS = 2  # so many directions are tried
SURELY_PX = 3000.0  # of joints in all, three times across the copy: no other direction has more
WINDOW_PX, ASIDE_PX = 12, 4  # along and across a line, where it is followed
ON_LINE_PX = 0.9
LEAST_SEEN = 0.6  # share of a joint
LEAST_SCATTER_PX = 0.1
FEW = 3  # joints that run one way; then the ends of boards are looked for between those that run across it
SEEN_RIDGE = 1.0  # standard deviations, over a window


@dataclass(frozen=True, slots=True, eq=False)
class Joint:
    """A straight line on the floor.

    Parameters
    ----------
    ends_mm
        (2, 2) its first and its last place in the plane, on the straight line through all at which it was seen.
    across
        Whether it belongs to those that run across the main direction.
    sigma_rad
        How surely its direction was seen.
    """

    ends_mm: Array
    across: bool
    sigma_rad: float


class Floor:
    """What a photograph shows of the floor, in a small copy of the plane as a camera sees it.

    Attributes
    ----------
    turns
        Directions (rad, in the plane) along or across which most lines run, the likeliest first.
    """

    def __init__(self, photo: Photo, copied: PlaneCopy, mask: FloatImage, turn: float | None) -> None:
        self.photo, self.copied, self.mask = photo, copied, mask
        lightness = cv2.cvtColor(copied.rgb, cv2.COLOR_RGB2LAB)[:, :, 0]
        # rows of the copy run down
        self.turns = [turn] if turn is not None else [-t for t in _turns(lightness, mask)]
        smooth = cv2.GaussianBlur(lightness.astype(np.float32), (0, 0), RIDGE_SIGMA_PX)
        self.bends = [cv2.Sobel(smooth, cv2.CV_32F, *order) for order in ((2, 0), (1, 1), (0, 2))]
        self.known: dict[tuple[float, float | None], tuple[FloatImage, float]] = {}

    def ridges(self, way: float, scale: float | None = None) -> tuple[FloatImage, float]:
        """By how many standard deviations a place of the copy is darker than what lies on both sides across a direction of it,
        0 off the floor; and what one is, if it was not given."""
        if (way, scale) not in self.known:
            self.known[way, scale] = self._ridges(way, scale)
        return self.known[way, scale]

    def _ridges(self, way: float, scale: float | None) -> tuple[FloatImage, float]:
        x, y = -math.sin(way), math.cos(way)
        xx, xy, yy = self.bends
        across = xx * (x * x) + xy * (2.0 * x * y) + yy * (y * y)
        on = self.mask > 0
        some = across[::SPARSE, ::SPARSE][on[::SPARSE, ::SPARSE]]
        middle = float(np.median(some))
        if scale is None:
            scale = max(1.4826 * float(np.median(np.abs(some - middle))), 1e-6)
        ridge = (across - middle) / scale
        # not cut off: the middle of a broad joint stays the highest
        ridge /= 1.0 + np.abs(ridge) / MOST_RIDGE
        return np.asarray((ridge - ridge[on].mean()) * self.mask, dtype=np.float32), scale


def look_at_floor(
    photo: Photo, camera: Camera, off_mm: Sequence[Array], turn: float | None = None
) -> Floor | None:
    """The floor as a camera sees it; None where hardly any is seen.

    Parameters
    ----------
    camera
        As known so far.
    off_mm
        Polygons (n, 2) of the plane that are no floor: the paper, references.
    turn
        The direction in rad in which joints run, where it is known.
    """
    copied = plane_copy(photo, camera)
    if copied is None:
        return None
    mask = _floor_mask(copied, off_mm)
    return None if mask.mean() < FLOOR_LEAST else Floor(photo, copied, mask, turn)


def _turns(lightness: NDArray[np.uint8], mask: FloatImage) -> list[float]:
    """Directions in rad, in a copy, in which most segments on the floor run."""
    segments = segments_of(cv2.GaussianBlur(lightness, (0, 0), 0.8))
    middle = np.round(segments.reshape(-1, 2, 2).mean(axis=1)).astype(int)
    height, width = mask.shape
    on = mask[middle[:, 1].clip(0, height - 1), middle[:, 0].clip(0, width - 1)] > 0
    return main_turns(segments[on])[:TURNS]


def floor_joints(floor: Floor, slack_deg: float) -> tuple[list[Joint], float]:
    """Joints along and across the direction in which most lines of the floor run, and that direction in rad.

    ``slack_deg``: by how much lines that run alongside one another may seem turned apart, with what the camera may be off.
    """
    turn, ways, longest = 0.0, [], -1.0
    for tried in floor.turns:
        both = [_long_ones(floor, quarter - tried, slack_deg) for quarter in (0.0, math.pi / 2.0)]
        length = sum(way.length_px for way in both)
        if length > longest:
            turn, ways, longest = tried, both, length
        if length > SURELY_PX:
            break
    if not ways:
        return [], 0.0
    joints = [
        Joint(floor.copied.to_mm(ends), across, sigma)
        for across, way in zip((False, True), ways, strict=True)
        for ends, sigma in way.lines
    ]
    few, many = sorted(ways, key=lambda way: len(way.lines))
    if len(few.lines) < FEW <= len(many.lines):
        ridge = many.hand * floor.ridges(few.way, many.scale)[0]
        short = ends_of_boards(floor.photo, floor.copied, ridge, floor.mask, few.way, many.clear, many.hand)
        joints += [Joint(ends_mm, few is ways[1], sigma) for ends_mm, sigma in short]
    return joints, turn


@dataclass(frozen=True, slots=True, eq=False)
class _Way:
    """Long joints of the copy that run about one way: ((2, 2) ends, how surely its direction is seen in rad) of each; 1 where
    they are darker than the floor, -1 where lighter; how clear they are, and what a unit of that is."""

    way: float
    lines: list[tuple[Array, float]]
    hand: float
    clear: float
    scale: float

    @property
    def length_px(self) -> float:
        """Of all together."""
        return sum(math.dist(*ends) for ends, _ in self.lines)


def _floor_mask(copied: PlaneCopy, off_mm: Sequence[Array]) -> FloatImage:
    """1 where the copy shows the floor."""
    mask = copied.seen().astype(np.uint8)
    keep_off = max(1, round(KEEP_OFF_MM / copied.mm_per_px))
    for polygon in off_mm:
        at = np.round(copied.from_mm(polygon)).astype(np.int32)
        cv2.fillPoly(mask, [at], 0)
        cv2.polylines(mask, [at], True, 0, 2 * keep_off)
    return np.asarray(mask, dtype=np.float32)


def _long_ones(floor: Floor, way: float, slack_deg: float) -> _Way:
    """The long joints that run about one way of the copy, all darker than the floor or all lighter."""
    ridge, scale = floor.ridges(way)
    hand, lines = _peaks(ridge, floor.mask, way, slack_deg)
    followed = (_followed(hand * ridge, floor.mask, *line) for line in lines)
    found = [each for each in followed if each is not None]
    clear = float(np.median([each[2] for each in found])) if found else 0.0
    return _Way(way, [(ends, sigma) for ends, sigma, _ in found], hand, clear, scale)


def _peaks(
    ridge: FloatImage, mask: FloatImage, way: float, slack_deg: float
) -> tuple[float, list[tuple[float, float]]]:
    """1 where the clearest line is dark, -1 where it is light; and (direction in rad, distance from the middle of the copy in
    px) of such lines, the clearest first."""
    half = (max(1, ridge.shape[1] // 2), max(1, ridge.shape[0] // 2))
    small = cv2.resize(ridge, half, interpolation=cv2.INTER_AREA)
    floor = cv2.resize(mask, half, interpolation=cv2.INTER_AREA)
    size = math.ceil(math.hypot(*half))
    deg = np.arange(-slack_deg, slack_deg + 1e-9, SLACK_STEP_DEG)
    score = np.zeros((len(deg), size))
    for k, turn in enumerate(deg):
        put = upright(*half, size, way + math.radians(turn))
        total = cv2.warpAffine(small, put, (size, size), flags=cv2.INTER_LINEAR).sum(axis=0)
        seen = cv2.warpAffine(floor, put, (size, size), flags=cv2.INTER_LINEAR).sum(axis=0)
        score[k] = np.where(seen > LEAST_FLOOR_PX / 2.0, total / np.sqrt(np.maximum(seen, 1.0)), 0.0)
    hand = 1.0 if score.max() >= -score.min() else -1.0
    lines = _highest(hand * score, deg)
    return hand, [(way + math.radians(deg[k]), 2.0 * (at - (size - 1) / 2.0)) for k, at in lines]


def _highest(score: Array, deg: Array) -> list[tuple[int, int]]:
    """(number of the direction, place) of the highest scores, those of the same joint left out."""
    score = score.copy()
    places = np.arange(score.shape[1])
    least = WEAKEST * float(score.max())
    out: list[tuple[int, int]] = []
    while len(out) < MOST_JOINTS:
        k, at = divmod(int(np.argmax(score)), score.shape[1])
        if score[k, at] <= max(least, 0.0):
            break
        out.append((k, at))
        # the same joint, a little turned, runs aside at both ends
        lean = np.radians(np.abs(deg - deg[k])) * 0.5 * len(places)
        score[np.abs(places[None, :] - at) < APART_PX / 2.0 + lean[:, None]] = 0.0
    return out


def _followed(
    ridge: FloatImage, mask: FloatImage, way: float, offset: float
) -> tuple[Array, float, float] | None:
    """The ends (2, 2) of a line of the copy, how surely its direction is seen, in rad, and how clearly it is; None where it is
    not seen, or not straight."""
    height, width = ridge.shape
    size = math.ceil(math.hypot(height, width))
    put = upright(width, height, size, way)
    first = round(offset + (size - 1) / 2.0) - ASIDE_PX
    strip = put.copy()
    strip[0, 2] -= first
    columns, windows = 2 * ASIDE_PX + 1, size // WINDOW_PX
    tall = (columns, windows * WINDOW_PX)
    own = cv2.warpAffine(ridge, strip, tall, flags=cv2.INTER_LINEAR)
    floor = cv2.warpAffine(mask, strip, tall, flags=cv2.INTER_LINEAR)
    own = own.reshape(windows, WINDOW_PX, columns).mean(axis=1)
    there = floor.reshape(windows, WINDOW_PX, columns).min(axis=(1, 2)) > 0.5
    least = LEAST_SEEN * np.count_nonzero(there)
    place = own.argmax(axis=1)
    inner = there & (place > 0) & (place < columns - 1) & (own.max(axis=1) > SEEN_RIDGE)
    rows = np.flatnonzero(inner)
    if np.count_nonzero(there) * WINDOW_PX < LEAST_FLOOR_PX or len(rows) < least:
        return None
    left, top, right = (own[rows, place[rows] + k] for k in (-1, 0, 1))
    aside = place[rows] + 0.5 * (left - right) / np.minimum(left - 2.0 * top + right, -1e-6)
    along = np.asarray((rows + 0.5) * WINDOW_PX - 0.5, dtype=np.float64)
    line, on, scatter = straight(along, aside, ON_LINE_PX)
    if np.count_nonzero(on) < least or np.ptp(along[on]) < LEAST_LINE_PX:
        return None
    spread = along[on] - along[on].mean()
    sigma = max(scatter, LEAST_SCATTER_PX) / math.sqrt(float((spread**2).sum()))
    ends = along[on][[0, -1]]
    turned = np.column_stack([np.polyval(line, ends) + first, ends]) - put[:, 2]
    return np.asarray(turned @ put[:, :2], dtype=np.float64), sigma, float(own[rows].max(axis=1)[on].mean())
