"""Which strategy lays which problem. Every strategy is a function from a hand to nothing."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from eke.lay.collide.tables import PF_TH, PF_X, PF_Y, PI_MIRROR, PI_ON, PI_SHEET, PI_TURN, SI_A
from eke.lay.problem import Placement, Problem
from eke.lay.search.hand import Hand

Strategy = Callable[[Hand], None]


def strategy_for(problem: Problem) -> Strategy:
    """Return the strategy for a problem."""
    from eke.lay.search import strip, whole

    return strip.search if problem.strip is not None else whole.search


def afterwards(problem: Problem) -> Strategy:
    """Return what to do with the allowance that is left once everything is on."""
    from eke.lay.search import fewer

    return fewer.search


def lay_start(hand: Hand, start: Sequence[Placement]) -> None:
    """Put the pieces of a hand where ``start`` says; the strategies go on from there."""
    g = hand.ground
    s = hand.state
    free: dict[str, list[int]] = {}
    for i, t in enumerate(g.piece_shape):
        free.setdefault(g.shapes[t].part.id, []).append(i)
    locked = list(g.problem.locked)
    s.piece_i[:, PI_ON] = 0
    for place in start:
        if place in locked:
            locked.remove(place)
            continue
        slots = free.get(place.part)
        if not slots:
            continue
        i = slots.pop(0)
        t = g.piece_shape[i]
        shape = g.shapes[t]
        sheet = g.sheet_ids.index(place.sheet) if place.sheet in g.sheet_ids else 0
        turn = min(
            range(len(shape.turns_deg)),
            key=lambda k: abs(math.remainder(place.turn_deg - shape.turns_deg[k], 360.0)),
        )
        off = math.radians(math.remainder(place.turn_deg - shape.turns_deg[turn], 360.0))
        limit = math.tau if shape.part.turns is None else math.radians(shape.part.tilt_deg)
        off = min(max(off, -limit), limit)
        th = float(g.field.turns[int(g.field.shape_i[t, SI_A]) + turn]) + off
        cx, cy = shape.centre
        if place.mirrored:
            cx = -cx
        s.piece_i[i, PI_ON] = 1
        s.piece_i[i, PI_SHEET] = sheet
        s.piece_i[i, PI_TURN] = turn
        s.piece_i[i, PI_MIRROR] = int(place.mirrored and shape.part.mirror_allowed)
        s.piece_f[i, PF_TH] = th
        s.piece_f[i, PF_X] = (place.x_mm + math.cos(th) * cx - math.sin(th) * cy) * g.scale
        s.piece_f[i, PF_Y] = (place.y_mm + math.sin(th) * cx + math.cos(th) * cy) * g.scale
    hand.keep_ties()
    hand.started = True
    hand.settle()
