"""Very many pieces: memory stays small, the work grows no faster than the pieces need, and the lay is sound."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

MOST_MB = 500
STATUS = Path("/proc/self/status")
"""Where Linux tells the peak of this very program; the one of getrusage is handed down by whoever started it."""

SCRIPT = """
import re
from pathlib import Path
import numpy as np
from shapes import box_points, broken_rules, star
from eke.lay import Part, Problem, Sheet, solve
rng = np.random.default_rng(1)
parts = [Part(f"p{k}", star(rng, float(rng.uniform(30, 60)), int(rng.integers(4, 12))), 4, (0.0, 180.0)) for k in range(80)]
problem = Problem(parts, (Sheet("s", box_points(1500, 1500)),), gap_parts_mm=2.0)
answer = solve(problem, passes=40, seed=1, leftover=5)
assert answer.complete and len(answer.placements) == 320
assert broken_rules(problem, answer.placements) == []
peak_kb = int(re.search(r"VmHWM:\\s+(\\d+) kB", Path("/proc/self/status").read_text())[1])
print(answer.tried, peak_kb // 1024)
"""


@pytest.mark.slow
@pytest.mark.skipif(not STATUS.exists(), reason="the memory of a process is asked in another way here")
def test_320_pieces_in_bounded_memory_and_work() -> None:
    here = str(Path(__file__).parent)
    env = os.environ | {"PYTHONPATH": os.pathsep.join([here, os.environ.get("PYTHONPATH", "")])}
    run = subprocess.run([sys.executable, "-c", SCRIPT], env=env, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
    tried, megabytes = (int(word) for word in run.stdout.split())
    assert megabytes < MOST_MB
    assert tried < 3_000_000
