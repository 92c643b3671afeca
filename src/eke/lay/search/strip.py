"""Strategy for strips: solve, shorten, solve again; then squeeze in ever smaller steps.

Sparrow's exploration and compression (Gardeyn, Vanden Berghe, Wauters 2025, arXiv:2509.13329, algorithms
12 and 13) with differences that suit seconds instead of minutes: the first steps are large, the cut where the
strip is shortened is anywhere, linear programs press together what was found and part what squeezing left in each
other, and searches tell each other the shortest lay (not when a number of passes is asked, which must give the same
lay twice).
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
from eke.lay.search.whole import RANK_SPREAD, construct, disrupt, solved

FIRST_DENSITY: Final = 0.65
"""Density that the first attempt aims at; 5 % longer after each failure."""
LONGER: Final = 1.05
FIRST_PATIENCE: Final = 90
RUSH_STEP: Final = 0.02
"""Share of its length by which the strip is shortened until that fails for the first time."""
RUSH_PATIENCE: Final = 40
STEP: Final = 0.002
LEAST_STEP: Final = 0.001
FASTER: Final = 1.1
SLOWER: Final = 0.5
"""The steps after that: small ones nearly always succeed, and keep the room there is spread over the whole lay."""
PATIENCE: Final = 200
STRIKES: Final = 2
SQUEEZE_SHARE: Final = 0.8
"""Share of the allowance after which only squeezing is done."""
SQUEEZE_FIRST: Final = 0.0015
SQUEEZE_LAST: Final = 0.00002
SQUEEZE_PATIENCE: Final = 60
MOST_PASSES: Final = 1_000_000
POOL: Final = 20
"""Arrangements that came near, to go on from."""
CHECK_GAIN: Final = 0.004
"""While shortening, a lay gets its exact check when it is shorter by this share than the last that passed."""


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


class _Shortest:
    """The shortest lay of one hand so far.

    The exact check takes longer than many a step, so lays that are only a little shorter than the last that passed
    wait for it; when one fails later, the last that passed is the shortest again. Other searches hear of what has
    passed, unless it is not to be ``told``.
    """

    def __init__(self, hand: Hand, *, told: bool = True) -> None:
        self.hand = hand
        self.told = told
        self.picture = self._passed = hand.picture(0.0)
        self.length = self._passed_length = length_now(hand)

    def keep(self, *, sure: bool = False) -> bool:
        """Keep what lies now if it is shorter; return whether it is. ``sure``: only after the exact check."""
        length = length_now(self.hand)
        if length >= self.length:
            return False
        if sure or length < (1.0 - CHECK_GAIN) * self._passed_length:
            return self._check()
        self.picture, self.length = self.hand.picture(0.0), length
        return True

    def hand_in(self) -> None:
        """Give the shortest lay the exact check that it may still need, and leave the hand there."""
        self.restore()
        if self.length < self._passed_length:
            self._check()

    def restore(self) -> None:
        """Go back to the shortest lay."""
        self.hand.restore(self.picture)

    def take_over(self) -> None:
        """Take another search's lay if it is shorter; not where passes are counted, which must not depend on it."""
        other = self.hand.pace.shared
        if self.hand.pace.passes is None and other is not None and other[0] < self.length * 0.9995:
            self.length, self.picture = self._passed_length, self._passed = other

    def _check(self) -> bool:
        hand = self.hand
        if not solved(hand):
            self.picture, self.length = self._passed, self._passed_length
            return False
        self.picture = self._passed = hand.picture(0.0)
        self.length = self._passed_length = length_now(hand)
        if self.told and hand.pace.passes is None:
            hand.pace.tell(self.length, self.picture)
        return True

    def take_from(self, other: _Shortest) -> None:
        """Take over another one's lay if it is shorter; it has passed the check."""
        if other.length < self.length:
            self.length, self.picture = self._passed_length, self._passed = other.length, other.picture


def search(hand: Hand) -> None:
    """Search until the pace ends for the shortest lay."""
    if not _begin(hand):
        return
    best = _Shortest(hand)
    compactor = Compactor(hand)
    pressed = _shorten(best, compactor)
    best.hand_in()
    best.take_from(pressed)
    _squeeze(best, compactor)
    best.hand_in()


def _begin(hand: Hand) -> bool:
    """Lay everything on a strip of moderate length, longer where need be; return whether there was time."""
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
        if hand.separate(MOST_PASSES, FIRST_PATIENCE) <= 0.0 and solved(hand):
            return True
        length *= LONGER
        set_length(hand, length)
        hand.forget_weights()
        hand.settle()
    return False


def _shorten(best: _Shortest, compactor: Compactor) -> _Shortest:
    """Shorten the strip, solve, and again: in a rush until that fails, then in small steps.

    A length that resists is tried from the shortest lay with half the step; at the least step there is no way back:
    what came near is shaken up until it gives way (sparrow's exploration). A linear program sees what each of these
    comes to when it is parted and pressed together; the shortest of them is returned, but not gone on from, since
    a lay that is pressed together at one end has no room left that small steps could use.
    """
    hand = best.hand
    pressed = _Shortest(hand, told=False)
    step, rush = RUSH_STEP, True
    near: list[Picture] = []
    aim = 0.0
    while hand.go_on() and hand.pace.share(hand) < SQUEEZE_SHARE:
        best.take_over()
        if aim != (1.0 - step) * best.length:
            aim = (1.0 - step) * best.length
            near.clear()
            best.restore()
            _to_the_left(hand)
            shorten(hand, best.length, step * best.length)
        else:
            near.sort(key=lambda p: p.loss)
            del near[POOL:]
            hand.restore(near[min(len(near) - 1, int(abs(hand.luck.normal(0.0, RANK_SPREAD)) * len(near)))])
            disrupt(hand)
        hand.forget_weights()
        patience, strikes = (RUSH_PATIENCE, 1) if rush else (PATIENCE, STRIKES)
        if hand.separate(MOST_PASSES, patience, strikes) <= 0.0 and best.keep():
            step = step if rush else min(STEP, step * FASTER)
            continue
        near.append(hand.picture())
        if step <= LEAST_STEP:
            _part(pressed, compactor)
            set_length(hand, aim)
        step = STEP if rush else max(LEAST_STEP, step * SLOWER)
        rush = False
    return pressed


def _part(best: _Shortest, compactor: Compactor) -> None:
    """Part what overlaps now and press it together; keep the outcome if it is shorter."""
    set_length(best.hand, 2.0 * best.length)
    if best.hand.go_on() and compactor.part_and_shorten():
        best.keep(sure=True)


def _squeeze(best: _Shortest, compactor: Compactor) -> None:
    """Press everything together by linear programs; then shorten in ever smaller steps, and press again."""
    hand = best.hand
    pressed = 0.0
    while hand.go_on():
        best.take_over()
        if best.length != pressed:
            best.restore()
            if compactor.shorten():
                best.keep(sure=True)
            pressed = best.length
        gone = (hand.pace.share(hand) - SQUEEZE_SHARE) / (1.0 - SQUEEZE_SHARE)
        gone = min(1.0, max(0.0, gone))
        best.restore()
        hand.forget_weights()
        _to_the_left(hand)
        shorten(hand, best.length, best.length * SQUEEZE_FIRST * (SQUEEZE_LAST / SQUEEZE_FIRST) ** gone)
        if hand.separate(MOST_PASSES, SQUEEZE_PATIENCE) <= 0.0:
            best.keep()
        else:
            _part(best, compactor)


def _to_the_left(hand: Hand) -> None:
    """Move the whole lay so that it begins where the strip begins."""
    f = hand.state.piece_f
    border = float(hand.field.region_f[0, 0])
    f[:, PF_X] -= float(f[:, PF_X0].min()) - border
    hand.settle()
