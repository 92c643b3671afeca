"""Cloths on a floor or table: outline, holes, stains, thread direction, repeat, colour."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from eke.capture.cloth_border import refine_border
from eke.capture.cloth_flaws import flaw_rings_px
from eke.capture.cloth_outline import simplified, smooth_outline
from eke.capture.cloth_regions import Regions, cloth_regions
from eke.capture.cloth_texture import Roughness, roughness
from eke.capture.corners import resample_closed
from eke.capture.found import FoundCloth
from eke.capture.lines import View, view_of
from eke.capture.rectify import Rectified
from eke.capture.simple_rings import simple_ring
from eke.capture.weave import read_repeat, read_weave
from eke.errors import NotTrustworthy, Stopped

__all__ = ["find_cloths"]

Points = NDArray[np.float64]
Mask = NDArray[np.bool_]
Touch = tuple[float, float, Literal["+", "-"]]

REGION_MM_PER_PX = 2.0
TEXTURE_MM_PER_PX = 0.3
REPEAT_MM_PER_PX = 0.8
LEAST_CLOTH_MM2 = 6000.0
LEAST_HOLE_MM2 = 60.0
MOST_HOLES = 16
CLEAR_ODDS = 1.2  # an edge with less than this between cloth and floor is a guess
HARDLY_SEEN = 0.12  # share of such edge that is worth a warning
NOT_SEEN = 0.5  # ... and that makes the outline worthless
EDGE_SIGMA_MM = 0.35  # a cut edge is read no better than this: threads stand out of it
UNEVEN_COUNTS = 1.3  # an edge that is hard to see is found uneven, and off by about as much again
UNCLEAR_MM = 2.4  # ... and is off by about this over the odds between cloth and floor
CROSSING_TOLD_MM = 1.0  # a larger loop may be a fold or a corner of the cloth


def find_cloths(
    rectified: Rectified,
    *,
    touches: Sequence[Touch] = (),
    listener: Callable[[str, float], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> tuple[FoundCloth, ...]:
    """Find cloths lying flat in the picture.

    Parameters
    ----------
    rectified
        The picture at true scale.
    touches
        ``(x_mm, y_mm, '+' | '-')`` in the plane: on cloth, on floor. Without any, the largest thing that
        differs from the rim of the picture is taken; with ``+``, each cloth that holds one.
    listener, stop
        As for outlines of pieces.

    Returns
    -------
    tuple of FoundCloth
        The largest first.

    Raises
    ------
    NotTrustworthy
        No cloth parts from the floor.
    Stopped
        ``stop`` said so.
    """

    def step(what: str, share: float) -> None:
        if stop is not None and stop():
            raise Stopped("Stopped before the cloth was found. Nothing was changed.")
        if listener is not None:
            listener(what, share)

    step("telling cloth from floor", 0.05)
    view = view_of(rectified, REGION_MM_PER_PX)
    seen, references = _seen(view), _references(view)
    rough = roughness(view_of(rectified, TEXTURE_MM_PER_PX))
    regions = cloth_regions(
        view,
        rough,
        seen,
        references,
        _places(view, touches, "+"),
        _places(view, touches, "-"),
    )
    parts = _parts(regions, touches)
    if not parts:
        raise NotTrustworthy(
            "No cloth could be told from the floor. Touch the cloth once or twice and the floor beside it, or "
            "lay the cloth on a floor of another colour and take the picture again."
        )
    texture = rough.logs()
    cloths = []
    for k, part in enumerate(parts):
        step("following the edge", 0.3 + 0.6 * k / len(parts))
        cloths.append(_cloth(regions, rough, texture, part, step))
    step("done", 1.0)
    kept = [c for c in cloths if c is not None]
    if not kept:
        raise NotTrustworthy(
            "The edge of the cloth cannot be seen against the floor for more than half of its length. Lay it on "
            "a floor or sheet of another colour and take the picture again."
        )
    return tuple(sorted(kept, key=lambda c: -_area(c.outline_mm)))


def _seen(view: View) -> Mask:
    height, width = view.shape
    if view.rectified.seen is None:
        return np.ones((height, width), dtype=np.bool_)
    small = cv2.resize(view.rectified.seen.astype(np.uint8), (width, height), interpolation=cv2.INTER_AREA)
    small = cv2.erode(np.asarray(small), np.ones((3, 3), np.uint8), borderValue=1)
    return np.asarray(small) > 0


def _references(view: View) -> Mask:
    out = np.zeros(view.shape, dtype=np.uint8)
    for polygon in view.rectified.reference_polygons_mm:
        cv2.fillPoly(out, [np.round(view.to_px(polygon)).astype(np.int32)], 1)
    return np.asarray(cv2.dilate(out, np.ones((5, 5), np.uint8))) > 0


def _places(view: View, touches: Sequence[Touch], sign: str) -> list[tuple[float, float]]:
    chosen = np.array([[t[0], t[1]] for t in touches if t[2] == sign], dtype=np.float64).reshape(-1, 2)
    return [(float(x), float(y)) for x, y in view.to_px(chosen)]


def _parts(regions: Regions, touches: Sequence[Touch]) -> list[Mask]:
    view = regions.view
    count, label, stats, _ = cv2.connectedComponentsWithStats(regions.cloth.astype(np.uint8), connectivity=4)
    label = np.asarray(label)
    least = LEAST_CLOTH_MM2 / view.mm_per_px**2
    big = [k for k in range(1, count) if stats[k, cv2.CC_STAT_AREA] >= least]
    wanted = set()
    height, width = view.shape
    for x, y in _places(view, touches, "+"):
        row, col = min(max(round(y), 0), height - 1), min(max(round(x), 0), width - 1)
        wanted.add(int(label[row, col]))
    if wanted & set(big):
        big = [k for k in big if k in wanted]
    elif big:
        big = [max(big, key=lambda k: int(stats[k, cv2.CC_STAT_AREA]))]
    return [label == k for k in big]


def _cloth(
    regions: Regions,
    rough: Roughness,
    texture: NDArray[np.float32],
    part: Mask,
    step: Callable[[str, float], None],
) -> FoundCloth | None:
    view, rectified = regions.view, rough.view.rectified
    rings, holes = _rings(view, part)
    border = refine_border(regions, rough, texture, rings)
    unclear = float(np.mean(border.clear < CLEAR_ODDS))
    if unclear > NOT_SEEN:
        return None
    outline, moved_mm = simple_ring(smooth_outline(border.points_mm))
    refined_holes: list[Points] = []
    doubtful: list[Points] = []
    for hole in _likely(regions, holes):
        # the inside of the cloth lies to the right of the way round a hole: turn it about
        edge = refine_border(regions, rough, texture, hole[::-1])
        if float(np.mean(edge.clear < CLEAR_ODDS)) < NOT_SEEN:
            ring = edge.points_mm[::-1]
            if abs(_area(ring)) >= LEAST_HOLE_MM2:
                refined_holes.append(simple_ring(simplified(ring, 0.1))[0])
        else:
            # of the floor's colour, but no edge: a stain rather than a hole, and no place to cut either way
            doubtful.append(simple_ring(simplified(hole, 0.8))[0])
    step("reading the threads", 0.75)
    inner = np.asarray(cv2.erode(part.astype(np.uint8), np.ones((5, 5), np.uint8), borderValue=0)) > 0
    weave = read_weave(rectified, inner, view.factor)
    repeat: tuple[float | None, float | None] = (None, None)
    if weave is not None:
        middling = view_of(rectified, REPEAT_MM_PER_PX)
        size = (middling.shape[1], middling.shape[0])
        inside = cv2.resize(inner.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST)
        repeat = read_repeat(middling.rgb, np.asarray(inside) > 0, middling.mm_per_px, weave.thread_deg)
    step("looking for stains", 0.9)
    known = [r for r in repeat if r is not None]
    flaws = [
        _counter_clockwise(simple_ring(simplified(view.to_mm(f), 0.8))[0])
        for f in flaw_rings_px(view, part, max(known) if known else None)
    ]
    colour = view.rgb[inner].mean(axis=0) if inner.any() else view.rgb[part].mean(axis=0)
    warnings = []
    if unclear > HARDLY_SEEN:
        warnings.append(
            f"The edge of the cloth is hard to see for {unclear * 100:.0f} % of its length. Check the outline "
            "there, or touch the cloth and the floor on both sides of it."
        )
    if weave is None:
        warnings.append(
            "The threads are too fine to see in this picture. Take a close-up, or set the direction of the "
            "grain by hand along the selvedge."
        )
    if moved_mm > CROSSING_TOLD_MM:
        warnings.append(
            f"The edge of the cloth ran over itself; a loop of {moved_mm:.1f} mm was cut off. Check the outline."
        )
    uneven = float(np.sqrt(np.mean(cKDTree(resample_closed(outline, 0.5)).query(border.points_mm)[0] ** 2)))
    clear = max(float(np.median(border.clear)), 0.3)
    sigma = math.hypot(EDGE_SIGMA_MM, 0.4 * rectified.mm_per_px) * (1.0 + 6.0 * unclear)
    sigma = math.hypot(sigma, UNEVEN_COUNTS * uneven, UNCLEAR_MM / clear, moved_mm)
    return FoundCloth(
        outline_mm=outline,
        holes_mm=tuple(refined_holes),
        flaws_mm=tuple(doubtful + flaws),
        grain_deg=None if weave is None else weave.thread_deg,
        repeat_mm=repeat,
        mean_rgb=(float(colour[0]), float(colour[1]), float(colour[2])),
        sigma_mm=sigma,
        warnings=tuple(warnings),
    )


def _likely(regions: Regions, holes: list[Points]) -> list[Points]:
    """At most so many holes as a cloth is worth cutting round: those that look most like floor, the larger first."""
    if len(holes) <= MOST_HOLES:
        return holes
    worth = []
    for hole in holes:
        mask = np.zeros(regions.view.shape, dtype=np.uint8)
        px = np.round(regions.view.to_px(hole)).astype(np.int32)
        left, top, width, height = cv2.boundingRect(px)
        box = (slice(max(top, 0), top + height), slice(max(left, 0), left + width))
        cv2.fillPoly(mask[box], [px - [max(left, 0), max(top, 0)]], 1)
        worth.append(-float(regions.odds[box][mask[box] > 0].sum()))
    return [holes[k] for k in np.argsort(worth)[::-1][:MOST_HOLES]]


def _rings(view: View, part: Mask) -> tuple[Points, list[Points]]:
    """Rough outline and rough holes of a part, in mm, each counter-clockwise."""
    # enlarged twice, so that the contour runs between the pixels and not along their middles
    big = cv2.resize(part.astype(np.uint8), None, fx=2, fy=2, interpolation=cv2.INTER_NEAREST)
    contours, tree = cv2.findContours(np.asarray(big), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    outer: Points | None = None
    holes = []
    for contour, node in zip(contours, np.asarray(tree)[0], strict=True):
        ring = view.to_mm(contour.reshape(-1, 2).astype(np.float64) / 2.0 - 0.25)
        if node[3] < 0:
            if outer is None or abs(_area(ring)) > abs(_area(outer)):
                outer = ring
        elif abs(_area(ring)) >= LEAST_HOLE_MM2:
            holes.append(_counter_clockwise(ring))
    assert outer is not None
    return _counter_clockwise(outer), holes


def _counter_clockwise(ring: Points) -> Points:
    return ring if _area(ring) > 0 else np.ascontiguousarray(ring[::-1])


def _area(ring: Points) -> float:
    return 0.5 * float(np.sum(ring[:, 0] * np.roll(ring[:, 1], -1) - np.roll(ring[:, 0], -1) * ring[:, 1]))
