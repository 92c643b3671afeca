"""Rings that cross themselves made simple: where a ring runs over itself, the smaller loop is cut off.

A border that was refined place by place, or two fitted edges that are prolonged to their corner, may run over
themselves by a tenth of a millimetre. Area, inside and outside, and everything that is cut along such a ring
would be in doubt. The crossing itself lies on the ring, so the cut moves only what lay in the loop.

References
----------
M. Shamos, D. Hoey, "Geometric intersection problems" (1976): finding crossings; here the search tree of GEOS
does it, through Shapely.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from shapely import STRtree, linestrings
from shapely.geometry import LinearRing

from eke.capture.fitting import flatten_segments

__all__ = ["simple_chain", "simple_ring"]

Points = NDArray[np.float64]

MOST_CUTS = 400  # a ring with more crossings is a scribble and no outline
SAME_PLACE_MM = 1e-9


def simple_ring(ring: Points) -> tuple[Points, float]:
    """A closed ring without the loops in which it crosses itself.

    Parameters
    ----------
    ring
        (n, 2) in mm, closed, first point not repeated.

    Returns
    -------
    ring, moved_mm
        The ring, the very same if it was simple, and how far the furthest point of what was cut off lies from
        the ring that is left; 0 when nothing was cut.
    """
    kept, lost = _cut(np.asarray(ring, dtype=np.float64))
    if kept is None:
        return ring, 0.0
    points = kept[:, :2]
    left = LinearRing(points)
    moved = max((_furthest(left, part) for part in lost), default=0.0)
    return np.ascontiguousarray(points), moved


def simple_chain(controls: Sequence[Points], tolerance_mm: float) -> tuple[tuple[Points, ...], float]:
    """A closed chain of lines and cubics whose flattened outline is simple.

    Parameters
    ----------
    controls
        (2, 2) lines and (4, 2) cubics in order.
    tolerance_mm
        Of the flattening.

    Returns
    -------
    controls, moved_mm
        Pieces that lose nothing stay as they are; those that cross become short lines. As for
        :func:`simple_ring` otherwise.
    """
    flat = [flatten_segments([c], tolerance_mm) for c in controls]
    owner = np.concatenate([np.full(len(f), k) for k, f in enumerate(flat)])
    ring = np.concatenate(flat)
    kept, lost = _cut(ring)
    if kept is None:
        return tuple(controls), 0.0
    left = LinearRing(kept[:, :2])
    moved = max((_furthest(left, part) for part in lost), default=0.0)
    # a piece is whole when its own points and the first of the next one are all there, in a row
    at = kept[:, 2].astype(np.int64)  # number in the flattened ring, -1 for a crossing
    starts = np.concatenate([[0], np.cumsum([len(f) for f in flat])])
    n, m = len(ring), len(kept)
    place = {int(number): k for k, number in enumerate(at) if number >= 0}
    whole = {
        k
        for k in range(len(controls))
        if all(
            (i % n) in place and place[i % n] == (place.get(int(starts[k]), -m) + i - int(starts[k])) % m
            for i in range(int(starts[k]), int(starts[k + 1]) + 1)
        )
    }
    out: list[Points] = []
    # begin at the start of a whole piece, so that none is met in its middle
    first = next((place[int(starts[k])] for k in sorted(whole)), 0)
    step = 0
    while step < m:
        here = (first + step) % m
        number = int(at[here])
        k = int(owner[number]) if number >= 0 else -1
        if k in whole and number == starts[k]:
            out.append(controls[k])
            step += int(starts[k + 1] - starts[k])
            continue
        out.append(np.array([kept[here, :2], kept[(here + 1) % m, :2]]))
        step += 1
    return tuple(out), moved


def _furthest(left: LinearRing, part: Points) -> float:
    from shapely import distance, points

    return float(np.max(distance(points(part), left)))


def _cut(ring: Points) -> tuple[Points | None, list[Points]]:
    """Columns x, y and number (-1 for a crossing) of the simple ring, and the loops cut off; None if simple."""
    if len(ring) < 4 or LinearRing(ring).is_simple:
        return None, []
    kept = np.column_stack([ring, np.arange(len(ring), dtype=np.float64)])
    lost: list[Points] = []
    for _ in range(MOST_CUTS):
        apart = np.hypot(*(np.roll(kept[:, :2], -1, axis=0) - kept[:, :2]).T) > SAME_PLACE_MM
        if not apart.all():  # a place that is there twice is no crossing
            kept = kept[apart]
        crossing = _shortest_loop(kept[:, :2])
        if crossing is None:
            break
        i, j, at = crossing  # edges i -> i+1 and j -> j+1 meet; the points i+1 .. j make the loop
        loop = np.arange(i + 1, j + 1)
        middle = np.array([[at[0], at[1], -1.0]])
        if 2 * len(loop) <= len(kept):
            lost.append(kept[loop, :2])
            kept = np.concatenate([kept[: i + 1], middle, kept[j + 1 :]])
        else:
            lost.append(np.concatenate([kept[j + 1 :, :2], kept[: i + 1, :2]]))
            kept = np.concatenate([kept[loop], middle])
        if len(kept) < 4:
            break
    return kept, [part for part in lost if len(part)]


def _shortest_loop(ring: Points) -> tuple[int, int, Points] | None:
    """The crossing whose loop holds the fewest points: (edge, later edge, place), or None."""
    n = len(ring)
    ends = np.stack([ring, np.roll(ring, -1, axis=0)], axis=1)
    edges = linestrings(ends)
    assert isinstance(edges, np.ndarray)  # one line an edge
    a, b = STRtree(edges).query(edges, predicate="intersects")
    apart = (b - a) % n
    pairs = np.flatnonzero((a < b) & (apart > 1) & (apart < n - 1))
    best: tuple[int, int, int, Points] | None = None
    for k in pairs:
        i, j = int(a[k]), int(b[k])
        size = min(j - i, n - (j - i))
        if best is None or size < best[0]:
            best = (size, i, j, _meet(ends[i], ends[j]))
    return None if best is None else best[1:]


def _meet(p: Points, q: Points) -> Points:
    """Where two edges cross; for edges that lie on each other, the end nearest to both."""
    d, e = p[1] - p[0], q[1] - q[0]
    cross = float(d[0] * e[1] - d[1] * e[0])
    if abs(cross) > 1e-12 * math.hypot(*d) * math.hypot(*e):
        gap = q[0] - p[0]
        s = float(gap[0] * e[1] - gap[1] * e[0]) / cross
        return np.asarray(p[0] + min(1.0, max(0.0, s)) * d, dtype=np.float64)
    return np.asarray(min(q, key=lambda end: float(np.hypot(*(p - end).T).min())), dtype=np.float64)
