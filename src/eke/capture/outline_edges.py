"""From a closed chain of pixels to the edges of a piece: corners, centre lines, fitted curves."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from eke.capture.corners import corner_places, resample_closed
from eke.capture.fitting import Chain, bezier, fit_edge, flatten_segments
from eke.capture.lines_centre import STEP_MM, Centred, centre_line
from eke.capture.outline_detours import without_detours
from eke.capture.outline_notches import BroadNotch, broad_notches
from eke.capture.rectify import Rectified

__all__ = ["SeenLine", "TracedOutline", "confirmed", "fit_line", "meeting_point", "see_line"]

Points = NDArray[np.float64]

FLATTENED_MM = 0.05
CORNER_CLEAR_MM = 0.6  # beside a corner, besides the stroke's width, the other line disturbs the profile
NOTCH_CLEAR_MM = 1.0
CONFIRM_TURN_DEG = 11.0  # two fitted edges that turn by less than this are one
BLOT_MM = 9.0  # a double notch of a broad pen pulls the middle of the line aside over so much of it
BLOT_TURN_DEG = 45.0
BLOT_STEP_MM = 2.0
ASIDE_STEPS = 4  # of STEP_MM: so much further than the stroke is broad
MEET_MM = 6.0  # a corner further than this from where the lines were seen to meet is no intersection


@dataclass(frozen=True, slots=True, eq=False)
class TracedOutline:
    """A closed outline made of fitted edges.

    Parameters
    ----------
    controls
        Pieces of the outline, (2, 2) lines and (4, 2) cubics, in order, counter-clockwise.
    corners_mm
        (c, 2).
    outline_mm
        Flattened.
    seen_mm
        (n, 2) measured points of the centre line that were used.
    sigma_mm
        Robust standard deviation of the measured points about the fitted outline.
    seen_share
        Share of the length at which the line was seen.
    width_mm, dark
        Of the stroke.
    stepped_share
        Share of the length along which one side of the line is darker than the other.
    notches
        Those of a broad pen, which were seen beside the line.
    """

    controls: tuple[Points, ...]
    corners_mm: Points
    outline_mm: Points
    seen_mm: Points
    sigma_mm: float
    seen_share: float
    width_mm: float
    dark: float
    stepped_share: float
    notches: tuple[BroadNotch, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class SeenLine:
    """The middle of a closed line as it was seen, before any edge is fitted to it.

    Parameters
    ----------
    ring_mm
        (n, 2) evenly spaced, counter-clockwise.
    good
        bool (n,): the line was seen there.
    centred
        What the line is like.
    """

    ring_mm: Points
    good: NDArray[np.bool_]
    centred: Centred

    @property
    def share(self) -> float:
        """Of the length, where the line was seen."""
        return float(self.good.mean())

    @property
    def stepped_share(self) -> float:
        """Of the length, along which one side of the line is darker than the other."""
        return self.centred.stepped_share


def see_line(
    rectified: Rectified,
    ring_mm: Points,
    bridged: NDArray[np.bool_],
    width_mm: float,
    corners_mm: Points | None = None,
) -> SeenLine:
    """The middle of the line that a rough closed ring follows.

    Parameters
    ----------
    rectified
        The picture.
    ring_mm
        (n, 2) rough closed ring, within a stroke of the line.
    bridged
        bool (n,): no line there.
    width_mm
        About the width of the stroke.
    corners_mm
        Corners that are known (marked by the maker); None looks for them.
    """
    area = 0.5 * float(
        np.sum(ring_mm[:, 0] * np.roll(ring_mm[:, 1], -1) - np.roll(ring_mm[:, 0], -1) * ring_mm[:, 1])
    )
    if area < 0:
        ring_mm, bridged = ring_mm[::-1], bridged[::-1]
    even, gaps = without_detours(rectified, *_even_ring(ring_mm, bridged), STEP_MM, width_mm)
    rough = np.asarray(gaussian_filter1d(even, 0.7 / STEP_MM, axis=0, mode="wrap"))
    first = corner_places(rough, STEP_MM, width_mm) if corners_mm is None else _nearest(even, corners_mm)
    centred = _centre_between(rectified, rough, gaps, first, width_mm)
    whole, unseen = _even_ring(centred.points_mm, ~centred.good)
    return SeenLine(whole, ~unseen, centred)


def fit_line(rectified: Rectified, seen: SeenLine, corners_mm: Points | None = None) -> TracedOutline:
    """Fit edges between the corners of a line, those that are known or those that it shows."""
    whole, good, centred = seen.ring_mm, seen.good.copy(), seen.centred
    # with the line's own middle known, look again: pixels no longer pretend corners or hide them
    width = centred.width_mm
    if corners_mm is None:
        smooth = np.asarray(gaussian_filter1d(whole, 1.0, axis=0, mode="wrap"))
        corners = corner_places(smooth, STEP_MM, width)
    else:
        corners = _nearest(whole, corners_mm)
    known: dict[bytes, Chain] = {}
    fitted = _fit_all(whole, good, corners, centred, known)
    notches = broad_notches(rectified, fitted.outline_mm, fitted.corners_mm, width, centred.dark)
    if not notches:
        return fitted
    # a broad notch draws the middle of the line towards itself: what was read there does not count
    for notch in notches:
        apart = np.hypot(*(whole - notch.at_mm).T)
        good &= apart > notch.half_mm + 0.5 * width + NOTCH_CLEAR_MM
    again = _fit_all(whole, good, _nearest(whole, fitted.corners_mm), centred, known)
    return replace(again, notches=tuple(notches))


def _nearest(ring: Points, places: Points) -> list[int]:
    return sorted({int(np.argmin(np.hypot(*(ring - p).T))) for p in places})


def _even_ring(ring: Points, flag: NDArray[np.bool_]) -> tuple[Points, NDArray[np.bool_]]:
    """Resample a closed ring to the step, carrying a flag per point."""
    even = resample_closed(ring, STEP_MM)
    closed = np.vstack([ring, ring[:1]])
    at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    places = np.linspace(0.0, at[-1], len(even), endpoint=False)
    share = np.interp(places, at, np.append(flag, flag[0]).astype(np.float64))
    return even, share > 0.34


def _centre_between(
    rectified: Rectified, ring: Points, gaps: NDArray[np.bool_], corners: list[int], width_mm: float
) -> Centred:
    """Centre lines of the stretches between corners, put together as one ring again."""
    n = len(ring)
    if not corners:
        return centre_line(rectified, ring, width_mm=width_mm, closed=True, gaps=gaps)
    points = ring.copy()
    good = np.zeros(n, dtype=np.bool_)
    steps = np.zeros(n)
    widths, darks, lengths = [], [], []
    clear = round((0.8 * width_mm + CORNER_CLEAR_MM) / STEP_MM)
    for a, b in zip(corners, [*corners[1:], corners[0] + n], strict=True):
        run = np.arange(a, b + 1) % n
        if len(run) < 8:
            continue
        found = centre_line(rectified, ring[run], width_mm=width_mm, gaps=gaps[run])
        inner = slice(min(clear, len(run) // 4), len(run) - min(clear, len(run) // 4))
        points[run[inner]] = found.points_mm[inner]
        good[run[inner]] = found.good[inner]
        widths.append(found.width_mm)
        darks.append(found.dark)
        steps[run[inner]] = found.step_dark[inner]
        lengths.append(len(run))
    if not widths:
        return Centred(points, good, width_mm, 0.0, steps)
    share = np.array(lengths, dtype=np.float64)
    return Centred(
        points,
        good,
        _weighted_median(np.array(widths), share),
        _weighted_median(np.array(darks), share),
        steps,
    )


def _weighted_median(values: NDArray[np.float64], weights: NDArray[np.float64]) -> float:
    order = np.argsort(values)
    total = np.cumsum(weights[order])
    return float(values[order[int(np.searchsorted(total, total[-1] / 2))]])


def _fit_all(
    ring: Points,
    good: NDArray[np.bool_],
    corners: list[int],
    centred: Centred,
    known: dict[bytes, Chain],
) -> TracedOutline:
    n = len(ring)
    clear = round((0.8 * centred.width_mm + CORNER_CLEAR_MM) / STEP_MM)
    if not corners:
        start = int(np.argmin(good)) if not good.all() else 0
        order = np.arange(start, start + n + 1) % n
        keep = good[order] | (np.arange(n + 1) == 0) | (np.arange(n + 1) == n)
        chain = fit_edge(ring[order][keep], closed=True)
        return _assemble([chain], np.zeros((0, 2)), ring, good, centred)
    before = corners
    corners, runs, chains = confirmed(before, lambda at: _edges(ring, good, at, clear, known))
    if len(corners) > 1 and (aside := _stepped_aside(ring, before, corners)):
        # whatever drew the middle of the line aside there is no part of it
        good = good.copy()
        for first, last in aside:
            good[np.arange(first - clear - ASIDE_STEPS, last + clear + ASIDE_STEPS + 1) % n] = False
        runs, chains = _edges(ring, good, corners, clear, known)
    meets = np.array(
        [meeting_point(chains[k - 1], chains[k], ring[corners[k]]) for k in range(len(corners))],
        dtype=np.float64,
    )
    pinned = [
        chain.pinned(run, meets[k], meets[(k + 1) % len(corners)])
        for k, (chain, run) in enumerate(zip(chains, runs, strict=True))
    ]
    return _assemble(pinned, meets, ring, good, centred)


def _stepped_aside(ring: Points, before: list[int], kept: list[int]) -> list[tuple[int, int]]:
    """Stretches from corner to next corner that were dropped both: at a notch or a letter that touches the line."""
    after = zip(before, [*before[1:], before[0] + len(ring)], strict=True)
    gone = [(a, b) for a, b in after if a not in kept and b % len(ring) not in kept]
    return [(a, b) for a, b in gone if math.dist(ring[a], ring[b % len(ring)]) < BLOT_MM]


def _edges(
    ring: Points,
    good: NDArray[np.bool_],
    corners: list[int],
    clear: int,
    known: dict[bytes, Chain],
) -> tuple[list[Points], list[Chain]]:
    """The measured points of each edge, and the curves through them; edge k begins at corner k.

    ``known`` are the curves through points that were fitted before, by the points' bytes.
    """
    n = len(ring)
    runs, chains = [], []
    for a, b in zip(corners, [*corners[1:], corners[0] + n], strict=True):
        run = np.arange(a, b + 1) % n
        margin = min(clear, max(0, (len(run) - 6) // 2))
        inner = run[margin : len(run) - margin]
        use = inner[good[inner]]
        points = ring[use] if len(use) >= 4 else ring[inner]
        key = points.tobytes()
        if key not in known:
            known[key] = fit_edge(points)
        runs.append(points)
        chains.append(known[key])
    return runs, chains


def confirmed(
    corners: list[int], edges: Callable[[list[int]], tuple[list[Points], list[Chain]]]
) -> tuple[list[int], list[Points], list[Chain]]:
    """Drop corners, the flattest first, that the edges fitted on both sides do not confirm."""
    runs, chains = edges(corners)
    while len(corners) > 1:
        # what the fitted edges do not confirm is a waver of the hand or a blot, and no corner
        turns = [_turn_deg(chains[k - 1], chains[k]) for k in range(len(corners))]
        weakest = int(np.argmin(turns))
        if turns[weakest] > CONFIRM_TURN_DEG:
            break
        corners = corners[:weakest] + corners[weakest + 1 :]
        runs, chains = edges(corners)
    while len(corners) > 3 and (blot := _blot(chains)) is not None:
        beside = {blot, (blot + 1) % len(corners)}
        corners = [c for k, c in enumerate(corners) if k not in beside]
        runs, chains = edges(corners)
    return corners, runs, chains


def _blot(chains: list[Chain]) -> int | None:
    """A very short edge that leads aside by little, while the edges on both sides of it run straight on: no edge, but a
    notch or a blot that the middle of the line was drawn to."""
    for k, own in enumerate(chains):
        before, after = chains[k - 1], chains[(k + 1) % len(chains)]
        d = before.end_direction
        gap = after.controls[0][0] - before.controls[-1][-1]
        long_mm = float(np.hypot(*(own.controls[-1][-1] - own.controls[0][0])))
        # an edge as short as the step itself is the step, whichever way it goes
        turn = max(_turn_deg(before, own), _turn_deg(own, after)) if long_mm > BLOT_STEP_MM else 0.0
        if (
            long_mm < BLOT_MM
            and turn < BLOT_TURN_DEG
            and _turn_deg(before, after) < CONFIRM_TURN_DEG
            and abs(d[0] * gap[1] - d[1] * gap[0]) < BLOT_STEP_MM
        ):
            return k
    return None


def _turn_deg(before: Chain, after: Chain) -> float:
    d, e = before.end_direction, after.start_direction
    return math.degrees(abs(math.atan2(d[0] * e[1] - d[1] * e[0], float(d @ e))))


def meeting_point(before: Chain, after: Chain, near: Points) -> Points:
    """Where two edges meet when both run on."""
    p, q = before.controls[-1][-1], after.controls[0][0]
    d, e = before.end_direction, after.start_direction
    cross = d[0] * e[1] - d[1] * e[0]
    if abs(cross) > math.sin(math.radians(7.0)):
        gap = q - p
        s = (gap[0] * e[1] - gap[1] * e[0]) / cross
        at = p + s * d
        if float(np.hypot(*(at - near))) < MEET_MM:
            return np.asarray(at, dtype=np.float64)
    # too flat an angle to intersect well: the middle of both run on to the place nearest the corner
    foot_p = p + max(0.0, float((near - p) @ d)) * d
    foot_q = q - max(0.0, float((q - near) @ e)) * e
    return np.asarray((foot_p + foot_q) / 2, dtype=np.float64)


def _assemble(
    chains: list[Chain], corners: Points, ring: Points, good: NDArray[np.bool_], centred: Centred
) -> TracedOutline:
    controls = tuple(c for chain in chains for c in chain.controls)
    outline = flatten_segments(controls, FLATTENED_MM)
    seen = ring[good]
    off = _distances(controls, seen)
    sigma = 1.4826 * float(np.median(np.abs(off))) if len(off) else 0.5
    return TracedOutline(
        controls,
        corners,
        outline,
        seen,
        sigma,
        float(good.mean()),
        centred.width_mm,
        centred.dark,
        centred.stepped_share,
    )


def _distances(controls: tuple[Points, ...], points: Points) -> NDArray[np.float64]:
    from scipy.spatial import cKDTree

    dense = []
    for c in controls:
        length = float(np.hypot(*np.diff(c, axis=0).T).sum())
        dense.append(bezier(c, np.linspace(0, 1, max(8, round(length / 0.1)))))
    return np.asarray(cKDTree(np.concatenate(dense)).query(points)[0], dtype=np.float64)
