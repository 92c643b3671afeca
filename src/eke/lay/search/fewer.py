"""Strategy, once everything is on: empty one sheet after the other, the dearest saving first.

Each sheet is tried once a round with a bounded number of passes, so the whole ends by itself.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from eke.lay.collide.tables import PI_SHEET, RF_SHARE
from eke.lay.search.hand import Hand

MOST_FILL: Final = 0.92
"""Fuller than this the sheets that are left need not be tried."""
TRY_PASSES: Final = 400
TRY_PATIENCE: Final = 100
FAR_AWAY: Final = 1e7
"""Where a closed sheet's limits are put (scaled mm): nothing lies there without a huge loss."""


def search(hand: Hand) -> None:
    """Empty sheets while that works; every lay that uses less is handed in."""
    ground = hand.ground
    sheets = len(ground.sheet_ids)
    if sheets < 2:
        return
    cost = [s.cost for s in ground.problem.sheets]
    locked = {p.sheet for p in ground.problem.locked}
    shares = hand.field.region_f.copy()
    hand.field = hand.field._replace(region_f=shares)
    open_: set[int] = set(range(sheets))
    areas = ground.free_areas
    failed: set[int] = set()
    everything = float(hand.areas.sum())
    luck = hand.luck
    while hand.go_on():
        used = {int(q) for q in hand.state.piece_i[:, PI_SHEET]}
        for q in sorted(open_ - used):
            _close(hand, q, open_)
        choices = [
            q
            for q in sorted(used - failed)
            if ground.sheet_ids[q] not in locked
            and everything <= MOST_FILL * max(sum(row[r] for r in used - {q}) for row in areas)
        ]
        if not choices:
            return
        on = [float(hand.areas[hand.state.piece_i[:, PI_SHEET] == q].sum()) for q in range(sheets)]
        # most saved for the least that has to find room elsewhere
        q = max(
            choices, key=lambda k: (cost[k] + 1e-9) / (on[k] + 0.02 * everything) * luck.uniform(0.8, 1.25)
        )
        before = hand.picture(0.0)
        limits, was_open = hand.state.limit.copy(), set(open_)
        _close(hand, q, open_)
        hand.forget_weights()
        for i in sorted(np.flatnonzero(hand.state.piece_i[:, PI_SHEET] == q), key=lambda i: -hand.hulls[i]):
            hand.insert(int(i), 300)
        if hand.separate(TRY_PASSES, TRY_PATIENCE) <= 0.0 and hand.check() is not None:
            continue
        failed.add(q)
        open_ = was_open
        hand.state.limit[:] = limits
        _share_out(hand, open_)
        hand.restore(before)


def _close(hand: Hand, q: int, open_: set[int]) -> None:
    """Take sheet ``q`` out of the search."""
    open_.discard(q)
    hand.state.limit[q] = (FAR_AWAY, FAR_AWAY, FAR_AWAY + 1.0, FAR_AWAY + 1.0)
    _share_out(hand, open_)


def _share_out(hand: Hand, open_: set[int]) -> None:
    """Let samples fall on the open sheets only, in proportion to what is free on them."""
    sheets = len(hand.ground.sheet_ids)
    for row, areas in enumerate(hand.ground.free_areas):
        whole = sum(a for q, a in enumerate(areas) if q in open_) or 1.0
        run = 0.0
        for q in range(sheets):
            run += areas[q] / whole if q in open_ else 0.0
            hand.field.region_f[row * sheets + q, RF_SHARE] = run
