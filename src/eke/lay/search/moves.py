"""Move one piece to the place where it overlaps least: many samples, the best few refined.

The numbers follow sparrow (Gardeyn, Vanden Berghe, Wauters 2025, arXiv:2509.13329, algorithms 5 to 7).
"""

from __future__ import annotations

import math

from eke.lay.collide.chance import below, uniform
from eke.lay.collide.constrain import in_phase, on_rail, rail_of
from eke.lay.collide.evaluate import pose, settle, weigh
from eke.lay.collide.regions import distance_at
from eke.lay.collide.tables import (
    C_MOVES,
    PF_TH,
    PF_TILT,
    PF_X,
    PF_Y,
    PI_GROUP,
    PI_MIRROR,
    PI_ON,
    PI_SHAPE,
    PI_SHEET,
    PI_TURN,
    PI_V,
    RF_SHARE,
    RF_X0,
    RF_X1,
    RF_Y0,
    RF_Y1,
    RI_E,
    RI_NE,
    RL_DX,
    RL_DY,
    RL_LENGTH,
    RL_MIRROR,
    RL_SHEET,
    RL_TH,
    RL_TURN,
    RL_X,
    RL_Y,
    SF_SIDE,
    SF_TILT,
    SI_A,
    SI_CLASS,
    SI_MIRROR,
    SI_MUST,
    SI_NA,
    SI_NPHASE,
    SI_NRAIL,
    SI_NV,
    SI_RAIL,
    SI_V,
    Field,
    State,
    kernel,
)

NEAR_SAMPLES = 25
FAR_SAMPLES = 40
TOUCH_SAMPLES = 15
BORDER_TOUCHES = 0.3
"""Share of the touching places that are at the border of a sheet."""
RAIL_SHARE = 0.3
"""Share of the samples that lie on a rail where a piece may but need not."""
KEEP = 3
"""Candidates that are refined."""
TOO_ALIKE = 0.05
"""Two candidates closer than this share of the shape's smaller side are one."""
MOST_STEPS = 60
"""Steps of one descent at most, so that the work between two looks at the stop flag is bounded."""
TRIED_PER_MOVE = 1 + NEAR_SAMPLES + FAR_SAMPLES + TOUCH_SAMPLES + 2 * MOST_STEPS * (KEEP + 1)
"""Positions that one move weighs at most."""
FREE_RAD = 3.0
"""A tilt limit above this means: any angle."""
# candidate columns
_SCORE, _SHEET, _X, _Y, _TH, _TURN, _MIRROR, _RAIL = range(8)


@kernel
def _keep(s: State, score: float, sheet: int, x: float, y: float, th: float, turn: int, mirror: int,
          rail: int, alike: float) -> None:  # fmt: skip
    """Put a candidate among the best few unless it is nearly one of them."""
    slot = -1
    for k in range(KEEP):
        if (
            s.cand[k, _SCORE] < 1e299
            and s.cand[k, _SHEET] == sheet
            and s.cand[k, _TURN] == turn
            and s.cand[k, _MIRROR] == mirror
            and abs(s.cand[k, _X] - x) < alike
            and abs(s.cand[k, _Y] - y) < alike
        ):
            if score >= s.cand[k, _SCORE]:
                return
            slot = k
            break
    if slot < 0:
        slot = KEEP - 1
        if score >= s.cand[slot, _SCORE]:
            return
    s.cand[slot, _SCORE] = score
    s.cand[slot, _SHEET] = sheet
    s.cand[slot, _X] = x
    s.cand[slot, _Y] = y
    s.cand[slot, _TH] = th
    s.cand[slot, _TURN] = turn
    s.cand[slot, _MIRROR] = mirror
    s.cand[slot, _RAIL] = rail
    while slot > 0 and s.cand[slot, _SCORE] < s.cand[slot - 1, _SCORE]:
        for c in range(8):
            s.cand[slot, c], s.cand[slot - 1, c] = s.cand[slot - 1, c], s.cand[slot, c]
        slot -= 1


@kernel
def _refine(
    f: Field, s: State, i: int, k: int, first: float, last: float, spin: float, spin_last: float
) -> None:
    """Coordinate descent of candidate ``k``: along x, y or a diagonal, or a small turn."""
    t = s.piece_i[i, PI_SHAPE]
    side = f.shape_f[t, SF_SIDE]
    step = first * side
    stop = last * side
    rail = int(s.cand[k, _RAIL])
    tilt = f.shape_f[t, SF_TILT] if rail < 0 else 0.0
    sheet = int(s.cand[k, _SHEET])
    mirror = int(s.cand[k, _MIRROR])
    base = f.turns[f.shape_i[t, SI_A] + int(s.cand[k, _TURN])]
    wiggle = spin
    for _ in range(MOST_STEPS):
        if step <= stop and (tilt <= 0.0 or wiggle <= spin_last):
            return
        best = s.cand[k, _SCORE]
        if best <= 0.0:
            return
        x = s.cand[k, _X]
        y = s.cand[k, _Y]
        th = s.cand[k, _TH]
        turning = tilt > 0.0 and wiggle > spin_last and (step <= stop or uniform(s.rng) < 0.3333)
        axis = below(s.rng, 4)
        found = False
        for way in range(2):
            sign = 1.0 - 2.0 * way
            if turning:
                nx = x
                ny = y
                nth = th + sign * wiggle
                if tilt < FREE_RAD:
                    nth = min(max(nth, base - tilt), base + tilt)
            else:
                nth = th
                if rail >= 0:
                    nx = x + sign * step * f.rails[rail, RL_DX]
                    ny = y + sign * step * f.rails[rail, RL_DY]
                elif axis == 0:
                    nx = x + sign * step
                    ny = y
                elif axis == 1:
                    nx = x
                    ny = y + sign * step
                elif axis == 2:
                    nx = x + sign * step * 0.70710678
                    ny = y + sign * step * 0.70710678
                else:
                    nx = x + sign * step * 0.70710678
                    ny = y - sign * step * 0.70710678
            if rail >= 0:
                nx, ny = on_rail(f, s, i, t, rail, nx, ny)
            elif f.shape_i[t, SI_NPHASE] > 0:
                nx, ny = in_phase(f, s, i, t, sheet, nx, ny, nth, mirror)
            pose(f, s, t, nx, ny, nth, mirror)
            e = weigh(f, s, i, sheet, best)
            if e < best:
                best = e
                found = True
                s.cand[k, _SCORE] = e
                s.cand[k, _X] = nx
                s.cand[k, _Y] = ny
                s.cand[k, _TH] = nth
        if turning:
            wiggle *= 1.1 if found else 0.5
        else:
            step *= 1.1 if found else 0.5


@kernel
def pick_rail(f: Field, s: State, i: int) -> int:
    """Return a rail for the next sample of piece ``i``, or −1 when it is to be laid anywhere."""
    t = s.piece_i[i, PI_SHAPE]
    n = f.shape_i[t, SI_NRAIL]
    if n == 0:
        return -1
    if f.shape_i[t, SI_MUST]:
        return int(f.shape_i[t, SI_RAIL]) + below(s.rng, n)
    if uniform(s.rng) >= RAIL_SHARE:
        return -1
    rail = f.shape_i[t, SI_RAIL] + below(s.rng, n)
    if s.piece_f[i, PF_TILT] != 0.0:
        return -1
    if s.piece_i[i, PI_GROUP] >= 0 and (
        f.rails[rail, RL_TURN] != s.piece_i[i, PI_TURN] or f.rails[rail, RL_MIRROR] != s.piece_i[i, PI_MIRROR]
    ):
        return -1
    return int(rail)


@kernel
def shared_tilt(s: State, i: int, mirror: int) -> float:
    """Return the tilt that piece ``i`` has in common with others; its mirror image is tilted the other way."""
    return float(-s.piece_f[i, PF_TILT] if mirror else s.piece_f[i, PF_TILT])


@kernel
def _sample(f: Field, s: State, i: int, near: bool, alike: float) -> None:
    """Try one random place, near the piece or anywhere on the sheets that it may lie on."""
    t = s.piece_i[i, PI_SHAPE]
    sheets = s.limit.shape[0]
    na = f.shape_i[t, SI_NA]
    grouped = s.piece_i[i, PI_GROUP] >= 0
    turn = s.piece_i[i, PI_TURN]
    mirror = s.piece_i[i, PI_MIRROR]
    rail = pick_rail(f, s, i)
    if rail >= 0:
        turn = int(f.rails[rail, RL_TURN])
        mirror = int(f.rails[rail, RL_MIRROR])
        sheet = int(f.rails[rail, RL_SHEET])
        th = f.rails[rail, RL_TH]
        along = uniform(s.rng) * f.rails[rail, RL_LENGTH]
        x = f.rails[rail, RL_X] + along * f.rails[rail, RL_DX]
        y = f.rails[rail, RL_Y] + along * f.rails[rail, RL_DY]
        if f.shape_i[t, SI_NPHASE] > 0:
            x, y = on_rail(f, s, i, t, rail, x, y)
        pose(f, s, t, x, y, th, mirror)
        e = weigh(f, s, i, sheet, s.cand[KEEP - 1, _SCORE])
        _keep(s, e, sheet, x, y, th, turn, mirror, rail, alike)
        return
    if not grouped:
        turn = below(s.rng, na)
        if f.shape_i[t, SI_MIRROR]:
            mirror = below(s.rng, 2)
    th = f.turns[f.shape_i[t, SI_A] + turn] + shared_tilt(s, i, mirror)
    tilt = f.shape_f[t, SF_TILT]
    if 0.0 < tilt < FREE_RAD:
        th += (2.0 * uniform(s.rng) - 1.0) * tilt
    sheet = s.piece_i[i, PI_SHEET]
    if not near and sheets > 1:
        u = uniform(s.rng)
        sheet = 0
        r = f.shape_i[t, SI_CLASS] * sheets
        while sheet < sheets - 1 and u >= f.region_f[r + sheet, RF_SHARE]:
            sheet += 1
    r = f.shape_i[t, SI_CLASS] * sheets + sheet
    pose(f, s, t, 0.0, 0.0, th, mirror)
    bx0 = s.box[0]
    by0 = s.box[1]
    bx1 = s.box[2]
    by1 = s.box[3]
    x0 = max(f.region_f[r, RF_X0], s.limit[sheet, 0]) - bx0
    y0 = max(f.region_f[r, RF_Y0], s.limit[sheet, 1]) - by0
    x1 = min(f.region_f[r, RF_X1], s.limit[sheet, 2]) - bx1
    y1 = min(f.region_f[r, RF_Y1], s.limit[sheet, 3]) - by1
    if x1 < x0:
        x0 = x1 = 0.5 * (x0 + x1)
    if y1 < y0:
        y0 = y1 = 0.5 * (y0 + y1)
    if near:
        w = bx1 - bx0
        h = by1 - by0
        x0 = max(x0, s.piece_f[i, PF_X] - 0.5 * w)
        x1 = min(x1, s.piece_f[i, PF_X] + 0.5 * w)
        y0 = max(y0, s.piece_f[i, PF_Y] - 0.5 * h)
        y1 = min(y1, s.piece_f[i, PF_Y] + 0.5 * h)
        x1 = max(x0, x1)
        y1 = max(y0, y1)
    # the sheet is odd-shaped: a few draws until the middle of the shape is on it
    x = 0.0
    y = 0.0
    for _ in range(4):
        x = x0 + uniform(s.rng) * (x1 - x0)
        y = y0 + uniform(s.rng) * (y1 - y0)
        if (
            f.region_i[r, RI_NE] == 0
            or distance_at(f.region_i, f.region_f, f.grid, r, s.tx[0] + x, s.ty[0] + y) > 0.0
        ):
            break
    if f.shape_i[t, SI_NPHASE] > 0:
        x, y = in_phase(f, s, i, t, sheet, x, y, th, mirror)
    pose(f, s, t, x, y, th, mirror)
    e = weigh(f, s, i, sheet, s.cand[KEEP - 1, _SCORE])
    _keep(s, e, sheet, x, y, th, turn, mirror, -1, alike)


@kernel
def _touch(f: Field, s: State, i: int, alike: float) -> None:
    """Try a place where piece ``i`` touches something: corner on corner, or edge along edge when it turns.

    The other corner or edge is one of a random neighbour, or of the border of the sheet. Places like these
    are where pieces end up in a tight lay, and random points hardly ever hit them.
    """
    t = s.piece_i[i, PI_SHAPE]
    n = s.piece_i.shape[0]
    sheets = s.limit.shape[0]
    na = f.shape_i[t, SI_NA]
    turn = s.piece_i[i, PI_TURN]
    mirror = s.piece_i[i, PI_MIRROR]
    if s.piece_i[i, PI_GROUP] < 0:
        turn = below(s.rng, na)
        if f.shape_i[t, SI_MIRROR]:
            mirror = below(s.rng, 2)
    base = f.turns[f.shape_i[t, SI_A] + turn] + shared_tilt(s, i, mirror)
    th = base
    nv = f.shape_i[t, SI_NV]
    a = below(s.rng, nv)
    b = a + 1 if a + 1 < nv else 0
    # the other edge: from (cx, cy) to (dx, dy), along which the piece's own edge would run
    border = uniform(s.rng) < BORDER_TOUCHES
    sheet = s.piece_i[i, PI_SHEET]
    if border:
        if sheets > 1:
            sheet = below(s.rng, sheets)
        r = f.shape_i[t, SI_CLASS] * sheets + sheet
        ne = f.region_i[r, RI_NE]
        if ne > 0:
            e = f.region_i[r, RI_E] + below(s.rng, ne)
            cx = f.edges[e, 0]
            cy = f.edges[e, 1]
            dx = f.edges[e, 2]
            dy = f.edges[e, 3]
        else:
            x0 = max(s.limit[sheet, 0], f.region_f[r, RF_X0])
            y0 = max(s.limit[sheet, 1], f.region_f[r, RF_Y0])
            x1 = s.limit[sheet, 2] - f.region_f[r, RF_X0]
            y1 = min(s.limit[sheet, 3], f.region_f[r, RF_Y1])
            e = below(s.rng, 4)
            cx = x0 if e == 0 or e == 3 else x1
            cy = y0 if e < 2 else y1
            dx = x1 if e == 0 or e == 1 else x0
            dy = y0 if e == 0 or e == 3 else y1
    else:
        j = below(s.rng, n)
        if j == i or s.piece_i[j, PI_ON] == 0:
            return
        sheet = s.piece_i[j, PI_SHEET]
        u = s.piece_i[j, PI_SHAPE]
        w0 = s.piece_i[j, PI_V]
        nw = f.shape_i[u, SI_NV]
        c = below(s.rng, nw)
        d = c + 1 if c + 1 < nw else 0
        # a neighbour's edge is run along backwards; mirrored outlines run the other way round
        if s.piece_i[j, PI_MIRROR]:
            cx = s.wx[w0 + c]
            cy = s.wy[w0 + c]
            dx = s.wx[w0 + d]
            dy = s.wy[w0 + d]
        else:
            cx = s.wx[w0 + d]
            cy = s.wy[w0 + d]
            dx = s.wx[w0 + c]
            dy = s.wy[w0 + c]
    if mirror:
        a, b = b, a
    v0 = f.shape_i[t, SI_V]
    sg = -1.0 if mirror else 1.0
    tilt = f.shape_f[t, SF_TILT]
    if tilt > 0.0:
        own = math.atan2(f.vy[v0 + b] - f.vy[v0 + a], sg * (f.vx[v0 + b] - f.vx[v0 + a]))
        wish = math.atan2(dy - cy, dx - cx) - own
        if tilt >= FREE_RAD:
            th = wish
        else:
            off = wish - base
            off -= 2.0 * math.pi * math.floor(off / (2.0 * math.pi) + 0.5)
            if abs(off) <= tilt:
                th = base + off
    pose(f, s, t, 0.0, 0.0, th, mirror)
    # start on start or end on end
    if uniform(s.rng) < 0.5:
        x = cx - s.sx[a]
        y = cy - s.sy[a]
    else:
        x = dx - s.sx[b]
        y = dy - s.sy[b]
    if f.shape_i[t, SI_NPHASE] > 0:
        x, y = in_phase(f, s, i, t, sheet, x, y, th, mirror)
    pose(f, s, t, x, y, th, mirror)
    e2 = weigh(f, s, i, sheet, s.cand[KEEP - 1, _SCORE])
    _keep(s, e2, sheet, x, y, th, turn, mirror, -1, alike)


@kernel
def best_place(f: Field, s: State, i: int, near: int, far: int, touch: int, stay: bool) -> float:
    """Look for the place of least weighted loss; leave it in candidate 0 and return its loss.

    ``stay`` counts the present place as a candidate.
    """
    t = s.piece_i[i, PI_SHAPE]
    alike = TOO_ALIKE * f.shape_f[t, SF_SIDE]
    for k in range(KEEP):
        s.cand[k, _SCORE] = 1e300
    if stay:
        sheet = s.piece_i[i, PI_SHEET]
        x = s.piece_f[i, PF_X]
        y = s.piece_f[i, PF_Y]
        th = s.piece_f[i, PF_TH]
        pose(f, s, t, x, y, th, s.piece_i[i, PI_MIRROR])
        e = weigh(f, s, i, sheet, 1e300)
        _keep(s, e, sheet, x, y, th, s.piece_i[i, PI_TURN], s.piece_i[i, PI_MIRROR], rail_of(f, s, i), alike)
    for _ in range(near):
        _sample(f, s, i, True, alike)
    for _ in range(far):
        _sample(f, s, i, False, alike)
    if not f.shape_i[t, SI_MUST]:
        for _ in range(touch):
            _touch(f, s, i, alike)
    for k in range(KEEP):
        if s.cand[k, _SCORE] < 1e299:
            _refine(f, s, i, k, 0.25, 0.02, 0.0873, 0.0175)
    best = 0
    for k in range(1, KEEP):
        if s.cand[k, _SCORE] < s.cand[best, _SCORE]:
            best = k
    if best:
        for c in range(8):
            s.cand[0, c] = s.cand[best, c]
    _refine(f, s, i, 0, 0.01, 0.0001, 0.00873, 0.000873)
    return float(s.cand[0, _SCORE])


@kernel
def take(f: Field, s: State, i: int) -> None:
    """Put piece ``i`` where candidate 0 lies."""
    s.piece_i[i, PI_SHEET] = int(s.cand[0, _SHEET])
    s.piece_i[i, PI_TURN] = int(s.cand[0, _TURN])
    s.piece_i[i, PI_MIRROR] = int(s.cand[0, _MIRROR])
    s.piece_f[i, PF_X] = s.cand[0, _X]
    s.piece_f[i, PF_Y] = s.cand[0, _Y]
    s.piece_f[i, PF_TH] = s.cand[0, _TH]
    settle(f, s, i)
    s.tally[C_MOVES] += 1


@kernel
def insert(f: Field, s: State, i: int, samples: int) -> float:
    """Lay piece ``i`` where it overlaps least; return the plain loss there."""
    best_place(f, s, i, 0, samples, samples // 4, False)
    take(f, s, i)
    n = s.piece_i.shape[0]
    total = s.loss[i, n]
    for j in range(n):
        total += s.loss[i, j]
    return float(total)
