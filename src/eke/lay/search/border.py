"""Which pieces could lie with a straight edge along the border of their sheet, and how they are drawn there.

Where nothing is to be kept free along the border, such an edge needs no cut: it is there already.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from eke.lay.collide.tables import (
    F64,
    PI_MIRROR,
    PI_ON,
    PI_SHAPE,
    PI_SHEET,
    PI_V,
    RI_E,
    RI_NE,
    SF_SIDE,
    SI_CLASS,
    SI_NV,
)
from eke.lay.search.hand import Hand

ALONG: Final = 2e-3
"""Sine of the angle between two edges that count as parallel: half a millimetre on 25 cm."""
LEAST_SHARE: Final = 0.3
"""An edge is worth drawing to the border when this share of the piece's smaller side would lie there."""


def shares_border(hand: Hand) -> bool:
    """Return whether any piece may lie on the border itself."""
    problem = hand.ground.problem
    gaps = [problem.gap_edge_mm if p.gap_edge_mm is None else p.gap_edge_mm for p in problem.parts]
    return min(gaps, default=1.0) <= 0.0


def pulls(hand: Hand, reach: float, besides: int) -> list[tuple[int, float, float, float]]:
    """Return what would draw pieces to the border: piece, unit direction from the border, length (scaled).

    A piece's edge counts that runs along a stretch of the border no further off than ``reach``; piece ``besides``
    is left out.
    """
    s, f = hand.state, hand.field
    problem = hand.ground.problem
    sheets = s.limit.shape[0]
    found: list[tuple[int, float, float, float]] = []
    for i in range(hand.n):
        t, q = int(s.piece_i[i, PI_SHAPE]), int(s.piece_i[i, PI_SHEET])
        own = hand.ground.shapes[t].part.gap_edge_mm
        if i == besides or not s.piece_i[i, PI_ON] or (problem.gap_edge_mm if own is None else own) > 0.0:
            continue
        v0, nv = int(s.piece_i[i, PI_V]), int(f.shape_i[t, SI_NV])
        ring = np.column_stack([s.wx[v0 : v0 + nv], s.wy[v0 : v0 + nv]])
        if s.piece_i[i, PI_MIRROR]:
            ring = ring[::-1]
        r = int(f.shape_i[t, SI_CLASS]) * sheets + q
        e0, ne = int(f.region_i[r, RI_E]), int(f.region_i[r, RI_NE])
        least = LEAST_SHARE * float(f.shape_f[t, SF_SIDE])
        found += [(i, *one) for one in _along(ring, f.edges[e0 : e0 + ne], reach, least)]
    return found


def _along(ring: F64, border: F64, reach: float, least: float) -> list[tuple[float, float, float]]:
    """Return direction and length for every edge of a ring that runs along an edge of the border, the same way."""
    p, q = ring, np.roll(ring, -1, axis=0)
    long_ = np.hypot(*(q - p).T)
    p, q = p[long_ >= least], q[long_ >= least]
    a, b = border[:, :2], border[:, 2:]
    size = np.hypot(*(b - a).T)
    a, b, size = a[size >= least], b[size >= least], size[size >= least]
    found = []
    for k in range(len(p)):
        way = (q[k] - p[k]) / np.hypot(*(q[k] - p[k]))
        other = (b - a) / size[:, None]
        turned = way[0] * other[:, 1] - way[1] * other[:, 0]
        middle = 0.5 * (p[k] + q[k]) - a
        off = other[:, 0] * middle[:, 1] - other[:, 1] * middle[:, 0]
        start = np.einsum("ij,ij->i", p[k] - a, other)
        end = np.einsum("ij,ij->i", q[k] - a, other)
        common = np.minimum(end, size) - np.maximum(start, 0.0)
        fits = (abs(turned) < ALONG) & (end > start) & (off < reach) & (off > -1e-6) & (common >= least)
        found += [(-float(other[j, 1]), float(other[j, 0]), float(common[j])) for j in np.flatnonzero(fits)]
    return found
