"""Strategy: not everything fits. Leave out what matters least, then try to bring things back.

A lay is better when more classes of priority are complete, most important first, and then when it has
more area on.
"""

from __future__ import annotations

from typing import Final

from eke.lay.collide.tables import PI_ON
from eke.lay.search.hand import Hand, Picture

TRY_PASSES: Final = 80
"""Passes that an attempt with a given choice of pieces gets at first; it grows with the rounds."""
TRY_PATIENCE: Final = 30
MORE_PER_ROUND: Final = 0.05
MOST_EFFORT: Final = 6.0
HOPEFUL_FILL: Final = 0.9
"""Pieces are taken off until no more than this share of the free area is covered, before anything is tried."""


def one_by_one(hand: Hand) -> None:
    """Lay pieces in order of importance and size, each only where it overlaps nothing; hand in the lay.

    Gives a sound first answer at once, however little room there is.
    """
    for i in range(hand.n):
        hand.switch(i, False)
    fill_gaps(hand)
    hand.check()


def class_by_class(hand: Hand) -> None:
    """Solve for the most important class alone, then with the next one, as far as that goes."""
    for i in range(hand.n):
        hand.switch(i, False)
    for c in sorted({int(p) for p in hand.priority}):
        before = hand.picture(0.0)
        members = [i for i in range(hand.n) if hand.priority[i] == c]
        for i in sorted(members, key=lambda k: -float(hand.hulls[k])):
            hand.insert(i, 200)
            if not hand.go_on():
                break
        hand.forget_weights()
        if hand.separate(4 * TRY_PASSES, 2 * TRY_PATIENCE) > 0.0:
            hand.restore(before)
            break
        bare = hand.picture(0.0)
        fill_gaps(hand)
        hand.check()
        hand.restore(bare)
    fill_gaps(hand)
    hand.check()


def fill_gaps(hand: Hand) -> None:
    """Lay each missing piece where it overlaps nothing, if there is such a place."""
    off = [i for i in range(hand.n) if not hand.is_on(i)]
    for i in sorted(off, key=lambda k: (int(hand.priority[k]), -float(hand.hulls[k]))):
        if hand.insert(i, 250) > 0.0:
            hand.switch(i, False)
        if not hand.go_on():
            break


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
    """Return what this hand strives for with its choice of pieces.

    Worker 0 goes by the rank that counts in the end: classes complete, then area. The others go by the area
    of the most important class, then of the next: the way to a complete class leads over steps that the first
    rank would not take.
    """
    off = [i for i in range(hand.n) if not hand.is_on(i)]
    classes = sorted({int(p) for p in hand.priority})
    if hand.worker % 2 == 1:
        on = hand.state.piece_i[:, PI_ON] != 0
        return tuple(float(hand.areas[on & (hand.priority == c)].sum()) for c in classes)
    short = {int(hand.priority[i]) for i in off}
    area = sum(float(hand.areas[i]) for i in range(hand.n) if hand.is_on(i))
    return (*(float(c not in short) for c in classes), area)


def too_much(hand: Hand, share: float) -> bool:
    """Return whether the pieces that are on cover more than ``share`` of what is free."""
    on = sum(float(hand.areas[i]) for i in range(hand.n) if hand.is_on(i))
    return on > share * max(sum(row) for row in hand.ground.free_areas)


def search(hand: Hand) -> None:
    """Search until the pace ends: down from all pieces, or up from those that lay themselves at once."""
    if hand.worker % 2 == 1:
        class_by_class(hand)
        bring_back(hand)
        return
    if hand.closest is not None:
        hand.restore(hand.closest)
    hand.forget_weights()
    while too_much(hand, HOPEFUL_FILL):
        drop_one(hand)
    while hand.go_on():
        loss = hand.separate(2 * TRY_PASSES, TRY_PATIENCE)
        if loss <= 0.0:
            break
        drop_one(hand)
        hand.forget_weights()
    else:
        return
    fill_gaps(hand)
    hand.check()
    bring_back(hand)


def bring_back(hand: Hand) -> None:
    """From a sound lay: bring missing pieces back, in exchange for lesser ones where need be."""
    best: Picture = hand.picture(0.0)
    best_rank = rank(hand)
    effort = 1.0
    while hand.go_on():
        effort = min(MOST_EFFORT, effort + MORE_PER_ROUND)
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
            if hand.luck.random() < 0.5:
                for j in range(hand.n):
                    if hand.is_on(j) and hand.priority[j] > hand.priority[i] and hand.state.loss[i, j] > 0.0:
                        hand.switch(j, False)
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
        done = hand.separate(int(effort * TRY_PASSES), int(effort * TRY_PATIENCE)) <= 0.0
        if done:
            fill_gaps(hand)
        if done and hand.check() is not None:
            best, best_rank = hand.picture(0.0), rank(hand)
        else:
            hand.restore(best)
