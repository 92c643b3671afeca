"""Where a piece may lie at all: on a rail, in phase with the stripes. Both are lines that a place is moved to.

A *rail* is a line for the reference point, at one turn. A *phase* asks that a point of the piece lies within a
tolerance of one of many parallel lines, a period apart; two directions of stripes leave a lattice of points. What
cannot be kept by moving (a second point on the same stripes, a rail along them) counts as a loss, like any hazard.
"""

from __future__ import annotations

import math

from eke.lay.collide.tables import (
    B_POINTS,
    PF_PHASE,
    PF_TH,
    PF_X,
    PF_Y,
    PI_MIRROR,
    PI_SHAPE,
    PI_SHEET,
    PI_TURN,
    RL_DX,
    RL_DY,
    RL_LENGTH,
    RL_MIRROR,
    RL_SHEET,
    RL_TH,
    RL_TURN,
    RL_X,
    RL_Y,
    RP_DX,
    RP_DY,
    RP_LEAD,
    RP_PERIOD,
    RP_TOL,
    RP_X,
    RP_Y,
    RP_ZERO,
    SI_MUST,
    SI_NPHASE,
    SI_NRAIL,
    SI_PHASE,
    SI_RAIL,
    Field,
    State,
    kernel,
)

ON_RAIL = 1e-6
"""A piece this near to a rail lies on it (scaled mm; radians)."""
CROSSES = 0.05
"""A rail whose direction has less than this share across the stripes is as good as along them."""
PHASE_FACTOR = 2.0
"""A mm out of phase counts this much more than a mm of overlap, as the edge of a sheet does."""


@kernel
def astray(f: Field, s: State, i: int, k: int, row: int, x: float, y: float) -> float:
    """Return how far a point is beyond the tolerance of rule ``k`` of piece ``i``, with its sign (scaled mm)."""
    period = f.phases[row, RP_PERIOD]
    along = x * f.phases[row, RP_DX] + y * f.phases[row, RP_DY] - f.phases[row, RP_ZERO]
    turns = along / period - s.piece_f[i, PF_PHASE + k]
    off = (turns - math.floor(turns + 0.5)) * period
    tol = f.phases[row, RP_TOL]
    if off > tol:
        return float(off - tol)
    if off < -tol:
        return float(off + tol)
    return 0.0


@kernel
def out_of_phase(f: Field, s: State, i: int, t: int, sheet: int) -> float:
    """Return by how much the posed shape, as piece ``i``, breaks its phase rules, weighted (scaled mm)."""
    n = f.shape_i[t, SI_NPHASE]
    total = 0.0
    for k in range(n):
        row = f.shape_i[t, SI_PHASE] + sheet * n + k
        if f.phases[row, RP_PERIOD] > 0.0:
            off = abs(astray(f, s, i, k, row, s.box[B_POINTS + 2 * k], s.box[B_POINTS + 2 * k + 1]))
            if off > ON_RAIL:
                total += off
    return PHASE_FACTOR * total


@kernel
def in_phase(
    f: Field, s: State, i: int, t: int, sheet: int, x: float, y: float, th: float, mirror: int
) -> tuple[float, float]:
    """Return the place nearest to (x, y) where piece ``i`` keeps its leading phase rules."""
    co = math.cos(th)
    si = math.sin(th)
    sg = -1.0 if mirror else 1.0
    n = f.shape_i[t, SI_NPHASE]
    m = 0
    e1 = ux1 = uy1 = e2 = ux2 = uy2 = 0.0
    for k in range(n):
        row = f.shape_i[t, SI_PHASE] + sheet * n + k
        if f.phases[row, RP_LEAD] == 0.0 or f.phases[row, RP_PERIOD] <= 0.0:
            continue
        u = sg * f.phases[row, RP_X]
        v = f.phases[row, RP_Y]
        e = astray(f, s, i, k, row, co * u - si * v + x, si * u + co * v + y)
        if m == 0:
            e1, ux1, uy1 = e, f.phases[row, RP_DX], f.phases[row, RP_DY]
        else:
            e2, ux2, uy2 = e, f.phases[row, RP_DX], f.phases[row, RP_DY]
        m += 1
    if m == 1:
        return x - e1 * ux1, y - e1 * uy1
    if m == 2:
        det = ux1 * uy2 - uy1 * ux2
        return x + (e2 * uy1 - e1 * uy2) / det, y + (e1 * ux2 - e2 * ux1) / det
    return x, y


@kernel
def on_rail(f: Field, s: State, i: int, t: int, rail: int, x: float, y: float) -> tuple[float, float]:
    """Return the place on a rail nearest to (x, y), in phase where the rail crosses the stripes."""
    dx = f.rails[rail, RL_DX]
    dy = f.rails[rail, RL_DY]
    x0 = f.rails[rail, RL_X]
    y0 = f.rails[rail, RL_Y]
    length = f.rails[rail, RL_LENGTH]
    a = min(max((x - x0) * dx + (y - y0) * dy, 0.0), length)
    n = f.shape_i[t, SI_NPHASE]
    if n > 0 and length > 0.0:
        th = f.rails[rail, RL_TH]
        co = math.cos(th)
        si = math.sin(th)
        sg = -1.0 if f.rails[rail, RL_MIRROR] > 0.0 else 1.0
        for k in range(n):
            row = f.shape_i[t, SI_PHASE] + int(f.rails[rail, RL_SHEET]) * n + k
            across = f.phases[row, RP_DX] * dx + f.phases[row, RP_DY] * dy
            if f.phases[row, RP_LEAD] == 0.0 or f.phases[row, RP_PERIOD] <= 0.0 or abs(across) < CROSSES:
                continue
            u = sg * f.phases[row, RP_X]
            v = f.phases[row, RP_Y]
            px = co * u - si * v + x0 + a * dx
            py = si * u + co * v + y0 + a * dy
            a -= astray(f, s, i, k, row, px, py) / across
            step = f.phases[row, RP_PERIOD] / abs(across)
            if a < 0.0:
                a += step
            elif a > length:
                a -= step
            break
        a = min(max(a, 0.0), length)
    return x0 + a * dx, y0 + a * dy


@kernel
def rail_of(f: Field, s: State, i: int) -> int:
    """Return the rail that piece ``i`` lies on now, or −1 when it lies on none."""
    t = s.piece_i[i, PI_SHAPE]
    for k in range(f.shape_i[t, SI_RAIL], f.shape_i[t, SI_RAIL] + f.shape_i[t, SI_NRAIL]):
        if (
            f.rails[k, RL_SHEET] == s.piece_i[i, PI_SHEET]
            and f.rails[k, RL_TURN] == s.piece_i[i, PI_TURN]
            and f.rails[k, RL_MIRROR] == s.piece_i[i, PI_MIRROR]
            and abs(f.rails[k, RL_TH] - s.piece_f[i, PF_TH]) < ON_RAIL
        ):
            x = s.piece_f[i, PF_X] - f.rails[k, RL_X]
            y = s.piece_f[i, PF_Y] - f.rails[k, RL_Y]
            off = x * f.rails[k, RL_DY] - y * f.rails[k, RL_DX]
            along = x * f.rails[k, RL_DX] + y * f.rails[k, RL_DY]
            if abs(off) < ON_RAIL and -ON_RAIL <= along <= f.rails[k, RL_LENGTH] + ON_RAIL:
                return k
    return -1


@kernel
def nearest_rail(f: Field, s: State, i: int) -> int:
    """Return the rail of piece ``i`` that is nearest to where it lies, on its own sheet if there is one."""
    t = s.piece_i[i, PI_SHAPE]
    best = f.shape_i[t, SI_RAIL]
    least = 1e300
    for k in range(f.shape_i[t, SI_RAIL], f.shape_i[t, SI_RAIL] + f.shape_i[t, SI_NRAIL]):
        x = s.piece_f[i, PF_X] - f.rails[k, RL_X]
        y = s.piece_f[i, PF_Y] - f.rails[k, RL_Y]
        a = min(max(x * f.rails[k, RL_DX] + y * f.rails[k, RL_DY], 0.0), f.rails[k, RL_LENGTH])
        d = math.hypot(x - a * f.rails[k, RL_DX], y - a * f.rails[k, RL_DY])
        if f.rails[k, RL_SHEET] != s.piece_i[i, PI_SHEET]:
            d += 1e9
        if f.rails[k, RL_TURN] != s.piece_i[i, PI_TURN] or f.rails[k, RL_MIRROR] != s.piece_i[i, PI_MIRROR]:
            d += 1e6
        if d < least:
            least = d
            best = k
    return int(best)


@kernel
def put_right(f: Field, s: State, i: int) -> None:
    """Bring piece ``i`` onto a rail if it must lie on one, and into phase; do nothing to any other."""
    t = s.piece_i[i, PI_SHAPE]
    rail = -1
    if f.shape_i[t, SI_NRAIL] > 0:
        rail = rail_of(f, s, i)
        if rail < 0 and f.shape_i[t, SI_MUST] > 0:
            rail = nearest_rail(f, s, i)
    x = s.piece_f[i, PF_X]
    y = s.piece_f[i, PF_Y]
    if rail >= 0:
        s.piece_i[i, PI_SHEET] = int(f.rails[rail, RL_SHEET])
        s.piece_i[i, PI_TURN] = int(f.rails[rail, RL_TURN])
        s.piece_i[i, PI_MIRROR] = int(f.rails[rail, RL_MIRROR])
        s.piece_f[i, PF_TH] = f.rails[rail, RL_TH]
        x, y = on_rail(f, s, i, t, rail, x, y)
    elif f.shape_i[t, SI_NPHASE] > 0:
        x, y = in_phase(
            f, s, i, t, s.piece_i[i, PI_SHEET], x, y, s.piece_f[i, PF_TH], s.piece_i[i, PI_MIRROR]
        )
    s.piece_f[i, PF_X] = x
    s.piece_f[i, PF_Y] = y
