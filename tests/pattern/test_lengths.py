"""An edge is made so long: the length is reached exactly, what stays stays, and it is held and found when lost."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eke.errors import BadInput, BadShape, ChangeConflict
from eke.geometry import Move, Path
from eke.pattern.checking import check
from eke.pattern.corners import corner_point, interior_angle_deg, moved_piece, neighbour, point_of
from eke.pattern.held import length_held, let_go
from eke.pattern.lengths import with_length
from eke.pattern.model import Dart, EdgeId, EdgePlace, Notch, Pattern, Piece

from .samples import Story, bodice, codes, darted, joined_up, mm, rectangle
from .test_balance import lined
from .test_proposals import mirrored


def turned_over(piece: Piece) -> Piece:
    """The piece mirrored about x = 0, with its marks and its grain."""
    over = Move.mirror((0.0, 0.0), (0.0, 1.0)).apply
    marks = tuple(replace(m, points=tuple(map(over, m.points))) for m in piece.marks)
    assert piece.grain is not None
    return replace(mirrored(piece), marks=marks, grain=(over(piece.grain[0]), over(piece.grain[1])))


@settings(max_examples=25)
@given(
    st.sampled_from(["front-side", "front-armhole", "front-shoulder", "back-armhole"]),
    st.floats(0.85, 1.2),
    st.sampled_from(["start", "end", "middle"]),
)
def test_a_length_is_reached_and_what_stays_stays(edge_id: str, times: float, keep: str) -> None:
    pattern = bodice()
    piece, before = pattern.edge(edge_id)
    made = with_length(pattern, edge_id, times * before.path.length_mm, keep)
    after = made.edge(edge_id)[1]
    # exact to 0.01 mm, by an independent sum of chords over a fine polyline
    chords = np.diff(after.path.points_at(np.linspace(0.0, after.path.length_mm, 20_001)), axis=0)
    assert float(np.hypot(*chords.T).sum()) == pytest.approx(times * before.path.length_mm, abs=0.01)
    for end in ("start", "end"):
        moved = math.dist(corner_point(before, end), corner_point(after, end))
        grown = abs(times - 1.0) * math.dist(before.path.start, before.path.end)
        share = 0.0 if keep == end else 0.5 if keep == "middle" else 1.0
        assert moved == pytest.approx(share * grown, abs=1e-9)
    if keep in ("start", "end"):
        assert corner_point(before, keep) == corner_point(after, keep)
    # its shape is kept: the same directions at both ends
    for at in (0.0, 1.0):
        assert after.path.tangent_at(at * after.path.length_mm) == pytest.approx(
            before.path.tangent_at(at * before.path.length_mm), abs=1e-9
        )
    for other in piece.edges:
        if other.id not in (
            edge_id,
            neighbour(piece, edge_id, "start").id,
            neighbour(piece, edge_id, "end").id,
        ):
            assert made.edge(other.id)[1] == other
    joined_up(made)


@settings(max_examples=15)
@given(st.floats(-180, 180), st.floats(-300, 300), st.booleans(), st.sampled_from(["start", "end", "middle"]))
def test_of_a_moved_or_mirrored_piece_it_is_the_moved_or_mirrored_result(
    turn: float, dx: float, over: bool, keep: str
) -> None:
    front = replace(bodice().piece("front"), fold=None)
    move = Move.rotation(turn, (50.0, 60.0)).then(Move.translation(dx, -dx))
    there = with_length(Pattern().with_piece(front), "front-armhole", 300.0, keep).piece("front")
    # mirrored, an edge is walked from its other end
    kept = {"start": "end", "end": "start"}.get(keep, keep) if over else keep
    laid = moved_piece(mirrored(front) if over else front, move)
    here = with_length(Pattern().with_piece(laid), "front-armhole", 300.0, kept).piece("front")
    wanted = moved_piece(mirrored(there) if over else there, move)
    for one in wanted.edges:
        path = here.edge(one.id).path
        for share in (0.0, 0.3, 0.7, 1.0):
            assert path.nearest(one.path.point_at(share * one.path.length_mm)).distance_mm < 1e-6


def test_at_the_fold_the_corner_stays_and_so_does_the_right_angle() -> None:
    made = with_length(bodice(), "front-hem", 250.0, "middle")
    assert mm(made, "front-hem") == pytest.approx(250.0)
    assert made.edge("front-hem")[1].path.start == (0.0, 0.0)
    neck = with_length(bodice(), "front-neck", 160.0, "end")
    assert interior_angle_deg(neck.piece("front"), "front-fold", "start") == pytest.approx(90.0, abs=1e-6)
    assert neck.edge("front-fold") == (neck.piece("front"), bodice().edge("front-fold")[1])
    with pytest.raises(BadInput, match="start of “front-hem” of “front” lies on the fold") as trouble:
        with_length(bodice(), "front-hem", 250.0, "end")
    assert trouble.value.data["keep"] == "start"


@pytest.mark.parametrize(
    ("length_mm", "nearest"), [(100.0, 110.0), (500.0, 399.7), (0.0, 110.0), (-4.0, 110.0), (math.nan, 110.0)]
)
def test_a_length_out_of_reach_is_refused_with_the_nearest(length_mm: float, nearest: float) -> None:
    with pytest.raises(BadInput) as trouble:
        with_length(bodice(), "front-side", length_mm)
    assert trouble.value.data["nearest_mm"] == pytest.approx(nearest)
    assert mm(with_length(bodice(), "front-side", nearest), "front-side") == pytest.approx(nearest)


def test_a_length_that_would_cross_the_outline_tells_how_far_it_goes() -> None:
    """A slot whose floor is made so wide that it reaches the other side."""
    points = [(0, 0), (100, 0), (100, 100), (60, 100), (60, 20), (50, 20), (50, 100), (0, 100)]
    paths = [Path.line(p, q) for p, q in zip(points, [*points[1:], points[0]], strict=True)]
    piece = rectangle("slot", 1, 1)
    made = tuple(
        replace(piece.edges[0], id=EdgeId(f"s{k}"), path=path, kind="seam") for k, path in enumerate(paths)
    )
    pattern = Pattern().with_piece(replace(piece, edges=made))
    with pytest.raises(BadShape, match=r"would cross itself.* It works as far as") as trouble:
        with_length(pattern, "s2", 70.0, "start")
    nearest = trouble.value.data["nearest_mm"]
    assert 45.0 < nearest < 51.0
    joined_up(with_length(pattern, "s2", nearest, "start"))


def test_a_ring_grows_all_round() -> None:
    ring = Path.arc((10.0, 20.0), 50.0, 0.0, 360.0)
    piece = rectangle("pad", 1, 1)
    piece = replace(piece, edges=(replace(piece.edges[0], path=ring),))
    made = with_length(Pattern().with_piece(piece), "pad-hem", 400.0)
    assert mm(made, "pad-hem") == pytest.approx(400.0, abs=1e-6)
    assert made.piece("pad").outline.bounds == pytest.approx(
        (10 - 200 / math.pi, 20 - 200 / math.pi, 10 + 200 / math.pi, 20 + 200 / math.pi), abs=0.01
    )


def test_it_is_held_and_what_changes_it_later_is_found_with_remedies() -> None:
    story = Story(bodice())
    story.do("true.length", edge="front-shoulder", length_mm=124.0, keep="end")
    assert mm(story.state, "front-shoulder") == pytest.approx(124.0)
    assert "length-held" not in codes(story.state)
    x, y = story.state.edge("front-shoulder")[1].path.start
    story.do("corner.move", edge="front-shoulder", end="start", to=[x + 8.0, y])
    (found,) = [f for f in check(story.state) if f.code == "length-held"]
    assert found.severity == "ask"
    assert found.amount == pytest.approx(mm(story.state, "front-shoulder") - 124.0)
    assert "“front-shoulder” of “front” is held at 124.0 mm and is 131." in found.sentence
    assert found.fixes[0].params["keep"] == "end"
    assert len(found.fixes) == 5
    for fix in found.fixes:
        other = Story(story.state)
        other.do(fix.kind, **fix.params)
        assert "length-held" not in codes(other.state)
        lengths = [held.mm for held in other.state.held_lengths.values()]
        if fix.kind == "held.drop":
            assert lengths == []
            assert mm(other.state, "front-shoulder") == mm(story.state, "front-shoulder")
        else:
            assert lengths == [pytest.approx(mm(other.state, "front-shoulder"), abs=1e-3)]


@pytest.mark.parametrize(("off", "severity"), [(0.4, None), (0.6, "note"), (2.9, "note"), (3.1, "ask")])
def test_how_much_off_is_told(off: float, severity: str | None) -> None:
    story = Story(bodice())
    story.do("true.length", edge="front-side", length_mm=220.0)
    story.do("corner.move", edge="front-side", end="end", to=[240.0, 220.0 + off])
    found = [f.severity for f in check(story.state) if f.code == "length-held"]
    assert found == ([severity] if severity else [])


def test_saying_another_length_replaces_the_first_and_one_said_without_holding_is_free() -> None:
    story = Story(bodice())
    story.do("true.length", edge="front-side", length_mm=220.0)
    story.do("true.length", edge="front-side", length_mm=230.0)
    assert [held.mm for held in story.state.held_lengths.values()] == [230.0]
    story.do("true.length", edge="front-side", length_mm=226.0, hold=False)
    assert story.state.held_lengths == {}
    assert mm(story.state, "front-side") == pytest.approx(226.0)
    with pytest.raises(ChangeConflict, match="nothing to let go"):
        story.do("held.drop", edge="front-side")
    with pytest.raises(ChangeConflict, match="nothing to let go"):
        let_go(story.state, "x")


def test_a_held_edge_that_is_parted_is_held_in_its_parts() -> None:
    story = Story(bodice())
    story.do("true.length", edge="front-side", length_mm=230.0, keep="start")
    story.do("edge.split", edge="front-side", fraction=0.4)
    assert "length-held" not in codes(story.state)
    first, second = next(iter(story.state.held_lengths.values())).edges
    with pytest.raises(ChangeConflict, match=r"is held at 230\.0 mm"):
        story.do("edge.merge", first=second, second="front-armhole")
    x, y = story.state.edge(second)[1].path.end
    story.do("corner.move", edge=second, end="end", to=[x, y + 5.0])
    (found,) = [f for f in check(story.state) if f.code == "length-held"]
    for fix in found.fixes[:3]:
        other = Story(story.state)
        other.do(fix.kind, **fix.params)
        assert mm(other.state, first) + mm(other.state, second) == pytest.approx(230.0)
        assert length_held(other.state, first) is not None
    story.do("edge.merge", first=first, second=second)
    assert [f.amount for f in check(story.state) if f.code == "length-held"] == [pytest.approx(5.0)]


def test_what_is_gone_is_said_and_can_be_let_go() -> None:
    story = Story(lined(bodice(), "front", (0.0, 200.0), (240.0, 200.0)))
    story.do("true.on_line", notch="front-side-notch", line="waist")
    story.do("mark.drop", mark="front-waist")
    (found,) = [f for f in check(story.state) if f.code == "target-gone"]
    assert "no balance line" in found.sentence
    story.do(found.fixes[0].kind, **found.fixes[0].params)
    assert "target-gone" not in codes(story.state)
    # with a piece, a notch or a mark goes what was held of it
    story = Story(lined(bodice(), "front", (0.0, 200.0), (240.0, 200.0)))
    story.do("true.on_line", notch="front-side-notch", line="waist")
    story.do("true.length", edge="back-side", length_mm=220.0)
    story.do("notch.drop", notch="front-side-notch")
    assert story.state.held_points == {}
    story.do("piece.drop", piece="back")
    assert story.state.held_lengths == {}


def test_a_dart_leg_has_the_length_of_its_mate() -> None:
    piece = replace(darted(), darts=(Dart("d", EdgeId("leg-1"), EdgeId("leg-2")),))
    with pytest.raises(BadInput, match="folded away in a dart"):
        with_length(Pattern().with_piece(piece), "leg-1", 190.0)


def test_a_notch_at_a_share_goes_along_and_one_in_mm_keeps_its_place() -> None:
    pattern = bodice()
    piece = pattern.piece("front")
    share = Notch("share", EdgePlace(EdgeId("front-side"), fraction=0.5))
    pattern = pattern.with_piece(replace(piece, notches=(*piece.notches, share)))
    made = with_length(pattern, "front-side", 240.0).piece("front")
    spots = {n.id: point_of(made, n.at) for n in made.notches}
    assert spots["share"] == pytest.approx((240.0, 120.0))
    assert spots["front-side-notch"] == pytest.approx((240.0, 80.0))
