from __future__ import annotations

import dataclasses
import json
import re
from pathlib import Path

import numpy as np
import pytest
from shapes import box_points, broken_rules

from eke.errors import BadInput
from eke.lay import (
    FULL_QUALITY,
    Edge,
    EdgeRule,
    Part,
    PhaseRule,
    Placement,
    Problem,
    Repeat,
    Sheet,
    Strip,
    TiltPair,
    Zone,
    answer_to_dict,
    own_format,
    placements_from_dict,
    problem_from_dict,
    problem_to_dict,
    solve,
)

RICH = Problem(
    [
        Part("a", box_points(50, 30), 2, (0.0, 180.0), 2.5, True, 2, FULL_QUALITY, "pair", 4.0, 1.0, 6.0),
        Part("b", box_points(20, 20), 1, None, min_quality=3.0),
        Part(
            "c", box_points(20, 40), 1, on_fold=3,
            on_edge=(EdgeRule(0, "hem"), EdgeRule(1, must=False)), tilt_pair=TiltPair("fronts", mirrored=True),
            phases=(PhaseRule((1.0, 2.0), "weft", 0.25), PhaseRule((3.0, 4.0), "warp", match="side", tolerance_mm=2.0)),
        ),
    ],
    (
        Sheet(
            "s", box_points(300, 200), (box_points(5, 5, 100, 100),), (Zone(box_points(9, 9), 2.0),), 3.5,
            ((0.0, 200.0), (0.0, 0.0)), (Edge("hem", np.array([[0.0, 0.0], [300.0, 0.0]])),),
            (Repeat("weft", 24.0, 90.0, (1.0, 2.0)), Repeat("warp", 12.5)),
        ),
    ),
    None, 1.5, 0.5, 2.5, (Placement("b", "s", 12.5, 200.0, 100.0),), "everything", 0.5,
    (Placement("a", "s", 0.0, 10.0, 20.0, True),),
)  # fmt: skip


def test_own_format_says_everything() -> None:
    once = problem_to_dict(RICH)
    assert once["format"] == "eke-lay-1"
    again = problem_to_dict(problem_from_dict(json.loads(json.dumps(once))))
    assert again == once


def test_nothing_that_a_problem_can_say_is_left_out() -> None:
    """A field that is added to the problem must come back from the document too."""
    again = problem_from_dict(json.loads(json.dumps(problem_to_dict(RICH))))
    compared = 0

    def same(a: object, b: object) -> None:
        nonlocal compared
        if dataclasses.is_dataclass(a):
            assert type(a) is type(b)
            for f in dataclasses.fields(a):
                same(getattr(a, f.name), getattr(b, f.name))
        elif isinstance(a, list | tuple) and isinstance(b, list | tuple):
            assert len(a) == len(b)
            for x, y in zip(a, b, strict=True):
                same(x, y)
        else:
            compared += 1
            assert np.array_equal(np.asarray(a), np.asarray(b))

    same(RICH, again)
    assert compared > 80
    for kind in (Problem, Part, Sheet):
        given = [RICH, *RICH.parts, *RICH.sheets]
        for f in dataclasses.fields(kind):
            if f.default is not dataclasses.MISSING and (kind, f.name) != (Problem, "strip"):
                values = [getattr(g, f.name) for g in given if type(g) is kind]
                assert any(repr(v) != repr(f.default) for v in values), f"RICH says nothing of {f.name}"


PAGE = Path(__file__).resolve().parents[2] / "docs" / "reference" / "lay-format.md"
EXAMPLES = re.findall(r"```json\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)


@pytest.mark.parametrize("number", range(len(EXAMPLES)))
def test_the_examples_of_the_reference_are_laid(number: int) -> None:
    problem = problem_from_dict(json.loads(EXAMPLES[number]))
    answer = solve(problem, passes=600, seed=1)
    assert answer.complete, answer.verdict.sentence
    assert broken_rules(problem, answer.placements) == []


def test_the_reference_names_every_word() -> None:
    said = PAGE.read_text(encoding="utf-8")
    words = own_format.WORDS
    assert len(EXAMPLES) >= 7
    assert not [word for word in sorted(words) if f"`{word}`" not in said and f'"{word}"' not in said]


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
