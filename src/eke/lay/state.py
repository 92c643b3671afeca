"""Where everything lies, for one search thread: made anew from the prepared problem, and translated back."""

from __future__ import annotations

import math

import numpy as np

from eke.lay.collide.tables import (
    B_POINTS,
    F32,
    PF_PHASE,
    PF_TH,
    PF_X,
    PF_Y,
    PI_GROUP,
    PI_MIRROR,
    PI_ON,
    PI_P,
    PI_SHAPE,
    PI_SHEET,
    PI_TURN,
    PI_V,
    SI_A,
    SI_NP,
    SI_NPHASE,
    SI_NV,
    SI_P,
    State,
)
from eke.lay.prepare import Ground
from eke.lay.problem import Placement


def new_state(ground: Ground, seed: int) -> State:
    """Return a state with every piece in the middle of its sheet at its first turn, weights at 1."""
    f = ground.field
    n = len(ground.piece_shape)
    rules = max((int(f.shape_i[t, SI_NPHASE]) for t in ground.piece_shape), default=0)
    piece_i = np.zeros((n, 9), np.int64)
    piece_f = np.zeros((n, PF_PHASE + rules), np.float64)
    v = p = 0
    most = 1
    mostp = 1
    qr: list[F32] = []
    for i, t in enumerate(ground.piece_shape):
        piece_i[i, PI_SHAPE] = t
        piece_i[i, PI_ON] = 1
        piece_i[i, PI_V] = v
        piece_i[i, PI_P] = p
        piece_i[i, PI_GROUP] = ground.groups[i]
        piece_f[i, PF_TH] = f.turns[f.shape_i[t, SI_A]]
        v += int(f.shape_i[t, SI_NV])
        p += int(f.shape_i[t, SI_NP])
        most = max(most, int(f.shape_i[t, SI_NV]))
        mostp = max(mostp, int(f.shape_i[t, SI_NP]))
        qr.append(f.pr[f.shape_i[t, SI_P] : f.shape_i[t, SI_P] + f.shape_i[t, SI_NP]])
    mix = (seed * 0x9E3779B97F4A7C15 + 0xD1B54A32D192ED03) % (1 << 64)
    mix ^= mix >> 31
    mix = mix * 0xBF58476D1CE4E5B9 % (1 << 64)
    return State(
        piece_i,
        piece_f,
        np.zeros(max(v, 1)),
        np.zeros(max(v, 1)),
        np.zeros(max(p, 1), np.float32),
        np.zeros(max(p, 1), np.float32),
        np.concatenate(qr).astype(np.float32) if qr else np.zeros(1, np.float32),
        np.zeros((n, n + 1)),
        np.ones((n, n + 1)),
        ground.limits.copy(),
        np.zeros(max(n, 1), np.int64),
        np.zeros(8, np.int64),
        np.array([mix or 1], np.uint64),
        np.zeros(most),
        np.zeros(most),
        np.zeros(mostp, np.float32),
        np.zeros(mostp, np.float32),
        np.zeros(B_POINTS + 2 * rules),
        np.zeros(most),
        np.zeros(most, np.int64),
        np.zeros(most, np.int64),
        np.zeros((4, 8)),
    )


def placements_of(ground: Ground, state: State) -> tuple[Placement, ...]:
    """Translate a state back to placements in mm and degrees, the locked ones first."""
    out = list(ground.problem.locked)
    for i, t in enumerate(ground.piece_shape):
        if not state.piece_i[i, PI_ON]:
            continue
        shape = ground.shapes[t]
        base = shape.turns_deg[int(state.piece_i[i, PI_TURN])]
        base_rad = float(
            ground.field.turns[int(ground.field.shape_i[t, SI_A]) + int(state.piece_i[i, PI_TURN])]
        )
        turn = base + math.degrees(float(state.piece_f[i, PF_TH]) - base_rad)
        rad = math.radians(turn)
        mirrored = bool(state.piece_i[i, PI_MIRROR])
        cx, cy = shape.centre
        if mirrored:
            cx = -cx
        x = float(state.piece_f[i, PF_X]) / ground.scale - (math.cos(rad) * cx - math.sin(rad) * cy)
        y = float(state.piece_f[i, PF_Y]) / ground.scale - (math.sin(rad) * cx + math.cos(rad) * cy)
        sheet = ground.sheet_ids[int(state.piece_i[i, PI_SHEET])]
        out.append(Placement(shape.part.id, sheet, turn % 360.0, x, y, mirrored))
    return tuple(out)
