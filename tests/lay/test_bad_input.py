"""Bad input: one clear sentence each, and no traceback from the depths."""

from __future__ import annotations

import numpy as np
import pytest
from shapes import box_points

from eke.errors import BadInput, BadShape
from eke.lay import Part, Placement, Problem, Sheet, Strip, Zone, problem_from_dict, solve

SHEET = Sheet("cloth", box_points(500, 500))
PART = Part("a", box_points(50, 50))


@pytest.mark.parametrize(
    ("problem", "words"),
    [
        (Problem([], (SHEET,)), "nothing to lay"),
        (Problem([PART], ()), "list of cloths is empty"),
        (
            Problem([Part("a", np.array([[0, 0], [10, 10], [10, 0], [0, 10.0]]))], (SHEET,)),
            "“a” crosses or touches itself",
        ),
        (Problem([Part("a", np.array([[0, 0], [10, 10], [20, 20.0]]))], (SHEET,)), "no area"),
        (
            Problem([Part("a", np.array([[0, 0], [5, 5], [0, 0.0], [5, 5]]))], (SHEET,)),
            "fewer than three different points",
        ),
        (Problem([Part("a", np.array([[0, 0], [np.nan, 0], [5, 5.0]]))], (SHEET,)), "not a number"),
        (Problem([Part("a", np.array([[0, 0], [np.inf, 0], [5, 5.0]]))], (SHEET,)), "not a number"),
        (Problem([PART, PART], (SHEET,)), "Two pieces are called “a”"),
        (Problem([Part("a", box_points(5, 5), -1), PART][:1], (SHEET,)), "empty|times"),
        (Problem([Part("a", box_points(5, 5), 1, ())], (SHEET,)), "no turn"),
        (
            Problem([PART], (Sheet("c", box_points(9, 9), (box_points(2, 2, 50, 50),)),)),
            "outside its outline",
        ),
        (Problem([PART], (Sheet("c", box_points(9, 9), (box_points(20, 20, -5, -5),)),)), "leave nothing"),
        (Problem([PART], (SHEET,), gap_parts_mm=-1), "cannot be below 0"),
        (Problem([PART], (SHEET,), gap_edge_mm=float("nan")), "not a number"),
        (Problem([PART], strip=Strip(0.0)), "no height"),
        (Problem([PART], (SHEET,), strip=Strip(5.0)), "either"),
        (Problem([PART], (SHEET,), locked=(Placement("z", "cloth", 0, 0, 0),)), "locked"),
        (Problem([Part("a", box_points(5, 5), on_fold=0)], (SHEET,)), "no cloth is folded"),
        (Problem([PART], (Sheet("c", box_points(9, 9), (), (Zone(np.zeros((3, 2)), 1),)),)), "A zone of “c”"),
        (
            Problem([PART], (Sheet("c", np.array([[0, 0], [10, 0], [5, 5], [10, 10], [0, 10], [5, 5.0]])),)),
            "falls into two parts",
        ),
    ],
)
def test_one_sentence(problem: Problem, words: str) -> None:
    with pytest.raises(BadInput, match=words):
        solve(problem, passes=1)


def test_a_repeated_point_is_no_trouble() -> None:
    part = Part("a", np.array([[0, 0], [0, 0], [50, 0], [50, 50], [50, 50], [0, 50.0]]))
    answer = solve(Problem([part], (SHEET,)), passes=50)
    assert answer.complete


def test_ten_thousand_points() -> None:
    t = np.linspace(0, 2 * np.pi, 10_000, endpoint=False)
    wavy = np.column_stack([np.cos(t), np.sin(t)]) * (100 + np.sin(40 * t))[:, None]
    answer = solve(Problem([Part("wavy", wavy, 3, None)], (Sheet("c", wavy * 4),)), passes=200)
    assert answer.complete


def test_piece_larger_than_every_cloth_is_a_proof_not_an_error() -> None:
    answer = solve(Problem([Part("big", box_points(600, 10)), PART], (SHEET,)), passes=20)
    assert not answer.complete
    assert answer.verdict.proof == "“big” is larger than every cloth."
    assert answer.unplaced == {"big": 1}
    assert [p.part for p in answer.placements] == ["a"]


def test_area_alone_is_a_proof() -> None:
    answer = solve(Problem([Part("a", box_points(300, 300), 3)], (SHEET,)), passes=20)
    assert answer.verdict.proof is not None
    assert "200 cm²" in answer.verdict.proof  # 3 × 900 − 2500
    assert answer.verdict.area_short_mm2 == pytest.approx(90_000 * answer.unplaced["a"])


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        ({}, "format"),
        ({"format": "something"}, "not known"),
        ([], "no problem"),
        ({"format": "nesting-case-1"}, "pieces"),
        ({"format": "eke-lay-1", "parts": [{"id": "a"}]}, "outline"),
        ({"format": "eke-lay-1", "parts": [{"id": "a", "outline": [1, 2, 3]}]}, "list of points"),
        (
            {"format": "eke-lay-1", "parts": [{"id": "a", "outline": [[0, 0], [1, 0], [0, "x"]]}]},
            "list of points",
        ),
        ({"format": "eke-lay-1", "unit": "inch", "parts": []}, "mm"),
    ],
)
def test_bad_documents(raw: object, words: str) -> None:
    with pytest.raises(BadInput, match=words):
        problem_from_dict(raw)  # type: ignore[arg-type]


def test_shape_errors_are_shape_errors() -> None:
    with pytest.raises(BadShape):
        solve(Problem([Part("a", np.zeros((4, 2)))], (SHEET,)), passes=1)
