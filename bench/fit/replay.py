"""How long replaying 30 fit changes on 12 pieces and walking all seams takes: ``python bench/fit/replay.py``.

It prints the counted work (changes applied, seams walked), which does not depend on the machine, and the time, which
does: by the clock, and of the processor alone, which other programs on a busy machine disturb less. The amount of the
change in the middle is then altered, as a drag does, with what came before it remembered.
"""

from __future__ import annotations

import argparse
import math
import time
from dataclasses import dataclass, field, replace
from typing import Any

from eke.changes import ChangeKind, Context, Log, Record, Registry, ReplayCache, amend, replay
from eke.fit import fit_kinds
from eke.geometry import Cubic, Path
from eke.pattern.model import Edge, EdgeId, Pattern, Piece, PieceId, RunPart, Seam, SeamId
from eke.pattern.walking import walk

PIECES = 12
CHANGES = 30
MIDDLE = CHANGES // 2
"""The change that is dragged: it takes a seam in."""


@dataclass
class Count:
    """Work that was done."""

    applied: int = 0
    walked: int = 0


def panels(count: int = PIECES) -> Pattern:
    """Return a ring of panels with curved sides, each sewn to the next."""
    made = Pattern("panels")
    for k in range(count):
        a, b, c, d = (0.0, 0.0), (200.0, 0.0), (180.0, 700.0), (20.0, 700.0)
        rows = (
            ("hem", Path.line(a, b)),
            ("right", Path((Cubic(b, (190.0, 250.0), (150.0, 500.0), c),))),
            ("top", Path.line(c, d)),
            ("left", Path((Cubic(d, (50.0, 500.0), (10.0, 250.0), a),))),
        )
        edges = tuple(Edge(EdgeId(f"{n}-{k}"), p, "hem" if n == "hem" else "seam", n) for n, p in rows)
        made = made.with_piece(
            Piece(PieceId(f"p{k}"), f"panel {k + 1}", edges, grain=((100, 100), (100, 600)))
        )
    for k in range(count):
        j = (k + 1) % count
        one = (RunPart(PieceId(f"p{k}"), EdgeId(f"right-{k}")),)
        two = (RunPart(PieceId(f"p{j}"), EdgeId(f"left-{j}"), True),)
        made = made.with_seam(Seam(SeamId(f"s{k}"), one, two, f"seam {k + 1}"))
    return made


def steps(count: int = CHANGES) -> list[tuple[str, dict[str, Any]]]:
    """Return changes of five kinds, over all panels in turn."""
    made: list[tuple[str, dict[str, Any]]] = []
    for n in range(count):
        k = n % PIECES
        made.append(
            (
                ("fit.take_in", {"seam": f"s{k}", "knots": [[0.0, 0.0], [350.0, 4.0], [690.0, 0.0]]}),
                (
                    "fit.wedge",
                    {
                        "edge": f"right-{k}",
                        "fraction": 0.5,
                        "width_mm": 4.0,
                        "to": {"edge": f"left-{k}", "fraction": 0.5},
                    },
                ),
                ("fit.move_seam", {"seam": f"s{k}", "knots": [[300.0, 3.0]]}),
                ("fit.opening", {"edge": f"top-{k}", "start_mm": 2.0, "mates": False}),
                ("fit.hem", {"edge": f"hem-{k}", "knots": [[100.0, 5.0]]}),
            )[n % 5]
        )
    return made


def counted(count: Count) -> Registry[Pattern]:
    """Return the fit changes, each counting its work."""

    def counting(kind: ChangeKind[Pattern]) -> ChangeKind[Pattern]:
        def apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
            count.applied += 1
            return kind.apply(state, params, context)

        return replace(kind, apply=apply)

    return Registry(counting(kind) for kind in fit_kinds())


def log_of(rows: list[tuple[str, dict[str, Any]]]) -> Log:
    """Return the history of these changes."""
    log = Log()
    for n, (kind, params) in enumerate(rows):
        log = log.append(Record(f"c{n}", log.head, kind, 1, params))
    return log


def run(
    log: Log, registry: Registry[Pattern], initial: Pattern, cache: ReplayCache[Pattern], count: Count
) -> float:
    """Replay, walk all seams, and return the greatest difference found, in mm."""
    replayed = replay(log, registry, initial, cache)
    assert not replayed.set_aside, replayed.set_aside[0].set_aside
    worst = 0.0
    for seam in replayed.state.seams:
        count.walked += 1
        worst = max(worst, abs(walk(replayed.state, seam).difference_mm))
    return worst


def dragged(log: Log, turn: int) -> Log:
    """Return the history with another amount of the change in the middle, another one each turn."""
    _, params = steps()[MIDDLE]
    (start, place, end) = params["knots"]
    knots = [start, [place[0], place[1] + 0.1 * (turn + 1)], end]
    return log.append(amend(log, f"drag{turn}", f"c{MIDDLE}", {**params, "knots": knots}, 1))


@dataclass
class Best:
    """The best of several turns, in ms: by the clock, and of the processor."""

    clock_ms: float = math.inf
    processor_ms: float = math.inf
    count: Count = field(default_factory=Count)
    worst_mm: float = 0.0

    def run(self, log: Log, initial: Pattern, cache: ReplayCache[Pattern]) -> None:
        """Do one turn."""
        self.count = Count()
        registry = counted(self.count)
        clock, processor = time.perf_counter(), time.process_time()
        self.worst_mm = run(log, registry, initial, cache, self.count)
        self.processor_ms = min(self.processor_ms, (time.process_time() - processor) * 1000)
        self.clock_ms = min(self.clock_ms, (time.perf_counter() - clock) * 1000)

    def __str__(self) -> str:
        return (
            f"{self.count.applied} applied, {self.count.walked} seams walked, greatest difference "
            f"{self.worst_mm:.2f} mm: {self.clock_ms:.0f} ms, of the processor {self.processor_ms:.0f} ms"
        )


def main() -> int:
    """Print counted work and time."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeat", type=int, default=5)
    repeat = parser.parse_args().repeat
    log, whole, drag = log_of(steps()), Best(), Best()
    for turn in range(repeat):
        # new values each time, so that none knows its length from the turn before
        initial, cache = panels(), ReplayCache[Pattern]()
        whole.run(log, initial, cache)
        drag.run(dragged(log, turn), initial, cache)
    print(f"{CHANGES} changes on {PIECES} pieces, best of {repeat}: {whole}")
    print(f"Change {MIDDLE + 1} dragged, what came before remembered: {drag}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
