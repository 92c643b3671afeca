"""Edges of parts on edges of sheets: selvedges, finished hems, folds. Each is a rail."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import LineString, Polygon
from shapes import box_points, broken_rules, laid, off_line, star

from eke.errors import BadInput
from eke.lay import Edge, EdgeRule, Part, Placement, Problem, Sheet, faults, problem_from_dict, solve
from eke.lay.rails import rails_of, straight_runs, stretches

CLOTH = box_points(600, 400)
SELVEDGE = Edge("selvedge", np.array([[600.0, 400.0], [0.0, 400.0]]))
HEM = Edge("hem", np.array([[0.0, 0.0], [600.0, 0.0]]))


def test_an_edge_that_must_lies_on_the_hem_in_spite_of_the_gap() -> None:
    skirt = Part("skirt", np.array([[0, 0], [200, 0], [170, 150], [30, 150.0]]), 2, (0.0, 180.0),
                 on_edge=(EdgeRule(0, "hem"),))  # fmt: skip
    other = Part("other", box_points(90, 60), 4, (0.0, 90.0))
    problem = Problem(
        [skirt, other], (Sheet("s", CLOTH, edges=(HEM, SELVEDGE)),), gap_parts_mm=2, gap_edge_mm=8
    )
    answer = solve(problem, passes=500, seed=1)
    assert answer.complete
    assert broken_rules(problem, answer.placements) == []
    for p in answer.placements:
        y0 = laid(problem, p).bounds[1]
        assert y0 == pytest.approx(0.0, abs=0.5) if p.part == "skirt" else y0 > 7.98


def test_the_upper_edge_takes_a_part_the_other_way_up() -> None:
    piece = Part(
        "p", np.array([[0, 0], [100, 0], [80, 60], [0, 60.0]]), 1, None, on_edge=(EdgeRule(0, "selvedge"),)
    )
    problem = Problem([piece], (Sheet("s", CLOTH, edges=(HEM, SELVEDGE)),), gap_edge_mm=5)
    answer = solve(problem, passes=50)
    assert answer.complete
    assert answer.placements[0].turn_deg == pytest.approx(180.0, abs=1e-3)
    assert laid(problem, answer.placements[0]).bounds[3] == pytest.approx(400.0, abs=0.5)


def test_may_lies_there_where_room_is_short_and_needs_not_elsewhere() -> None:
    # with a gap of 10 mm to every edge the 400 mm hold 380 only; the selvedge spares one of the gaps
    strip = Part("strip", box_points(570, 190), 2, (0.0,))
    problem = Problem([strip], (Sheet("s", CLOTH, edges=(SELVEDGE,)),), gap_edge_mm=10)
    assert not solve(
        Problem([Part("strip", box_points(570, 194), 2)], problem.sheets, gap_edge_mm=10), passes=60
    ).complete
    may = Part("strip", box_points(570, 194), 2, (0.0,), on_edge=(EdgeRule(2, "selvedge", must=False),))
    asked = Problem([may], problem.sheets, gap_edge_mm=10)
    answer = solve(asked, passes=400)
    assert answer.complete
    assert broken_rules(asked, answer.placements) == []
    assert max(laid(asked, p).bounds[3] for p in answer.placements) > 390.0
    assert min(laid(asked, p).bounds[1] for p in answer.placements) > 9.98  # the other edges keep their gap


def test_two_edges_at_once_leave_the_corner() -> None:
    corner = Part("corner", box_points(100, 80), 1, (0.0, 90.0, 180.0, 270.0),
                  on_edge=(EdgeRule(0, "hem"), EdgeRule(3, "selvedge")))  # fmt: skip
    side = Edge("selvedge", np.array([[0.0, 400.0], [0.0, 0.0]]))
    problem = Problem(
        [corner, Part("x", box_points(70, 70), 3)], (Sheet("s", CLOTH, edges=(HEM, side)),), gap_edge_mm=3
    )
    answer = solve(problem, passes=200)
    assert answer.complete
    assert broken_rules(problem, answer.placements) == []
    place = next(p for p in answer.placements if p.part == "corner")
    assert (place.x_mm, place.y_mm) == pytest.approx((0.0, 0.0), abs=0.01)


def test_a_half_on_the_fold_with_its_hem_on_the_finished_hem() -> None:
    fold = ((0.0, 400.0), (0.0, 0.0))
    half = Part("half", np.array([[0, 0], [150, 0], [120, 200], [0, 200.0]]), 1, (0.0, 180.0), mirror_allowed=True,
                on_fold=3, on_edge=(EdgeRule(0, "hem"),))  # fmt: skip
    problem = Problem([half], (Sheet("s", CLOTH, edges=(HEM,), fold=fold),), gap_edge_mm=6)
    answer = solve(problem, passes=100)
    assert answer.complete
    assert broken_rules(problem, answer.placements) == []


def test_where_no_edge_will_do_the_rest_is_laid_and_the_reason_told() -> None:
    long = Part("long", box_points(700, 20), 1, (0.0,), on_edge=(EdgeRule(0, "hem"),))
    across = Part("across", box_points(100, 20), 1, (90.0,), on_edge=(EdgeRule(0, "hem"),))
    other = Part("other", box_points(90, 60), 2)
    for part in (long, across):
        answer = solve(Problem([part, other], (Sheet("s", box_points(900, 800), edges=(HEM,)),)), passes=50)
        assert answer.unplaced == {part.id: 1}
        assert len(answer.placements) == 2
        assert answer.verdict.proof is not None
        assert "straight and long enough" in answer.verdict.proof


def test_a_traced_selvedge_that_wavers_is_straight_enough() -> None:
    x = np.linspace(0, 600, 25)
    wavy = np.column_stack([x, 0.15 * np.sin(x / 37)])
    outline = np.vstack([wavy, [[600, 400], [0, 400]]])
    part = Part("p", box_points(250, 120), 2, (0.0,), tilt_deg=0.1, on_edge=(EdgeRule(0, "selvedge"),))
    problem = Problem(
        [part], (Sheet("s", outline, edges=(Edge("selvedge", wavy),)),), gap_parts_mm=2, gap_edge_mm=4
    )
    answer = solve(problem, passes=100)
    assert answer.complete
    assert faults(problem, answer.placements) == []
    assert broken_rules(problem, answer.placements) == []


def test_an_edge_is_named_by_points_of_the_outline_or_by_a_line() -> None:
    raw = {
        "format": "eke-lay-1",
        "parts": [
            {"id": "p", "outline": box_points(50, 30).tolist(), "on_edge": [{"stretch": 0, "kind": "hem"}]}
        ],
        "sheets": [
            {"id": "s", "outline": CLOTH.tolist(), "edges": [{"kind": "hem", "from": 0, "to": 1}]},
            {"id": "t", "outline": CLOTH.tolist(), "edges": [{"kind": "hem", "line": [[0, 0], [600, 0]]}]},
            {"id": "round", "outline": CLOTH.tolist(), "edges": [{"kind": "hem", "from": 3, "to": 0}]},
        ],
    }
    problem = problem_from_dict(raw)
    assert problem.sheets[0].edges[0].line.tolist() == problem.sheets[1].edges[0].line.tolist()
    assert problem.sheets[2].edges[0].line.tolist() == [[0, 400], [0, 0]]
    rails, must = rails_of(problem.parts[0], problem.sheets, (0.0,))
    assert must
    assert [r.sheet for r in rails] == [0, 1]
    assert rails[0].length == pytest.approx(550)


def test_runs_keep_the_sheet_on_their_left_whichever_way_the_outline_was_drawn() -> None:
    line = LineString([(600, 400), (0, 400)])
    for outline in (CLOTH, CLOTH[::-1]):
        (run,) = straight_runs(stretches(outline, line)[0], 0.4)
        assert run.along == pytest.approx((-1.0, 0.0))
        assert run.start == pytest.approx((600.0, 400.0))


def test_the_checker_sees_a_part_off_its_edge() -> None:
    part = Part("p", box_points(100, 50), 1, None, on_edge=(EdgeRule(0, "hem"),))
    problem = Problem([part], (Sheet("s", CLOTH, edges=(HEM,)),), gap_edge_mm=5)
    good = Placement("p", "s", 0.0, 50.0, 0.0)
    assert faults(problem, [good]) == []
    for bad in (Placement("p", "s", 0, 50, 2), Placement("p", "s", 3, 50, 0.1), Placement("p", "s", 0, 2, 0)):
        assert faults(problem, [bad])
        assert broken_rules(problem, (bad,))


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        (EdgeRule(9, "hem"), "no edge number 9"),
        (EdgeRule(0, "ribbon"), "no cloth has one"),
        (EdgeRule(2, "hem"), "reaches .* beyond"),
    ],
)
def test_edges_that_cannot_be_asked_for(rule: EdgeRule, words: str) -> None:
    hollow = np.array([[0, 0], [100, 0], [100, 50], [50, 20], [0, 50.0]])
    problem = Problem([Part("p", hollow, on_edge=(rule,))], (Sheet("s", CLOTH, edges=(HEM,)),))
    with pytest.raises(BadInput, match=words):
        solve(problem, passes=1)


def test_a_line_beside_the_outline_names_no_edge() -> None:
    sheet = Sheet("s", CLOTH, edges=(Edge("hem", np.array([[0.0, 1.0], [600.0, 1.0]])),))
    with pytest.raises(BadInput, match="does not run along the outline"):
        solve(Problem([Part("p", box_points(9, 9))], (sheet,)), passes=1)


def random_edges(seed: int) -> Problem:
    """Convex parts that ask for edges, on random sheets of which some straight stretches have names."""
    rng = np.random.default_rng(seed)
    sheets = []
    for k in range(int(rng.integers(1, 3))):
        outline = star(rng, 300, int(rng.integers(4, 10)))
        if rng.integers(2):
            outline = outline[::-1]
        n = len(outline)
        edges = tuple(
            Edge(str(rng.choice(["selvedge", "hem"])), np.array([outline[i], outline[(i + 1) % n]]))
            for i in range(n)
            if rng.random() < 0.7
        )
        sheets.append(Sheet(f"s{k}", outline, (box_points(20, 20, -8, 5),), edges=edges))
    kinds = ["", *sorted({e.kind for s in sheets for e in s.edges})]
    parts = []
    for k in range(int(rng.integers(2, 6))):
        outline = np.asarray(Polygon(star(rng, float(rng.uniform(20, 60)), 7)).convex_hull.exterior.coords)[
            :-1
        ]
        if rng.integers(2):
            outline = outline[::-1]
        rules: tuple[EdgeRule, ...] = ()
        if len(kinds) > 1 and rng.random() < 0.8:
            rules = (
                EdgeRule(int(rng.integers(len(outline))), str(rng.choice(kinds)), bool(rng.integers(2))),
            )
        turns = [None, None, (0.0, 90.0, 180.0, 270.0)][int(rng.integers(3))]
        parts.append(
            Part(f"p{k}", outline, 1, turns, 0.0 if turns is None else 30.0, bool(rng.integers(2)), on_edge=rules,
                 gap_mm=float(rng.choice([0, 6])), gap_edge_mm=float(rng.choice([0, 2, 9])))
        )  # fmt: skip
    return Problem(
        parts, tuple(sheets), gap_parts_mm=float(rng.choice([0, 2, 5])), gap_edge_mm=float(rng.choice([0, 4]))
    )


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(0, 100_000))
@example(100_040)  # a region that buffering leaves not quite whole
def test_every_lay_keeps_its_edges(seed: int) -> None:
    problem = random_edges(seed)
    answer = solve(problem, passes=40, seed=seed, workers=1)
    assert broken_rules(problem, answer.placements) == []
    assert len(answer.placements) + sum(answer.unplaced.values()) == sum(p.count for p in problem.parts)


def test_most_random_parts_find_their_edge() -> None:
    """The property above must not hold for want of placements."""
    asked = placed = 0
    for seed in range(12):
        problem = random_edges(seed)
        must = {p.id for p in problem.parts if any(r.must for r in p.on_edge)}
        possible = {
            p.id for p in problem.parts if p.id in must and rails_of(p, problem.sheets, p.turns or (0.0,))[0]
        }
        answer = solve(problem, passes=60, seed=1, workers=1)
        asked += len(possible)
        placed += len(possible & {p.part for p in answer.placements})
    assert asked >= 10
    assert placed >= 0.7 * asked


def test_turning_everything_keeps_the_verdict() -> None:
    part = Part(
        "p",
        np.array([[0, 0], [200, 0], [170, 150], [30, 150.0]]),
        3,
        (0.0, 180.0),
        on_edge=(EdgeRule(0, ""),),
    )
    verdicts = []
    for turn in (0.0, 31.0):

        def turned(points: np.ndarray, turn: float = turn) -> np.ndarray:
            a = math.radians(turn)
            return points @ np.array([[math.cos(a), math.sin(a)], [-math.sin(a), math.cos(a)]])

        sheet = Sheet(
            "s", turned(CLOTH), edges=(Edge("hem", turned(HEM.line)), Edge("selvedge", turned(SELVEDGE.line)))
        )
        one = Part("p", part.outline, 3, (turn, turn + 180.0), on_edge=part.on_edge)
        problem = Problem([one], (sheet,), gap_edge_mm=4, gap_parts_mm=2)
        answer = solve(problem, passes=200)
        assert broken_rules(problem, answer.placements) == []
        verdicts.append(answer.complete)
    assert verdicts == [True, True]


def test_off_line_can_fail() -> None:
    part = Part("p", box_points(100, 50))
    line = [LineString([(0, 0), (600, 0)])]
    assert off_line(part, Placement("p", "s", 0, 10, 0), 0, line) == pytest.approx(0)
    assert off_line(part, Placement("p", "s", 0, 10, 3), 0, line) == pytest.approx(3)
    assert affinity.translate(laid(Problem([part], ()), Placement("p", "s", 0, 10, 3)), 0, -3).bounds[1] == 0
