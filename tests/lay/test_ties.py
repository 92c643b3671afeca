"""What pieces have in common: dealt, dealt anew, taken over from a start or from what is locked."""

from __future__ import annotations

import numpy as np
from shapes import box_points, broken_rules

from eke.lay import Part, PhaseRule, Placement, Problem, Repeat, Sheet, TiltPair, solve
from eke.lay.collide.tables import PF_PHASE, PF_TH, PF_TILT, PI_MIRROR, PI_TURN
from eke.lay.prepare import Ground, prepare
from eke.lay.state import new_state
from eke.lay.ties import deal, deal_one

TALL = np.array([[0, 0], [60, 0], [40, 90], [0, 90.0]])
SHEET = Sheet("s", box_points(400, 300), repeats=(Repeat("a", 30.0, 90.0),))


def ground_of(*parts: Part, locked: tuple[Placement, ...] = ()) -> Ground:
    return prepare(Problem(parts, (SHEET,), locked=locked))


def test_a_group_takes_over_the_turn_of_a_start() -> None:
    part = Part("p", TALL, 4, (0.0, 180.0), same_turn="nap")
    problem = Problem([part], (SHEET,))
    for turn in (0.0, 180.0):
        start = [Placement("p", "s", turn, 200.0, 150.0)]
        answer = solve(problem, passes=40, start=start, workers=1)
        assert answer.complete
        assert broken_rules(problem, answer.placements) == []
        assert {round(p.turn_deg) % 360 for p in answer.placements} == {round(turn)}
        assert start[0] in answer.placements


def test_a_group_follows_what_is_locked() -> None:
    part = Part("p", TALL, 4, (0.0, 180.0), same_turn="nap")
    lock = Placement("p", "s", 180.0, 200.0, 150.0)
    for seed in range(3):
        answer = solve(Problem([part], (SHEET,), locked=(lock,)), passes=40, seed=seed, workers=1)
        assert answer.complete
        assert {round(p.turn_deg) % 360 for p in answer.placements} == {180}
    assert not prepare(Problem([part], (SHEET,), locked=(lock,))).ties.any


def test_a_tilt_follows_what_is_locked() -> None:
    left = Part("left", TALL, 1, (0.0,), 3.0, tilt_pair=TiltPair("t"))
    right = Part("right", TALL, 2, (0.0,), 3.0, tilt_pair=TiltPair("t", mirrored=True))
    problem = Problem([left, right], (SHEET,), locked=(Placement("left", "s", 2.0, 50.0, 50.0),))
    answer = solve(problem, passes=40, workers=1)
    assert answer.complete
    assert [round(p.turn_deg, 4) for p in answer.placements] == [2.0, 358.0, 358.0]


def test_with_one_way_only_nothing_is_dealt_anew() -> None:
    """Swaps must not give way to dealing a turn that can only be what it is."""
    assert not ground_of(Part("p", TALL, 3, (90.0,), same_turn="nap")).ties.any
    assert ground_of(Part("p", TALL, 3, (90.0,), mirror_allowed=True, same_turn="nap")).ties.any
    assert not ground_of(Part("p", TALL, 3, tilt_pair=TiltPair("t"))).ties.any
    assert ground_of(Part("p", TALL, 3, tilt_deg=1.0, tilt_pair=TiltPair("t"))).ties.any


def test_dealing_keeps_groups_together() -> None:
    ground = ground_of(
        Part("a", TALL, 2, (0.0, 90.0, 180.0), same_turn="g", mirror_allowed=True),
        Part("b", TALL, 1, (0.0, 180.0), 2.0, tilt_pair=TiltPair("t")),
        Part("c", TALL, 2, (0.0, 180.0), 2.0, tilt_pair=TiltPair("t", mirrored=True)),
        Part(
            "d",
            TALL,
            2,
            (0.0,),
            phases=(PhaseRule((0, 0), "a", match="m"), PhaseRule((0, 40), "a", match="n")),
        ),
        Part("e", TALL, 1, (0.0,), phases=(PhaseRule((0, 0), "a", match="n"),)),
        Part("f", TALL, 1, (0.0,), phases=(PhaseRule((0, 0), "a", 0.3),)),
    )
    state = new_state(ground, 1)
    luck = np.random.default_rng(1)
    deal(ground.ties, ground.field, state, ground.piece_shape, luck)
    seen = set()
    for _ in range(60):
        assert deal_one(ground.ties, ground.field, state, ground.piece_shape, luck)
        i, x = state.piece_i, state.piece_f
        assert (i[0, PI_TURN], i[0, PI_MIRROR]) == (i[1, PI_TURN], i[1, PI_MIRROR])
        assert x[2, PF_TILT] == -x[3, PF_TILT] == -x[4, PF_TILT]
        assert x[2, PF_TH] == x[2, PF_TILT]
        assert x[5, PF_PHASE] == x[6, PF_PHASE]
        assert x[5, PF_PHASE + 1] == x[6, PF_PHASE + 1] == x[7, PF_PHASE]
        # 40 mm further up are a third of a period more
        step = (x[5, PF_PHASE + 1] - x[5, PF_PHASE]) % 1.0
        assert abs(step - 1.0 / 3.0) < 1e-9
        assert x[8, PF_PHASE] == 0.3
        seen.add((i[0, PI_TURN], i[0, PI_MIRROR], round(x[2, PF_TILT], 6), round(x[5, PF_PHASE], 6)))
    assert len({s[0] for s in seen}) == 3
    assert len({s[2] for s in seen}) > 5
    assert len({s[3] for s in seen}) > 5
