"""Lay a problem: the one function that the rest of the program calls."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from shapely.geometry import Polygon

from eke.lay import rest, verify
from eke.lay.problem import Answer, Clash, Placement, Problem, Verdict
from eke.lay.rest import Leftover
from eke.lay.search import proofs
from eke.lay.search.hand import Flag, Hand, Lay, Pace
from eke.lay.validate import check_start, proof_of_no, validate


@dataclass(frozen=True, slots=True)
class Progress:
    """What a listener is told: a better lay that has passed the exact check."""

    answer: Answer
    seconds: float


@dataclass(frozen=True, slots=True, eq=False)
class Outcome(Answer):
    """An answer, and what it leaves of every sheet.

    ``leftovers`` is there once everything is on; it is empty for a strip, and in what a listener hears.
    """

    leftovers: tuple[Leftover, ...] = ()


Listener = Callable[[Progress], None]
LEAST_SEARCH_S: Final = 1.0
"""So long is searched at the least after everything is prepared, where as much was allowed."""
DEFAULT_SECONDS: Final = 10.0
FEWER_SHARE: Final = 0.75
"""Share of the allowance after which no more sheets are emptied: the rest goes to the leftover."""
LEFTOVER_FROM_S: Final = 1.0
"""Unless told otherwise, the leftover gets as many seconds as the search before it, or what that left of this."""
LEFTOVER_FROM_PASSES: Final = 60
"""The same in passes."""


def solve(
    problem: Problem,
    *,
    seconds: float | None = None,
    passes: int | None = None,
    seed: int = 0,
    workers: int = 2,
    listener: Listener | None = None,
    stop: Callable[[], bool] | Flag | None = None,
    start: Sequence[Placement] | None = None,
    leftover: float | None = None,
) -> Outcome:
    """Lay the parts of ``problem`` and return the best lay that passes the exact check.

    First everything is to be on; then as few (and cheap) sheets as can be are to be used; then what is left
    is to be useful: one large rectangle along the grain, and one large connected rest.

    Parameters
    ----------
    seconds, passes
        The allowance: seconds of the clock, or passes of each search thread. With ``passes`` (and no
        ``seconds``) the same seed gives the same answer. With neither, ten seconds.
    seed
        Any whole number.
    workers
        Search threads with different luck; two make good use of two cores.
    listener
        Called with every better lay as it is found, one at a time and in order, from a search thread.
    stop
        A function or an event: looked at many times a second.
    start
        A lay to start from, complete or not, sound or not; else the problem's own start, if it has one. The
        answer is never worse than it.
    leftover
        Once everything is on: how much of the allowance that is left (in its unit, seconds or passes) may go
        into a better leftover; 0 for none. By default as much as the search before it needed, and at least
        so much that both together take a second, or 60 passes; but none where there is a start, so that
        nothing of a maker's lay is moved without need.

    Returns
    -------
    Outcome
        Complete or not; what is missing, how near it came, and a proof where there is one; what is left.

    Raises
    ------
    BadInput
        When the problem itself cannot be used; each reason has its own sentence.
    """
    from eke.lay import warm

    warm.ensure()
    began = time.perf_counter()
    validate(problem)
    asked: Callable[[], bool]
    if stop is None:
        asked = _never
    elif callable(stop):
        asked = stop
    else:
        asked = stop.is_set
    if seconds is None and passes is None:
        seconds = DEFAULT_SECONDS
    if start is None and problem.start:
        start = (*problem.locked, *problem.start)
    if start is not None:
        check_start(problem, start)
        leftover = 0.0 if leftover is None else leftover
    proof = proof_of_no(problem) or proofs.proof_by_area(problem) or proofs.proof_by_part(problem)
    run = _Run(problem, seconds, passes, seed, max(1, workers), asked, listener, began, proof)
    run.lay(start)
    if run.best is not None and run.best.complete and problem.strip is None:
        run.tidy(leftover)
    return run.outcome()


class _Run:
    """One call of :func:`solve`: its stages share the clock, the listener and the best lay."""

    def __init__(
        self, problem: Problem, seconds: float | None, passes: int | None, seed: int, workers: int,
        stop: Callable[[], bool], listener: Listener | None, began: float, proof: str | None,
    ) -> None:  # fmt: skip
        self.problem = problem
        self.seconds = seconds
        self.passes = passes
        self.seed = seed
        self.workers = workers
        self.stop = stop
        self.listener = listener
        self.began = began
        self.proof = proof
        self.prepared_s = 0.0
        self.best: Lay | None = None
        self.hands: list[Hand] = []
        self.made = 0
        """Passes of the stages that are over, as an answer counts them."""
        self.tried = 0
        self.clashes: tuple[Clash, ...] = ()

    def elapsed_s(self) -> float:
        """Return the seconds since the start."""
        return time.perf_counter() - self.began

    def offer(self, lay: Lay) -> None:
        """Tell the listener of a better lay."""
        if self.listener is not None:
            took = self.elapsed_s()
            self.listener(
                Progress(make_answer(self.problem, lay.placements, self.seed, took, lay.passes), took)
            )

    def lay(self, start: Sequence[Placement] | None) -> None:
        """Get everything on, or as much as can be; then use fewer sheets."""
        from eke.lay.prepare import prepare
        from eke.lay.search import clashes, registry

        problem = self.problem
        ground = prepare(problem)
        self.prepared_s = self.elapsed_s()
        pace = Pace(self.seconds, self.passes, self.stop, self.workers, self.offer)
        pace.started_s = self.began
        pace.hopeless = self.proof is not None

        def check(hand: Hand) -> Lay | None:
            placements = hand.placements()
            if verify.faults(problem, placements):
                return None
            rank, complete = rank_of(problem, placements, costs=pace.reopened)
            return Lay(placements, rank, complete, hand.passes, hand.worker)

        self.hands = hands = [Hand(ground, self.seed, w, pace, check) for w in range(self.workers)]
        if self.seconds is not None:
            # a process that has to load the kernels first still searches for a moment
            least = min(self.seconds, LEAST_SEARCH_S)
            pace.started_s = max(self.began, time.perf_counter() - (self.seconds - least))
        if start is not None:
            self._keep_start(pace, start)
            for hand in hands:
                registry.lay_start(hand, start)
        if hands[0].n == 0:
            hands[0].check()
        elif pace.best is None or not pace.best.complete or problem.strip is not None:
            _run_all(registry.strategy_for(problem), hands)
        else:
            pace.win(hands[0])  # the start has everything on
        winner = pace.winner
        many = problem.strip is None and len(problem.sheets) > 1
        if winner is not None and many and start is None and pace.best is not None:
            pace.reopen(rank_of(problem, pace.best.placements, costs=True)[0], FEWER_SHARE)
            then = registry.afterwards(problem)
            if self.passes is None:
                found = winner.picture(0.0)
                for hand in hands:
                    hand.restore(found)
                _run_all(then, hands)
            else:  # only the winner goes on, so that no thread's speed decides
                then(winner)
        self.best = best = pace.best
        exact = self.passes is not None and best is not None and best.complete and problem.strip is None
        self.made = best.passes if exact and best is not None else sum(h.passes for h in hands)
        self.tried = sum(h.tried for h in hands)
        if best is None or not best.complete:
            nearest = min(
                (h for h in hands if h.closest is not None),
                key=lambda h: h.closest.loss if h.closest else 0.0,
                default=None,
            )
            self.clashes = () if nearest is None else clashes.clashes_of(nearest)
            if self.proof is None:
                off = verify.missing(problem, () if best is None else best.placements)
                self.proof = proofs.proof_by_part(problem, list(off))

    def _keep_start(self, pace: Pace, start: Sequence[Placement]) -> None:
        """Keep a sound start as the first lay, exactly as it was given."""
        kept = tuple(start)
        if verify.faults(self.problem, kept) or any(p not in kept for p in self.problem.locked):
            return
        rank, complete = rank_of(self.problem, kept)
        pace.put(Lay(kept, rank, complete, 0, -1))

    def tidy(self, wish: float | None) -> None:
        """Make what a complete lay leaves more useful, within what is left of the allowance."""
        from eke.lay.search import leftover

        assert self.best is not None
        problem = self.problem
        seconds, passes = None, None
        if self.passes is not None:
            most = max(self.made, LEFTOVER_FROM_PASSES - self.made) if wish is None else int(wish)
            passes = min(self.passes - self.made, most)
        if self.seconds is not None:
            searched = self.elapsed_s() - self.prepared_s
            most_s = max(searched, LEFTOVER_FROM_S - searched) if wish is None else wish
            seconds = min(self.seconds - self.elapsed_s(), most_s)
        if (passes is not None and passes <= 0) or (seconds is not None and seconds <= 0.0):
            return
        if self.stop():
            return
        begin = leftover.start_from(problem, self.best.placements)
        if begin is None:
            return
        from eke.lay.prepare import prepare
        from eke.lay.search import registry

        ground = prepare(begin.problem)
        pace = Pace(seconds, passes, self.stop, self.workers, self.offer)
        rank = rank_of(problem, self.best.placements, costs=True)[0]
        pace.best = replace(self.best, rank=(*rank, leftover.score(problem, self.best.placements)))

        check = leftover.checker(problem, begin.name, self.made)
        hands = [Hand(ground, self.seed, w, pace, check) for w in range(self.workers)]
        for hand in hands:
            registry.lay_start(hand, begin.placements)
        _run_all(leftover.search, hands)
        self.best = pace.best
        self.tried += sum(h.tried for h in hands)
        self.made += sum(h.passes for h in hands)

    def outcome(self) -> Outcome:
        """Put the best lay into words."""
        placements = self.best.placements if self.best is not None else tuple(self.problem.locked)
        return make_answer(
            self.problem, placements, self.seed, self.elapsed_s(), self.made, self.tried, self.proof,
            self.clashes, with_leftovers=True,
        )  # fmt: skip


def _never() -> bool:
    return False


def _run_all(search: Callable[[Hand], None], hands: list[Hand]) -> None:
    """Run one search a thread; the kernels let go of the interpreter, so two cores are used."""
    if len(hands) == 1:
        search(hands[0])
        return
    trouble: list[BaseException] = []

    def run(hand: Hand) -> None:
        try:
            search(hand)
        except BaseException as e:
            trouble.append(e)

    threads = [threading.Thread(target=run, args=(h,), daemon=True) for h in hands[1:]]
    for t in threads:
        t.start()
    run(hands[0])
    for t in threads:
        t.join()
    if trouble:
        raise trouble[0]


def rank_of(
    problem: Problem, placements: Sequence[Placement], *, costs: bool = False
) -> tuple[tuple[float, ...], bool]:
    """Return a lay's rank (greater is better) and whether it is complete.

    Classes of priority that are complete, most important first; then area; for a strip, once all is on,
    the shorter length, and with ``costs`` the cheaper sheets.
    """
    short = verify.missing(problem, placements)
    classes = sorted({p.priority for p in problem.parts})
    whole = [float(all(p.id not in short for p in problem.parts if p.priority == c)) for c in classes]
    if not short:
        length = verify.used_length(problem, placements) if problem.strip is not None else 0.0
        used = {p.sheet for p in placements}
        cost = sum(s.cost for s in problem.sheets if s.id in used) if costs else 0.0
        return (*whole, 1e300, -length, -cost), True
    areas = {p.id: Polygon(p.outline).area for p in problem.parts}
    return (*whole, sum(areas[p.part] for p in placements), 0.0, 0.0), False


def make_answer(
    problem: Problem,
    placements: Sequence[Placement],
    seed: int,
    took_s: float,
    passes: int,
    tried: int = 0,
    proof: str | None = None,
    clashes: tuple[Clash, ...] = (),
    *,
    with_leftovers: bool = False,
) -> Outcome:
    """Put a checked lay into the words of an answer."""
    short = verify.missing(problem, placements)
    areas = {p.id: Polygon(p.outline).area for p in problem.parts}
    total = sum(areas[p.id] * p.count for p in problem.parts)
    missing_mm2 = sum(areas[i] * n for i, n in short.items())
    used = tuple(s.id for s in problem.sheets if any(p.sheet == s.id for p in placements))
    left: tuple[Leftover, ...] = ()
    if not short:
        sentence = "Everything is on."
        clashes = ()
        proof = None
        if with_leftovers:
            left = rest.leftovers(problem, placements)
            sentence = " ".join((sentence, *_left_in_words(left)))
    else:
        names = ", ".join(i if n == 1 else f"{n} × {i}" for i, n in short.items())
        sentence = f"Not everything is on: {names} missing, {missing_mm2 / 100:.0f} cm² short."
        if proof:
            sentence += f" {proof}"
    return Outcome(
        tuple(placements), short, seed, took_s, passes,
        Verdict(not short, proof, clashes, missing_mm2, sentence), tried,
        verify.used_length(problem, placements) if problem.strip is not None else None,
        1.0 - missing_mm2 / total, used, problem, left,
    )  # fmt: skip


def _left_in_words(left: Sequence[Leftover]) -> tuple[str, ...]:
    best = rest.best_of(left)
    if best is None or best.words is None:
        return ()
    of = f" of “{best.sheet}”" if len(left) > 1 else ""
    return (f"A piece of {best.words}{of} is left.",)
