"""How a part looks to the kernels: its outline grown by half the gap, of few enough points.

Whatever is simplified here may only grow, so that a lay that the kernels accept is one that the exact check
accepts.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from eke.lay.problem import Part, Placement, PointsMm
from eke.lay.rails import protrusion_mm

MANY_POINTS: Final = 72
"""Outlines of more points than this are simplified."""
SIMPLIFY: Final = 0.12
"""First tolerance of that simplification (scaled mm); doubled until few enough points are left."""
ARC_STEPS: Final = 6
"""Segments to a quarter circle where a grown corner is rounded."""
HAIR: Final = 2e-4
"""How much a shape with no gap asked is grown (scaled mm): rounding must not make two parts overlap."""
FAR: Final = 1e5
"""Reach of the half-plane that a shape is cut to (scaled mm)."""


def outer(geom: BaseGeometry) -> Polygon:
    """Return the outline of the largest part of a shape, without holes."""
    if isinstance(geom, MultiPolygon):
        geom = max(geom.geoms, key=lambda g: g.area)
    assert isinstance(geom, Polygon)
    return Polygon(geom.exterior)


def grown_shape(part: Part, half: float, k: float) -> Polygon:
    """Return a part's outline (scaled by ``k``) grown by ``half``, counter-clockwise.

    Where a stretch of it is to lie on an edge, the growth ends there at exactly ``half``: the whole part lies on
    one side of that line.
    """
    big = affinity.scale(Polygon(part.outline), k, k, origin=(0, 0))
    if half > HAIR:
        # chords of the round corners must not cut in
        big = outer(big.buffer(half / math.cos(math.pi / (4.0 * ARC_STEPS)), quad_segs=ARC_STEPS))
    else:
        big = outer(big.buffer(HAIR, join_style="mitre", mitre_limit=2.0))
    big = _simpler_outwards(shapely.geometry.polygon.orient(big))
    stretches = {r.stretch for r in part.on_edge}
    if part.on_fold is not None:
        stretches.add(part.on_fold)
    for stretch in sorted(stretches):
        big = outer(big.intersection(_half_plane(part, stretch, half, k)))
    return shapely.geometry.polygon.orient(big)


def _half_plane(part: Part, stretch: int, half: float, k: float) -> Polygon:
    """Return the side of a line, ``half`` beyond a part, that the part lies on."""
    ring = np.asarray(part.outline, float) * k
    a, b = ring[stretch], ring[(stretch + 1) % len(ring)]
    if not Polygon(ring).exterior.is_ccw:
        a, b = b, a
    d = (b - a) / np.hypot(*(b - a))
    inwards = np.array([-d[1], d[0]])
    a = a - inwards * (half + protrusion_mm(part.outline, stretch) * k)
    return Polygon([a - FAR * d, a + FAR * d, a + FAR * (d + inwards), a + FAR * (inwards - d)])


def _simpler_outwards(poly: Polygon) -> Polygon:
    """Return an outline of fewer points that contains ``poly``."""
    tolerance = SIMPLIFY
    out = poly
    while len(out.exterior.coords) > MANY_POINTS + 1 and tolerance < 40.0:
        rough = outer(poly.simplify(tolerance))
        out = outer(rough.buffer(tolerance * 1.01, join_style="mitre", mitre_limit=2.0))
        tolerance *= 2.0
    return out if out is poly or out.buffer(1e-9).covers(poly) else outer(poly.convex_hull)


def placed_polygon(part: Part, place: Placement) -> Polygon:
    """Return the exact outline of a placement in mm, in its sheet's own coordinates."""
    poly = Polygon(part.outline)
    if place.mirrored:
        poly = affinity.scale(poly, -1.0, 1.0, origin=(0, 0))
    return affinity.translate(affinity.rotate(poly, place.turn_deg, origin=(0, 0)), place.x_mm, place.y_mm)


def diameter(points: PointsMm) -> float:
    """Return the greatest distance of two points."""
    hull = shapely.get_coordinates(shapely.convex_hull(shapely.MultiPoint(points)))
    d = hull[:, None, :] - hull[None, :, :]
    return float(np.sqrt((d**2).sum(-1).max()))
