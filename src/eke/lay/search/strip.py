"""Strategy for strips: solve, shorten, solve again; then squeeze in ever smaller steps.

Sparrow's exploration and compression (Gardeyn, Vanden Berghe, Wauters 2025, arXiv:2509.13329, algorithms
12 and 13) with four differences that suit seconds instead of minutes: the step adapts (longer after a
success, half after a failure), the cut where the strip is shortened is anywhere, linear programs press
together what squeezing found, and searches tell each other the shortest lay (not when a number of passes is
asked, which must give the same lay twice).
"""

from __future__ import annotations

from typing import Final

import numpy as np

from eke.lay.collide.tables import (
    PF_TH,
    PF_X,
    PF_X0,
    PF_X1,
    PF_Y,
    PI_ON,
    PI_TURN,
    SI_A,
    SI_NA,
    SI_NV,
    SI_V,
)
from eke.lay.search.compact import Compactor
from eke.lay.search.hand import Hand, Picture
from eke.lay.search.whole import construct, disrupt

FIRST_DENSITY: Final = 0.78
"""Density that the first attempt aims at; 5 % longer after each failure."""
LONGER: Final = 1.05
FIRST_STEP: Final = 0.015
MOST_STEP: Final = 0.02
LEAST_STEP: Final = 0.0015
"""Steps of the exploration, as shares of the length."""
SQUEEZE_SHARE: Final = 0.7
"""Share of the allowance after which only squeezing is done."""
SQUEEZE_FIRST: Final = 0.0015
SQUEEZE_LAST: Final = 0.00002
EXPLORE_GAIN: Final = 1e-3
"""While exploring, a linear program that gains less than this share is not followed by another."""
EXPLORE_PATIENCE: Final = 90
SQUEEZE_PATIENCE: Final = 60
MOST_PASSES: Final = 1_000_000
POOL: Final = 8
RETRIES: Final = 3
"""Attempts at one length before a smaller step is tried from the shortest lay."""


def length_now(hand: Hand) -> float:
    """Return the used length (scaled) of what lies now."""
    on = hand.state.piece_i[:, PI_ON] != 0
    return float(hand.state.piece_f[on, PF_X1].max() - hand.state.piece_f[on, PF_X0].min())


def set_length(hand: Hand, length: float) -> None:
    """Let the strip end at ``length`` (scaled; measured from its start including the border)."""
    border = float(hand.field.region_f[0, 0])
    hand.state.limit[0, 0] = 0.0 + min(0.0, border)
    hand.state.limit[0, 2] = length + 2.0 * border


def shorten(hand: Hand, length: float, by: float) -> None:
    """Cut ``by`` out of the strip at a random place: all that lies right of it moves left."""
    f = hand.state.piece_f
    mid = 0.5 * (f[:, PF_X0] + f[:, PF_X1])
    cut = float(hand.luck.uniform(0.0, length))
    f[:, PF_X] -= np.where(mid > cut, by, 0.0)
    set_length(hand, length - by)
    hand.settle()


def in_a_row(hand: Hand) -> None:
    """Hand in a first lay at once: one piece after the other, each at the turn that is shortest."""
    f = hand.field
    border = float(f.region_f[0, 0])
    low = float(f.region_f[0, 1])
    height = float(f.region_f[0, 3]) - low
    x = border
    group_turn: dict[int, int] = {}
    for i, t in enumerate(hand.ground.piece_shape):
        v0, nv, a0, na = (int(f.shape_i[t, c]) for c in (SI_V, SI_NV, SI_A, SI_NA))
        pts = np.column_stack([f.vx[v0 : v0 + nv], f.vy[v0 : v0 + nv]])
        found: list[tuple[float, int, float, float]] = []
        group = hand.ground.groups[i]
        for turn in range(na) if group not in group_turn else (group_turn[group],):
            c, s = np.cos(f.turns[a0 + turn]), np.sin(f.turns[a0 + turn])
            turned = pts @ np.array([[c, s], [-s, c]])
            (x0, y0), (x1, y1) = turned.min(axis=0), turned.max(axis=0)
            if y1 - y0 <= height:
                found.append((float(x1 - x0), turn, float(x0), float(y0)))
        if not found:
            return
        width, turn, x0, y0 = min(found)
        if group >= 0:
            group_turn[group] = turn
        hand.state.piece_i[i, PI_TURN] = turn
        hand.state.piece_f[i, PF_TH] = f.turns[a0 + turn]
        hand.state.piece_f[i, PF_X] = x - x0
        hand.state.piece_f[i, PF_Y] = low - y0
        x += width
    set_length(hand, x - border)
    hand.settle()
    hand.check()


def _take_over(hand: Hand, best: Picture, best_length: float) -> tuple[Picture, float]:
    """Return another search's shorter lay if there is one."""
    if hand.pace.passes is not None:
        return best, best_length
    other = hand.pace.shared
    if other is not None and other[0] < best_length * 0.9995:
        return other[1], other[0]
    return best, best_length


def _record(hand: Hand) -> bool:
    """Check what lies now and hand it in; tell the others."""
    if hand.check() is None:
        return False
    length = length_now(hand)
    if hand.pace.passes is None:
        hand.pace.tell(length, hand.picture(0.0))
    return True


def search(hand: Hand) -> None:
    """Search until the pace ends for the shortest lay."""
    area = float(hand.areas.sum())
    border = float(hand.field.region_f[0, 0])
    height = float(hand.field.region_f[0, 3] - hand.field.region_f[0, 1])
    widest = float(max(hand.field.shape_f[t, 3] for t in hand.ground.piece_shape))
    length = max(area / height / FIRST_DENSITY, widest)
    if not hand.started:
        if hand.worker == 0:
            in_a_row(hand)
        set_length(hand, length)
        construct(hand)
    else:
        set_length(hand, max(length_now(hand), length))
        hand.settle()
        length = float(hand.state.limit[0, 2]) - 2.0 * border
    while hand.go_on():
        if hand.separate(MOST_PASSES, EXPLORE_PATIENCE) <= 0.0 and _record(hand):
            break
        length *= LONGER
        set_length(hand, length)
        hand.forget_weights()
        hand.settle()
    else:
        return
    best = hand.picture(0.0)
    best_length = length_now(hand)
    step = FIRST_STEP
    compactor = Compactor(hand)
    while hand.go_on() and hand.pace.share(hand) < SQUEEZE_SHARE:
        best, best_length = _take_over(hand, best, best_length)
        found = _explore(hand, best, best_length, step)
        if found is not None:
            best, best_length = found
            if compactor.shorten(EXPLORE_GAIN) and _record(hand) and length_now(hand) < best_length:
                best, best_length = hand.picture(0.0), length_now(hand)
            step = min(MOST_STEP, step * 1.1)
        else:
            step = max(LEAST_STEP, step * 0.5)
    pressed = 0.0
    while hand.go_on():
        best, best_length = _take_over(hand, best, best_length)
        if best_length != pressed:
            hand.restore(best)
            if compactor.shorten() and _record(hand) and length_now(hand) < best_length:
                best, best_length = hand.picture(0.0), length_now(hand)
            pressed = best_length
        gone = (hand.pace.share(hand) - SQUEEZE_SHARE) / (1.0 - SQUEEZE_SHARE)
        gone = min(1.0, max(0.0, gone))
        by = SQUEEZE_FIRST * (SQUEEZE_LAST / SQUEEZE_FIRST) ** gone
        hand.restore(best)
        hand.forget_weights()
        _to_the_left(hand)
        shorten(hand, best_length, by * best_length)
        if hand.separate(MOST_PASSES, SQUEEZE_PATIENCE) <= 0.0 and _record(hand):
            best = hand.picture(0.0)
            best_length = length_now(hand)


def _to_the_left(hand: Hand) -> None:
    """Move the whole lay so that it begins where the strip begins."""
    f = hand.state.piece_f
    border = float(hand.field.region_f[0, 0])
    f[:, PF_X] -= float(f[:, PF_X0].min()) - border
    hand.settle()


def _explore(hand: Hand, best: Picture, best_length: float, step: float) -> tuple[Picture, float] | None:
    """Try a shorter strip a few times: from the shortest lay, then from what came near, shaken up."""
    pool: list[Picture] = []
    hand.restore(best)
    _to_the_left(hand)
    shorten(hand, best_length, step * best_length)
    hand.forget_weights()
    for attempt in range(RETRIES):
        if hand.separate(MOST_PASSES, EXPLORE_PATIENCE) <= 0.0 and _record(hand):
            return hand.picture(0.0), length_now(hand)
        if not hand.go_on() or attempt == RETRIES - 1:
            break
        pool.append(hand.picture())
        pool.sort(key=lambda p: p.loss)
        pick = min(len(pool) - 1, int(abs(hand.luck.normal(0.0, 0.25)) * len(pool)))
        hand.restore(pool[pick])
        disrupt(hand)
        hand.forget_weights()
    return None
