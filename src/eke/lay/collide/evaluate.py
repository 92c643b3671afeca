"""Weigh one position of one piece against everything that forbids it."""

from __future__ import annotations

import math

import numpy as np

from eke.lay.collide.constrain import out_of_phase, put_right
from eke.lay.collide.pairs import (
    EPS_SHARE,
    outlines_cross,
    pole_row,
    root_loss,
)
from eke.lay.collide.regions import BORDER_MM, distance_at, outside_region
from eke.lay.collide.tables import (
    B_POINTS,
    C_TRIED,
    PF_TH,
    PF_X,
    PF_X0,
    PF_X1,
    PF_Y,
    PF_Y0,
    PF_Y1,
    PI_MIRROR,
    PI_ON,
    PI_P,
    PI_SHAPE,
    PI_SHEET,
    PI_V,
    RF_X0,
    RF_Y0,
    RF_Y1,
    RI_NE,
    RP_X,
    RP_Y,
    SF_DIAMETER,
    SF_PENALTY,
    SI_CLASS,
    SI_NP,
    SI_NPHASE,
    SI_NV,
    SI_P,
    SI_PHASE,
    SI_V,
    Field,
    State,
    kernel,
)

SHEET_FACTOR = 2.0
"""A sheet's edge counts this much more than a neighbour (Gardeyn et al. 2025)."""


@kernel
def pose(f: Field, s: State, t: int, x: float, y: float, th: float, mirror: int) -> None:
    """Write outline, poles and box of shape ``t`` at a position into the scratch arrays."""
    co = math.cos(th)
    si = math.sin(th)
    sg = -1.0 if mirror else 1.0
    v0 = f.shape_i[t, SI_V]
    nv = f.shape_i[t, SI_NV]
    x0 = 1e300
    y0 = 1e300
    x1 = -1e300
    y1 = -1e300
    for k in range(nv):
        u = sg * f.vx[v0 + k]
        v = f.vy[v0 + k]
        a = co * u - si * v + x
        b = si * u + co * v + y
        s.sx[k] = a
        s.sy[k] = b
        x0 = min(x0, a)
        x1 = max(x1, a)
        y0 = min(y0, b)
        y1 = max(y1, b)
    p0 = f.shape_i[t, SI_P]
    for k in range(f.shape_i[t, SI_NP]):
        u = sg * f.px[p0 + k]
        v = f.py[p0 + k]
        s.tx[k] = np.float32(co * u - si * v + x)
        s.ty[k] = np.float32(si * u + co * v + y)
    for k in range(f.shape_i[t, SI_NPHASE]):
        u = sg * f.phases[f.shape_i[t, SI_PHASE] + k, RP_X]
        v = f.phases[f.shape_i[t, SI_PHASE] + k, RP_Y]
        s.box[B_POINTS + 2 * k] = co * u - si * v + x
        s.box[B_POINTS + 2 * k + 1] = si * u + co * v + y
    s.box[0] = x0
    s.box[1] = y0
    s.box[2] = x1
    s.box[3] = y1


@kernel
def sheet_loss(f: Field, s: State, t: int, sheet: int) -> float:
    """Return the loss of the shape in the scratch arrays against its sheet; 0 when it is wholly on."""
    r = f.shape_i[t, SI_CLASS] * s.limit.shape[0] + sheet
    lx0 = s.limit[sheet, 0]
    ly0 = s.limit[sheet, 1]
    lx1 = s.limit[sheet, 2]
    ly1 = s.limit[sheet, 3]
    odd = f.region_i[r, RI_NE] > 0
    if not odd:  # a strip: its border is the region's box, and the open end is as far in as the start
        lx1 -= f.region_f[r, RF_X0]
        lx0 = max(lx0, f.region_f[r, RF_X0])
        ly0 = max(ly0, f.region_f[r, RF_Y0])
        ly1 = min(ly1, f.region_f[r, RF_Y1])
    out = (
        s.box[0] < lx0 - BORDER_MM
        or s.box[1] < ly0 - BORDER_MM
        or s.box[2] > lx1 + BORDER_MM
        or s.box[3] > ly1 + BORDER_MM
    )
    if not out:
        if not odd:
            return 0.0
        if not outside_region(
            f.region_i, f.region_f, f.edges, f.rings, f.grid, r,
            s.sx, s.sy, f.shape_i[t, SI_NV], s.box, s.tx[0], s.ty[0], s.ia, s.row,
        ):  # fmt: skip
            return 0.0
    eps = EPS_SHARE * f.shape_f[t, SF_DIAMETER]
    proxy = 0.0
    p0 = f.shape_i[t, SI_P]
    for k in range(f.shape_i[t, SI_NP]):
        x = s.tx[k]
        y = s.ty[k]
        inside = min(min(x - lx0, lx1 - x), min(y - ly0, ly1 - y))
        if odd:
            inside = min(inside, distance_at(f.region_i, f.region_f, f.grid, r, x, y))
        pr = f.pr[p0 + k]
        d = pr - inside
        if d < eps:
            d = eps * eps / (2.0 * eps - d)
        proxy += d * pr
    return SHEET_FACTOR * root_loss(proxy, eps, f.shape_f[t, SF_PENALTY])


@kernel
def edges_meet(
    f: Field, s: State, t: int, u: int, j: int, x0: float, y0: float, x1: float, y1: float
) -> bool:
    """Return whether the scratch shape and piece ``j`` overlap, decided on their edges."""
    return outlines_cross(
        s.sx, s.sy, 0, f.shape_i[t, SI_NV], s.box,
        s.wx, s.wy, s.piece_i[j, PI_V], f.shape_i[u, SI_NV],
        x0, y0, x1, y1, s.ia, s.ib,
    )  # fmt: skip


@kernel
def poles_meet(
    f: Field, s: State, t: int, q0: int, nq: int, eps: np.float32, x0: float, y0: float, x1: float, y1: float
) -> bool:
    """Return whether poles of the scratch shape, but its first, lie deep in others where the two boxes overlap.

    Edges that run along each other, and corners that lie on each other, never cross: shapes that overlap so are
    told by their poles.
    """
    p0 = f.shape_i[t, SI_P]
    for k in range(1, f.shape_i[t, SI_NP]):
        r = f.pr[p0 + k]
        if s.tx[k] + r <= x0 or s.tx[k] - r >= x1 or s.ty[k] + r <= y0 or s.ty[k] - r >= y1:
            continue
        _, deep = pole_row(s.tx[k], s.ty[k], r, s.qx, s.qy, s.qr, q0, nq, eps)
        if deep > 0.0:
            return True
    return False


@kernel
def pair_loss(f: Field, s: State, t: int, j: int, bound: float) -> float:
    """Return the loss of the scratch shape against piece ``j``; 0 when they do not overlap.

    As soon as the loss is sure to be above ``bound``, the running value is returned.
    """
    x0 = max(s.box[0], s.piece_f[j, PF_X0])
    y0 = max(s.box[1], s.piece_f[j, PF_Y0])
    x1 = min(s.box[2], s.piece_f[j, PF_X1])
    y1 = min(s.box[3], s.piece_f[j, PF_Y1])
    if x0 >= x1 or y0 >= y1:
        return 0.0
    u = s.piece_i[j, PI_SHAPE]
    eps = EPS_SHARE * max(f.shape_f[t, SF_DIAMETER], f.shape_f[u, SF_DIAMETER])
    penalty = math.sqrt(f.shape_f[t, SF_PENALTY] * f.shape_f[u, SF_PENALTY])
    q0 = s.piece_i[j, PI_P]
    nq = f.shape_i[u, SI_NP]
    p0 = f.shape_i[t, SI_P]
    top = 1e300
    if bound < 1e299:
        top = ((bound / penalty) ** 2 - eps * eps) / math.pi
    sure = False
    proxy = 0.0
    e32 = np.float32(eps)
    npoles = f.shape_i[t, SI_NP]
    # the largest pole first: it settles most cases; then the edges; then the rest of the measure
    for k in range(npoles):
        part, deep = pole_row(s.tx[k], s.ty[k], f.pr[p0 + k], s.qx, s.qy, s.qr, q0, nq, e32)
        proxy += part
        if deep > 0.0:
            sure = True
        if k == 0 and not sure:
            if not edges_meet(f, s, t, u, j, x0, y0, x1, y1) and not poles_meet(
                f, s, t, q0, nq, e32, x0, y0, x1, y1
            ):
                return 0.0
            sure = True
        if proxy > top:
            break
    return root_loss(proxy, eps, penalty)


@kernel
def weigh(f: Field, s: State, i: int, sheet: int, bound: float) -> float:
    """Return the weighted loss of the scratch shape as piece ``i`` on ``sheet``.

    Stops as soon as ``bound`` is exceeded: most positions are worse than the best so far, and most of the
    time would be spent on finding out by how much.
    """
    s.tally[C_TRIED] += 1
    t = s.piece_i[i, PI_SHAPE]
    n = s.piece_i.shape[0]
    total = sheet_loss(f, s, t, sheet)
    if f.shape_i[t, SI_NPHASE] > 0:
        total += out_of_phase(f, s, i, t, sheet) * f.shape_f[t, SF_PENALTY]
    if total > 0.0:
        total *= s.weight[i, n]
        if total >= bound:
            return float(total)
    for j in range(n):
        if s.piece_i[j, PI_SHEET] != sheet or s.piece_i[j, PI_ON] == 0 or j == i:
            continue
        if (
            s.box[0] >= s.piece_f[j, PF_X1]
            or s.box[2] <= s.piece_f[j, PF_X0]
            or s.box[1] >= s.piece_f[j, PF_Y1]
            or s.box[3] <= s.piece_f[j, PF_Y0]
        ):
            continue
        w = s.weight[i, j]
        total += w * pair_loss(f, s, t, j, (bound - total) / w)
        if total >= bound:
            return float(total)
    return float(total)


@kernel
def settle(f: Field, s: State, i: int) -> None:
    """Write the world outline of piece ``i`` where it now lies, and its exact row of losses."""
    t = s.piece_i[i, PI_SHAPE]
    sheet = s.piece_i[i, PI_SHEET]
    pose(f, s, t, s.piece_f[i, PF_X], s.piece_f[i, PF_Y], s.piece_f[i, PF_TH], s.piece_i[i, PI_MIRROR])
    v0 = s.piece_i[i, PI_V]
    for k in range(f.shape_i[t, SI_NV]):
        s.wx[v0 + k] = s.sx[k]
        s.wy[v0 + k] = s.sy[k]
    q0 = s.piece_i[i, PI_P]
    for k in range(f.shape_i[t, SI_NP]):
        s.qx[q0 + k] = s.tx[k]
        s.qy[q0 + k] = s.ty[k]
    s.piece_f[i, PF_X0] = s.box[0]
    s.piece_f[i, PF_Y0] = s.box[1]
    s.piece_f[i, PF_X1] = s.box[2]
    s.piece_f[i, PF_Y1] = s.box[3]
    n = s.piece_i.shape[0]
    on = s.piece_i[i, PI_ON] != 0
    s.loss[i, n] = sheet_loss(f, s, t, sheet) if on else 0.0
    if on and f.shape_i[t, SI_NPHASE] > 0:
        s.loss[i, n] += out_of_phase(f, s, i, t, sheet) * f.shape_f[t, SF_PENALTY]
    for j in range(n):
        d = 0.0
        if on and j != i and s.piece_i[j, PI_SHEET] == sheet and s.piece_i[j, PI_ON] != 0:
            d = pair_loss(f, s, t, j, 1e300)
        s.loss[i, j] = d
        s.loss[j, i] = d


@kernel
def settle_all(f: Field, s: State) -> float:
    """Settle every piece, on its rail and in phase where it has such; return the plain loss of the lay."""
    n = s.piece_i.shape[0]
    for i in range(n):
        put_right(f, s, i)
    for i in range(n):
        settle(f, s, i)
    # a second time: the first rows were measured against pieces not yet in place
    for i in range(n):
        settle(f, s, i)
    return plain_loss(s)


@kernel
def plain_loss(s: State) -> float:
    """Return the sum of all losses, each pair once, without weights."""
    n = s.piece_i.shape[0]
    total = 0.0
    for i in range(n):
        if s.piece_i[i, PI_ON] == 0:
            continue
        total += s.loss[i, n]
        for j in range(i + 1, n):
            total += s.loss[i, j]
    return total
