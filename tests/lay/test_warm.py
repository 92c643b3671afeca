from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from eke.lay import warm


def test_the_cache_is_named_by_the_sources(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = warm.kernel_key()
    changed = tmp_path / "pairs.py"
    real = warm._sources()
    changed.write_bytes(next(p for p in real if p.name == "pairs.py").read_bytes() + b"\n# another word\n")
    monkeypatch.setattr(warm, "_sources", lambda: [changed if p.name == "pairs.py" else p for p in real])
    assert warm.kernel_key() != before


def test_cache_folder_follows_the_variable(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("EKE_KERNEL_CACHE", str(tmp_path))
    assert warm.cache_dir().parent == tmp_path


def test_words_of_the_api_need_no_compiler() -> None:
    """Whoever only reads problems and answers does not wait for numba."""
    code = "import sys, eke.lay; assert 'numba' not in sys.modules; assert 'scipy' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True)


@pytest.mark.slow
def test_compiled_once_for_all_processes(tmp_path: Path) -> None:
    env = os.environ | {"EKE_KERNEL_CACHE": str(tmp_path)}
    code = "from eke.lay import warm; print(warm.is_warm(), warm.prepare(), warm.is_warm())"
    first = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True, check=True)
    assert first.stdout.split() == ["False", "True", "True"]
    stamps = {p: p.stat().st_mtime_ns for p in tmp_path.rglob("*.nbc")}
    assert stamps
    code = """
import numpy as np
from eke.lay import *
p = Part("a", np.array([[0, 0], [9, 0], [0, 9.0]]), 2, None)
assert solve(Problem([p], (Sheet("s", np.array([[0, 0], [90, 0], [0, 90.0]])),)), passes=5).complete
assert solve(Problem([p], strip=Strip(20.0)), passes=5).complete
square = np.array([[0, 0], [9, 0], [9, 9], [0, 9.0]])
parts = [
    Part("half", square, on_fold=3, turns=(0.0, 180.0), mirror_allowed=True),
    Part("seated", square, on_edge=(EdgeRule(0, "hem"),)),
    Part("striped", square, 2, phases=(PhaseRule((0, 0), "weft", match="m"),), tilt_deg=1.0, tilt_pair=TiltPair("t")),
]
cloth = square * 10
hem = Edge("hem", cloth[:2])
sheet = Sheet("s", cloth, fold=((0.0, 90.0), (0.0, 0.0)), edges=(hem,), repeats=(Repeat("weft", 5.0, 90.0),))
assert solve(Problem(parts, (sheet,)), passes=20).complete
"""
    subprocess.run([sys.executable, "-c", code], env=env, check=True)
    assert {p: p.stat().st_mtime_ns for p in tmp_path.rglob("*.nbc")} == stamps
