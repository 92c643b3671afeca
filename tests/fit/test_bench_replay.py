"""What the bench counts: each change is applied once, each seam walked once, and little is done anew in a drag."""

import importlib.util
import sys
from pathlib import Path

import pytest

from eke.changes import ReplayCache, amend, attempt
from eke.geometry import _arclength

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


def test_a_drag_in_the_middle_applies_what_comes_after_it_only():
    registry, initial, cache = bench.counted(bench.Count()), bench.panels(), ReplayCache()
    log = bench.log_of(bench.steps())
    before = bench.run(log, registry, initial, cache, bench.Count())
    for turn in range(2):
        drag = bench.Best()
        drag.run(bench.dragged(log, turn), initial, cache)
        assert (drag.count.applied, drag.count.walked) == (bench.CHANGES - bench.MIDDLE, 12)
        assert abs(drag.worst_mm - before) < 1.0
        assert 0.0 < drag.processor_ms < float("inf")


def test_paths_are_measured_once():
    """Counted work instead of seconds: how often lengths were tabulated, and curves cut into chords, for the bench."""
    counted = {"arc_table": 0, "chords": 0}

    def counting(name):
        real = getattr(_arclength, name)

        def done(*args):
            counted[name] += 1
            return real(*args)

        return done

    with pytest.MonkeyPatch.context() as patch:
        for name in counted:
            patch.setattr(_arclength, name, counting(name))
        registry, initial = bench.counted(bench.Count()), bench.panels()
        bench.run(bench.log_of(bench.steps()), registry, initial, ReplayCache(), bench.Count())
    # 112 and 163 when this was written: a table for each new edge that is measured, chords for each corner and outline
    assert 24 <= counted["arc_table"] <= 125
    assert 42 <= counted["chords"] <= 185
