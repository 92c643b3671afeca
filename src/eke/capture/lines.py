"""Dark strokes on paper: how strongly each place of a picture looks like the middle of a drawn line.

The picture is turned into *darkness* (the natural logarithm of how much darker a place is than the paper
around it), so that shade and paper colour drop out; wide things (a print, a shadow, the step at the paper's
edge) are taken away by a morphological opening. What is left is searched for ridges with second derivatives
of Gaussians, at a few stroke widths. The width that answers strongest over long runs wins: a felt pen over
newspaper is found at a scale at which the letters have melted into grey.

References
----------
T. Lindeberg, "Edge detection and ridge detection with automatic scale selection", Int. J. Computer Vision
30 (1998): the scale-normalised second derivative. C. Steger, "An unbiased detector of curvilinear
structures", IEEE PAMI 20 (1998): the answer of a bar of a given width.
"""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise, product

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.connected import connected
from eke.capture.rectify import Rectified

__all__ = [
    "LineMap",
    "View",
    "darkness",
    "line_maps",
    "paper_mask",
    "stroke_image",
    "view_of",
    "with_short_runs",
]

FloatImage = NDArray[np.float32]
Mask = NDArray[np.uint8]

VIEW_MM_PER_PX = (
    0.25  # a line of 0.4 mm still covers 1.6 pixels; 12 MP shrink to what a laptop does in a second
)
STROKE_SIGMAS_MM = (0.30, 0.50, 0.85)  # a bar of width 2 sigma answers best: strokes of 0.4 to 2 mm
LEAST_SIGMA_PX = 0.9  # narrower, single pixels would answer
WIDEST_STROKE_MM = 3.2  # wider dark things are no strokes
LONG_RUN_MM = 40.0  # a run of this extent is a line and no letter
MARK_RUN_MM = 14.0  # an arrow's shaft among dots
ENOUGH_RUN_MM = 150.0  # so much long line must be there before a level counts as that of the ink
SPOT_ANSWER = 0.37  # answer of the smaller second derivative to a disc of darkness 1 and diameter 2 sigma
LEAST_ROUND = 0.5  # smaller over larger second derivative in the middle of a spot
BAR_ANSWER = 0.484  # answer of the normalised second derivative to a bar of darkness 1 and width 2 sigma
CLOSED_REACH_PX = 3.0  # what a closing of three joins reaches at most so many times as far as it has pixels
# of the second derivatives: minus half their sum, half their difference, and the mixed one
HALF_LAPLACIAN = np.array([[0, -1, 0], [-1, 4, -1], [0, -1, 0]], dtype=np.float32) / 2
HALF_DIFFERENCE = np.array([[0, -1, 0], [1, 0, 1], [0, -1, 0]], dtype=np.float32) / 2
MIXED = np.array([[1, 0, -1], [0, 0, 0], [-1, 0, 1]], dtype=np.float32) / 4
TILE = (256, 512)  # rows and columns: small enough for a processor's own memory
THREADS = 2  # an old laptop has as many
LEAST_INK, ABOVE_USUAL = 0.03, 4.0  # fainter is no ink, nor what is not so many times the median
INK_STEP = 0.85  # ratio of two levels tried while looking for the ink
EDGE_KEEP_OFF_MM = 1.8  # paper this close to its own edge is left out: shadow and torn fibres


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """A smaller copy of the rectified picture for finding things; positions convert to mm and back.

    Parameters
    ----------
    rgb
        uint8 of shape (height, width, 3).
    mm_per_px
        Side of a pixel on the plane.
    factor
        Pixels of the rectified picture to one of this view.
    rectified
        The picture it was made of.
    """

    rgb: NDArray[np.uint8]
    mm_per_px: float
    factor: float
    rectified: Rectified

    @property
    def shape(self) -> tuple[int, int]:
        """(height, width)."""
        return int(self.rgb.shape[0]), int(self.rgb.shape[1])

    def to_mm(self, points_px: NDArray[np.float64]) -> NDArray[np.float64]:
        """Plane mm of (column, row) positions in this view."""
        full = (np.asarray(points_px, dtype=np.float64).reshape(-1, 2) + 0.5) * self.factor - 0.5
        return np.asarray(self.rectified.px_to_mm(full), dtype=np.float64)

    def to_px(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """(column, row) positions in this view of plane points in mm."""
        full = np.asarray(self.rectified.mm_to_px(points_mm), dtype=np.float64)
        return (full + 0.5) / self.factor - 0.5


@dataclass(frozen=True, slots=True, eq=False)
class LineMap:
    """Ridge strength at one stroke width.

    Parameters
    ----------
    strength
        float32 (height, width): about the darkness of the stroke whose middle lies here.
    sigma_mm
        Scale; the stroke is about twice as wide.
    ink
        Strength of the strongest long lines; 0 when there are none.
    """

    strength: FloatImage
    sigma_mm: float
    ink: float


def view_of(rectified: Rectified, mm_per_px: float = VIEW_MM_PER_PX) -> View:
    """Shrink the rectified picture to about ``mm_per_px`` (never enlarge it)."""
    image = rectified.image_rgb
    factor = max(1.0, mm_per_px / rectified.mm_per_px)
    if factor <= 1.02:
        return View(image, rectified.mm_per_px, 1.0, rectified)
    height, width = image.shape[:2]
    size = (max(1, int(width / factor)), max(1, int(height / factor)))
    # the copy covers exactly size * factor pixels, so that one factor serves both axes
    cover = image[: max(1, round(size[1] * factor)), : max(1, round(size[0] * factor))]
    small = np.asarray(cv2.resize(cover, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    return View(small, rectified.mm_per_px * factor, factor, rectified)


def darkness(rgb: NDArray[np.uint8]) -> FloatImage:
    """Minus the logarithm of the grey value: 0 for white, about 3.7 for black."""
    return _darkness_of(_grey(rgb))


def _grey(rgb: NDArray[np.uint8]) -> NDArray[np.uint8]:
    weights = np.array([[1 / 3, 1 / 3, 1 / 3]], dtype=np.float32)
    return np.asarray(cv2.transform(rgb, weights), dtype=np.uint8).reshape(rgb.shape[:2])


def _darkness_of(grey: NDArray[np.uint8]) -> FloatImage:
    table = -np.log((np.arange(256, dtype=np.float32) + 6.0) / 261.0)
    return np.asarray(cv2.LUT(grey, table), dtype=np.float32)


def stroke_darkness(rgb: NDArray[np.uint8], mm_per_px: float) -> FloatImage:
    """What of the darkness is narrower than the widest stroke (morphological top-hat)."""
    size = max(3, round(1.4 * WIDEST_STROKE_MM / mm_per_px)) | 1
    grey = _grey(rgb)
    # lighter is less dark, level by level: an opening of the darkness is that of a closing of the grey, in bytes
    closed = np.asarray(cv2.morphologyEx(grey, cv2.MORPH_CLOSE, np.ones((size, size), np.uint8)), np.uint8)
    dark = np.empty(grey.shape, np.float32)
    for top in range(0, len(grey), TILE[0]):
        strip = slice(top, top + TILE[0])
        cv2.subtract(_darkness_of(grey[strip]), _darkness_of(closed[strip]), dst=dark[strip])
    return dark


def ridges_and_spots(stroke_dark: FloatImage, sigma_px: float) -> tuple[FloatImage, FloatImage]:
    """Scale-normalised strength of dark ridges, and of roundish dark spots.

    The first is about the darkness of a bar of width 2 sigma, the second of a disc of that diameter. A spot
    is curved in every direction, a ridge in one.
    """
    scale = np.float32(sigma_px**2 / BAR_ANSWER)
    smooth = cv2.GaussianBlur(stroke_dark, (0, 0), sigma_px)
    mean = cv2.filter2D(smooth, -1, scale * HALF_LAPLACIAN)
    half = cv2.filter2D(smooth, -1, scale * HALF_DIFFERENCE)
    half = cv2.magnitude(half, cv2.filter2D(smooth, -1, scale * MIXED), half)
    high = cv2.max(cv2.add(mean, half), 0.0)
    # the smaller of mean + half and mean - half is at least that share of the larger
    flattest = (1.0 + LEAST_ROUND) / (1.0 - LEAST_ROUND)
    roundish = cv2.compare(mean, cv2.multiply(half, flattest), cv2.CMP_GE)
    low = cv2.copyTo(cv2.subtract(mean, half, half), roundish)
    low = cv2.multiply(low, BAR_ANSWER / SPOT_ANSWER, low)
    return np.asarray(high, dtype=np.float32), np.asarray(low, dtype=np.float32)


def paper_mask(view: View, paper_px: NDArray[np.float64] | None) -> Mask:
    """Where lines may be looked for: on the paper, not on references, not outside the photograph."""
    height, width = view.shape
    mask = np.full((height, width), 1, dtype=np.uint8)
    rect = view.rectified
    if rect.seen is not None:
        seen = cv2.resize(rect.seen.view(np.uint8), (width, height), interpolation=cv2.INTER_NEAREST)
        mask &= np.asarray(seen, dtype=np.uint8)
    if paper_px is not None and len(paper_px) >= 3:
        paper = np.zeros_like(mask)
        cv2.fillPoly(paper, [np.round(paper_px).astype(np.int32)], 1)
        mask &= paper
    _keep_off(mask, EDGE_KEEP_OFF_MM / view.mm_per_px)
    size = round(2 * EDGE_KEEP_OFF_MM / view.mm_per_px) | 1
    for polygon in rect.reference_polygons_mm:
        corners = np.round(view.to_px(polygon)).astype(np.int32)
        left, top = (corners.min(axis=0) - size).clip(0)
        right, bottom = (corners.max(axis=0) + size + 1).clip(0)
        part = mask[top:bottom, left:right]
        if part.size:
            hole = np.zeros(part.shape, dtype=np.uint8)
            cv2.fillPoly(hole, [corners - [left, top]], 1)
            part &= 1 - np.asarray(cv2.dilate(hole, np.ones((size, size), np.uint8)), dtype=np.uint8)
    return mask


def _keep_off(mask: Mask, margin_px: float) -> None:
    """Shrink a mask in place; the rim of the picture counts as an edge."""
    size = 2 * max(1, round(margin_px)) + 1
    shrunk = cv2.erode(mask, np.ones((size, size), np.uint8), borderType=cv2.BORDER_CONSTANT, borderValue=0)
    mask[:] = np.asarray(shrunk, dtype=np.uint8)


def stroke_image(view: View) -> FloatImage:
    """Darkness of all that is as narrow as a stroke."""
    return stroke_darkness(view.rgb, view.mm_per_px)


def line_maps(stroke: FloatImage, mm_per_px: float, mask: Mask) -> tuple[list[LineMap], FloatImage]:
    """Ridge maps at the stroke widths tried, and the map of spots over all widths.

    Parameters
    ----------
    stroke
        From :func:`stroke_image`.
    mm_per_px
        Its scale.
    mask
        Where lines may be.

    Returns
    -------
    maps, spots
        The map that answers strongest over long runs first.
    """
    # of widths finer than the picture shows, the broadest
    sigmas_mm = [mm for mm, more in pairwise(STROKE_SIGMAS_MM) if more / mm_per_px > LEAST_SIGMA_PX]
    sigmas_mm.append(STROKE_SIGMAS_MM[-1])
    sigmas_px = [max(sigma_mm / mm_per_px, LEAST_SIGMA_PX) for sigma_mm in sigmas_mm]
    strengths = [np.zeros(stroke.shape, np.float32) for _ in sigmas_px]
    spots = np.zeros(stroke.shape, np.float32)
    halo = math.ceil(4.0 * max(sigmas_px)) + 2

    def tile(top: int, left: int) -> None:
        own = slice(top, top + TILE[0]), slice(left, left + TILE[1])
        on = mask[own]
        if not on.any():
            return
        high, first = max(0, top - halo), max(0, left - halo)
        part = stroke[high : top + TILE[0] + halo, first : left + TILE[1] + halo]
        inner = slice(top - high, top - high + on.shape[0]), slice(left - first, left - first + on.shape[1])
        for strength, sigma_px in zip(strengths, sigmas_px, strict=True):
            ridge, spot = ridges_and_spots(part, sigma_px)
            cv2.copyTo(ridge[inner], on, strength[own])
            cv2.copyTo(cv2.max(spots[own], spot[inner]), on, spots[own])

    corners = product(range(0, stroke.shape[0], TILE[0]), range(0, stroke.shape[1], TILE[1]))
    # side by side: numpy and OpenCV leave the interpreter free
    with ThreadPoolExecutor(THREADS) as crew:
        for _ in crew.map(lambda corner: tile(*corner), corners):
            pass
        levels = list(crew.map(lambda s: _ink_level(s, mm_per_px, LONG_RUN_MM, ENOUGH_RUN_MM), strengths))
    out = [LineMap(*one) for one in zip(strengths, sigmas_mm, levels, strict=True)]
    out.sort(key=lambda m: -m.ink)
    return out, spots


def with_short_runs(maps: list[LineMap], mm_per_px: float) -> list[LineMap]:
    """The same maps with their ink judged by short strokes: for a drawing of dots with a few marks."""
    out = [
        LineMap(m.strength, m.sigma_mm, _ink_level(m.strength, mm_per_px, MARK_RUN_MM, 2.5 * MARK_RUN_MM))
        for m in maps
    ]
    out.sort(key=lambda m: -m.ink)
    return out


def _ink_level(strength: FloatImage, mm_per_px: float, long_run_mm: float, enough_run_mm: float) -> float:
    """Highest level at which enough long connected line remains; 0 if there is no such level."""
    step = 2
    height, width = (strength.shape[0] // step) * step, (strength.shape[1] // step) * step
    pooled = np.empty((height // step, width // step), np.float32)
    for top in range(0, height, TILE[0]):  # in strips: large arrays cost more to make than to fill
        strip = strength[top : min(top + TILE[0], height), :width]
        rows = np.maximum(strip[0::2], strip[1::2])
        np.maximum(rows[:, 0::2], rows[:, 1::2], out=pooled[top // step : (top + len(strip)) // step])
    # a level may be broken by noise into dashes: one closing joins what lies a millimetre apart
    level = float(pooled.max(initial=0.0)) * INK_STEP
    join = np.ones((3, 3), dtype=np.uint8)
    least_px = enough_run_mm / (CLOSED_REACH_PX * mm_per_px * step)
    while level > LEAST_INK and np.count_nonzero(pooled < level / ABOVE_USUAL) > 0.5 * pooled.size:
        on = pooled > level
        if np.count_nonzero(on) >= least_px:
            closed = np.asarray(cv2.morphologyEx(on.view(np.uint8), cv2.MORPH_CLOSE, join))
            if _long_run(closed, mm_per_px * step, long_run_mm) > enough_run_mm:
                return level
        level *= INK_STEP
    return 0.0


def _long_run(mask: Mask, mm_per_px: float, long_run_mm: float) -> float:
    """Extent in mm of all long thin groups of set pixels together."""
    places, group, _ = connected(mask)
    order = np.argsort(group, kind="stable")
    rows, columns = np.divmod(places[order], mask.shape[1])
    starts = np.flatnonzero(np.diff(group[order], prepend=-1))
    sides = [np.maximum.reduceat(at, starts) - np.minimum.reduceat(at, starts) + 1 for at in (rows, columns)]
    extent = np.hypot(*sides) * mm_per_px
    # a blot or a block of print is long and full; a line is long and thin
    thin = np.diff(starts, append=len(places)) * mm_per_px < 0.35 * extent * extent / 4.0
    return float(extent[(extent > long_run_mm) & thin].sum())
