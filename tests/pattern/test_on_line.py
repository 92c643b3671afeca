"""Points on balance lines: corners, notches and marks come to lie there, are held there and found when they no longer do."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eke.errors import BadInput, ChangeConflict, NotFound
from eke.geometry import Move
from eke.pattern.balance import read_on
from eke.pattern.checking import check
from eke.pattern.corners import corner_point, moved_piece, point_of
from eke.pattern.model import Mark, Pattern
from eke.pattern.on_line import put_corner, put_mark, put_notch

from .samples import Story, bodice, codes, joined_up, rectangle
from .test_balance import lined
from .test_lengths import turned_over


@settings(max_examples=25)
@given(st.floats(190.0, 250.0), st.floats(-15.0, 15.0), st.sampled_from(["edge", "grain"]), st.booleans())
def test_a_corner_comes_to_lie_on_the_line(y: float, slant: float, along: str, other: bool) -> None:
    pattern = lined(bodice(), "front", (20.0, y - slant), (200.0, y + slant))
    edge, end = ("front-armhole", "start") if other else ("front-side", "end")
    before = pattern.piece("front")
    try:
        made = put_corner(pattern, edge, end, "Waist ", along)
    except BadInput:
        assert (other, along) == (
            True,
            "edge",
        )  # the armhole leaves level and may never come to a line below it
        return
    piece = made.piece("front")
    at = corner_point(piece.edge(edge), end)
    assert read_on(piece.marks[-1]).nearest(at).distance_mm < 1e-6
    if along == "grain":
        assert at[0] == pytest.approx(240.0)
    elif not other:
        assert at[0] == pytest.approx(240.0)  # the side seam is upright
    for one in piece.edges:
        if one.id not in ("front-side", "front-armhole"):
            assert one == before.edge(one.id)
    assert put_corner(made, edge, end, "waist", along) == made
    joined_up(made)


@settings(max_examples=15)
@given(st.floats(-180, 180), st.floats(-300, 300), st.sampled_from(["edge", "grain"]), st.booleans())
def test_of_a_moved_or_mirrored_piece_the_corner_is_the_moved_or_mirrored_one(
    turn: float, dx: float, along: str, over: bool
) -> None:
    pattern = lined(bodice(), "front", (20.0, 205.0), (200.0, 212.0))
    front = replace(pattern.piece("front"), fold=None)
    there = put_corner(Pattern().with_piece(front), "front-side", "end", "waist", along)
    move = Move.rotation(turn, (50.0, 60.0)).then(Move.translation(dx, dx))
    laid, end = (turned_over(front), "start") if over else (front, "end")
    here = put_corner(Pattern().with_piece(moved_piece(laid, move)), "front-side", end, "waist", along)
    x, y = corner_point(there.edge("front-side")[1], "end")
    wanted = move.apply((-x if over else x, y))
    assert corner_point(here.edge("front-side")[1], end) == pytest.approx(wanted, abs=1e-6)


def test_a_corner_on_the_fold_slides_along_it() -> None:
    pattern = lined(bodice(), "front", (-30.0, 330.0), (100.0, 330.0))
    for edge, end, along in (
        ("front-neck", "end", "grain"),
        ("front-fold", "start", "edge"),
        ("front-fold", "start", "grain"),
    ):
        made = put_corner(pattern, edge, end, "waist", along)
        assert corner_point(made.edge("front-fold")[1], "start") == pytest.approx((0.0, 330.0))
        joined_up(made)
    with pytest.raises(BadInput, match="slides along it only"):
        put_corner(pattern, "front-neck", "end", "waist", "edge")


def test_a_notch_and_an_apex_come_to_lie_on_the_line() -> None:
    pattern = lined(bodice(), "front", (0.0, 90.0), (200.0, 110.0))
    made = put_notch(pattern, "front-side-notch", "waist")
    piece = made.piece("front")
    notch = next(n for n in piece.notches if n.id == "front-side-notch")
    assert point_of(piece, notch.at) == pytest.approx((240.0, 114.0))
    apex = Mark("bp", "apex", ((100.0, 60.0),), "bust point")
    pattern = pattern.with_piece(replace(pattern.piece("front"), marks=(*pattern.piece("front").marks, apex)))
    made = put_mark(pattern, "bp", "front-waist")
    assert made.piece("front").marks[-1].points == (pytest.approx((100.0, 100.0)),)
    with pytest.raises(
        BadInput, match=r"does not meet “front-armhole” of “front”; it comes as near as 105\.5 mm"
    ):
        put_notch(pattern, "front-armhole-notch", "waist")
    with pytest.raises(BadInput, match="is a line"):
        put_mark(pattern, "front-waist", "waist")
    for wrong in (lambda: put_notch(pattern, "x", "waist"), lambda: put_mark(pattern, "x", "waist")):
        with pytest.raises(ChangeConflict):
            wrong()
    with pytest.raises(NotFound, match="It has “waist”"):
        put_notch(pattern, "front-side-notch", "hip")
    with pytest.raises(NotFound, match="Draw one on it first"):
        put_notch(pattern, "back-side-notch", "hip")


@pytest.mark.parametrize(
    "params",
    [
        {"edge": "front-side", "end": "end", "along": "edge"},
        {"edge": "front-armhole", "end": "start", "along": "grain"},
        {"notch": "front-side-notch"},
        {"mark": "bp"},
    ],
)
def test_it_is_held_there_and_every_remedy_cures_its_finding(params: dict[str, str]) -> None:
    start = lined(bodice(), "front", (0.0, 190.0), (240.0, 190.0))
    apex = Mark("bp", "apex", ((100.0, 180.0),), "bust point")
    story = Story(start.with_piece(replace(start.piece("front"), marks=(*start.piece("front").marks, apex))))
    story.do("true.on_line", line="waist", **params)
    assert "point-off-line" not in codes(story.state)
    # the line itself is moved up by 6 mm
    story.do(
        "mark.set",
        piece="front",
        id="front-waist",
        kind="balance",
        name="waist",
        points=[[0, 196], [240, 196]],
    )
    (found,) = [f for f in check(story.state) if f.code == "point-off-line"]
    assert found.amount == pytest.approx(6.0)
    assert "is held on the waist line and lies 6.0 mm off it" in found.sentence
    for fix in found.fixes:
        other = Story(story.state)
        other.do(fix.kind, **fix.params)
        assert "point-off-line" not in codes(other.state)
        assert len(other.state.held_points) == (0 if fix.kind == "held.drop" else 1)
    assert found.fixes[-1].kind == "held.drop"
    dropped = Story(story.state)
    dropped.do("held.drop", **{k: v for k, v in params.items() if k != "along"})
    assert dropped.state.held_points == {}


def test_the_corner_between_two_edges_is_not_merged_away_while_it_is_held() -> None:
    story = Story(lined(Pattern().with_piece(rectangle("r", 300, 200)), "r", (0.0, 190.0), (300.0, 190.0)))
    story.do("edge.split", edge="r-right", fraction=0.9)
    first, second = (e.id for e in story.state.piece("r").edges[1:3])
    story.do("true.on_line", edge=second, end="start", line="waist", along="edge")
    assert corner_point(story.state.edge(first)[1], "end") == pytest.approx((300.0, 190.0))
    with pytest.raises(ChangeConflict, match="corner between the two edges is held"):
        story.do("edge.merge", first=first, second=second)
    # parting the edge that begins there leaves the corner held
    story.do("edge.split", edge=second, fraction=0.5)
    assert "target-gone" not in codes(story.state)
    assert story.state.edge(next(iter(story.state.held_points.values())).edge)[1].path.start == pytest.approx(
        (300.0, 190.0)
    )
