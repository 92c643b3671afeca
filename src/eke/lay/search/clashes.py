"""Where the closest attempt with everything on still overlapped, and how deep, in mm."""

from __future__ import annotations

from typing import Final

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from eke.lay.collide.tables import PI_ON, PI_SHAPE, PI_SHEET, PI_V, RF_Y0, RF_Y1, RI_E, RI_NE, SI_CLASS, SI_NV
from eke.lay.problem import Clash
from eke.lay.search.convex import free_polygons
from eke.lay.search.hand import Hand

MOST: Final = 12
"""Clashes that are told; the worst first."""


def clashes_of(hand: Hand) -> tuple[Clash, ...]:
    """Return the clashes of a hand's closest arrangement; the hand is left there.

    The depth is the width of what two outlines (grown by half their gap) have in common, or of what one has
    off its sheet: about how far they would have to be moved apart, or made narrower.
    """
    if hand.closest is None:
        return ()
    hand.restore(hand.closest)
    s = hand.state
    n = hand.n
    found: list[tuple[float, Clash]] = []
    outlines: dict[int, BaseGeometry] = {}
    for i in range(n):
        for j in range(i + 1, n + 1):
            loss = float(s.loss[i, j])
            if loss <= 0.0:
                continue
            mine = _outline(hand, i, outlines)
            if j == n:
                common = mine.difference(_region(hand, i))
            else:
                common = mine.intersection(_outline(hand, j, outlines))
            depth = _width_of(common) / hand.ground.scale
            if depth > 0.0:
                found.append((loss, Clash(_name(hand, i), None if j == n else _name(hand, j), depth)))
    found.sort(key=lambda c: -c[0])
    return tuple(c for _, c in found[:MOST])


def _name(hand: Hand, i: int) -> str:
    return hand.ground.shapes[hand.ground.piece_shape[i]].part.id


def _outline(hand: Hand, i: int, known: dict[int, BaseGeometry]) -> BaseGeometry:
    if i not in known:
        s = hand.state
        v0, nv = int(s.piece_i[i, PI_V]), int(hand.field.shape_i[int(s.piece_i[i, PI_SHAPE]), SI_NV])
        known[i] = Polygon(np.column_stack([s.wx[v0 : v0 + nv], s.wy[v0 : v0 + nv]])).buffer(0.0)
        assert s.piece_i[i, PI_ON]
    return known[i]


def _region(hand: Hand, i: int) -> BaseGeometry:
    """Return what piece ``i`` may lie on."""
    s, f = hand.state, hand.field
    r = int(f.shape_i[int(s.piece_i[i, PI_SHAPE]), SI_CLASS]) * s.limit.shape[0] + int(s.piece_i[i, PI_SHEET])
    e0, ne = int(f.region_i[r, RI_E]), int(f.region_i[r, RI_NE])
    if ne == 0:
        return shapely.box(-1e9, float(f.region_f[r, RF_Y0]), 1e9, float(f.region_f[r, RF_Y1]))
    return free_polygons(f.edges[e0 : e0 + ne])


def _width_of(geom: BaseGeometry) -> float:
    """Return the shorter side of the tightest box, at any turn, around the largest part of a geometry."""
    parts = [g for g in getattr(geom, "geoms", [geom]) if isinstance(g, Polygon) and g.area > 0.0]
    if not parts:
        return 0.0
    ring = shapely.minimum_rotated_rectangle(max(parts, key=lambda g: g.area))
    corners = shapely.get_coordinates(ring)
    if len(corners) < 4:
        return 0.0
    sides = np.hypot(*np.diff(corners[:3], axis=0).T)
    return float(sides.min())
