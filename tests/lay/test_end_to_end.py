"""Each rule from a document to a checked answer and back: what the format says is what is kept."""

from __future__ import annotations

import json
from typing import Any

import pytest
from shapely.geometry import Polygon
from shapes import box_points, broken_rules, laid

from eke.lay import Answer, Problem, answer_to_dict, faults, placements_from_dict, problem_from_dict, solve


def box(w: float, h: float, x: float = 0.0, y: float = 0.0) -> list[list[float]]:
    return box_points(w, h, x, y).tolist()


def lay(document: dict[str, Any], passes: int = 400, **kw: Any) -> tuple[Problem, Answer]:
    problem = problem_from_dict(json.loads(json.dumps({"format": "eke-lay-1", **document})))
    answer = solve(problem, passes=passes, seed=1, **kw)
    assert broken_rules(problem, answer.placements) == []
    assert placements_from_dict(json.loads(json.dumps(answer_to_dict(answer)))) == answer.placements
    return problem, answer


def test_zones_take_what_is_good_enough_for_them() -> None:
    problem, answer = lay(
        {
            "parts": [
                {"id": "front", "outline": box(150, 150), "count": 2, "min_quality": "full"},
                {"id": "pocket", "outline": box(100, 100), "count": 2, "min_quality": 2},
                {"id": "facing", "outline": box(140, 140), "count": 1},
            ],
            "sheets": [
                {
                    "id": "curtain",
                    "outline": box(460, 310),
                    "zones": [
                        {"quality": 1, "polygon": box(150, 150, 0, 0)},
                        {"quality": 2, "polygon": box(310, 150, 150, 0)},
                    ],
                }
            ],
        }
    )
    assert answer.complete
    poor = Polygon(box(150, 150, 0, 0))
    faded = Polygon(box(310, 150, 150, 0))
    for p in answer.placements:
        shape = laid(problem, p)
        if p.part != "facing":
            assert shape.intersection(poor).area < 0.05
        if p.part == "front":
            assert shape.intersection(faded).area < 0.05


@pytest.mark.parametrize("dear", [0, 1])
def test_the_dearer_cloth_is_left_whole(dear: int) -> None:
    _, answer = lay(
        {
            "parts": [{"id": "a", "outline": box(60, 40), "count": 5, "turns_deg": [0, 90]}],
            "sheets": [
                {"id": "one", "outline": box(250, 200), "cost": 9.0 if dear == 0 else 1.0},
                {"id": "two", "outline": box(250, 200), "cost": 9.0 if dear == 1 else 1.0},
            ],
        }
    )
    assert answer.complete
    assert answer.sheets_used == (("two", "one")[dear],)


def test_locked_parts_stay_where_the_document_says() -> None:
    lock = {"part": "a", "sheet": "s", "turn_deg": 30.0, "x_mm": 150.0, "y_mm": 60.0, "mirrored": False}
    problem, answer = lay(
        {
            "gap_parts_mm": 3,
            "parts": [{"id": "a", "outline": box(80, 60), "count": 4, "turns_deg": "free"}],
            "sheets": [{"id": "s", "outline": box(400, 300)}],
            "locked": [lock],
        }
    )
    assert answer.complete
    assert problem.locked[0] in answer.placements


def test_what_was_dragged_to_a_start_stays_near_it() -> None:
    dragged = {"part": "a", "sheet": "s", "turn_deg": 0.0, "x_mm": 205.0, "y_mm": 203.0}
    problem, answer = lay(
        {
            "parts": [{"id": "a", "outline": box(90, 90), "count": 5}],
            "sheets": [{"id": "s", "outline": box(300, 300)}],
            "start": [dragged, {"part": "a", "sheet": "s", "turn_deg": 0.0, "x_mm": 0.0, "y_mm": 0.0}],
        },
        workers=1,
    )
    assert answer.complete
    for want in problem.start:
        assert min(abs(p.x_mm - want.x_mm) + abs(p.y_mm - want.y_mm) for p in answer.placements) < 1e-6


def test_a_start_goes_with_what_is_locked() -> None:
    lock = {"part": "a", "sheet": "s", "turn_deg": 0.0, "x_mm": 100.0, "y_mm": 100.0}
    problem, answer = lay(
        {
            "parts": [{"id": "a", "outline": box(90, 90), "count": 3}],
            "sheets": [{"id": "s", "outline": box(190, 190)}],
            "locked": [lock],
            "start": [{**lock, "x_mm": 0.0}],
        },
        workers=1,
    )
    assert answer.complete
    assert problem.locked[0] == answer.placements[0]
    assert problem.start[0] in answer.placements


def test_what_matters_most_is_laid_first_and_the_rest_is_told() -> None:
    _, answer = lay(
        {
            "parts": [
                {"id": "nice", "outline": box(100, 100), "count": 4, "priority": 3},
                {"id": "should", "outline": box(60, 60), "count": 1, "priority": 2},
                {"id": "must", "outline": box(90, 90), "count": 2, "priority": 1},
            ],
            "sheets": [{"id": "s", "outline": box(205, 155)}],
        }
    )
    assert "must" not in answer.unplaced
    assert "should" not in answer.unplaced
    assert answer.unplaced["nice"] >= 3
    assert "nice" in answer.verdict.sentence


def test_each_part_keeps_its_own_gaps() -> None:
    problem, answer = lay(
        {
            "gap_parts_mm": 2,
            "gap_edge_mm": 1,
            "gap_hole_mm": 1,
            "parts": [
                {"id": "frays", "outline": box(70, 70), "count": 2, "gap_mm": 15, "gap_edge_mm": 12, "gap_hole_mm": 20},
                {"id": "plain", "outline": box(60, 60), "count": 5},
            ],
            "sheets": [{"id": "s", "outline": box(380, 260), "holes": [box(20, 20, 200, 120)]}],
        },
        passes=800,
    )  # fmt: skip
    assert answer.complete
    shapes = [(p.part, laid(problem, p)) for p in answer.placements]
    border, hole = Polygon(box(380, 260)).exterior, Polygon(box(20, 20, 200, 120))
    for k, (name, a) in enumerate(shapes):
        if name == "frays":
            assert border.distance(a) > 11.99
            assert hole.distance(a) > 19.99
            assert min(a.distance(b) for j, (_, b) in enumerate(shapes) if j != k) > 14.99


def test_a_folded_cloth_is_cut_through_both_layers() -> None:
    """Halves on the fold and pairs beside it: what lies once is cut twice, so the counts are those of cuts."""
    problem, answer = lay(
        {
            "gap_parts_mm": 2,
            "gap_edge_mm": 4,
            "parts": [
                {
                    "id": "back",
                    "outline": box(120, 200),
                    "turns_deg": [0, 180],
                    "mirror_allowed": True,
                    "on_fold": 3,
                },
                {"id": "front", "outline": box(110, 200), "turns_deg": [0, 180], "mirror_allowed": True},
            ],
            "sheets": [{"id": "s", "outline": box(260, 230), "fold": [[0, 230], [0, 0]]}],
        }
    )
    assert answer.complete
    assert laid(problem, next(p for p in answer.placements if p.part == "back")).bounds[0] == pytest.approx(
        0, abs=0.02
    )


def test_stripes_edges_and_a_shared_tilt_in_one_document() -> None:
    front = [[0, 0], [160, 0], [150, 240], [0, 260]]
    mirrored = [[-x, y] for x, y in reversed(front)]
    match = [{"at": [155, 60], "repeat": "weft", "match": "side seam", "tolerance_mm": 2}]
    problem, answer = lay(
        {
            "gap_parts_mm": 2,
            "gap_edge_mm": 5,
            "parts": [
                {"id": "left", "outline": front, "tilt_deg": 1, "tilt_pair": {"name": "fronts"}, "phases": match},
                {"id": "right", "outline": mirrored, "tilt_deg": 1,
                 "tilt_pair": {"name": "fronts", "mirrored": True},
                 "phases": [{**match[0], "at": [-155, 60]}]},
                {"id": "band", "outline": box(300, 40), "on_edge": [{"stretch": 0, "kind": "selvedge"}]},
                {"id": "pocket", "outline": box(80, 90), "phases": [{"at": [40, 45], "repeat": "weft", "phase": 0.5}]},
            ],
            "sheets": [
                {
                    "id": "shirting",
                    "outline": box(700, 420),
                    "edges": [{"kind": "selvedge", "from": 0, "to": 1}],
                    "repeats": [{"name": "weft", "period_mm": 24, "direction_deg": 90, "origin": [0, 6]}],
                }
            ],
        },
        passes=800,
    )  # fmt: skip
    assert answer.complete
    assert faults(problem, answer.placements) == []
