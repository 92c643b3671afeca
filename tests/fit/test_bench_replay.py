"""What the bench counts: each change is applied once, each seam walked once, and little is done anew in a drag."""

import importlib.util
import sys
from pathlib import Path

from eke.changes import ReplayCache, amend, attempt

_spec = importlib.util.spec_from_file_location(
    "fit_replay", Path(__file__).parents[2] / "bench" / "fit" / "replay.py"
)
bench = importlib.util.module_from_spec(_spec)
sys.modules["fit_replay"] = bench
_spec.loader.exec_module(bench)


def test_thirty_changes_on_twelve_pieces():
    count = bench.Count()
    registry, initial, cache = bench.counted(count), bench.panels(), ReplayCache()
    log = bench.log_of(bench.steps())
    worst = bench.run(log, registry, initial, cache, count)
    assert (count.applied, count.walked) == (30, 12)
    assert 0.0 < worst < 30.0
    # a drag of the last change applies that one only
    drag = amend(log, "drag", "c29", {"edge": "hem-5", "knots": [[100.0, 9.0]]}, 1)
    attempt(log, drag, registry, initial, cache)
    assert count.applied <= 32
