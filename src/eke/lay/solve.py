"""Lay a problem: the one function that the rest of the program calls."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from shapely.geometry import Polygon

from eke.lay import verify
from eke.lay.problem import Answer, Placement, Problem, Verdict
from eke.lay.search.hand import Flag, Hand, Lay, Pace
from eke.lay.validate import check_start, proof_of_no, validate


@dataclass(frozen=True, slots=True)
class Progress:
    """What a listener is told: a better lay that has passed the exact check."""

    answer: Answer
    seconds: float


Listener = Callable[[Progress], None]
DEFAULT_SECONDS = 10.0


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
) -> Answer:
    """Lay the parts of ``problem`` and return the best lay that passes the exact check.

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
        Called with every better lay as it is found, from a search thread.
    stop
        A function or an event: looked at many times a second.
    start
        A lay to start from, complete or not, sound or not; else the problem's own start, if it has one.

    Returns
    -------
    Answer
        Complete or not; what is missing, how near it came, and a proof where there is one.

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
        kept = tuple(start)
        if not verify.faults(problem, kept) and not verify.missing(problem, kept) and problem.strip is None:
            return make_answer(problem, kept, seed, time.perf_counter() - began, 0, 0, None, ())
    proof = proof_of_no(problem)

    from eke.lay.prepare import prepare
    from eke.lay.search import registry

    ground = prepare(problem)

    def offer(lay: Lay) -> None:
        if listener is not None:
            took = time.perf_counter() - began
            answer = make_answer(problem, lay.placements, seed, took, lay.passes, 0, proof, ())
            listener(Progress(answer, took))

    pace = Pace(seconds, passes, asked, workers, offer)
    pace.started_s = began

    def check(hand: Hand) -> Lay | None:
        placements = hand.placements()
        if verify.faults(problem, placements):
            return None
        lay_rank, complete = rank_of(problem, placements, costs=pace.reopened)
        return Lay(placements, lay_rank, complete, hand.passes, hand.worker)

    hands = [Hand(ground, seed, w, pace, check) for w in range(max(1, workers))]
    if start is not None:
        for hand in hands:
            registry.lay_start(hand, start)
    if hands[0].n == 0:
        hands[0].check()
    else:
        search = registry.strategy_for(problem)
        if len(hands) == 1:
            search(hands[0])
        else:
            _run_all(search, hands)
    winner = pace.winner
    if winner is not None and problem.strip is None and len(problem.sheets) > 1:
        pace.reopen(rank_of(problem, winner.placements(), costs=True)[0])
        then = registry.afterwards(problem)
        if passes is None and len(hands) > 1:
            found = winner.picture(0.0)
            for hand in hands:
                hand.restore(found)
            _run_all(then, hands)
        else:
            then(winner)
    best = pace.best
    placements = best.placements if best is not None else tuple(problem.locked)
    nearest = min((h for h in hands if h.closest is not None), key=lambda h: h.closest.loss if h.closest else 0.0,
                  default=None)  # fmt: skip
    clashes = () if nearest is None else nearest.clashes
    return make_answer(
        problem, placements, seed, time.perf_counter() - began,
        best.passes if passes is not None and best is not None and best.complete and problem.strip is None
        else sum(h.passes for h in hands),
        sum(h.tried for h in hands), proof, clashes,
    )  # fmt: skip


def _never() -> bool:
    return False


def _run_all(search: Callable[[Hand], None], hands: list[Hand]) -> None:
    """Run one search a thread; the kernels let go of the interpreter, so two cores are used."""
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
    tried: int,
    proof: str | None,
    clashes: tuple,  # type: ignore[type-arg]
) -> Answer:
    """Put a checked lay into the words of an answer."""
    short = verify.missing(problem, placements)
    areas = {p.id: Polygon(p.outline).area for p in problem.parts}
    total = sum(areas[p.id] * p.count for p in problem.parts)
    missing_mm2 = sum(areas[i] * n for i, n in short.items())
    used = tuple(s.id for s in problem.sheets if any(p.sheet == s.id for p in placements))
    if not short:
        sentence = "Everything is on."
        clashes = ()
        proof = None
    else:
        names = ", ".join(i if n == 1 else f"{n} × {i}" for i, n in short.items())
        sentence = f"Not everything is on: {names} missing, {missing_mm2 / 100:.0f} cm² short."
        if proof:
            sentence += f" {proof}"
    return Answer(
        tuple(placements), short, seed, took_s, passes,
        Verdict(not short, proof, clashes, missing_mm2, sentence), tried,
        verify.used_length(problem, placements) if problem.strip is not None else None,
        1.0 - missing_mm2 / total, used, problem,
    )  # fmt: skip
