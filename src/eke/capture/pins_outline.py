"""An outline through dots in order: corners at anchors and sharp turns, edges through the rest."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from eke.capture.fitting import Chain, bezier, fit_edge, flatten_segments
from eke.capture.outline_edges import TracedOutline, confirmed, meeting_point

__all__ = ["outline_through_dots"]

Points = NDArray[np.float64]

Known = dict[tuple[bytes, float], Chain]
"""Curves by the dots that they were fitted to, and how far apart these are."""

SHARP_DEG = 38.0  # a turn at one dot that both neighbours do not share
SHARP_BESIDE_ANCHORS_DEG = 55.0  # where the maker marks corners, an unmarked one must be plain to see
BESIDE_SHARE = 0.5
# beside a corner whose own dot was not seen, both dots turn, and none further on does as much
LEAST_OF_TWO_DEG = 18.0
FURTHEST_CORNER_STEPS = 2.2  # from either of them, in usual steps
STRAYS_MM, STRAYS_SHARE = 1.5, 0.4  # of the way between two dots: a curve that leaves it by more is no edge
MOST_STRAYS = 4


def outline_through_dots(
    ring_mm: Points, anchor: NDArray[np.bool_], *, some_unseen: bool = False, known: Known | None = None
) -> TracedOutline:
    """Fit edges through dots given in order along a closed line.

    Parameters
    ----------
    ring_mm
        (n, 2), n ≥ 5.
    anchor
        bool (n,): marked as a corner.
    some_unseen
        Dots may be missing: where two dots turn as beside a corner, it lies where the edges before and after them meet, and
        where an edge leaves the straight way between two dots by much, it is led back to that.
    known
        Curves through dots that were fitted before; those that are fitted now are added.
    """
    known = {} if known is None else known
    if not some_unseen:
        return _through(ring_mm, anchor, known)
    ring_mm, anchor = _with_corners(ring_mm, anchor)
    for _ in range(MOST_STRAYS):
        traced = _through(ring_mm, anchor, known)
        worst = _strays(ring_mm, traced.outline_mm)
        if worst is None:
            return traced
        # no hand goes there and comes back: the edge keeps to the straight way between these two dots
        ends = ring_mm[worst], ring_mm[(worst + 1) % len(ring_mm)]
        between = [ends[0] + share * (ends[1] - ends[0]) for share in (1.0 / 3.0, 2.0 / 3.0)]
        ring_mm = np.insert(ring_mm, [worst + 1] * 2, between, axis=0)
        anchor = np.insert(anchor, [worst + 1] * 2, False)
    return _through(ring_mm, anchor, known)


def _with_corners(ring: Points, anchor: NDArray[np.bool_]) -> tuple[Points, NDArray[np.bool_]]:
    """The dots with those corners between two of them whose own dot was not seen."""
    n, usual = len(ring), float(np.median(np.hypot(*(np.roll(ring, -1, axis=0) - ring).T)))
    turn = _turns_deg(ring)
    size = np.abs(turn)
    put: list[tuple[int, Points]] = []
    for i in range(n):
        before, j, after = (i - 1) % n, (i + 1) % n, (i + 2) % n
        least = min(size[i], size[j])
        if (
            turn[i] * turn[j] <= 0.0
            or least < LEAST_OF_TWO_DEG
            or size[i] + size[j] < SHARP_BESIDE_ANCHORS_DEG
            or max(size[before], size[after]) > BESIDE_SHARE * least
            or anchor[i]
            or anchor[j]
        ):
            continue
        ahead, back = ring[i] - ring[(i - 2) % n], ring[j] - ring[(i + 3) % n]
        gap, cross = ring[j] - ring[i], ahead[0] * back[1] - ahead[1] * back[0]
        if abs(cross) < 1e-9:
            continue
        meet = ring[i] + (gap[0] * back[1] - gap[1] * back[0]) / cross * ahead
        ways = meet - ring[i], meet - ring[j]
        if min(ways[0] @ ahead, ways[1] @ back) > 0.0 and all(
            float(np.hypot(*way)) < FURTHEST_CORNER_STEPS * usual for way in ways
        ):
            put.append((j, meet))
    at = [j if j else n for j, _ in put]
    return np.insert(ring, at, [m for _, m in put], axis=0) if put else ring, np.insert(anchor, at, True)


def _strays(ring: Points, outline: Points) -> int | None:
    """The dot after which the outline leaves the straight way to the next one most; None where it keeps near it."""
    ahead = np.roll(ring, -1, axis=0) - ring
    length = np.maximum(np.hypot(*ahead.T), 1e-9)
    rel = outline[:, None] - ring[None]
    along = np.clip(np.sum(rel * ahead, axis=2) / length**2, 0.0, 1.0)
    off = np.hypot(*(rel - along[..., None] * ahead).transpose(2, 0, 1))
    nearest = off.argmin(axis=1)
    over = off.min(axis=1) - np.maximum(STRAYS_MM, STRAYS_SHARE * length[nearest])
    worst = int(np.argmax(over))
    return int(nearest[worst]) if over[worst] > 0.0 else None


def _through(ring_mm: Points, anchor: NDArray[np.bool_], known: Known) -> TracedOutline:
    """``known`` are the curves through dots that were fitted before, by these and how far apart dots are."""
    area = 0.5 * float(
        np.sum(ring_mm[:, 0] * np.roll(ring_mm[:, 1], -1) - np.roll(ring_mm[:, 0], -1) * ring_mm[:, 1])
    )
    if area < 0:
        ring_mm, anchor = ring_mm[::-1], anchor[::-1]
    steps = np.hypot(*(np.roll(ring_mm, -1, axis=0) - ring_mm).T)
    spacing = float(np.median(steps))
    corners = sorted(set(np.flatnonzero(anchor).tolist()) | set(_sharp(ring_mm, anchor)))
    if len(corners) < 2:
        start = corners[0] if corners else 0
        order = np.arange(start, start + len(ring_mm) + 1) % len(ring_mm)
        chain = fit_edge(ring_mm[order], closed=not corners, waver_mm=spacing)
        if corners:
            chain = chain.pinned(ring_mm[order][1:-1], ring_mm[start], ring_mm[start])
        return _outline([chain], ring_mm[corners], ring_mm, spacing)

    def edges(at: list[int]) -> tuple[list[Points], list[Chain]]:
        n = len(ring_mm)
        runs = [ring_mm[np.arange(a, b + 1) % n] for a, b in zip(at, [*at[1:], at[0] + n], strict=True)]
        for run in runs:
            if (run.tobytes(), spacing) not in known:
                known[run.tobytes(), spacing] = fit_edge(run, waver_mm=spacing)
        return runs, [known[run.tobytes(), spacing] for run in runs]

    corners, runs, chains = confirmed(corners, edges)
    meets = np.array(
        [_meet(chains[k - 1], chains[k], ring_mm[corners[k]]) for k in range(len(corners))], dtype=np.float64
    )
    pinned = [
        chain.pinned(run[1:-1] if len(run) > 3 else run, meets[k], meets[(k + 1) % len(corners)])
        for k, (chain, run) in enumerate(zip(chains, runs, strict=True))
    ]
    return _outline(pinned, meets, ring_mm, spacing)


def _turns_deg(ring: Points) -> NDArray[np.float64]:
    """(n,) by how much the way along the dots turns at each, to the left."""
    ahead = np.roll(ring, -1, axis=0) - ring
    z = ahead[:, 0] + 1j * ahead[:, 1]
    return np.asarray(np.degrees(np.angle(z * np.conj(np.roll(z, 1)))))


def _sharp(ring: Points, anchor: NDArray[np.bool_]) -> list[int]:
    limit = SHARP_BESIDE_ANCHORS_DEG if int(anchor.sum()) >= 2 else SHARP_DEG
    size = np.abs(_turns_deg(ring))
    beside = np.maximum(np.roll(size, 1), np.roll(size, -1))
    return np.flatnonzero((size > limit) & (beside < BESIDE_SHARE * size)).tolist()


def _meet(before: Chain, after: Chain, dot: Points) -> Points:
    """The dot's place, drawn towards where both edges meet: the edges know it from many dots."""
    at = meeting_point(before, after, dot)
    gap = float(np.hypot(*(at - dot)))
    return at if gap < 1.0 else dot


def _outline(chains: list[Chain], corners: Points, ring: Points, spacing: float) -> TracedOutline:
    controls = tuple(c for chain in chains for c in chain.controls)
    dense = np.concatenate(
        [
            bezier(c, np.linspace(0, 1, max(8, round(float(np.hypot(*np.diff(c, axis=0).T).sum()) / 0.2))))
            for c in controls
        ]
    )
    off = np.asarray(cKDTree(dense).query(ring)[0])
    pieces = sum(len(c) == 4 for c in controls) * 4 + sum(len(c) == 2 for c in controls) * 2
    free = max(1, len(ring) - pieces)
    # each dot is off by this much; the curve through many is better than one dot, between dots it is a guess
    sigma = math.sqrt(float((off**2).sum()) / free)
    return TracedOutline(
        controls,
        corners.reshape(-1, 2),
        flatten_segments(controls),
        ring,
        max(0.08, sigma),
        1.0,
        0.6,
        0.0,
        0.0,
    )
