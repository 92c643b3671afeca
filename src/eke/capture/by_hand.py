"""What the maker draws on a photograph, or rubs out of it, before its outlines are looked for: a missing stretch, a dot,
a word.

Strokes are put on the straightened picture, so that all that follows treats them as if they were on the paper. A drawn
stretch begins and ends on the lines that are there, in their ink and as broad as they are; where something is rubbed out, the
paper around it takes its place (a morphological closing: J. Serra, "Image Analysis and Mathematical Morphology", 1982).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.rectify import Rectified

__all__ = ["Stroke", "drawn_share", "stroke_of", "with_strokes"]

Points = NDArray[np.float64]
Image = NDArray[np.uint8]

SNAP_MM = 4.0  # how near to the end of a drawn stretch a line is looked for
SNAP_CONTRAST = 24  # of 255: less is no line
USUAL_INK, USUAL_WIDTH_MM = (40, 38, 42), 0.9  # where there is no line to go by
WIDTHS_MM = (0.5, 3.0)
DOT_RADIUS_MM = 0.45  # as a pen dots a pin-prick
RUB_MM = 5.0  # how broad a rubber is
PAPER_MM = 9.0  # dark things narrower than this are not the paper
ALONG_MM = 1.5  # a drawn stretch this near to an outline is part of it


@dataclass(frozen=True, slots=True, eq=False)
class Stroke:
    """A stroke of the maker's.

    Parameters
    ----------
    how
        "draw": a dot for one point, a line for several; "rub": rubbed out along the points.
    points
        (n, 2), n ≥ 1: pixels of the upright picture where it is said, mm of the plane where it is put.
    """

    how: Literal["draw", "rub"]
    points: Points


def stroke_of(how: str, points: Sequence[Sequence[float]]) -> Stroke:
    """A stroke from plain values: "rub", or else drawn."""
    return Stroke("rub" if how == "rub" else "draw", np.array(points, dtype=np.float64).reshape(-1, 2))


def with_strokes(flat: Rectified, strokes: Sequence[Stroke]) -> tuple[Rectified, list[Points]]:
    """A straightened picture with strokes put on it in turn, and the lines that were drawn, (n, 2) mm each.

    ``strokes`` are in mm of the plane; what lies outside the picture is left out.
    """
    if not strokes:
        return flat, []
    image = flat.image_rgb.copy()
    lines: list[Points] = []
    for stroke in strokes:
        px = flat.mm_to_px(stroke.points)
        if stroke.how == "rub":
            _rub(image, px, flat.mm_per_px)
        elif len(px) == 1:
            _, ink, _ = _line_near(image, px[0], flat.mm_per_px)
            cv2.circle(
                image, _whole(px[0]), max(1, round(DOT_RADIUS_MM / flat.mm_per_px)), ink, -1, cv2.LINE_AA
            )
        else:
            lines.append(flat.px_to_mm(_draw(image, px, flat.mm_per_px)))
    return replace(flat, image_rgb=image), lines


def drawn_share(outline_mm: Points, lines: Sequence[Points]) -> float:
    """Share of a closed outline's length that the maker drew on the picture."""
    if not lines or len(outline_mm) < 3:
        return 0.0
    ring = outline_mm.astype(np.float32)
    length = float(np.hypot(*(np.roll(outline_mm, -1, axis=0) - outline_mm).T).sum())
    drawn = 0.0
    for line in lines:
        middle = 0.5 * (line[1:] + line[:-1])
        steps = np.hypot(*np.diff(line, axis=0).T)
        near = [abs(cv2.pointPolygonTest(ring, (float(x), float(y)), True)) < ALONG_MM for x, y in middle]
        drawn += float(steps[near].sum())
    return drawn / max(length, 1e-9)


def _draw(image: Image, px: Points, mm_per_px: float) -> Points:
    """Draw a line from line to line; the points that it was drawn through."""
    first, ink, width_mm = _line_near(image, px[0], mm_per_px)
    last, other_ink, other_mm = _line_near(image, px[-1], mm_per_px)
    through = np.vstack([first, px[1:-1], last])
    width = round(0.5 * (width_mm + other_mm) / mm_per_px)
    colour = tuple(int(0.5 * (a + b)) for a, b in zip(ink, other_ink, strict=True))
    fixed = np.round(through * 16.0).astype(np.int32)
    cv2.polylines(image, [fixed], False, colour, max(1, width), cv2.LINE_AA, 4)
    return through


def _line_near(image: Image, at: Points, mm_per_px: float) -> tuple[Points, tuple[int, int, int], float]:
    """The middle of the line nearest to a place, its ink and its width in mm; the place itself where there is none."""
    reach = round(SNAP_MM / mm_per_px)
    x, y = _whole(at)
    left, top = max(0, x - reach), max(0, y - reach)
    part = image[top : y + reach + 1, left : x + reach + 1]
    if part.size == 0:
        return at, USUAL_INK, USUAL_WIDTH_MM
    grey = cv2.GaussianBlur(cv2.cvtColor(part, cv2.COLOR_RGB2GRAY), (0, 0), 0.8)
    paper, darkest = float(np.percentile(grey, 80.0)), float(grey.min())
    if paper - darkest < SNAP_CONTRAST:
        return at, USUAL_INK, USUAL_WIDTH_MM
    ink = (grey < 0.5 * (paper + darkest)).astype(np.uint8)
    depth = cv2.distanceTransform(np.pad(ink, 1), cv2.DIST_L2, 5)[1:-1, 1:-1]
    rows, columns = np.nonzero(depth >= 0.7 * depth.max())
    nearest = int(np.argmin(np.hypot(columns + left - at[0], rows + top - at[1])))
    colour = np.median(part[ink > 0], axis=0)
    width = float(np.clip(2.0 * depth.max() * mm_per_px, *WIDTHS_MM))
    middle = np.array([columns[nearest] + left, rows[nearest] + top], dtype=np.float64)
    return middle, (int(colour[0]), int(colour[1]), int(colour[2])), width


def _rub(image: Image, px: Points, mm_per_px: float) -> None:
    """Put the paper around in the place of what lies along a path."""
    margin = round((RUB_MM + 2.0 * PAPER_MM) / mm_per_px)
    low = np.maximum(np.floor(px.min(axis=0)).astype(int) - margin, 0)
    high = np.ceil(px.max(axis=0)).astype(int) + margin + 1
    part = image[low[1] : high[1], low[0] : high[0]]
    if part.size == 0:
        return
    size = round(PAPER_MM / mm_per_px) | 1
    paper = cv2.morphologyEx(
        part, cv2.MORPH_CLOSE, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    )
    paper = cv2.GaussianBlur(paper, (0, 0), 1.0 / mm_per_px)
    mask = np.zeros(part.shape[:2], np.uint8)
    path = np.round((px - low) * 16.0).astype(np.int32)
    if len(path) == 1:
        path = np.vstack([path, path])
    cv2.polylines(mask, [path], False, 255, max(1, round(RUB_MM / mm_per_px)), cv2.LINE_8, 4)
    part[mask > 0] = paper[mask > 0]


def _whole(at: Points) -> tuple[int, int]:
    return round(float(at[0])), round(float(at[1]))
