"""Pieces that were pricked or dotted instead of drawn, or dotted with a faint line between."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from eke.capture.lines import View
from eke.capture.outline_edges import FLATTENED_MM, TracedOutline, fit_line, see_line
from eke.capture.outline_looks import same_line
from eke.capture.pins import Dots
from eke.capture.pins_order import groups_of_dots, is_line_of_dots, ordered_ring
from eke.capture.pins_outline import Known, outline_through_dots
from eke.capture.simple_rings import simple_chain

__all__ = ["dotted_outlines"]

Points = NDArray[np.float64]

RING_CLEAR_MM = 6.5  # a circle around an anchor hides the line inside it
LARGEST_SIGMA_MM = 0.9  # dots that scatter more about fair curves were not set along an edge
MOST_CROSSED_MM = 8.0  # letters of print may lie like dots, but a line through them runs over itself
LINE_SEEN = 0.55  # share of the way between dots at which a line must be seen to be followed
BETWEEN_MM = 1.5  # from a dot
LINE_AWAY_MM = 1.2  # a line further from the dots than this is another one


def dotted_outlines(
    view: View,
    dots: Dots,
    least_area_mm2: float,
    width_mm: float,
    *,
    some_unseen: bool = False,
    taken: Sequence[TracedOutline] = (),
) -> tuple[list[TracedOutline], NDArray[np.bool_]]:
    """Outlines through groups of dots, and which dots they used.

    Parameters
    ----------
    view
        The picture.
    dots
        All spots found.
    least_area_mm2
        Smaller rings are no pieces.
    width_mm
        About the width of a line that may join the dots.
    some_unseen
        See :func:`eke.capture.pins_outline.outline_through_dots`.
    taken
        Outlines that are known already: the dots along them are left out.
    """
    used = np.zeros(len(dots.at_mm), dtype=np.bool_)
    out = []
    for group in groups_of_dots(dots.at_mm):
        ring = group[ordered_ring(dots.at_mm[group], dots.anchor[group])]
        points = dots.at_mm[ring]
        area = abs(float(cv2.contourArea(points.astype(np.float32))))
        if area < least_area_mm2 or not is_line_of_dots(dots.at_mm, ring) or same_line(points, taken):
            continue
        known: Known = {}
        traced = outline_through_dots(points, dots.anchor[ring], known=known)
        if (
            traced.sigma_mm > LARGEST_SIGMA_MM
            or simple_chain(traced.controls, FLATTENED_MM)[1] > MOST_CROSSED_MM
        ):
            continue
        if some_unseen:  # not before: what runs over itself would pass for an outline
            traced = outline_through_dots(points, dots.anchor[ring], some_unseen=True, known=known)
        joined = _along_line(view, traced, points, dots.anchor[ring], width_mm)
        out.append(joined if joined is not None else traced)
        used[ring] = True
    return out, used


def _along_line(
    view: View, traced: TracedOutline, ring: Points, anchor: NDArray[np.bool_], width_mm: float
) -> TracedOutline | None:
    """The outline read from the line between the dots, when there is one."""
    path = traced.outline_mm
    fine = _fine(path)
    hidden = np.zeros(len(fine), dtype=np.bool_)
    if anchor.any():
        hidden = np.asarray(cKDTree(ring[anchor]).query(fine)[0]) < RING_CLEAR_MM
    corners = traced.corners_mm if len(traced.corners_mm) >= 2 else None
    from_path, from_dots = cKDTree(fine), cKDTree(ring)
    # dots alone look like line where they are: what lies between them decides
    way_between = np.asarray(from_dots.query(fine)[0]) > BETWEEN_MM
    usual = 0.4 * float((way_between & ~hidden).sum())

    seen = see_line(view.rectified, fine, hidden, width_mm, corners)
    seen_mm = seen.ring_mm[seen.good]
    if len(seen_mm) < 8 or seen.share < LINE_SEEN * float((~hidden).mean()):
        return None
    between = np.asarray(from_dots.query(seen_mm)[0]) > BETWEEN_MM
    away = float(np.quantile(from_path.query(seen_mm)[0], 0.9))
    if float(between.sum()) / max(1.0, usual) < LINE_SEEN or away > LINE_AWAY_MM:
        return None
    return fit_line(view.rectified, seen, corners)


def _fine(path: Points, step: float = 0.2) -> Points:
    ring = np.vstack([path, path[:1]])
    at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))])
    places = np.arange(0.0, at[-1], step)
    return np.column_stack([np.interp(places, at, ring[:, 0]), np.interp(places, at, ring[:, 1])])
