"""Do two outlines overlap, and by how much? The measure of Gardeyn, Vanden Berghe and Wauters (2025).

Whether they overlap is decided on the edges. How much is measured on *poles*: circles inside each
outline. For each pair of poles the depth ``d = r + r' − distance`` counts as it is down to ``eps`` and as
``eps² / (2 eps − d)`` below, so that a slope is left where the circles no longer touch.

References
----------
Gardeyn, Vanden Berghe, Wauters (2025), "An open-source heuristic to reboot 2D nesting research",
arXiv:2509.13329, section on overlap proxies. Constants below are that paper's.
"""

from __future__ import annotations

import math

import numpy as np

from eke.lay.collide.tables import F32, F64, I64, kernel, vector_kernel

EPS_SHARE = 0.01
"""``eps`` as a share of the larger diameter."""
SURE_DEPTH = 1e-3
"""Poles that overlap by this much (scaled mm) prove a collision in spite of single precision."""


@vector_kernel
def pole_row(
    ax: float, ay: float, ar: float, bx: F32, by: F32, br: F32, b0: int, nb: int, eps: np.float32
) -> tuple[float, float]:
    """Return the summed depth of one pole against a run of others, and how deep they are in each other.

    Written so that the compiler makes vectors of it: slices, sums only, no comparison kept.
    """
    sure = np.float32(SURE_DEPTH)
    total = np.float32(0.0)
    over = np.float32(0.0)
    eps2 = eps * eps
    twice = np.float32(2.0) * eps
    cx = bx[b0 : b0 + nb]
    cy = by[b0 : b0 + nb]
    cr = br[b0 : b0 + nb]
    for k in range(nb):
        dx = ax - cx[k]
        dy = ay - cy[k]
        rb = cr[k]
        d = ar + rb - math.sqrt(dx * dx + dy * dy)
        low = eps2 / (twice - min(d, eps))
        total += max(d, low) * min(ar, rb)
        over += max(d - sure, np.float32(0.0))
    return total, over  # type: ignore[return-value]


@kernel
def point_inside(x: float, y: float, vx: F64, vy: F64, v0: int, nv: int) -> bool:
    """Return whether a point lies inside a closed outline (even-odd)."""
    inside = False
    j = v0 + nv - 1
    for i in range(v0, v0 + nv):
        yi = vy[i]
        yj = vy[j]
        if (yi > y) != (yj > y) and x < (vx[j] - vx[i]) * (y - yi) / (yj - yi) + vx[i]:
            inside = not inside
        j = i
    return inside


@kernel
def edges_in_box(
    vx: F64, vy: F64, v0: int, nv: int, x0: float, y0: float, x1: float, y1: float, out: I64
) -> int:
    """List the start points of the edges whose boxes meet a box; return how many."""
    n = 0
    j = v0 + nv - 1
    for i in range(v0, v0 + nv):
        if not (
            (vx[j] < x0 and vx[i] < x0)
            or (vx[j] > x1 and vx[i] > x1)
            or (vy[j] < y0 and vy[i] < y0)
            or (vy[j] > y1 and vy[i] > y1)
        ):
            out[n] = j
            n += 1
        j = i
    return n


@kernel
def cross_at(ax: float, ay: float, bx: float, by: float, cx: float, cy: float, dx: float, dy: float) -> bool:
    """Return whether segments ab and cd cross properly (touching does not count)."""
    rx = bx - ax
    ry = by - ay
    d1 = rx * (cy - ay) - ry * (cx - ax)
    d2 = rx * (dy - ay) - ry * (dx - ax)
    if d1 * d2 >= 0.0:
        return False
    ux = dx - cx
    uy = dy - cy
    d3 = ux * (ay - cy) - uy * (ax - cx)
    d4 = ux * (by - cy) - uy * (bx - cx)
    return d3 * d4 < 0.0


@kernel
def outlines_cross(
    ax: F64, ay: F64, a0: int, na: int, ba: F64, bx: F64, by: F64, b0: int, nb: int,
    x0: float, y0: float, x1: float, y1: float, ia: I64, ib: I64,
) -> bool:  # fmt: skip
    """Return whether two closed outlines have a crossing, or one lies inside the other or in line with it.

    ``x0 … y1`` is the common part of their boxes; ``ba`` the box of a.
    """
    n = edges_in_box(ax, ay, a0, na, x0, y0, x1, y1, ia)
    m = 0
    if n > 0:
        m = edges_in_box(bx, by, b0, nb, x0, y0, x1, y1, ib)
    for p in range(n):
        i = ia[p]
        k = i + 1 if i + 1 < a0 + na else a0
        x2 = ax[i]
        y2 = ay[i]
        x3 = ax[k]
        y3 = ay[k]
        lx = min(x2, x3)
        hx = max(x2, x3)
        ly = min(y2, y3)
        hy = max(y2, y3)
        for q in range(m):
            j = ib[q]
            g = j + 1 if j + 1 < b0 + nb else b0
            x4 = bx[j]
            y4 = by[j]
            x5 = bx[g]
            y5 = by[g]
            if (
                (x4 < lx and x5 < lx)
                or (x4 > hx and x5 > hx)
                or (y4 < ly and y5 < ly)
                or (y4 > hy and y5 > hy)
            ):
                continue
            if cross_at(x2, y2, x3, y3, x4, y4, x5, y5):
                return True
    # no crossing: one may lie wholly inside the other; only possible where the boxes contain each other
    if (
        x0 <= ba[0]
        and y0 <= ba[1]
        and x1 >= ba[2]
        and y1 >= ba[3]
        and point_inside(ax[a0], ay[a0], bx, by, b0, nb)
    ):
        return True
    if point_inside(bx[b0], by[b0], ax, ay, a0, na):
        return True
    # edges that run along each other never cross: then the middle of the common box is mostly in both
    x = 0.5 * (x0 + x1)
    y = 0.5 * (y0 + y1)
    return point_inside(x, y, ax, ay, a0, na) and point_inside(x, y, bx, by, b0, nb)


@kernel
def root_loss(proxy: float, eps: float, penalty: float) -> float:
    """Turn a summed depth into a loss: about a length times the geometric mean of two sizes."""
    return math.sqrt(math.pi * proxy + eps * eps) * penalty
