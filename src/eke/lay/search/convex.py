"""Outlines as convex bodies, and a line between every two bodies that are near each other.

Two convex outlines that do not overlap can be parted by a line along one of their edges. While every point
stays on its side of that line they cannot meet, whatever else moves: that turns "nothing overlaps" into linear
inequalities (Li and Milenkovic 1995, "Compaction and separation algorithms for non-convex polygons and their
applications", European Journal of Operational Research 84).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from eke.lay.collide.tables import F64, I64, kernel

STRAIGHT: Final = 1e-9
"""A corner turns the wrong way when its sine is below minus this."""


def convex_bodies(shape: BaseGeometry) -> list[F64]:
    """Cut polygons (holes allowed) into convex outlines, counter-clockwise, as few as merging triangles gives.

    Triangles of a constrained Delaunay triangulation are merged over shared edges for as long as the outcome
    stays convex (Hertel and Mehlhorn 1983).
    """
    points: dict[tuple[float, float], int] = {}
    where: list[tuple[float, float]] = []
    bodies: dict[int, list[int]] = {}
    for k, triangle in enumerate(shapely.constrained_delaunay_triangles(shape).geoms):
        assert isinstance(triangle, Polygon)
        ring = []
        for x, y in shapely.geometry.polygon.orient(triangle).exterior.coords[:-1]:
            if (x, y) not in points:
                points[x, y] = len(where)
                where.append((x, y))
            ring.append(points[x, y])
        bodies[k] = ring
    over = {(a, b): k for k, ring in bodies.items() for a, b in _edges(ring)}
    again = list(bodies)
    while again:
        k = again.pop()
        if k not in bodies:
            continue
        for a, b in list(_edges(bodies[k])):
            q = over.get((b, a))
            if q is None or q == k:
                continue
            merged = _merged(bodies[k], bodies[q], a, b)
            if not _is_convex([where[i] for i in merged]):
                continue
            del over[a, b], over[b, a]
            bodies[k] = merged
            del bodies[q]
            for edge in _edges(merged):
                over[edge] = k
            again.append(k)
            break
    return [np.array([where[i] for i in ring]) for ring in bodies.values()]


def _edges(ring: Sequence[int]) -> list[tuple[int, int]]:
    return list(zip(ring, [*ring[1:], ring[0]], strict=True))


def _merged(p: list[int], q: list[int], a: int, b: int) -> list[int]:
    """Join two rings over the edge that runs from ``a`` to ``b`` in ``p`` and back in ``q``."""
    i, j = p.index(b), q.index(a)
    return [*p[i:], *p[:i], *(q[j:] + q[:j])[1:-1]]


def _is_convex(ring: Sequence[tuple[float, float]]) -> bool:
    pts = np.asarray(ring)
    e = np.roll(pts, -1, axis=0) - pts
    f = np.roll(e, -1, axis=0)
    size = np.hypot(e[:, 0], e[:, 1]) * np.hypot(f[:, 0], f[:, 1])
    return bool((e[:, 0] * f[:, 1] - e[:, 1] * f[:, 0] >= -STRAIGHT * size).all())


def free_polygons(edges: F64) -> BaseGeometry:
    """Rebuild a region from the edges of its rings: outlines run counter-clockwise, holes clockwise."""
    rings: list[list[tuple[float, float]]] = []
    end: tuple[float, float] | None = None
    for x0, y0, x1, y1 in edges:
        if end != (x0, y0) or (rings and rings[-1] and rings[-1][0] == (x0, y0)):
            rings.append([])
        rings[-1].append((x0, y0))
        end = (x1, y1)
    solid: list[Polygon] = []
    hollow: list[Polygon] = []
    for ring in rings:
        if len(ring) < 3:
            continue
        signed = sum(
            a[0] * b[1] - a[1] * b[0] for a, b in zip(ring, [*ring[1:], ring[0]], strict=True)
        )  # twice the area
        (solid if signed > 0 else hollow).append(Polygon(ring))
    out: BaseGeometry = shapely.union_all(solid)
    return out.difference(shapely.union_all(hollow)) if hollow else out


@kernel
def _reach_out(nx: float, ny: float, vx: F64, vy: F64, v0: int, nv: int) -> float:
    """Return the least extent of a body along a direction."""
    low = 1e300
    for k in range(v0, v0 + nv):
        d = nx * vx[k] + ny * vy[k]
        low = min(low, d)
    return low


@kernel
def _best_edge(vx: F64, vy: F64, a0: int, na: int, b0: int, nb: int, turn: float, out: F64) -> None:
    """Try every edge of body a as the line between it and body b; keep the widest gap in ``out``."""
    for k in range(na):
        g = k + 1 if k + 1 < na else 0
        dx = vx[a0 + g] - vx[a0 + k]
        dy = vy[a0 + g] - vy[a0 + k]
        length = np.sqrt(dx * dx + dy * dy)
        if length <= 0.0:
            continue
        nx = turn * dy / length
        ny = -turn * dx / length
        gap = _reach_out(nx, ny, vx, vy, b0, nb) - (nx * vx[a0 + k] + ny * vy[a0 + k])
        if gap > out[2]:
            out[0] = nx
            out[1] = ny
            out[2] = gap


@kernel
def lines_between(
    vx: F64, vy: F64, start: I64, count: I64, owner: I64, sheet: I64, sort: I64, turn: F64, box: F64,
    movable: int, reach: float, pair: I64, line: F64, scratch: F64,
) -> int:  # fmt: skip
    """List the parting lines of all bodies that could meet when each moves by up to ``reach`` along x and y.

    Bodies from ``movable`` on stay where they are and are in the way of their ``sort`` only; ``turn`` is −1 for bodies that run clockwise. Row ``k``: the
    bodies ``pair[k]`` and ``line[k]`` = normal from the first to the second, and the gap between them. Returns
    the number of rows, or −1 when there are more than ``pair`` has room for.
    """
    rows = 0
    n = start.shape[0]
    for a in range(movable):
        for b in range(a + 1, n):
            if owner[a] == owner[b] or sheet[a] != sheet[b] or (b >= movable and sort[a] != sort[b]):
                continue
            apart = 2.0 * reach
            if (
                box[a, 0] - box[b, 2] > apart
                or box[b, 0] - box[a, 2] > apart
                or box[a, 1] - box[b, 3] > apart
                or box[b, 1] - box[a, 3] > apart
            ):
                continue
            scratch[2] = -1e300
            _best_edge(vx, vy, start[b], count[b], start[a], count[a], turn[b], scratch)
            scratch[0] = -scratch[0]
            scratch[1] = -scratch[1]
            _best_edge(vx, vy, start[a], count[a], start[b], count[b], turn[a], scratch)
            if scratch[2] > apart * (abs(scratch[0]) + abs(scratch[1])):
                continue
            if rows >= pair.shape[0]:
                return -1
            pair[rows, 0] = a
            pair[rows, 1] = b
            line[rows, 0] = scratch[0]
            line[rows, 1] = scratch[1]
            line[rows, 2] = scratch[2]
            rows += 1
    return rows
