"""What `solve` promises, on problems made here and checked by `shapes.broken_rules`."""

from __future__ import annotations

import math
import threading
import time

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import LineString, Polygon
from shapely.ops import split
from shapes import box_points, broken_rules, laid, moved, star

from eke.lay import Part, Placement, Problem, Progress, Sheet, Strip, Zone, faults, solve
from eke.lay.search.hand import MOVES_A_LOOK
from eke.lay.search.moves import TRIED_PER_MOVE
from eke.lay.solve import rank_of

L_SHAPE = np.array([[0, 0], [400, 0], [400, 180], [180, 180], [180, 400], [0, 400.0]])


def random_problem(seed: int, fill: float = 0.4) -> Problem:
    rng = np.random.default_rng(seed)
    sheets = tuple(
        Sheet(
            f"s{k}", star(rng, 300, 12) + np.array([k * 50.0, 20.0]), (box_points(25, 25, -12 + k * 50, 10),)
        )
        for k in range(int(rng.integers(1, 3)))
    )
    room = sum(Polygon(s.outline).area for s in sheets) * fill
    parts: list[Part] = []
    while room > 0 and len(parts) < 12:
        outline = star(rng, float(rng.uniform(25, 80)), int(rng.integers(3, 10)))
        turns = [None, (0.0,), (0.0, 180.0), (45.0, 135.0, 225.0, 315.0)][int(rng.integers(4))]
        tilt = float(rng.choice([0.0, 0.0, 3.0]))
        part = Part(
            f"p{len(parts)}", outline, int(rng.integers(1, 3)), turns, tilt if turns else 0.0,
            bool(rng.integers(2)), int(rng.integers(1, 4)),
        )  # fmt: skip
        room -= Polygon(outline).area * part.count
        parts.append(part)
    return Problem(
        parts, sheets, gap_parts_mm=float(rng.choice([0, 2, 5])), gap_edge_mm=float(rng.choice([0, 1, 4])),
        gap_hole_mm=float(rng.choice([0, 3, 6])),
    )  # fmt: skip


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(0, 100_000))
def test_every_lay_keeps_every_rule(seed: int) -> None:
    problem = random_problem(seed)
    answer = solve(problem, passes=40, seed=seed, workers=1, leftover=0 if seed % 3 else 30)
    assert broken_rules(problem, answer.placements) == []
    placed = sum(1 for _ in answer.placements)
    assert placed + sum(answer.unplaced.values()) == sum(p.count for p in problem.parts)
    assert answer.complete == (not answer.unplaced)


def jigsaw(seed: int, pieces: int) -> list[Polygon]:
    """Cut a random outline by straight lines into pieces."""
    rng = np.random.default_rng(seed)
    parts = [Polygon(star(rng, 300, 9)).convex_hull]
    while len(parts) < pieces:
        parts.sort(key=lambda p: p.area)
        big = parts.pop()
        a = rng.uniform(0, math.pi)
        c = big.centroid
        line = LineString(
            [
                (c.x - 900 * math.cos(a), c.y - 900 * math.sin(a)),
                (c.x + 900 * math.cos(a), c.y + 900 * math.sin(a)),
            ]
        )
        parts.extend(g for g in split(big, line).geoms)
    return parts


@pytest.mark.parametrize(("seed", "pieces"), [(1, 2), (2, 3), (3, 4), (4, 5), (5, 6), (6, 6)])
def test_jigsaws_with_one_percent_room(seed: int, pieces: int) -> None:
    cut = jigsaw(seed, pieces)
    whole = Polygon(star(np.random.default_rng(seed), 300, 9)).convex_hull
    room = affinity.scale(whole, math.sqrt(1.01), math.sqrt(1.01))
    # each piece starts from somewhere else and at its own turn
    parts = [
        Part(f"p{k}", moved(np.asarray(g.exterior.coords)[:-1], 0, 500 * k, -70), 1)
        for k, g in enumerate(cut)
    ]
    problem = Problem(parts, (Sheet("s", np.asarray(room.exterior.coords)[:-1]),))
    answer = solve(problem, passes=6000, seed=seed)
    assert answer.complete
    assert broken_rules(problem, answer.placements) == []


def test_exact_jigsaw_survives_as_a_start() -> None:
    cut = jigsaw(7, 6)
    whole = Polygon(star(np.random.default_rng(7), 300, 9)).convex_hull
    parts = [Part(f"p{k}", np.asarray(g.exterior.coords)[:-1]) for k, g in enumerate(cut)]
    problem = Problem(parts, (Sheet("s", np.asarray(whole.exterior.coords)[:-1]),))
    start = [Placement(p.id, "s", 0.0, 0.0, 0.0) for p in parts]
    answer = solve(problem, passes=10, start=start)
    assert answer.complete
    assert list(answer.placements) == start


def test_a_spoilt_start_is_mended_near_where_it_was() -> None:
    problem = Problem([Part("a", box_points(90, 90), 4)], (Sheet("s", box_points(200, 200)),))
    start = [Placement("a", "s", 0, x, y) for x in (0, 95) for y in (0, 95)]
    start[0] = Placement("a", "s", 0, 8, 8)
    answer = solve(problem, passes=50, start=start, workers=1)
    assert answer.complete
    for want in start[1:]:
        assert any(abs(p.x_mm - want.x_mm) < 25 and abs(p.y_mm - want.y_mm) < 25 for p in answer.placements)


def test_same_seed_and_passes_same_answer() -> None:
    problem = random_problem(11, 0.6)
    first = solve(problem, passes=150, seed=5)
    again = solve(problem, passes=150, seed=5)
    assert first.placements == again.placements
    assert first.unplaced == again.unplaced


def test_strip_same_seed_and_passes_same_answer() -> None:
    rng = np.random.default_rng(3)
    problem = Problem(
        [Part(f"p{k}", star(rng, 60, 6), 2, (0.0, 180.0)) for k in range(5)], strip=Strip(200.0)
    )
    first = solve(problem, passes=400, seed=2)
    assert first.placements == solve(problem, passes=400, seed=2).placements
    assert first.complete
    assert broken_rules(problem, first.placements) == []
    assert first.length_mm == pytest.approx(
        max(laid(problem, p).bounds[2] for p in first.placements)
        - min(laid(problem, p).bounds[0] for p in first.placements)
    )


def test_stop_is_obeyed_within_a_bounded_number_of_positions() -> None:
    problem = random_problem(4, 1.2)
    flag = threading.Event()
    flag.set()
    n = sum(p.count for p in problem.parts)
    answer = solve(problem, seconds=60, stop=flag, workers=1)
    # one piece laid (its samples and their refinement), then the flag is seen
    assert answer.tried <= 2 * TRIED_PER_MOVE * MOVES_A_LOOK
    looked: list[int] = []

    def stop() -> bool:
        looked.append(1)
        return len(looked) > n + 50

    answer = solve(problem, seconds=60, stop=stop, workers=1)
    assert answer.tried <= (len(looked) + 2) * TRIED_PER_MOVE * MOVES_A_LOOK
    assert broken_rules(problem, answer.placements) == []


def test_listener_hears_ever_better_sound_lays() -> None:
    heard: list[Progress] = []
    problem = random_problem(21, 0.95)
    answer = solve(problem, passes=300, listener=heard.append, workers=1)
    assert heard
    for news in heard:
        assert faults(problem, news.answer.placements) == []
    assert heard[-1].answer.placements == answer.placements


def test_a_slow_listener_hears_two_threads_in_order() -> None:
    """Whoever tells of a lay holds the others back, so nobody hears a better lay before a worse one."""
    heard: list[tuple[float, ...]] = []
    problem = random_problem(4, 1.3)

    def hear(news: Progress) -> None:
        time.sleep(0.02)
        heard.append(rank_of(problem, news.answer.placements)[0])

    solve(problem, passes=60, listener=hear, workers=2, leftover=0)
    assert len(heard) > 1
    assert heard == sorted(heard)


def test_a_start_with_everything_on_stays_unless_a_better_leftover_is_asked() -> None:
    problem = Problem([Part("a", box_points(90, 90), 3)], (Sheet("s", box_points(400, 200)),))
    start = [Placement("a", "s", 0, 5, 5), Placement("a", "s", 0, 155, 100), Placement("a", "s", 0, 300, 5)]
    kept = solve(problem, passes=300, start=start, workers=1)
    assert list(kept.placements) == start
    better = solve(problem, passes=300, start=start, workers=1, leftover=250)
    assert broken_rules(problem, better.placements) == []
    assert better.leftovers[0].rectangle_mm2 > 1.2 * kept.leftovers[0].rectangle_mm2


def test_scattered_overlapping_and_strange_starts_are_all_starts() -> None:
    """Off the sheet, on top of each other, at a turn that is not allowed: each is mended."""
    problem = Problem([Part("a", box_points(90, 60), 4, (0.0, 180.0))], (Sheet("s", box_points(210, 150)),))
    for start in (
        [Placement("a", "s", 0, 20, 20)] * 4,
        [Placement("a", "s", 0, 5000, -4000), Placement("a", "s", 0, 10, 10)],
        [Placement("a", "s", 77, 50, 50)],
    ):
        answer = solve(problem, passes=200, start=start, workers=1)
        assert answer.complete
        assert broken_rules(problem, answer.placements) == []


def test_priorities_come_before_area() -> None:
    must = Part("must", box_points(90, 90), 2, priority=1)
    nice = Part("nice", box_points(100, 100), 4, priority=3)
    problem = Problem([nice, must], (Sheet("s", box_points(205, 205)),))
    answer = solve(problem, passes=400)
    assert answer.unplaced == {"nice": 2}


def test_the_verdict_of_a_lay_that_falls_short() -> None:
    problem = Problem([Part("a", box_points(110, 110), 4)], (Sheet("s", box_points(225, 218)),))
    answer = solve(problem, passes=120)
    assert not answer.complete
    assert answer.verdict.proof is None  # area alone would do
    assert answer.verdict.area_short_mm2 == pytest.approx(110 * 110 * sum(answer.unplaced.values()))
    assert answer.verdict.clashes
    assert answer.verdict.clashes[0].depth_mm > 0
    assert "missing" in answer.verdict.sentence


def test_zones_holes_and_gaps_together() -> None:
    sheet = Sheet("s", L_SHAPE, (box_points(20, 20, 80, 80),), (Zone(box_points(180, 120, 0, 280), 1.0),))
    fussy = Part("fussy", box_points(110, 70), 3, (0.0, 90.0), min_quality=2.0)
    plain = Part("plain", box_points(80, 60), 3, (0.0, 90.0))
    problem = Problem([fussy, plain], (sheet,), gap_parts_mm=4, gap_edge_mm=3, gap_hole_mm=6)
    answer = solve(problem, passes=600)
    assert answer.complete
    assert broken_rules(problem, answer.placements) == []


def test_own_gaps() -> None:
    wide = Part("wide", box_points(60, 60), 2, gap_mm=12.0, gap_edge_mm=20.0)
    plain = Part("plain", box_points(60, 60), 6)
    problem = Problem([wide, plain], (Sheet("s", L_SHAPE),), gap_parts_mm=2.0)
    answer = solve(problem, passes=600)
    assert answer.complete
    assert broken_rules(problem, answer.placements) == []
    for p in answer.placements:
        if p.part == "wide":
            assert Polygon(L_SHAPE).exterior.distance(laid(problem, p)) > 19.98


def test_locked_pieces_stay_and_keep_others_off() -> None:
    lock = Placement("a", "s", 30.0, 150.0, 60.0)
    problem = Problem(
        [Part("a", box_points(80, 60), 5, None)], (Sheet("s", L_SHAPE),), gap_parts_mm=3, locked=(lock,)
    )
    answer = solve(problem, passes=400)
    assert answer.complete
    assert lock in answer.placements
    assert broken_rules(problem, answer.placements) == []


def test_mirroring_is_used_when_allowed_only() -> None:
    left = np.array([[0, 0], [100, 0], [0, 100.0]])
    hole = Sheet("s", np.array([[0, 0], [101, 0], [101, 101.0]]))  # room for the other hand only
    assert not solve(Problem([Part("t", left)], (hole,)), passes=60).complete
    answer = solve(Problem([Part("t", left, mirror_allowed=True)], (hole,)), passes=200)
    assert answer.complete
    assert answer.placements[0].mirrored


def test_pieces_tied_to_one_turn_lie_alike() -> None:
    rng = np.random.default_rng(8)
    parts = [
        Part("l", star(rng, 60, 7), 2, (0.0, 180.0), same_turn="nap"),
        Part("r", star(rng, 70, 8), 2, (0.0, 180.0), same_turn="nap"),
        Part("free", star(rng, 40, 5), 3, (0.0, 180.0)),
    ]
    answer = solve(Problem(parts, (Sheet("s", L_SHAPE),)), passes=600)
    assert answer.complete
    assert len({round(p.turn_deg) for p in answer.placements if p.part in "lr"}) == 1


def test_a_small_tilt_stays_small_and_helps() -> None:
    strip = np.asarray(affinity.rotate(Polygon(box_points(300, 60)), 4).exterior.coords)[:-1]
    sheet = (Sheet("s", strip),)
    part = Part("p", box_points(297, 57), 1, (0.0, 180.0))
    assert not solve(Problem([part], sheet), passes=60).complete
    tilted = Problem([Part("p", box_points(297, 57), 1, (0.0, 180.0), 5.0)], sheet)
    answer = solve(tilted, passes=600)
    assert answer.complete
    assert broken_rules(tilted, answer.placements) == []


def test_free_turning_finds_the_slanted_place() -> None:
    slanted = np.asarray(affinity.rotate(Polygon(box_points(300, 60)), 37).exterior.coords)[:-1]
    problem = Problem([Part("p", box_points(98, 57), 3, None)], (Sheet("s", slanted),))
    answer = solve(problem, passes=1500)
    assert answer.complete
    assert broken_rules(problem, answer.placements) == []


def test_half_pieces_lie_on_the_fold() -> None:
    fold = ((0.0, 400.0), (0.0, 0.0))
    half = Part("half", box_points(120, 150), 2, (0.0, 180.0), mirror_allowed=True, on_fold=3)
    other = Part("other", box_points(50, 60), 4, (0.0, 90.0))
    problem = Problem([half, other], (Sheet("s", L_SHAPE, fold=fold),), gap_parts_mm=2, gap_edge_mm=5)
    answer = solve(problem, passes=500)
    assert answer.complete
    assert broken_rules(problem, answer.placements) == []
    for p in answer.placements:
        if p.part == "half":
            assert laid(problem, p).bounds[0] == pytest.approx(0.0, abs=0.02)


@pytest.mark.parametrize("turn", [0.0, 33.0, 90.0])
def test_moving_everything_keeps_the_verdict(turn: float) -> None:
    base = random_problem(5, 0.45)
    sheets = tuple(
        Sheet(s.id, moved(s.outline, turn, 700, -300), tuple(moved(h, turn, 700, -300) for h in s.holes))
        for s in base.sheets
    )
    parts = [
        Part(
            p.id, moved(p.outline, turn, -50, 90), p.count, p.turns, p.tilt_deg, p.mirror_allowed, p.priority
        )
        for p in base.parts
    ]
    problem = Problem(parts, sheets, None, base.gap_parts_mm, base.gap_edge_mm, base.gap_hole_mm)
    answer = solve(problem, passes=800, seed=1)
    assert broken_rules(problem, answer.placements) == []
    assert answer.complete == solve(base, passes=800, seed=1).complete


@pytest.mark.parametrize("scale", [0.1, 25.0])
def test_scaling_everything_keeps_the_verdict(scale: float) -> None:
    base = random_problem(6, 0.45)
    sheets = tuple(Sheet(s.id, s.outline * scale, tuple(h * scale for h in s.holes)) for s in base.sheets)
    parts = [
        Part(p.id, p.outline * scale, p.count, p.turns, p.tilt_deg, p.mirror_allowed, p.priority)
        for p in base.parts
    ]
    problem = Problem(
        parts, sheets, None, base.gap_parts_mm * scale, base.gap_edge_mm * scale, base.gap_hole_mm * scale
    )
    answer = solve(problem, passes=800, seed=1)
    assert faults(problem, answer.placements) == []
    assert answer.complete == solve(base, passes=800, seed=1).complete


def test_what_a_start_left_out_is_laid_and_the_rest_stays() -> None:
    """Three of four squares lie well, one is missing: none of the three has to move for it."""
    problem = Problem([Part("a", box_points(90, 90), 4)], (Sheet("s", box_points(190, 190)),))
    start = [Placement("a", "s", 0, 0, 0), Placement("a", "s", 0, 100, 0), Placement("a", "s", 0, 0, 100)]
    answer = solve(problem, passes=50, start=start, workers=1)
    assert answer.complete
    for want in start:
        assert min(abs(p.x_mm - want.x_mm) + abs(p.y_mm - want.y_mm) for p in answer.placements) < 1e-6


def test_a_sound_start_is_the_first_answer() -> None:
    """Five squares for a sheet of four: the start's own three are told first, and never lost."""
    problem = Problem([Part("a", box_points(90, 90), 5)], (Sheet("s", box_points(190, 190)),))
    start = [Placement("a", "s", 0, 0, 0), Placement("a", "s", 0, 100, 0), Placement("a", "s", 0, 0, 100)]
    told: list[int] = []
    answer = solve(
        problem, passes=20, start=start, workers=1, listener=lambda p: told.append(len(p.answer.placements))
    )
    assert told[0] == 3
    assert told == sorted(told)
    assert len(answer.placements) == 4


def test_locked_parts_and_a_start_go_together() -> None:
    problem = Problem(
        [Part("a", box_points(90, 90), 4)], (Sheet("s", box_points(190, 190)),),
        locked=(Placement("a", "s", 0, 100, 100),),
    )  # fmt: skip
    start = [problem.locked[0], Placement("a", "s", 0, 95, 0)]
    answer = solve(problem, passes=100, start=start, workers=1)
    assert answer.complete
    assert answer.placements[0] == problem.locked[0]
    assert broken_rules(problem, answer.placements) == []
