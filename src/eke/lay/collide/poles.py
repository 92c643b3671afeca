"""Fill an outline with circles, largest first: the poles that measure how much two shapes overlap."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from eke.lay.collide.pairs import point_inside
from eke.lay.collide.regions import segment_distance2
from eke.lay.collide.tables import F64

SAMPLES_ACROSS = 48
"""Grid points along the longer side of the box from which poles are grown."""
MOST_POLES = 16
ENOUGH_SHARE = 0.9
"""Stop once the poles cover this share of the area, at ``FEWEST_POLES``; both numbers suit vectors of eight."""
FEWEST_POLES = 8


@njit(cache=True, nogil=True)
def _room(x: float, y: float, vx: F64, vy: F64, poles: F64, m: int) -> float:
    """Return the radius of the largest circle about a point inside the outline and off earlier poles."""
    n = vx.size
    if not point_inside(x, y, vx, vy, 0, n):
        return -1.0
    d2 = 1e300
    j = n - 1
    for i in range(n):
        d2 = min(d2, segment_distance2(x, y, vx[j], vy[j], vx[i], vy[i]))
        j = i
    d = math.sqrt(d2)
    for k in range(m):
        d = min(d, math.hypot(x - poles[k, 0], y - poles[k, 1]) - poles[k, 2])
    return d


@njit(cache=True, nogil=True)
def find_poles(vx: F64, vy: F64, area: float) -> F64:
    """Return the poles of an outline, rows of x, y, radius."""
    x0 = vx.min()
    y0 = vy.min()
    w = vx.max() - x0
    h = vy.max() - y0
    short = max(min(w, h), 1e-9)
    long_ = max(w, h)
    fine = min(long_ / SAMPLES_ACROSS, short / 7.0)
    fine = max(fine, math.sqrt(w * h / 6000.0))
    nx = int(w / fine) + 1
    ny = int(h / fine) + 1
    room = np.empty((ny, nx))
    poles = np.empty((MOST_POLES, 3))
    for j in range(ny):
        for i in range(nx):
            room[j, i] = _room(x0 + (i + 0.5) * w / nx, y0 + (j + 0.5) * h / ny, vx, vy, poles, 0)
    covered = 0.0
    m = 0
    while m < MOST_POLES:
        best = -1.0
        bx = 0.0
        by = 0.0
        for j in range(ny):
            for i in range(nx):
                if room[j, i] > best:
                    best = room[j, i]
                    bx = x0 + (i + 0.5) * w / nx
                    by = y0 + (j + 0.5) * h / ny
        if best <= 0.0:
            # thinner than the grid: walk in from the middles of the edges
            if m > 0:
                break
            n = vx.size
            for i in range(n):
                k = (i + 1) % n
                mx = 0.5 * (vx[i] + vx[k])
                my = 0.5 * (vy[i] + vy[k])
                length = math.hypot(vx[k] - vx[i], vy[k] - vy[i])
                if length <= 0.0:
                    continue
                for q in range(1, 40):
                    depth = short * 0.5 ** (0.25 * q)
                    for sign in (-1.0, 1.0):
                        cx = mx - sign * depth * (vy[k] - vy[i]) / length
                        cy = my + sign * depth * (vx[k] - vx[i]) / length
                        r = _room(cx, cy, vx, vy, poles, 0)
                        if r > best:
                            best, bx, by = r, cx, cy
            if best <= 0.0:
                break
        step = 0.5 * max(w / nx, h / ny)
        while step > 1e-3 * fine + 1e-9:
            moved = False
            for a in range(8):
                cx = bx + step * math.cos(a * math.pi / 4.0)
                cy = by + step * math.sin(a * math.pi / 4.0)
                r = _room(cx, cy, vx, vy, poles, m)
                if r > best:
                    best, bx, by = r, cx, cy
                    moved = True
            if not moved:
                step *= 0.5
        poles[m, 0] = bx
        poles[m, 1] = by
        poles[m, 2] = best
        m += 1
        covered += math.pi * best * best
        if m == FEWEST_POLES and covered >= ENOUGH_SHARE * area:
            break
        if best < 0.04 * poles[0, 2]:
            break
        for j in range(ny):
            for i in range(nx):
                if room[j, i] > 0.0:
                    d = math.hypot(x0 + (i + 0.5) * w / nx - bx, y0 + (j + 0.5) * h / ny - by) - best
                    room[j, i] = min(room[j, i], d)
    return poles[:m].copy()
