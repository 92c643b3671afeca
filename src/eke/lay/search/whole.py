"""Strategy: get everything on. Overlaps allowed, then worked off; big swaps when that gets stuck.

The outer loop is sparrow's exploration (Gardeyn, Vanden Berghe, Wauters 2025, arXiv:2509.13329,
algorithm 12) with a fixed material in place of a shrinking strip.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from eke.lay.search import partial
from eke.lay.search.compact import Compactor
from eke.lay.search.hand import PATIENCE, Hand, Picture, nudge
from eke.lay.ties import DEAL_SHARE

POOL: Final = 12
"""Arrangements that are kept to go on from."""
RANK_SPREAD: Final = 0.25
"""Half-normal spread of the rank that is picked, as a share of the pool (sparrow's 0.25)."""
LARGE_SHARE: Final = 0.75
"""Swaps are between the largest pieces that make up this share of all hull area."""
MOST_PASSES: Final = 100_000
WHOLE_SHARE: Final = (0.85, 0.7)
"""Share of the allowance after which worker 0, and the others, turn to leaving pieces out."""
NUDGE: Final = 1e-3
ROUNDS: Final = 3
ROUND_PATIENCE: Final = 40
"""Passes without progress after which a linear program tries to part what still overlaps, ``ROUNDS`` times."""


def construct(hand: Hand, samples: int = 200) -> float:
    """Lay all pieces, largest first, each where it overlaps least; return the loss."""
    hand.state.piece_i[:, 4] = 0
    hand.deal()
    order = sorted(range(hand.n), key=lambda i: -hand.hulls[i] * float(hand.luck.uniform(0.9, 1.1)))
    for i in order:
        hand.insert(i, samples)
        if not hand.go_on():
            for k in order:
                hand.state.piece_i[k, 4] = 1
            break
    return hand.settle()


def go_on_from_start(hand: Hand, samples: int = 200) -> float:
    """Hand in the lay that was given if it is sound, then lay what it left out; return the loss.

    Nothing that was given is moved here: only what overlaps is moved later, so the lay stays the maker's as far
    as it can.
    """
    sound = hand.check() is not None
    if not sound and hand.worker == 0:
        given = hand.picture()
        partial.one_by_one(hand)
        hand.restore(given)
    elif sound and hand.worker < 2:
        given = hand.picture(0.0)
        partial.fill_gaps(hand)
        hand.check()
        hand.restore(given)
    off = [i for i in range(hand.n) if not hand.is_on(i)]
    for i in sorted(off, key=lambda k: -hand.hulls[k]):
        hand.insert(i, samples)
        if not hand.go_on():
            break
    hand.forget_weights()
    return hand.settle()


def disrupt(hand: Hand) -> None:
    """Swap two large pieces (of different shape), or change what some pieces have in common."""
    if hand.ground.ties.any and hand.luck.random() < DEAL_SHARE and hand.deal_one():
        hand.settle()
        return
    on = [i for i in range(hand.n) if hand.is_on(i)]
    if len(on) < 2:
        return
    by_size = sorted(on, key=lambda i: -hand.hulls[i])
    sums = np.cumsum([hand.hulls[i] for i in by_size])
    large = by_size[: max(2, int(np.searchsorted(sums, LARGE_SHARE * sums[-1])) + 1)]
    i = int(hand.luck.choice(large))
    others = [j for j in large if hand.ground.piece_shape[j] != hand.ground.piece_shape[i]] or [
        j for j in on if j != i
    ]
    hand.swap(i, int(hand.luck.choice(others)))
    hand.settle()


def solved(hand: Hand) -> bool:
    """Return whether what lies now passes the exact check; nudge and settle it a few times if not."""
    for _ in range(4):
        if hand.check() is not None:
            return True
        nudge(hand, NUDGE)
        if hand.separate(50) > 0.0:
            return False
    return False


def _solve(hand: Hand, compactor: Compactor) -> float:
    """Work off what overlaps; where that gets stuck, let a linear program try, and go on. Return the loss."""
    loss = 1.0
    for _ in range(ROUNDS):
        loss = hand.separate(MOST_PASSES, ROUND_PATIENCE)
        if loss <= 0.0 or compactor.part():
            return 0.0
        if not hand.go_on():
            break
    return loss


def search(hand: Hand) -> None:
    """Search until everything is on or the pace ends, then for the best that leaves something out."""
    until = WHOLE_SHARE[0] if hand.worker == 0 else WHOLE_SHARE[1]
    if hand.pace.hopeless or partial.too_much(hand, 1.0):
        until = 0.0
    pool: list[Picture] = []
    compactor = Compactor(hand)
    loss = go_on_from_start(hand) if hand.started else construct(hand)
    if loss > 0.0 and hand.worker < 2 and not hand.started:
        # sound lays of what matters most, at once, for whoever stops early
        first = hand.picture(loss)
        if hand.worker == 0:
            partial.one_by_one(hand)
        else:
            partial.class_by_class(hand)
        hand.restore(first)
        hand.forget_weights()
    while hand.go_on():
        if loss > 0.0:
            loss = _solve(hand, compactor) if until > 0.0 else hand.separate(PATIENCE)
        if loss <= 0.0 and solved(hand):
            hand.pace.win(hand)
            return
        here = hand.picture()
        hand.note_closest(here)
        if hand.pace.share(hand) >= until:
            break
        pool.append(here)
        pool.sort(key=lambda p: p.loss)
        del pool[POOL:]
        pick = min(len(pool) - 1, int(abs(hand.luck.normal(0.0, RANK_SPREAD)) * len(pool)))
        hand.restore(pool[pick])
        disrupt(hand)
        hand.forget_weights()
        loss = float(hand.state.loss.sum())
    if hand.go_on():
        partial.search(hand)
