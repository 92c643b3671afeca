"""Doubts about a closed outline: a stretch of it may be a dashed line inside the piece.

Where the outline itself is too pale to be seen, a waist line or a lengthening line may close it: those are drawn
dashed, and dashes are joined like the gaps that a pen leaves. But a pen skips here and there, a dashed line is
broken by the rule: dashes of about one length with nothing drawn between them. An outline of which one stretch is
dashed and the rest is not is in doubt.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from eke.capture.outline_loops import Loop

__all__ = ["DashedRun", "dashed_runs", "goes_on_beyond"]

FEWEST_GAPS = 5  # four dashes between them: a pen does not skip so by chance
SHORTEST_GAP_MM = 1.0
DASH_MM = (1.5, 20.0)
EMPTY_SHARE = 0.4  # in short gaps the dashes on both sides may seem to meet; in a pale line most seem to
UNEVEN = 0.3  # of the median: how much four in five of the dashes, and of the gaps, may differ from it
EMPTY = 0.15  # of the ink: a gap with more than this is a pale line, not a gap between dashes
WHOLE = 0.6  # an outline that is dashed for more than this of its length was drawn dashed
SAME_LINE_MM = 1.2
SAME_SHARE = 0.85
LARGER = 1.05


@dataclass(frozen=True, slots=True)
class DashedRun:
    """A dashed stretch of a loop: first and last place along it (the last may be before the first), length."""

    first: int
    last: int
    length_mm: float


def dashed_runs(
    loop: Loop, strength: NDArray[np.float32], ink: float, mm_per_px: float
) -> tuple[DashedRun, ...]:
    """Dashed stretches of a loop that is not dashed as a whole.

    Parameters
    ----------
    loop
        The loop, with the places where a gap was closed.
    strength, ink
        Ridge strength of the picture, and that of its lines.
    mm_per_px
        Scale.
    """
    bridged = loop.bridged
    if not bridged.any() or bridged.all():
        return ()
    n = len(bridged)
    start = int(np.argmin(bridged))
    order = (np.arange(n) + start) % n
    points, flag = loop.points_px[order], bridged[order]
    at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(np.vstack([points, points[:1]]), axis=0).T))])
    at = at * mm_per_px
    edge = np.flatnonzero(np.diff(np.concatenate([[0], flag.astype(np.int8), [0]])))
    gaps = [
        (int(a), int(b))
        for a, b in zip(edge[::2], edge[1::2], strict=True)
        if at[b] - at[a] >= SHORTEST_GAP_MM
    ]
    empty = {a for a, b in gaps if _empty(points[a:b], strength, EMPTY * ink)}
    if len(empty) < FEWEST_GAPS:
        return ()
    # round once more, so that a stretch over the beginning is one
    twice = gaps + [(a + n, b + n) for a, b in gaps]
    total = float(at[n])

    def where(k: int) -> float:
        return float(at[k % n]) + total * (k // n)

    runs: list[DashedRun] = []
    group = [twice[0]]
    for gap in [*twice[1:], None]:
        if gap is not None and DASH_MM[0] <= where(gap[0]) - where(group[-1][1]) <= DASH_MM[1]:
            group.append(gap)
            continue
        dashes = np.array([where(q[0]) - where(p[1]) for p, q in itertools.pairwise(group)])
        clear = np.array([where(b) - where(a) for a, b in group])
        plain = sum(a % n in empty for a, _ in group)
        if (
            plain >= max(FEWEST_GAPS, EMPTY_SHARE * len(group))
            and len(group) <= len(gaps)
            and _even(dashes)
            and _even(clear)
        ):
            first, last = group[0][0], group[-1][1] - 1
            run = DashedRun((first + start) % n, (last + start) % n, where(last + 1) - where(first))
            if run not in runs:
                runs.append(run)
        if gap is not None:
            group = [gap]
    # a stretch over the beginning shows once in part and once whole: the longer holds
    runs = [
        r
        for r in runs
        if not any(o is not r and o.last == r.last and o.length_mm > r.length_mm for o in runs)
    ]
    runs = [
        r
        for r in runs
        if not any(o is not r and o.first == r.first and o.length_mm > r.length_mm for o in runs)
    ]
    if sum(r.length_mm for r in runs) > WHOLE * total:
        return ()
    return tuple(runs)


def _even(lengths: NDArray[np.float64]) -> bool:
    middle = float(np.median(lengths))
    return float(np.quantile(np.abs(lengths - middle), 0.8)) <= UNEVEN * middle


def _empty(points: NDArray[np.float64], strength: NDArray[np.float32], level: float) -> bool:
    """Is there nothing drawn in the middle of a gap? Towards its ends the answer to the dashes fades."""
    quarter = len(points) // 3
    inner = points[quarter : max(quarter + 1, len(points) - quarter)]
    at = np.round(inner).astype(np.int64)
    height, width = strength.shape
    around = [
        strength[(at[:, 1] + dy).clip(0, height - 1), (at[:, 0] + dx).clip(0, width - 1)]
        for dy in (-1, 0, 1)
        for dx in (-1, 0, 1)
    ]
    return float(np.quantile(np.max(around, axis=0), 0.25)) < level


def goes_on_beyond(loop: Loop, runs: tuple[DashedRun, ...], other: Loop, mm_per_px: float) -> bool:
    """Is another loop the same line everywhere but at the dashed stretches, and larger there?"""
    if other.area_px < LARGER * loop.area_px:
        return False
    n = len(loop.points_px)
    rest = np.ones(n, dtype=np.bool_)
    for run in runs:
        length = (run.last - run.first) % n + 1
        rest[(run.first + np.arange(length)) % n] = False
    if not rest.any():
        return False
    away = np.asarray(cKDTree(other.points_px).query(loop.points_px[rest])[0]) * mm_per_px
    return float(np.mean(away < SAME_LINE_MM)) > SAME_SHARE
