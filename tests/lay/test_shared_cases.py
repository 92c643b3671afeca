"""The shared nesting cases at modest fills, with limits in passes and positions tried, never in seconds."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from eke.lay import Problem, answer_to_dict, problem_from_dict, solve

pytestmark = pytest.mark.outside


def case(name: str) -> Path:
    home = os.environ.get("EKE_SHARED")
    root = Path(home) if home else Path(__file__).resolve().parents[2].parent / "shared"
    for path in (root / "nesting" / f"{name}.json", root / "nesting" / "oddcloth" / f"{name}.json"):
        if path.is_file():
            return path
    pytest.skip("the shared nesting cases are not here")


def judge(name: str, problem: Problem, tmp_path: Path, passes: int, most_tried: int) -> dict:
    answer = solve(problem, passes=passes, seed=1)
    assert answer.tried <= most_tried
    out = tmp_path / "answer.json"
    out.write_text(json.dumps(answer_to_dict(answer)), encoding="utf-8")
    path = case(name)
    check = (
        path.parent / "check.py" if (path.parent / "check.py").is_file() else path.parent.parent / "check.py"
    )
    run = subprocess.run(
        [sys.executable, check, path, out, "--json"], capture_output=True, text=True, check=False
    )
    result: dict = json.loads(run.stdout)
    assert result["valid"], result["faults"]
    return result


@pytest.mark.parametrize("fill", [0.6, 0.7])
@pytest.mark.parametrize("name", ["shirt_remnant_L", "curtain_burn", "tablecloth_round", "remnants_three"])
def test_odd_cloth(name: str, fill: float, tmp_path: Path) -> None:
    problem = problem_from_dict(json.loads(case(name).read_text(encoding="utf-8")), fill=fill)
    assert judge(name, problem, tmp_path, 6000, 12_000_000)["complete"]


def test_overfull_cloth_gives_a_sound_partial_lay(tmp_path: Path) -> None:
    problem = problem_from_dict(json.loads(case("remnants_three").read_text(encoding="utf-8")), fill=0.8)
    result = judge("remnants_three", problem, tmp_path, 1500, 20_000_000)
    assert not result["complete"]
    assert result["area_share"] > 0.7
    assert 1 in result["priorities_complete"]


def test_hides_with_zones(tmp_path: Path) -> None:
    """Baldacci, Boschetti, Ganovelli and Maniezzo 2014, Discrete Applied Mathematics 163:17-33."""
    problem = problem_from_dict(json.loads(case("baldacci1").read_text(encoding="utf-8")))
    result = judge("baldacci1", problem, tmp_path, 300, 6_000_000)
    assert result["complete"]
    assert result["cloths_used"] <= 8


PAPERS = {
    "albano": "Albano and Sapuppo 1980, IEEE Trans. SMC 10:242-248",
    "dagli": "Ratanapan and Dagli 1997, ANNIE 97:383-388",
    "fu": "Fujita, Akagi and Hirokawa 1993, ASME Design Automation 65(1):477-484",
    "jakobs1": "Jakobs 1996, EJOR 88:165-181",
    "mao": "Bounsaythip and Maouche 1997, IEEE SMC 4:3425-3430",
    "marques": "Marques, Bispo and Sentieiro 1991, IECON 91:1911-1916",
}
"""Where each published instance is from, as the case file says; all are in the data sets of ESICUP."""


@pytest.mark.parametrize("name", PAPERS)
def test_strips(name: str, tmp_path: Path) -> None:
    raw = json.loads(case(name).read_text(encoding="utf-8"))
    assert PAPERS[name].split()[0].strip(",") in raw["provenance"]["reference"]
    problem = problem_from_dict(raw)
    result = judge(name, problem, tmp_path, 500, 3_000_000)
    assert result["complete"]
    assert result["density"] > 0.88 * result["best_known"]
