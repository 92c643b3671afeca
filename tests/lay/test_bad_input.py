"""Bad input: one clear sentence each, and no traceback from the depths."""

from __future__ import annotations

import numpy as np
import pytest
from shapes import box_points

from eke.errors import BadInput, BadShape
from eke.lay import (
    Edge,
    Part,
    Placement,
    Problem,
    Sheet,
    Strip,
    Zone,
    placements_from_dict,
    problem_from_dict,
    solve,
)

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
        (Problem([PART], (Sheet("c", np.array([[0, 0], [9, 9], [9, 0], [0, 9.0]])),)), "“c” crosses or touches"),
        (Problem([PART], (Sheet("c", np.array([[0, 0], [9, 9], [9, np.nan]])),)), "“c” has a point whose place"),
        (Problem([PART], (Sheet("c", np.zeros((0, 2))),)), "“c” has fewer than three"),
        (Problem([PART], (Sheet("c", box_points(9, 9), (np.array([[1, 1], [5, 5], [5, 1], [1, 5.0]]),)),)), "A hole of “c”"),
        (Problem([PART], (Sheet("c", box_points(9, 9), (np.full((3, 2), np.nan),)),)), "A hole of “c” has a point"),
        (Problem([PART], (Sheet("c", box_points(9, 9), (), (Zone(box_points(2, 2), np.nan),)),)), "quality of a zone"),
        (Problem([PART], (Sheet("c", box_points(9, 9), cost=-1.0),)), "cost of “c” is -1"),
        (Problem([PART], (Sheet("c", box_points(9, 9), cost=float("inf")),)), "cost of “c” is not a number"),
        (Problem([PART], (SHEET, SHEET)), "Two cloths are called “cloth”"),
        (Problem([Part("a", box_points(5, 5), 9999)], (SHEET,)), "too many"),
        (Problem([Part("a", box_points(5, 5), 0)], (SHEET,)), "list of pieces is empty"),
        (Problem([Part("a", box_points(5, 5), 1, (np.nan,))], (SHEET,)), "turn of “a” is not a number"),
        (Problem([Part("a", box_points(5, 5), tilt_deg=60.0)], (SHEET,)), "no small tilt"),
        (Problem([Part("a", box_points(5, 5), tilt_deg=np.nan)], (SHEET,)), "tilt of “a” is not a number"),
        (Problem([Part("a", box_points(5, 5), gap_mm=-2.0)], (SHEET,)), "gap of “a” is -2"),
        (Problem([Part("a", box_points(5, 5), min_quality=np.nan)], (SHEET,)), "quality that “a” needs"),
        (Problem([PART], strip=Strip(np.nan)), "height of the strip is not a number"),
        (Problem([PART], (SHEET,), locked=(Placement("a", "z", 0, 0, 0),)), "not among the cloths"),
        (Problem([PART], (SHEET,), locked=(Placement("a", "cloth", np.nan, 0, 0),)), "not a number"),
        (Problem([PART], (SHEET,), locked=(Placement("a", "cloth", 0, 0, 0),) * 2), "More copies of “a” are locked"),
        (Problem([PART], (SHEET,), locked=(Placement("a", "cloth", 0, 480, 0),)), "cannot stay where it lies.*off"),
        (
            Problem([Part("a", box_points(50, 50), 2)], (SHEET,),
                    locked=(Placement("a", "cloth", 0, 0, 0), Placement("a", "cloth", 0, 20, 20))),
            "cannot stay where it lies.*in common",
        ),
        (Problem([PART], (SHEET,), start=(Placement("a", "cloth", 0, np.nan, 0),)), "not a number"),
        (Problem([PART], (SHEET,), start=(Placement("b", "cloth", 0, 0, 0),)), "not among the pieces"),
        (Problem([PART], (SHEET,), start=(Placement("a", "z", 0, 0, 0),)), "not among the cloths"),
        (Problem([PART], (Sheet("c", box_points(9, 9), fold=((0, np.nan), (9, 0))),)), "fold of “c” has a point"),
        (Problem([PART], (Sheet("c", box_points(9, 9), fold=((0, 4), (9, 4))),)), "fold of “c” does not lie"),
        (Problem([PART], (Sheet("c", box_points(9, 9), edges=(Edge("hem", np.zeros((1, 2))),)),)), "no line of at least"),
    ],
)  # fmt: skip
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


def test_ten_thousand_points_each_of_them_twice_and_one_crossing() -> None:
    t = np.linspace(0, 2 * np.pi, 10_000, endpoint=False)
    ring = np.repeat(np.column_stack([np.cos(t), np.sin(t)]) * 100, 2, axis=0)
    assert solve(Problem([Part("round", ring, 2, None)], (SHEET,)), passes=100).complete
    ring[[40, 4000]] = ring[[4000, 40]]
    with pytest.raises(BadShape, match="“round” crosses or touches itself at"):
        solve(Problem([Part("round", ring, 2, None)], (SHEET,)), passes=1)


def test_no_error_shows_a_traceback_word() -> None:
    """Sentences are for people: no exception names, no file names, one line."""
    bad = Problem([Part("a", np.array([[0, 0], [10, 10], [10, 0], [0, 10.0]]))], (SHEET,))
    with pytest.raises(BadInput) as caught:
        solve(bad, passes=1)
    said = str(caught.value)
    assert said.endswith(".")
    assert "\n" not in said
    assert "Error" not in said


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


def own(**part: object) -> dict:
    return {"format": "eke-lay-1", "parts": [{"id": "a", "outline": [[0, 0], [9, 0], [9, 9]], **part}]}


@pytest.mark.parametrize(
    "raw",
    [[], {}, {"format": "eke-lay-1"}, {"format": "nesting-answer-1", "placements": [{}]},
     {"format": "nesting-answer-1", "placements": 3},
     {"format": "nesting-answer-1", "placements": [{"piece": "a", "rotation_deg": 0, "translation": [1]}]},
     {"format": "nesting-answer-1", "placements": [{"piece": "a", "rotation_deg": "x", "translation": [1, 2]}]}],
)  # fmt: skip
def test_bad_answers(raw: object) -> None:
    with pytest.raises(BadInput):
        placements_from_dict(raw)  # type: ignore[arg-type]


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
        (own(turn_degs=[0]), "“a” says “turn_degs”, which is no word"),
        (own(count=1.5), "count of “a” is 1.5; a whole number"),
        (own(count="2"), "count of “a” is “2”; a number"),
        (own(count=float("nan")), "whole number"),
        (own(count=True), "a number is needed"),
        (own(turns_deg="upright"), "neither a list of degrees nor “free”"),
        (own(turns_deg=[0, None]), "A turn of “a” is “None”"),
        (own(mirror_allowed="no"), "true or false"),
        (own(on_edge=[{"kind": "hem"}]), "no “stretch”"),
        (own(on_edge={"stretch": 0}), "should be a list"),
        (own(tilt_pair="fronts"), "not a JSON object"),
        (own(phases=[{"at": [1], "repeat": "weft"}]), "not a point"),
        (own(outline={"x": 1}), "list of points"),
        ({**own(), "sheets": [{"id": "s"}]}, "“s” has no “outline”"),
        ({**own(), "sheets": [{"id": "s", "outline": [[0, 0], [9, 0], [9, 9]], "edges": [{"kind": "hem", "from": 0, "to": 7}]}]},
         "points 0 to 2"),
        ({**own(), "sheets": [{"id": "s", "outline": [[0, 0], [9, 0], [9, 9]], "fold": [[0, 0]]}]}, "not two points"),
        ({**own(), "strip": {}}, "no “height_mm”"),
        ({**own(), "locked": [{"part": "a"}]}, "no “turn_deg”"),
        ({**own(), "sheets": 5}, "should be a list"),
        ({"format": "nesting-case-1", "pieces": 7}, "cannot be read|should be"),
        ({"format": "nesting-case-1", "pieces": [{"id": "a", "polygon": [[0, 0], [1, 0], [0, 1]], "demand": 0.5}]}, "whole"),
    ],
)  # fmt: skip
def test_bad_documents(raw: object, words: str) -> None:
    with pytest.raises(BadInput, match=words):
        problem_from_dict(raw)  # type: ignore[arg-type]


def test_shape_errors_are_shape_errors() -> None:
    with pytest.raises(BadShape):
        solve(Problem([Part("a", np.zeros((4, 2)))], (SHEET,)), passes=1)
