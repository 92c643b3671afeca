from __future__ import annotations

import json

import numpy as np
import pytest
from shapes import box_points

from eke.errors import BadInput
from eke.lay import (
    FULL_QUALITY,
    Part,
    Placement,
    Problem,
    Sheet,
    Strip,
    Zone,
    answer_to_dict,
    placements_from_dict,
    problem_from_dict,
    problem_to_dict,
    solve,
)

RICH = Problem(
    [
        Part("a", box_points(50, 30), 2, (0.0, 180.0), 2.5, True, 2, FULL_QUALITY, "pair", 4.0, 1.0, 6.0),
        Part("b", box_points(20, 20), 1, None, min_quality=3.0),
        Part("c", box_points(20, 40), 1, on_fold=3),
    ],
    (
        Sheet(
            "s", box_points(300, 200), (box_points(5, 5, 100, 100),), (Zone(box_points(9, 9), 2.0),), 3.5,
            ((0.0, 200.0), (0.0, 0.0)),
        ),
    ),
    None, 1.5, 0.5, 2.5, (Placement("b", "s", 12.5, 200.0, 100.0),), "everything",
)  # fmt: skip


def test_own_format_says_everything() -> None:
    once = problem_to_dict(RICH)
    assert once["format"] == "eke-lay-1"
    again = problem_to_dict(problem_from_dict(json.loads(json.dumps(once))))
    assert again == once


def test_strip_round_trip() -> None:
    once = problem_to_dict(Problem([Part("a", box_points(5, 5))], strip=Strip(40.004)))
    assert problem_to_dict(problem_from_dict(once)) == once


CASE = {
    "format": "nesting-case-1", "kind": "containers", "name": "two", "min_gap_pieces": 2.0, "min_gap_edge": 0,
    "min_gap_hole": 5.0, "versions": [{"fill": 0.6, "cloth_scale": 2.0, "known_feasible": True}],
    "pieces": [{"id": "a", "demand": 2, "rotations": "any", "priority": 3, "min_quality": "full",
                "polygon": [[0, 0], [10, 0], [10, 10], [0, 0]]}],
    "cloths": [{"id": "c", "outline": [[0, 0], [50, 0], [50, 50], [0, 0]], "holes": [[[30, 10], [32, 10], [32, 12], [30, 10]]]}],
}  # fmt: skip


def test_case_scales_cloth_and_holes_but_no_gap() -> None:
    p = problem_from_dict(CASE, fill=0.6)
    assert np.asarray(p.sheets[0].outline).tolist() == [[0, 0], [100, 0], [100, 100]]
    assert np.asarray(p.sheets[0].holes[0])[0].tolist() == [60, 20]
    assert (p.gap_parts_mm, p.gap_hole_mm) == (2.0, 5.0)
    part = p.parts[0]
    assert (part.turns, part.priority, part.min_quality, len(part.outline)) == (None, 3, FULL_QUALITY, 3)


def test_case_asks_for_its_fill() -> None:
    with pytest.raises(BadInput, match=r"Name one of 0\.6"):
        problem_from_dict(CASE)
    with pytest.raises(BadInput, match=r"no fill 0\.9"):
        problem_from_dict(CASE, fill=0.9)


def test_answer_in_the_open_format() -> None:
    problem = problem_from_dict(CASE, fill=0.6)
    answer = solve(problem, passes=50, seed=3)
    out = json.loads(json.dumps(answer_to_dict(answer)))
    assert {"format", "case", "fill", "placements", "unplaced", "seed", "seconds"} <= set(out)
    assert (out["format"], out["case"], out["fill"], out["seed"]) == ("nesting-answer-1", "two", 0.6, 3)
    assert set(out["placements"][0]) == {"piece", "cloth", "rotation_deg", "translation"}
    assert placements_from_dict(out) == answer.placements


def test_answer_is_a_start() -> None:
    problem = problem_from_dict(CASE, fill=0.6)
    answer = solve(problem, passes=50)
    start = placements_from_dict(answer_to_dict(answer))
    assert solve(problem, passes=1, start=start).placements == answer.placements
