"""Strategy: not everything fits. Leave out what matters least, then try to bring things back.

A lay is better when more classes of priority are complete, most important first, and then when it has
more area on.
"""

from __future__ import annotations

from typing import Final

from eke.lay.search.hand import Hand, Picture

TRY_PASSES: Final = 60
"""Passes that an attempt with a given choice of pieces gets."""
TRY_PATIENCE: Final = 25


def one_by_one(hand: Hand) -> None:
    """Lay pieces in order of importance and size, each only where it overlaps nothing; hand in the lay.

    Gives a sound first answer at once, however little room there is.
    """
    for i in range(hand.n):
        hand.switch(i, False)
    for i in sorted(range(hand.n), key=lambda k: (int(hand.priority[k]), -float(hand.hulls[k]))):
        if hand.insert(i, 200) > 0.0:
            hand.switch(i, False)
        if not hand.go_on():
            break
    hand.check()


def drop_one(hand: Hand) -> None:
    """Take off one piece: of the least important class that is on, most loss for its area, with luck."""
    on = [i for i in range(hand.n) if hand.is_on(i)]
    least = max(int(hand.priority[i]) for i in on)
    on = [i for i in on if hand.priority[i] == least]
    hand.switch(
        max(
            on,
            key=lambda i: (
                (hand.loss_of(i) + 1e-3) / float(hand.areas[i]) * float(hand.luck.uniform(0.5, 2.0))
            ),
        ),
        False,
    )


def rank(hand: Hand) -> tuple[float, ...]:
    """Return the rank of the present choice of pieces: classes complete, then area."""
    off = [i for i in range(hand.n) if not hand.is_on(i)]
    classes = sorted({int(p) for p in hand.priority})
    short = {int(hand.priority[i]) for i in off}
    area = sum(float(hand.areas[i]) for i in range(hand.n) if hand.is_on(i))
    return (*(float(c not in short) for c in classes), area)


def search(hand: Hand) -> None:
    """Search until the pace ends."""
    if hand.closest is not None:
        hand.restore(hand.closest)
    hand.forget_weights()
    while hand.go_on():
        loss = hand.separate(TRY_PASSES, TRY_PATIENCE)
        if loss <= 0.0:
            break
        drop_one(hand)
    else:
        return
    hand.check()
    best: Picture = hand.picture(0.0)
    best_rank = rank(hand)
    while hand.go_on():
        off = [i for i in range(hand.n) if not hand.is_on(i)]
        if not off:
            return
        hand.forget_weights()
        # the most important missing piece first, the larger first, with some luck
        off.sort(
            key=lambda i: (int(hand.priority[i]), -float(hand.areas[i]) * float(hand.luck.uniform(0.4, 1.6)))
        )
        for i in off[: 1 + int(hand.luck.integers(min(2, len(off))))]:
            hand.insert(i, 300)
            on = [
                j for j in range(hand.n) if hand.is_on(j) and j != i and hand.priority[j] >= hand.priority[i]
            ]
            smaller = [j for j in on if hand.priority[j] > hand.priority[i] or hand.areas[j] < hand.areas[i]]
            if smaller and hand.luck.random() < 0.5:
                worst = max(
                    smaller, key=lambda j: float(hand.state.loss[i, j]) + float(hand.luck.uniform(0, 1e-3))
                )
                hand.switch(worst, False)
        if rank(hand) <= best_rank:
            hand.restore(best)
            continue
        if hand.separate(TRY_PASSES, TRY_PATIENCE) <= 0.0 and hand.check() is not None:
            best, best_rank = hand.picture(0.0), rank(hand)
        else:
            hand.restore(best)
