"""Cutting apart, joining, the princess seam there and back, and moving freely."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eke.errors import BadInput, EkeError
from eke.fit.falloff import bent, plateau
from eke.geometry import Move
from eke.pattern.walking import walk

from .bodies import apart, area, block, bodice, do, half, length, moved, pattern_of, same_shape


@settings(max_examples=25)
@given(st.floats(0.1, 0.9), st.floats(0.1, 0.9))
def test_a_cut_loses_nothing_and_joining_gives_the_old_outline(one: float, other: float) -> None:
    whole = pattern_of(block())
    cut = do(
        whole,
        "fit.cut",
        edge="block-side",
        fraction=one,
        to={"edge": "block-centre", "fraction": other},
        part="low",
    )
    assert len(cut.pieces) == 2
    assert sum(area(p) for p in cut.pieces.values()) == pytest.approx(area(whole.piece("block")), abs=0.01)
    ((seam_id, seam),) = cut.seams.items()
    assert abs(walk(cut, seam_id).difference_mm) < 1e-9
    assert seam.a[0].reverse != seam.b[0].reverse
    joined = do(cut, "fit.join", change="c2", seam=seam_id)
    assert set(joined.pieces) == {"block"}
    assert not joined.seams
    same_shape(joined.piece("block"), whole.piece("block"))


def test_seams_marks_and_notches_go_with_their_part() -> None:
    made = do(
        bodice(),
        "fit.cut",
        edge="front-side",
        mm=60.0,
        to={"edge": "front-fold", "mm": 60.0, "from_end": "end"},
        part="front, below",
        seam="waist",
    )
    below = next(p for p in made.pieces.values() if p.name == "front, below")
    assert below.fold is not None
    assert made.piece("front").fold is not None
    side = made.seam("side")
    assert {p.piece for p in side.a} == {"front", below.id}
    assert abs(walk(made, "side").difference_mm) < 1e-9
    assert abs(walk(made, "armhole").difference_mm - walk(bodice(), "armhole").difference_mm) < 1e-9
    assert any(n.id == "front-s" for p in made.pieces.values() for n in p.notches)
    assert any(m.name == "chest" for m in made.piece("front").marks)


def test_moved_input_gives_moved_output() -> None:
    move = Move.rotation(25.0, (50.0, 80.0)).then(Move.translation(40.0, -9.0))
    params = {"edge": "block-side", "fraction": 0.4, "to": {"edge": "block-centre", "fraction": 0.6}}
    straight, turned = (
        do(pattern_of(block()), "fit.cut", **params),
        do(moved(pattern_of(block()), move), "fit.cut", **params),
    )
    for one, other in zip(moved(straight, move).pieces.values(), turned.pieces.values(), strict=True):
        assert apart(one.outline, other.outline) < 1e-6


def darted_front():
    front = pattern_of(half("front", 110.0))
    return do(front, "fit.add_dart", edge="front-hem", fraction=0.45, intake_mm=30.0, apex=[105.0, 215.0])


def test_a_princess_seam_takes_the_dart_over_and_comes_back() -> None:
    before = darted_front()
    (dart,) = before.piece("front").darts
    made = do(
        before,
        "fit.princess",
        change="c2",
        dart=dart.id,
        edge="front-shoulder",
        fraction=0.5,
        part="side front",
    )
    centre = made.piece("front")
    (side,) = [p for p in made.pieces.values() if p.name == "side front"]
    assert not centre.darts
    assert not side.darts
    # rounding over the bust point moves little cloth
    assert area(centre) + area(side) == pytest.approx(area(before.piece("front")), rel=0.004)
    ((seam_id, seam),) = [(k, s) for k, s in made.seams.items() if s.name == "princess"]
    assert abs(walk(made, seam_id).difference_mm) < 0.01
    assert abs(seam.ease_mm) < 10.0  # at most what a bust seam is eased by: common practice, 3 to 10 mm
    assert len([n for n in centre.notches if n.at.edge == seam.a[0].edge]) == 2
    # and back: joined from the shoulder as far as the sides lie on one another, the rest is a dart again
    ended = [made.edge(seam.a[0].edge)[1].path, made.edge(seam.b[0].edge)[1].path]
    assert min(p.length_mm for p in ended) > 300.0
    with pytest.raises(BadInput, match="the rest becomes a dart") as refused:
        do(made, "fit.join", change="c3", seam=seam_id)
    good = refused.value.data["most_mm"]
    ends = ["start", "end"] if good > 100.0 else ["end"]
    back = None
    for end in ends:
        try:
            back = do(made, "fit.join", change="c3", seam=seam_id, up_to_mm=120.0, from_end=end)
            break
        except EkeError:
            continue
    assert back is not None
    (again,) = back.piece("front").darts
    assert len(back.pieces) == 1
    assert math.isclose(area(back.piece("front")), area(before.piece("front")), rel_tol=0.03)
    assert length(back, again.first_leg) > 100.0


def test_refusals_say_what_is_wrong() -> None:
    plain = bodice()
    with pytest.raises(BadInput, match="leaves"):
        do(
            plain,
            "fit.cut",
            edge="front-armhole",
            fraction=0.02,
            to={"edge": "front-armhole", "fraction": 0.98},
        )
    with pytest.raises(BadInput, match="stays on one piece"):
        do(plain, "fit.cut", edge="front-side", fraction=0.5, to={"edge": "back-side", "fraction": 0.5})
    with pytest.raises(BadInput, match="long"):
        do(plain, "fit.cut", edge="front-side", mm=100.0, to={"edge": "front-side", "mm": 104.0})
    with pytest.raises(BadInput, match="several edges"):
        do(plain, "fit.join", seam="armhole")
    with pytest.raises(BadInput, match="to a tube"):
        do(plain, "fit.join", seam="underarm")
    with pytest.raises(BadInput, match="fold"):
        do(plain, "fit.join", seam="side")


@settings(max_examples=30)
@given(st.floats(0.15, 0.85), st.floats(-25.0, 25.0), st.floats(45.0, 90.0))
def test_a_stretch_moves_and_its_ends_stay(share: float, in_mm: float, fade: float) -> None:
    plain = pattern_of(block())
    if abs(in_mm) < 0.2:
        return
    made = do(plain, "fit.move_freely", edge="block-side", fraction=share, in_mm=in_mm, fade_mm=fade)
    old, new = plain.edge("block-side")[1].path, made.edge("block-side")[1].path
    assert (old.start, old.end) == (new.start, new.end)
    spot = old.point_at(share * old.length_mm)
    assert new.nearest((spot[0] - in_mm, spot[1])).distance_mm < 0.05
    assert (area(made.piece("block")) < area(plain.piece("block"))) == (in_mm > 0.0)
    assert made.piece("block").edges[3] == plain.piece("block").edges[3]


def test_a_corner_moves_with_both_edges_and_one_on_the_fold_slides_along_it() -> None:
    made = do(bodice(), "fit.move_freely", edge="front-shoulder", mm=0.0, by=[6.0, 4.0])
    tip = bodice().edge("front-shoulder")[1].path.start
    assert made.edge("front-shoulder")[1].path.start == pytest.approx((tip[0] + 6.0, tip[1] + 4.0))
    slid = do(bodice(), "fit.move_freely", edge="front-neck", mm=0.0, from_end="end", by=[9.0, -12.0])
    x, y = slid.edge("front-neck")[1].path.end
    assert (x, y) == pytest.approx((0.0, bodice().edge("front-neck")[1].path.end[1] - 12.0))


def test_what_would_fold_back_is_refused_with_what_goes() -> None:
    with pytest.raises(BadInput, match="fold back") as refused:
        do(bodice(), "fit.move_freely", edge="front-side", mm=30.0, in_mm=40.0)
    assert refused.value.data["most_mm"] > 0.0
    with pytest.raises(BadInput, match="stays straight"):
        do(bodice(), "fit.move_freely", edge="front-fold", fraction=0.5, in_mm=4.0)


def test_the_field_is_whole_on_the_plateau() -> None:
    path = block().edges[1].path
    made = bent(path, plateau(200.0, 300.0, 50.0, 50.0, (7.0, 0.0)))
    for mm in (205.0, 250.0, 295.0):
        x, y = path.point_at(mm)
        assert made.nearest((x + 7.0, y)).distance_mm < 1e-3


def test_a_cut_along_an_edge_takes_nothing_off():
    along = {"edge": "front-shoulder", "mm": 60.0, "to": {"edge": "front-shoulder", "mm": 0.0}}
    with pytest.raises(BadInput, match="takes nothing off"):
        do(bodice(), "fit.cut", **along)
    with pytest.raises(BadInput, match="Say where it ends"):
        do(bodice(), "fit.cut", edge="front-shoulder", mm=60.0)
