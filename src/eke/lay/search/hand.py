"""What every search strategy works with: one arrangement in the making, and the pace it has to keep.

A :class:`Hand` owns the tables of one search thread. A :class:`Pace` is shared by all of them: it knows
the clock, the stop flag and the number of passes, and collects the lays that have passed the exact check.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final, Protocol

import numpy as np

from eke.lay import ties
from eke.lay.collide.tables import (
    C_PASSES,
    C_TRIED,
    F64,
    I64,
    PF_X,
    PF_Y,
    PI_ON,
    PI_SHEET,
    SF_AREA,
    State,
)
from eke.lay.prepare import Ground
from eke.lay.problem import Placement
from eke.lay.state import new_state, placements_of

MOVES_A_LOOK: Final = 8
"""Moves of a piece between two looks at the clock and the stop flag."""
GAIN: Final = 0.98
"""A loss below this share of the best so far counts as progress (sparrow's 2 %)."""
PATIENCE: Final = 120
"""Passes without progress that end an attempt."""


class Flag(Protocol):
    """Anything with ``is_set``, such as :class:`threading.Event`."""

    def is_set(self) -> bool:
        """Return whether the flag is up."""
        ...


@dataclass(frozen=True, slots=True)
class Lay:
    """A lay that passed the exact check, with its rank (greater is better) and when it was found."""

    placements: tuple[Placement, ...]
    rank: tuple[float, ...]
    complete: bool
    passes: int
    worker: int


class Pace:
    """The clock, the stop flag, the passes and the best lays, shared by all threads of one run."""

    def __init__(
        self,
        seconds: float | None,
        passes: int | None,
        stop: Callable[[], bool],
        workers: int,
        offer: Callable[[Lay], None] | None = None,
    ) -> None:
        self.started_s = time.perf_counter()
        self.seconds = seconds
        self.passes = passes
        self.stop = stop
        self.workers = workers
        self.looks = 0
        """How often a search asked whether to go on."""
        self.best: Lay | None = None
        self.ended_by_stop = False
        self.shared: tuple[float, Picture] | None = None
        self.until = 1.0
        self.hopeless = False
        """It is proved that not everything can be on."""
        self._lock = threading.Lock()
        self._telling = threading.Lock()
        self._offer = offer
        self._won_at: int | None = None
        self._won_by: int | None = None
        self.winner: Hand | None = None
        self.reopened = False

    def elapsed_s(self) -> float:
        """Return the seconds since the start."""
        return time.perf_counter() - self.started_s

    def share(self, hand: Hand) -> float:
        """Return how much of the allowance is used, 0 to 1."""
        if self.passes is not None:
            return min(1.0, hand.passes / max(1, self.passes))
        if self.seconds is not None:
            return min(1.0, self.elapsed_s() / max(1e-9, self.seconds))
        return 0.0

    def go_on(self, hand: Hand) -> bool:
        """Return whether a search may do another bounded piece of work."""
        self.looks += 1
        if self.stop():
            self.ended_by_stop = True
            return False
        if self.passes is not None:
            if hand.passes >= self.passes * self.until:
                return False
            # a search that can no longer be the first to win ends; which one wins depends on passes alone
            if self._won_at is not None and self._won_by is not None:
                return (hand.passes, hand.worker) < (self._won_at, self._won_by)
            return True
        if self._won_at is not None:
            return False
        return self.seconds is None or self.elapsed_s() < self.seconds * self.until

    def win(self, hand: Hand) -> None:
        """Say that ``hand`` has an answer that cannot be bettered."""
        with self._lock:
            mine = (hand.passes, hand.worker)
            if self._won_at is None or self._won_by is None or mine < (self._won_at, self._won_by):
                self._won_at, self._won_by = mine
                self.winner = hand

    def reopen(self, rank: tuple[float, ...], until: float) -> None:
        """Go on after a win, from the winner's lay, to better it by a further measure.

        ``until`` is the share of the allowance at which that ends.
        """
        self._won_at = self._won_by = None
        self.until = until
        self.reopened = True
        if self.best is not None:
            self.best = replace(self.best, rank=rank)

    def tell(self, length: float, picture: Picture) -> None:
        """Let the other searches know of a shorter lay."""
        with self._lock:
            if self.shared is None or length < self.shared[0]:
                self.shared = (length, picture)

    def put(self, lay: Lay) -> bool:
        """Keep ``lay`` if it is the best so far; return whether it is.

        The listener is told before another thread may put a better one, so it hears them in order.
        """
        with self._telling:
            best = self.best
            if best is not None:
                if lay.rank < best.rank:
                    return False
                if lay.rank == best.rank and (lay.passes, lay.worker) >= (best.passes, best.worker):
                    return False
                news = lay.rank > best.rank
            else:
                news = True
            self.best = lay
            if news and self._offer is not None:
                self._offer(lay)
        return news


@dataclass(slots=True)
class Picture:
    """A copy of where everything lies."""

    piece_i: I64
    piece_f: F64
    loss: float


class Hand:
    """One search thread's arrangement: lay, move, remember, go back."""

    def __init__(
        self, ground: Ground, seed: int, worker: int, pace: Pace, check: Callable[[Hand], Lay | None]
    ) -> None:
        from eke.lay.collide import evaluate
        from eke.lay.search import moves, passes

        self.ground = ground
        self.field = ground.field
        self.worker = worker
        self.pace = pace
        self.state: State = new_state(ground, seed * 1000 + worker)
        self.luck = np.random.default_rng([seed, worker])
        self.n = len(ground.piece_shape)
        self.areas = np.array([self.field.shape_f[t, SF_AREA] for t in ground.piece_shape])
        self.hulls = np.array([self.field.shape_f[t, 1] ** 2 for t in ground.piece_shape])
        self.priority = np.array([ground.shapes[t].part.priority for t in ground.piece_shape], np.int64)
        self.closest: Picture | None = None
        self.started = False
        self._check = check
        self._settle_all = evaluate.settle_all
        self._settle = evaluate.settle
        self._plain_loss = evaluate.plain_loss
        self._step = passes.step
        self._insert = moves.insert

    @property
    def passes(self) -> int:
        """Passes made."""
        return int(self.state.tally[C_PASSES])

    @property
    def tried(self) -> int:
        """Positions weighed."""
        return int(self.state.tally[C_TRIED])

    def go_on(self) -> bool:
        """Return whether there is time for more."""
        return self.pace.go_on(self)

    # -- where things lie ------------------------------------------------------------------------------

    def picture(self, loss: float | None = None) -> Picture:
        """Return a copy of where everything lies."""
        value = float(self._plain_loss(self.state)) if loss is None else loss
        return Picture(self.state.piece_i.copy(), self.state.piece_f.copy(), value)

    def restore(self, picture: Picture) -> None:
        """Go back to ``picture``; the weights stay."""
        self.state.piece_i[:] = picture.piece_i
        self.state.piece_f[:] = picture.piece_f
        self.settle()

    def settle(self) -> float:
        """Work out all outlines and losses anew; return the loss."""
        self.state.tally[0] = self.state.tally[1] = 0
        return float(self._settle_all(self.field, self.state))

    def forget_weights(self) -> None:
        """Set all weights back to 1."""
        self.state.weight[:] = 1.0

    def switch(self, i: int, on: bool) -> None:
        """Take piece ``i`` off or put it back where it was."""
        self.state.piece_i[i, PI_ON] = int(on)
        self._settle(self.field, self.state, i)

    def is_on(self, i: int) -> bool:
        """Return whether piece ``i`` is on."""
        return bool(self.state.piece_i[i, PI_ON])

    def loss_of(self, i: int) -> float:
        """Return the plain loss that piece ``i`` takes part in."""
        return float(self.state.loss[i].sum())

    def deal(self) -> None:
        """Give pieces that have a turn, a tilt or a phase in common such a one."""
        ties.deal(self.ground.ties, self.field, self.state, self.ground.piece_shape, self.luck)

    def deal_one(self) -> bool:
        """Give one tie, chosen at random, another value; return whether there is any."""
        return ties.deal_one(self.ground.ties, self.field, self.state, self.ground.piece_shape, self.luck)

    def keep_ties(self) -> None:
        """Read turns, tilts and phases that pieces have in common from where they lie."""
        ties.take_from(self.ground.ties, self.field, self.state, self.ground.piece_shape, self.luck)

    def insert(self, i: int, samples: int = 200) -> float:
        """Lay piece ``i`` where it overlaps least; return its plain loss."""
        self.state.piece_i[i, PI_ON] = 1
        return float(self._insert(self.field, self.state, i, samples))

    def swap(self, i: int, j: int) -> None:
        """Exchange the places of two pieces, each keeping its own turn."""
        s = self.state
        for col in (PF_X, PF_Y):
            s.piece_f[i, col], s.piece_f[j, col] = s.piece_f[j, col], s.piece_f[i, col]
        s.piece_i[i, PI_SHEET], s.piece_i[j, PI_SHEET] = (
            int(s.piece_i[j, PI_SHEET]),
            int(s.piece_i[i, PI_SHEET]),
        )

    # -- searching -------------------------------------------------------------------------------------

    def separate(self, most_passes: int, patience: int = PATIENCE, strikes: int = 1) -> float:
        """Move what overlaps until nothing does or no progress is made; return the least loss.

        After ``patience`` passes without progress it goes on from the arrangement of least loss, the weights staying
        as they are, and ends at the last of ``strikes`` such times. The hand is left at the arrangement of least loss.
        """
        best = self.picture()
        mark = best.loss
        since = 0
        first = self.passes
        if best.loss <= 0.0:
            return 0.0
        while self.go_on():
            loss = float(self._step(self.field, self.state, MOVES_A_LOOK))
            if loss < 0.0:
                continue
            if loss < best.loss:
                best = self.picture(loss)
                if loss <= 0.0:
                    return 0.0
            if loss < GAIN * mark:
                mark, since = loss, 0
            else:
                since += 1
            if self.passes - first >= most_passes:
                break
            if since >= patience:
                strikes -= 1
                if strikes <= 0:
                    break
                self.restore(best)
                mark, since = best.loss, 0
        self.restore(best)
        return best.loss

    def check(self) -> Lay | None:
        """Check what lies now exactly, hand it in if it is sound, and return it (or ``None``)."""
        lay = self._check(self)
        if lay is not None:
            self.pace.put(lay)
        return lay

    def note_closest(self, picture: Picture) -> None:
        """Remember the arrangement with every piece on that came nearest."""
        if self.closest is not None and self.closest.loss <= picture.loss:
            return
        self.closest = picture

    def _name(self, i: int) -> str:
        return self.ground.shapes[self.ground.piece_shape[i]].part.id

    def placements(self) -> tuple[Placement, ...]:
        """Return what lies now in mm and degrees."""
        return placements_of(self.ground, self.state)


def nudge(hand: Hand, by: float) -> None:
    """Move every piece by a hair: a way out of the rare lay that the kernels accept and the check does not."""
    hand.state.piece_f[:, PF_X] += hand.luck.normal(0.0, by, hand.n)
    hand.state.piece_f[:, PF_Y] += hand.luck.normal(0.0, by, hand.n)
    hand.settle()
