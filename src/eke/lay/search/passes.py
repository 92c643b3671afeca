"""Passes of guided local search: move what overlaps, then make stubborn overlaps dearer.

References
----------
Voudouris and Tsang (1999), "Guided local search", European Journal of Operational Research 113; the
weights and their growth are sparrow's (arXiv:2509.13329, algorithms 8 to 10).
"""

from __future__ import annotations

from eke.lay.collide.chance import below
from eke.lay.collide.evaluate import plain_loss
from eke.lay.collide.tables import C_CURSOR, C_ORDER, C_PASSES, PI_FIXED, PI_ON, Field, State, kernel
from eke.lay.search.moves import FAR_SAMPLES, NEAR_SAMPLES, TOUCH_SAMPLES, best_place, take

GROW_LEAST = 1.2
GROW_MOST = 2.0
FADE = 0.95


@kernel
def overlaps(s: State, i: int) -> bool:
    """Return whether piece ``i`` overlaps anything."""
    n = s.piece_i.shape[0]
    for j in range(n + 1):  # noqa: SIM110 - kernels know no generators
        if s.loss[i, j] > 0.0:
            return True
    return False


@kernel
def begin_pass(s: State) -> int:
    """List the pieces that overlap in random order; return how many."""
    n = s.piece_i.shape[0]
    m = 0
    for i in range(n):
        if s.piece_i[i, PI_ON] and not s.piece_i[i, PI_FIXED] and overlaps(s, i):
            s.order[m] = i
            m += 1
    for k in range(m - 1, 0, -1):
        r = below(s.rng, k + 1)
        s.order[k], s.order[r] = s.order[r], s.order[k]
    s.tally[C_ORDER] = m
    s.tally[C_CURSOR] = 0
    return m


@kernel
def raise_weights(s: State) -> None:
    """Make what still overlaps dearer and let the rest fade."""
    n = s.piece_i.shape[0]
    worst = 0.0
    for i in range(n):
        if s.piece_i[i, PI_ON]:
            for j in range(i + 1, n + 1):
                worst = max(worst, s.loss[i, j])
    if worst <= 0.0:
        return
    for i in range(n):
        for j in range(i + 1, n + 1):
            d = s.loss[i, j]
            if d > 0.0:
                w = s.weight[i, j] * (GROW_LEAST + (GROW_MOST - GROW_LEAST) * d / worst)
            else:
                w = max(1.0, s.weight[i, j] * FADE)
            s.weight[i, j] = w
            if j < n:
                s.weight[j, i] = w


@kernel
def step(f: Field, s: State, moves: int) -> float:
    """Make up to ``moves`` moves, or the rest of the present pass if that is less.

    Returns the plain loss when the pass has ended and −1 when it has not: the caller looks at the clock
    and the stop flag in between, and the sequence of moves is the same wherever it looks.
    """
    if s.tally[C_CURSOR] >= s.tally[C_ORDER] and begin_pass(s) == 0:
        return 0.0
    done = 0
    while s.tally[C_CURSOR] < s.tally[C_ORDER]:
        if done >= moves:
            return -1.0
        i = s.order[s.tally[C_CURSOR]]
        s.tally[C_CURSOR] += 1
        if overlaps(s, i):
            best_place(f, s, i, NEAR_SAMPLES, FAR_SAMPLES, TOUCH_SAMPLES, True)
            take(f, s, i)
            done += 1
    s.tally[C_PASSES] += 1
    raise_weights(s)
    return plain_loss(s)
