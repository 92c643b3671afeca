"""Four-sided things in a picture, found without knowing what they are: sheets of paper and cards on any floor.

Regions are cut out of a small copy of the picture in many ways - by lightness, by colour, by the edges that
close round them - and those that are nearly quadrangles are kept with a score of how well their sides are
seen. Corners here are good to a few pixels of the small copy; :mod:`eke.capture.measure` refines the sides.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import lru_cache, partial
from itertools import chain

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.axis import principal_axis
from eke.capture.shrink import shrunk

__all__ = [
    "Cut",
    "Quad",
    "drawn_on",
    "find_quads",
    "plainness",
    "quad_from_corners",
    "quads_in",
    "side_support",
    "tone_apart",
    "ways_to_cut",
]

Array = NDArray[np.float64]
Mask = NDArray[np.uint8]
Border = NDArray[np.int32]
Cut = Callable[[], list[Mask]]
"""A way to cut regions out of a small copy, as masks."""

SMALL_SIDE_PX = 1000  # longer side of the copy that is searched
LINES_SIDE_PX, LINES_INSET = 900, 0.04  # the copy that is searched for thin lines, without its rim
DRAWN_SHARE = 0.002  # of the inside; one small piece in a fine pen covers 0.005, blank paper 0.0005
LINE_STEP = 6.0  # of Lab in 8 bits, by which a thin line is darker than what it lies on
TONE_REACHES = (0.02, 0.03, 0.045)  # of its size, from an edge on both sides: beyond a joint between tiles
TONE_COUNT = 24  # places along a side
OTHER_TONE = 12.0  # CIE 1976 colour difference from which on a thing is surely not its ground
LEAST_TONE = 0.15  # white paper on a white floor shows by its shadow alone
LEVELS = 14  # lightness and colour are cut at so many levels
GROUND_LEVELS = (8.0, 12.0, 18.0, 26.0, 40.0)  # of Lab in 8 bits: from barely seen to another colour
SEAM_LEVELS = (12.0, 18.0, 26.0)
SMALLEST_SHARE = 0.002  # of the picture: a card seen from 1.2 m covers three times as much
LARGEST_SHARE = 0.95
SOLIDITY = 0.88  # region over its hull: a card that lies across an edge of the paper bites into it
ROUGH_SHARE = 0.82  # a quadrangle from corner to corner of the hull, over the hull: round corners are cut off
HULL_SHARES = (0.95, 1.12)  # the fitted quadrangle over the hull
FIT_SHARE = 0.02  # mean distance of the region's border from the quadrangle, of its size
SAME_SHARE = 0.03  # corners closer than this share of the size: the same quadrangle
SAME_BOX_PX = 2  # once a quadrangle was seen, other regions with the same box are not fitted
SHORTEST_BORDER_PX, SHORTEST_SIDE_PX = 40, 8.0
MOST_BORDER = 500  # so many of its places, or up to twice as many, tell where the sides run
MIN_SIDE_SUPPORT = 0.5
BESIDE_PX = (
    -5.0,
    -3.5,
    2.0,
    3.5,
)  # where light is read inside (negative) and outside a side, in the small copy
BORDER_PX = 4.0  # a side this near to the border of the small copy is cut off by it
NEXT_CORNER = [1, 2, 3, 0]
CORNER_TURNS = (np.arange(4)[:, None] + np.arange(4)) % 4  # the four ways of beginning at another corner
MIN_STEP_GREY = 3.0  # levels of Lab in 8 bits between both sides of a border, in the small copy


@dataclass(frozen=True, slots=True, eq=False)
class Quad:
    """A quadrangle: corners (4, 2) in full-size pixels, anticlockwise as one sees it, and how well it is seen.

    ``support`` is the share of its border where the light steps; ``at_border`` tells for each side (from corner
    i to i + 1) whether it runs along the picture's own border.
    """

    corners_px: Array
    support: float
    at_border: tuple[bool, bool, bool, bool]

    @property
    def area_px(self) -> float:
        """Area in full-size pixels."""
        x, y = self.corners_px.T
        return float(abs(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) / 2.0)

    @property
    def whole(self) -> bool:
        """True when no side is cut off by the picture's border."""
        return not any(self.at_border)


def _anticlockwise(corners: Array) -> Array:
    """Anticlockwise as seen (rows go down), so never mirrored against a body that runs anticlockwise."""
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = corners.tolist()
    seen = (ax - cx) * (by - dy) - (bx - dx) * (ay - cy)  # of the diagonals
    return corners if seen < 0.0 else corners[::-1]


def quad_from_corners(corners_px: Array) -> Quad:
    """Quad from four corners that a maker gave, in any order around."""
    c = np.asarray(corners_px, dtype=np.float64).reshape(4, 2)
    middle = c.mean(axis=0)
    c = c[np.argsort(np.arctan2(c[:, 1] - middle[1], c[:, 0] - middle[0]))]
    return Quad(_anticlockwise(c), 1.0, (False, False, False, False))


Line = tuple[float, float, float, float]
"""A point of a straight line and its direction, as x, y, dx, dy."""


def _line_through(points: Array) -> Line:
    """The line of least squared distances: through the mean, along the principal axis."""
    dx, dy = principal_axis(points).tolist()
    mx, my = points.sum(axis=0) / len(points)
    return float(mx), float(my), dx, dy


def _cross(a: Line, b: Line) -> tuple[float, float] | None:
    sine = a[2] * b[3] - a[3] * b[2]
    if abs(sine) < 0.05:
        return None
    t = ((b[0] - a[0]) * b[3] - (b[1] - a[1]) * b[2]) / sine
    return a[0] + t * a[2], a[1] + t * a[3]


def _closer(quad: Array, border: Array, reach: float) -> Array | None:
    """The quadrangle (4, 2) of straight lines through the border's points near each of its sides."""
    side = quad[NEXT_CORNER] - quad
    length = np.hypot(side[:, 0], side[:, 1])
    if length.min() < SHORTEST_SIDE_PX:
        return None
    dx, dy = side[:, 0] / length, side[:, 1] / length
    x, y = border[:, :1] - quad[:, 0], border[:, 1:] - quad[:, 1]
    share = (x * dx + y * dy) / length
    near = (share > 0.08) & (share < 0.92) & (np.abs(y * dx - x * dy) < reach)
    if np.count_nonzero(near, axis=0).min() < 6:
        return None
    lines = [_line_through(border[near[:, i]]) for i in range(4)]
    corners = [_cross(lines[i - 1], lines[i]) for i in range(4)]
    if any(c is None for c in corners):
        return None
    return np.array(corners)


def _off_the_sides(quad: Array, points: Array) -> Array:
    """Distance (n,) of points from the nearest side of a quadrangle."""
    side = quad[NEXT_CORNER] - quad
    apart = points[:, None, :] - quad
    t = np.clip((apart * side).sum(axis=2) / (side * side).sum(axis=1), 0.0, 1.0)
    gap = apart - t[..., None] * side
    return np.asarray(np.sqrt((gap * gap).sum(axis=2)).min(axis=1))


def _fit_quad(contour: NDArray[np.int32]) -> Array | None:
    """Best quadrangle (4, 2) of a region's border, or None when it is none."""
    hull = cv2.convexHull(contour)
    hull_area = cv2.contourArea(hull)
    if hull_area <= 0.0 or cv2.contourArea(contour) < SOLIDITY * hull_area:
        return None
    perimeter = cv2.arcLength(hull, True)
    rough = None
    for share in (0.01, 0.015, 0.02, 0.03, 0.04, 0.05, 0.07):
        polygon = cv2.approxPolyDP(hull, share * perimeter, True)
        if len(polygon) == 4:
            rough = polygon.reshape(4, 2).astype(np.float64)
            break
        if len(polygon) < 4:
            return None
    if rough is None:
        return None
    if abs(cv2.contourArea(rough.astype(np.float32))) < ROUGH_SHARE * hull_area:
        return None
    border = contour[:: max(1, len(contour) // MOST_BORDER)].reshape(-1, 2).astype(np.float64)
    limit = max(2.0, 0.02 * np.sqrt(hull_area))
    # the rough corners lie on the round ones of a card, so its sides slant: wide at first, then close
    quad = rough
    for reach in (2.0 * limit, limit):
        closer = _closer(quad, border, reach)
        if closer is None:
            return None
        quad = closer
    if (
        not HULL_SHARES[0] * hull_area
        < abs(cv2.contourArea(quad.astype(np.float32)))
        < HULL_SHARES[1] * hull_area
    ):
        return None
    if not cv2.isContourConvex(quad.astype(np.float32).reshape(-1, 1, 2)):
        return None
    # the mean of the nearest nine tenths: a bite of another thing in one place is forgiven
    far = np.sort(_off_the_sides(quad, border[:: max(1, len(border) // 120)]))
    far = far[: int(0.9 * len(far))]
    if far.mean() > FIT_SHARE * np.sqrt(hull_area) * 0.5 + 0.7:
        return None
    return _anticlockwise(quad)


@lru_cache(maxsize=1024)
def _along(count: int) -> Array:
    """So many places along a side, without its ends."""
    return np.linspace(0.06, 0.94, count)


def side_support(lab: Array, quad: Array) -> tuple[float, tuple[bool, ...]]:
    """Share of the border where lightness and colour step the same way as along most of that side; and which sides
    run along the picture's own border.

    A card of several colours may be as light as the floor along a part of its side and still differ from it.
    """
    height, width = lab.shape[:2]
    start, side = quad, quad[NEXT_CORNER] - quad
    length = np.hypot(side[:, 0], side[:, 1])
    d = side / length[:, None]
    out = np.column_stack([-d[:, 1], d[:, 0]])  # anticlockwise as seen, rows down: outwards
    counts = np.maximum(12, (length / 4).astype(int))
    of = np.repeat(np.arange(4), counts)
    t = np.concatenate([_along(count) for count in counts.tolist()])[:, None]
    path = start[of] + t * side[of]
    at = np.stack([path + out[of] * shift for shift in BESIDE_PX]).astype(np.float32)
    values = cv2.remap(lab, at, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    steps = 0.5 * (values[0] + values[1]) - 0.5 * (values[2] + values[3])
    edges = np.min([path[:, 0], path[:, 1], width - 1 - path[:, 0], height - 1 - path[:, 1]], axis=0)
    shares, border = [], []
    for step, edge in zip(
        np.split(steps, np.cumsum(counts)[:-1]), np.split(edges, np.cumsum(counts)[:-1]), strict=True
    ):
        order = np.sort(step, axis=0)
        usual = 0.5 * (
            order[(len(order) - 1) // 2] + order[len(order) // 2]
        )  # the median, without its checks
        way = usual / max(math.sqrt(float(usual @ usual)), 1e-6)
        shares.append(np.count_nonzero(step @ way > MIN_STEP_GREY) / len(step))
        border.append(bool(edge.min() < BORDER_PX and np.median(edge) < BORDER_PX))
    return sum(shares) / 4.0, tuple(border)


def ways_to_cut(small: NDArray[np.uint8]) -> list[Cut]:
    """Ways to cut regions out of a small copy (height, width, RGB): by lightness, by colour and by the edges that close round
    them."""
    lab = np.asarray(cv2.cvtColor(small, cv2.COLOR_RGB2LAB), dtype=np.uint8)
    by_level = [partial(_above_levels, lab, channel) for channel in range(3)]
    # small things of several colours, such as a card, stand off the ground
    return [*by_level, partial(_off_the_ground, lab), partial(_within_edges, lab), partial(_smooth_ones, lab)]


def _above_levels(lab: NDArray[np.uint8], channel: int) -> list[Mask]:
    """What is lighter, or more of a colour, than one level after the other."""
    values = cv2.medianBlur(np.ascontiguousarray(lab[:, :, channel]), 5)
    lowest, highest = _quantile(values, 0.02), _quantile(values, 0.99)
    if highest - lowest < 6.0:
        return []
    kernel = np.ones((3, 3), np.uint8)
    levels = np.unique(np.round(np.linspace(lowest, highest, LEVELS + 2)[1:-1]))
    return [_opened((values > level).astype(np.uint8), kernel) for level in levels]


def _quantile(values: NDArray[np.uint8], share: float) -> float:
    """The least value up to which lies at least this share of all, by the histogram of bytes."""
    counts = cv2.calcHist([values], [0], None, [256], [0, 256]).ravel()
    return float(np.searchsorted(np.cumsum(counts), share * values.size))


def _opened(mask: Mask, kernel: Mask) -> Mask:
    return np.asarray(cv2.morphologyEx(mask, cv2.MORPH_OPEN, kernel), dtype=np.uint8)


def _within_edges(lab: NDArray[np.uint8]) -> list[Mask]:
    """Areas that edges close round: white on white shows only its shadow."""
    grey = cv2.GaussianBlur(np.ascontiguousarray(lab[:, :, 0]), (0, 0), 1.2)
    edges = [cv2.Canny(grey, low, high, L2gradient=True) for low, high in ((8, 20), (20, 50), (50, 120))]
    return [area for each in edges for area in _between(each, (3, 7))]


def _smooth_ones(lab: NDArray[np.uint8]) -> list[Mask]:
    """Smooth paper on a grained floor of its own colour: the grain is all edges, the paper none."""
    every = np.zeros(lab.shape[:2], np.uint8)
    for channel in range(3):
        soft = cv2.GaussianBlur(np.ascontiguousarray(lab[:, :, channel]), (0, 0), 2.0)
        lowest, highest = _quantile(soft, 0.01), _quantile(soft, 0.99)
        if highest - lowest > 4.0:
            stretch = np.clip((soft.astype(np.float32) - lowest) * (255.0 / (highest - lowest)), 0, 255)
            every |= cv2.Canny(stretch.astype(np.uint8), 8, 18, L2gradient=True)
    return _between(every, (3, 5, 9))


def _between(edges: NDArray[np.uint8], broad_px: Sequence[int]) -> list[Mask]:
    """What is left between edges made so broad that they close."""
    walls = (cv2.dilate(edges, np.ones((size, size), np.uint8)) for size in broad_px)
    return [(wall == 0).astype(np.uint8) for wall in walls]


def _off_the_ground(lab: NDArray[np.uint8]) -> list[Mask]:
    """What differs from the ground around it, more and more, also without the joints between tiles or boards."""
    wide = cv2.resize(lab, (lab.shape[1] // 8, lab.shape[0] // 8), interpolation=cv2.INTER_AREA)
    ground = cv2.resize(
        cv2.medianBlur(wide, 31), (lab.shape[1], lab.shape[0]), interpolation=cv2.INTER_LINEAR
    )
    fine = cv2.GaussianBlur(lab, (0, 0), 1.5)
    squares = cv2.subtract(fine, ground, dtype=cv2.CV_32F) ** 2
    apart = np.sqrt(cv2.transform(squares, np.ones((1, 3), np.float32)))
    close, seams = np.ones((7, 7), np.uint8), np.ones((15, 15), np.uint8)
    out = []
    for level in GROUND_LEVELS:
        mask = np.asarray(
            cv2.morphologyEx((apart > level).astype(np.uint8), cv2.MORPH_CLOSE, close), np.uint8
        )
        out.append(mask)
        if level in SEAM_LEVELS:
            out.append(_opened(mask, seams))
    return out


def find_quads(pixels_rgb: NDArray[np.uint8]) -> tuple[Quad, ...]:
    """All quadrangles that are seen well enough, the largest first."""
    small = shrunk(pixels_rgb, SMALL_SIDE_PX)
    return quads_in(pixels_rgb, small, ways_to_cut(small), SMALLEST_SHARE)


def quads_in(
    pixels_rgb: NDArray[np.uint8], small: NDArray[np.uint8], cuts: Sequence[Cut], smallest_share: float
) -> tuple[Quad, ...]:
    """Quadrangles among the regions that are cut out of a picture's small copy, the largest first."""
    height, width = pixels_rgb.shape[:2]
    scale = np.array([width / small.shape[1], height / small.shape[0]])
    lab = cv2.GaussianBlur(cv2.cvtColor(small, cv2.COLOR_RGB2LAB), (0, 0), 0.8).astype(np.float32)
    area = small.shape[0] * small.shape[1]
    found: list[tuple[float, Array, tuple[bool, ...]]] = []
    known: set[tuple[int, ...]] = set()

    def borders(cut: Cut) -> list[Border]:
        every = (cv2.findContours(mask, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)[0] for mask in cut())
        return [
            np.asarray(border, dtype=np.int32)
            for border in chain.from_iterable(every)
            if len(border) >= SHORTEST_BORDER_PX
            and smallest_share * area < cv2.contourArea(border) < LARGEST_SHARE * area
        ]

    with ThreadPoolExecutor(1) as crew:  # that cuts ahead while quadrangles are fitted here
        for border in chain.from_iterable(crew.map(borders, cuts)):
            left, top, wide, high = cv2.boundingRect(border)
            # cut at the next level it is much the same
            box = tuple(v // SAME_BOX_PX for v in (left, top, left + wide, top + high))
            if box in known:
                continue
            quad = _fit_quad(border)
            if quad is None:
                continue
            support, at_border = side_support(lab, quad)
            if support >= MIN_SIDE_SUPPORT:
                found.append((support, quad, at_border))
                known.add(box)
    found.sort(key=lambda f: -f[0])
    kept: list[tuple[float, Array, tuple[bool, ...]]] = []
    taken = np.zeros((0, 4, 2))
    for item in found:
        size_px = math.sqrt(abs(cv2.contourArea(item[1].astype(np.float32))))
        turned = item[1][CORNER_TURNS]
        gaps = np.square(turned - taken[:, None]).sum(axis=3).max(axis=2)
        if gaps.min(initial=math.inf) >= max(4.0, SAME_SHARE * size_px) ** 2:
            kept.append(item)
            taken = np.concatenate([taken, item[1][None]])
    quads = [
        Quad((corners + 0.5) * scale - 0.5, support, (border[0], border[1], border[2], border[3]))
        for support, corners, border in kept
    ]
    return tuple(sorted(quads, key=lambda q: -q.area_px))


def plainness(pixels_rgb: NDArray[np.uint8], quad: Quad) -> tuple[float, float, float]:
    """(lightness 0-100, chroma, roughness) inside a quadrangle: blank paper is light, grey and smooth.

    Roughness is the 95th percentile of how much a spot differs from its surroundings, in units of lightness.
    """
    step = max(1, int(max(pixels_rgb.shape[:2]) / (2 * SMALL_SIDE_PX)))
    left, top = np.floor(quad.corners_px.min(axis=0) / step).clip(0).astype(int) * step
    right, bottom = np.ceil(quad.corners_px.max(axis=0)).astype(int) + step + 1
    small = np.ascontiguousarray(pixels_rgb[top:bottom:step, left:right:step])
    side = 128.0
    inset = 0.07 * side
    target = np.array([[0, side], [side, side], [side, 0], [0, 0]], np.float32)
    target = target * (side + 2 * inset) / side - inset  # the outermost strip is cut away
    corners = (quad.corners_px - [left, top]) / step
    move = cv2.getPerspectiveTransform(target, corners.astype(np.float32))
    patch = cv2.warpPerspective(
        small, move, (int(side), int(side)), flags=cv2.INTER_AREA | cv2.WARP_INVERSE_MAP
    )
    lab = cv2.cvtColor(patch, cv2.COLOR_RGB2LAB).astype(np.float32)
    light = lab[:, :, 0] / 2.55
    rough = np.abs(cv2.GaussianBlur(light, (0, 0), 1.0) - cv2.GaussianBlur(light, (0, 0), 6.0))
    chroma = np.hypot(lab[:, :, 1] - 128.0, lab[:, :, 2] - 128.0)
    return float(np.median(light)), float(np.median(chroma)), float(np.percentile(rough, 95.0))


def drawn_on(pixels_rgb: NDArray[np.uint8], quad: Quad) -> bool:
    """Do thin dark things lie inside a quadrangle: something drawn, pricked or printed?"""
    side, inset = LINES_SIDE_PX, LINES_INSET * LINES_SIDE_PX
    unit = np.array([[0.0, 1.0], [1.0, 1.0], [1.0, 0.0], [0.0, 0.0]])
    target = (unit * (side + 2 * inset) - inset).astype(np.float32)
    move = cv2.getPerspectiveTransform(target, quad.corners_px.astype(np.float32))
    patch = cv2.warpPerspective(pixels_rgb, move, (side, side), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
    light = cv2.GaussianBlur(cv2.cvtColor(patch, cv2.COLOR_RGB2LAB)[:, :, 0], (0, 0), 0.8)
    thin = cv2.morphologyEx(light, cv2.MORPH_BLACKHAT, np.ones((9, 9), np.uint8))
    noise = float(np.median(thin))
    return bool(np.mean(thin > noise + max(LINE_STEP, 3.0 * noise)) > DRAWN_SHARE)


def tone_apart(pixels_rgb: NDArray[np.uint8], quad: Quad) -> float:
    """How much the inside of a quadrangle differs from what lies around it, up to 1: a tile of a floor has its like beyond
    the joint and a column of print beyond the gap; paper on a floor and a card have not."""
    ring = quad.corners_px
    size = math.sqrt(quad.area_px)
    t = np.linspace(0.08, 0.92, TONE_COUNT)[:, None]
    apart = []
    for k in range(4):
        if quad.at_border[k]:
            continue
        side = ring[(k + 1) % 4] - ring[k]
        out = np.array([-side[1], side[0]]) / max(float(np.hypot(*side)), 1e-9)
        along = ring[k] + t * side
        at = np.stack([along + sign * share * size * out for sign in (-1.0, 1.0) for share in TONE_REACHES])
        rgb = cv2.remap(
            pixels_rgb,
            at.reshape(1, -1, 2).astype(np.float32),
            None,
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        lab = cv2.cvtColor(rgb.astype(np.float32) / 255.0, cv2.COLOR_RGB2LAB).reshape(2, -1, 3)
        apart.append(float(np.linalg.norm(np.median(lab[0], axis=0) - np.median(lab[1], axis=0))))
    return float(np.clip(np.median(apart) / OTHER_TONE, LEAST_TONE, 1.0)) if apart else LEAST_TONE
