"""Is a shape inside what a sheet leaves free, and how far is it out?

A region carries its boundary edges and a *distance field*: at the nodes of a grid, the signed distance to
the nearest edge, positive inside. The field answers the easy cases at once (it cannot change faster than
one mm a mm) and measures how far a pole is out; the edges decide the rest exactly.
"""

from __future__ import annotations

import math

from eke.lay.collide.pairs import cross_at, point_inside
from eke.lay.collide.tables import (
    F32,
    F64,
    I64,
    RF_GX,
    RF_GY,
    RF_H,
    RI_E,
    RI_G,
    RI_NE,
    RI_NR,
    RI_NX,
    RI_NY,
    RI_R,
    kernel,
)

HALF_DIAGONAL = 0.7072
"""A point is at most this many grid steps from its nearest node."""
BORDER_MM = 1e-9
"""Slack against rounding where a shape touches the limits of a strip (scaled mm)."""


@kernel
def segment_distance2(px: float, py: float, ax: float, ay: float, bx: float, by: float) -> float:
    """Return the squared distance of a point from a segment."""
    dx = bx - ax
    dy = by - ay
    d2 = dx * dx + dy * dy
    t = 0.0
    if d2 > 0.0:
        t = ((px - ax) * dx + (py - ay) * dy) / d2
        t = min(1.0, max(0.0, t))
    ux = px - (ax + t * dx)
    uy = py - (ay + t * dy)
    return ux * ux + uy * uy


@kernel
def fill_field(edges: F64, e0: int, ne: int, gx: float, gy: float, h: float, nx: int, ny: int,
               near: I64, out: F32) -> None:  # fmt: skip
    """Write signed distances to ``ne`` edges on a grid: nearest edges spread from node to node.

    Each node learns the nearest edge from its neighbours (two sweeps, as in Danielsson's distance map of
    1980, with edges in place of points), so the work does not depend on the number of edges.
    """
    for k in range(nx * ny):
        near[k] = -1
        out[k] = 1e30
    # seed: nodes around points along each edge
    for e in range(e0, e0 + ne):
        ax = edges[e, 0]
        ay = edges[e, 1]
        bx = edges[e, 2]
        by = edges[e, 3]
        steps = int(math.hypot(bx - ax, by - ay) / (0.5 * h)) + 1
        for s in range(steps + 1):
            fx = (ax + (bx - ax) * s / steps - gx) / h
            fy = (ay + (by - ay) * s / steps - gy) / h
            for di in range(2):
                for dj in range(2):
                    i = math.floor(fx) + di
                    j = math.floor(fy) + dj
                    if 0 <= i < nx and 0 <= j < ny:
                        d2 = segment_distance2(gx + i * h, gy + j * h, ax, ay, bx, by)
                        if d2 < out[j * nx + i]:
                            out[j * nx + i] = d2
                            near[j * nx + i] = e
    for sweep in range(4):
        for jj in range(ny):
            j = jj if sweep % 2 == 0 else ny - 1 - jj
            for turn in range(2):
                for ii in range(nx):
                    i = ii if turn == 0 else nx - 1 - ii
                    k = j * nx + i
                    x = gx + i * h
                    y = gy + j * h
                    back = j - 1 if sweep % 2 == 0 else j + 1
                    side = i - 1 if turn == 0 else i + 1
                    for c in range(4):
                        if c == 0:
                            p, q = side, j
                        elif c == 1:
                            p, q = i - 1, back
                        elif c == 2:
                            p, q = i, back
                        else:
                            p, q = i + 1, back
                        if 0 <= p < nx and 0 <= q < ny:
                            e = near[q * nx + p]
                            if e >= 0 and e != near[k]:
                                d2 = segment_distance2(
                                    x, y, edges[e, 0], edges[e, 1], edges[e, 2], edges[e, 3]
                                )
                                if d2 < out[k]:
                                    out[k] = d2
                                    near[k] = e
    for j in range(ny):
        y = gy + j * h
        for i in range(nx):
            out[j * nx + i] = -math.sqrt(out[j * nx + i])
        # cross every edge that meets this row and flip the sign of all nodes to the right of it
        for e in range(e0, e0 + ne):
            y1 = edges[e, 1]
            y2 = edges[e, 3]
            if (y1 > y) != (y2 > y):
                x = edges[e, 0] + (edges[e, 2] - edges[e, 0]) * (y - y1) / (y2 - y1)
                first = max(0, math.ceil((x - gx) / h))
                for i in range(first, nx):
                    out[j * nx + i] = -out[j * nx + i]


@kernel
def distance_at(region_i: I64, region_f: F64, grid: F32, r: int, x: float, y: float) -> float:
    """Return the signed distance near a point, linear between nodes; off the grid it falls on outwards."""
    h = region_f[r, RF_H]
    fx = (x - region_f[r, RF_GX]) / h
    fy = (y - region_f[r, RF_GY]) / h
    nx = region_i[r, RI_NX]
    ny = region_i[r, RI_NY]
    cx = min(max(fx, 0.0), nx - 1.000001)
    cy = min(max(fy, 0.0), ny - 1.000001)
    i = int(cx)
    j = int(cy)
    u = cx - i
    v = cy - j
    k = region_i[r, RI_G] + j * nx + i
    d = (grid[k] * (1.0 - u) + grid[k + 1] * u) * (1.0 - v) + (
        grid[k + nx] * (1.0 - u) + grid[k + nx + 1] * u
    ) * v
    if cx != fx or cy != fy:
        d -= h * math.hypot(fx - cx, fy - cy)
    return float(d)


@kernel
def node_distance(region_i: I64, region_f: F64, grid: F32, r: int, x: float, y: float) -> float:
    """Return the signed distance at the node nearest to a point, less how far the point is off the grid."""
    h = region_f[r, RF_H]
    fx = (x - region_f[r, RF_GX]) / h
    fy = (y - region_f[r, RF_GY]) / h
    nx = region_i[r, RI_NX]
    ny = region_i[r, RI_NY]
    if fx < 0.0 or fy < 0.0 or fx > nx - 1 or fy > ny - 1:
        return distance_at(region_i, region_f, grid, r, x, y)
    return float(grid[region_i[r, RI_G] + int(fy + 0.5) * nx + int(fx + 0.5)])


@kernel
def outside_region(
    region_i: I64, region_f: F64, edges: F64, rings: F64, grid: F32, r: int,
    vx: F64, vy: F64, nv: int, box: F64, cx: float, cy: float, list_: I64, dist: F64,
) -> bool:  # fmt: skip
    """Return whether an outline (scratch arrays, box, one sure inner point) leaves a region."""
    slack = HALF_DIAGONAL * region_f[r, RF_H]
    for i in range(nv):
        d = node_distance(region_i, region_f, grid, r, vx[i], vy[i])
        if d < -slack:
            return True
        dist[i] = d - slack
    if distance_at(region_i, region_f, grid, r, cx, cy) < 0.0:
        return True
    n = 0
    j = nv - 1
    for i in range(nv):
        if dist[i] <= 0.0 or dist[j] <= 0.0 or dist[i] + dist[j] < math.hypot(vx[i] - vx[j], vy[i] - vy[j]):
            list_[n] = j
            n += 1
        j = i
    if n > 0:
        e0 = region_i[r, RI_E]
        for e in range(e0, e0 + region_i[r, RI_NE]):
            ax = edges[e, 0]
            ay = edges[e, 1]
            bx = edges[e, 2]
            by = edges[e, 3]
            if (
                (ax < box[0] and bx < box[0])
                or (ax > box[2] and bx > box[2])
                or (ay < box[1] and by < box[1])
                or (ay > box[3] and by > box[3])
            ):
                continue
            lx = min(ax, bx)
            hx = max(ax, bx)
            ly = min(ay, by)
            hy = max(ay, by)
            for p in range(n):
                i = list_[p]
                k = i + 1 if i + 1 < nv else 0
                x2 = vx[i]
                y2 = vy[i]
                x3 = vx[k]
                y3 = vy[k]
                if (
                    (x2 < lx and x3 < lx)
                    or (x2 > hx and x3 > hx)
                    or (y2 < ly and y3 < ly)
                    or (y2 > hy and y3 > hy)
                ):
                    continue
                if cross_at(x2, y2, x3, y3, ax, ay, bx, by):
                    return True
    # no edge is crossed: a hole may still lie wholly inside the outline
    r0 = region_i[r, RI_R]
    for k in range(r0, r0 + region_i[r, RI_NR]):
        if (
            rings[k, 0] >= box[0]
            and rings[k, 1] >= box[1]
            and rings[k, 2] <= box[2]
            and rings[k, 3] <= box[3]
            and point_inside(rings[k, 4], rings[k, 5], vx, vy, 0, nv)
        ):
            return True
    return False
