"""Where pieces are drawn: on the paper, on what may be the paper, and on another paper beside it."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.corners import resample_closed
from eke.capture.lines import line_maps, paper_mask, stroke_image, view_of
from eke.capture.lines_centre import SIDE_STEP, normals, profiles
from eke.capture.outline_looks import LEAST_SEEN, MOST_STEPPED, area_mm2, clear_loops, holds
from eke.capture.quads import find_quads
from eke.capture.rectify import Rectified

__all__ = ["beside_paper", "drawn_beside", "likely_papers", "on_the_floor", "part_of"]

Points = NDArray[np.float64]

PAPER_SHARE, PAPER_SUPPORT = 0.05, 0.6  # of the picture; of the border's length that is seen
BOARD_STEPPED = 0.04  # beside the paper both sides of a drawn line differ along less of it than this
MARGIN_MM = 20.0  # of what is looked at around the paper: as far as light is read beside a line on its edge
STEPPED_MM, SIDE_MM = 2.0, (1.5, 4.0)  # so finely along a line, and so far from it, its sides are compared
BESIDE_MM_PER_PX = 0.7  # fine enough to see a line at all; what is seen is then looked at closely
FAINTEST_BESIDE = 0.1  # so seen a thin pencil line has 0.15; joints and grain of a floor may have less


def part_of(rectified: Rectified, paper_mm: Points) -> Rectified:
    """The part of a picture that shows a paper (n, 2), which is taken for the one that carries the tracing."""
    return replace(rectified, paper_polygon_mm=paper_mm).cut(paper_mm, MARGIN_MM)


def likely_papers(rectified: Rectified) -> list[Points]:
    """Four-sided things of the straightened picture that may be the paper, in mm, the largest first."""
    share = PAPER_SHARE * rectified.image_rgb.shape[0] * rectified.image_rgb.shape[1]
    references = [np.mean(p, axis=0) for p in rectified.reference_polygons_mm]
    papers = []
    for quad in find_quads(rectified.image_rgb):
        if quad.area_px > share and quad.support > PAPER_SUPPORT:
            polygon = rectified.px_to_mm(quad.corners_px)
            size = area_mm2(polygon)
            beside = not any(holds(polygon, (float(x), float(y))) for x, y in references)
            if beside or size > 2.0 * max(area_mm2(p) for p in rectified.reference_polygons_mm):
                papers.append(polygon)
    return papers


def drawn_beside(rectified: Rectified, paper_mm: Points) -> bool:
    """May a piece be drawn elsewhere than on what looks like the paper? A first look, from further away."""
    whole = max(1, round(BESIDE_MM_PER_PX / rectified.mm_per_px))  # whole pixels are put together much faster
    view = view_of(rectified, whole * rectified.mm_per_px)
    # how dark the ink is, is read off all lines; those on the paper are known
    lines = line_maps(stroke_image(view), view.mm_per_px, paper_mask(view, None))[0][0]
    cv2.fillPoly(lines.strength, [np.round(view.to_px(paper_mm)).astype(np.int32)], (0.0,))
    for loop in clear_loops(view, lines):
        if loop.strength < FAINTEST_BESIDE:
            continue
        ring = view.to_mm(loop.points_px)
        stepped = _stepped_share(rectified, ring)
        drawn = 1.0 - loop.bridged.mean() >= LEAST_SEEN and stepped <= MOST_STEPPED
        if drawn and not on_the_floor(rectified, ring, stepped):
            return True
    return False


def _stepped_share(rectified: Rectified, ring_mm: Points) -> float:
    """Of the length of a closed line, about, along which one side is darker than the other."""
    few = resample_closed(ring_mm, STEPPED_MM)
    offsets = np.linspace(*SIDE_MM, 4)
    dark = profiles(rectified, few, normals(few, True), np.concatenate([-offsets, offsets]))
    left, right = (np.median(side, axis=1) for side in np.split(dark, 2, axis=1))
    return float(np.mean(np.abs(left - right) > SIDE_STEP))


def on_the_floor(rectified: Rectified, outline_mm: Points, stepped_share: float) -> bool:
    """Is this a board or a tile beside the paper? A piece on a second paper has the same on both sides of its line.

    ``stepped_share``: of its length, along which one side is darker than the other.
    """
    return stepped_share >= BOARD_STEPPED and beside_paper(rectified, outline_mm)


def beside_paper(rectified: Rectified, outline_mm: Points) -> bool:
    """Does this lie beside what looks like the paper?"""
    paper = rectified.likely_paper_mm
    x, y = outline_mm.mean(axis=0)
    return paper is not None and not holds(paper, (float(x), float(y)))
