"""Fixed lengths and points on balance lines: reached exactly, held, found when lost, and kept by what matches seams."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eke.changes import attempt, replay, switch, undo
from eke.errors import BadInput, BadShape, ChangeConflict, EkeError, NotFound
from eke.geometry import Move, Path, path_area_mm2, trouble_of
from eke.pattern.balance import read_on
from eke.pattern.checking import check, check_seam
from eke.pattern.corners import corner_point, interior_angle_deg, moved_piece, neighbour, point_of
from eke.pattern.held import length_held, let_go
from eke.pattern.lengths import with_length
from eke.pattern.matching import MATCHED_MM, match_all
from eke.pattern.model import Dart, EdgeId, EdgePlace, Mark, Notch, Pattern, Piece
from eke.pattern.on_line import put_corner, put_mark, put_notch
from eke.pattern.trueing import share_difference, share_small
from eke.pattern.walking import walk

from .samples import Story, bodice, darted, rectangle, seam
from .test_balance import lined
from .test_matching import rough
from .test_proposals import mirrored


def joined_up(pattern: Pattern) -> None:
    for piece in pattern.pieces.values():
        for one in piece.edges:
            assert math.dist(one.path.end, neighbour(piece, one.id, "end").path.start) < 1e-6
        assert trouble_of(piece.outline) is None
        assert path_area_mm2(piece.outline) > 0.0


def mm(pattern: Pattern, edge_id: str) -> float:
    return pattern.edge(edge_id)[1].path.length_mm


def codes(pattern: Pattern) -> set[str]:
    return {f.code for f in check(pattern)}


def turned_over(piece: Piece) -> Piece:
    """The piece mirrored about x = 0, with its marks and its grain."""
    over = Move.mirror((0.0, 0.0), (0.0, 1.0)).apply
    marks = tuple(replace(m, points=tuple(map(over, m.points))) for m in piece.marks)
    assert piece.grain is not None
    return replace(mirrored(piece), marks=marks, grain=(over(piece.grain[0]), over(piece.grain[1])))


# ---------------------------------------------------------------- lengths


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


# ---------------------------------------------------------------- points on a balance line


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


# ---------------------------------------------------------------- seams are matched beside what is held


@settings(max_examples=8)
@given(st.integers(0, 10_000), st.sampled_from(["front-side", "front-shoulder", "back-armhole"]))
def test_matching_all_seams_keeps_a_held_length(seed: int, edge_id: str) -> None:
    pattern = rough(seed)
    wanted = round(mm(pattern, edge_id) + 1.5, 1)
    held = with_length(pattern, edge_id, wanted, "start", held_as="h")
    found = match_all(held)
    assert mm(found.pattern, edge_id) == pytest.approx(wanted, abs=MATCHED_MM)
    assert found.left_mm == {}
    # without holding it, it moves: the hold is what kept it
    free = match_all(let_go(held, "h"))
    assert abs(mm(free.pattern, edge_id) - wanted) > MATCHED_MM


def test_a_held_length_goes_before_a_seam_that_cannot_match_beside_it() -> None:
    pattern = with_length(bodice(), "front-side", 220.0, held_as="a")
    pattern = with_length(pattern, "back-side", 224.0, held_as="b")
    found = match_all(pattern)
    assert mm(found.pattern, "front-side") == pytest.approx(220.0, abs=MATCHED_MM)
    assert mm(found.pattern, "back-side") == pytest.approx(224.0, abs=MATCHED_MM)
    assert found.left_mm["side"] == pytest.approx(-4.0, abs=2 * MATCHED_MM)
    # and where nothing may move at all, it is no trouble either
    everything = [e.id for p in pattern.pieces.values() for e in p.edges]
    assert match_all(pattern, keep=everything).pattern == pattern


def test_a_length_that_is_slightly_off_is_made_good_by_matching_and_one_far_off_is_asked_about() -> None:
    for off, becomes in ((4.0, 220.0), (15.0, 235.0)):
        story = Story(bodice())
        story.do("true.length", edge="front-side", length_mm=220.0)
        story.do("corner.move", edge="front-side", end="end", to=[240.0, 220.0 + off])
        story.do("corner.move", edge="back-side", end="end", to=[640.0, 220.0 + off + 2.0])
        story.do("true.match_all")
        assert mm(story.state, "front-side") == pytest.approx(becomes, abs=MATCHED_MM)


def test_a_held_corner_slides_along_its_line_and_a_held_notch_goes_back_to_it() -> None:
    pattern = lined(rough(3), "front", (0.0, 222.0), (240.0, 219.0))
    pattern = put_corner(pattern, "front-side", "end", "waist", "grain", held_as="c")
    pattern = lined(pattern, "back", (400.0, 82.0), (640.0, 80.0))
    pattern = put_notch(pattern, "back-side-notch", "waist", held_as="n")
    found = match_all(pattern).pattern
    assert found.piece("back").edge("back-side").path != pattern.piece("back").edge("back-side").path
    assert "point-off-line" not in codes(found)
    level = read_on(found.piece("front").marks[-1])
    assert level.nearest(corner_point(found.edge("front-side")[1], "end")).distance_mm < 1e-6
    # on the fold it cannot slide along another line, so it stays
    pattern = lined(rough(3), "front", (-20.0, 330.0), (240.0, 330.0), name="chest")
    pattern = put_corner(pattern, "front-fold", "start", "chest", held_as="f")
    found = match_all(pattern).pattern
    assert corner_point(found.edge("front-fold")[1], "start") == corner_point(
        pattern.edge("front-fold")[1], "start"
    )


def test_sharing_a_difference_takes_it_from_the_side_that_is_free() -> None:
    story = Story(bodice())
    story.do("true.length", edge="front-side", length_mm=220.0)
    story.do("corner.move", edge="back-side", end="end", to=[640.0, 226.0])
    made = share_difference(story.state, "side")
    assert mm(made, "front-side") == 220.0
    assert mm(made, "back-side") == pytest.approx(220.0)
    with pytest.raises(ChangeConflict, match=r"held at 220\.0 mm, would become 223\.0 mm long"):
        share_difference(story.state, "side", 0.5)
    # the remedies that are offered are those that can be done
    (found,) = [f for f in check_seam(story.state, "side") if f.code == "seam-length"]
    assert [(f.kind, f.params.get("share_a")) for f in found.fixes] == [
        ("true.share", 0.0),
        ("seam.ease", None),
    ]
    small = Story(bodice())
    small.do("true.length", edge="front-side", length_mm=220.0)
    small.do("corner.move", edge="back-side", end="end", to=[640.0, 221.0])
    made = share_small(small.state)
    assert mm(made, "front-side") == 220.0
    assert walk(made, "side").difference_mm == pytest.approx(0.0, abs=1e-6)


def test_sharing_at_an_end_whose_neighbour_is_held_is_offered_at_the_other_end() -> None:
    """The corner that would move is also an end of a held edge: the armhole is not made longer by the way."""
    pattern = Pattern().with_piece(rectangle("a", 200, 300)).with_piece(rectangle("b", 200, 306, at=(500, 0)))
    pattern = pattern.with_seam(seam("side", [("a", "a-right", False)], [("b", "b-left", True)]))
    for name in ("a", "b"):
        piece = pattern.piece(name)
        slant = piece.edge(f"{name}-top").path.end
        pattern = Story(pattern).do(
            "corner.move",
            edge=f"{name}-left" if name == "a" else f"{name}-right",
            end="start" if name == "a" else "end",
            to=[slant[0] if name == "a" else 700.0, 400.0],
        )
    pattern = with_length(pattern, "a-top", mm(pattern, "a-top"), held_as="a")
    pattern = with_length(pattern, "b-top", mm(pattern, "b-top"), held_as="b")
    (found,) = [f for f in check_seam(pattern, "side") if f.code == "seam-length"]
    assert {f.params.get("at") for f in found.fixes if f.kind == "true.share"} == {"start"}
    for fix in found.fixes:
        story = Story(pattern)
        story.do(fix.kind, **fix.params)
        assert codes(story.state) & {"seam-length", "length-held"} == set()


# ---------------------------------------------------------------- as changes


def test_as_changes_they_say_so_are_switched_off_taken_back_and_set_aside() -> None:
    story = Story(lined(bodice(), "front", (0.0, 230.0), (240.0, 230.0)))
    story.do("true.length", edge="front-shoulder", length_mm=126.0, called="shoulder of front")
    story.do(
        "true.on_line",
        edge="front-side",
        end="end",
        line="waist",
        called="the underarm",
        line_called="waist line",
    )
    story.do("held.drop", edge="front-shoulder", called="“shoulder” of “front”", was="length")
    steps = replay(story.log, story.registry, story.initial).steps
    assert [s.sentence for s in steps] == [
        "Made “shoulder of front” 126.0 mm long, to stay so",
        "Put the underarm on the waist line, to stay there",
        "Let “shoulder” of “front” be of any length",
    ]
    assert steps[1].touches == ("front-side", "waist")
    # switching off the first leaves the others as they are, and the last has nothing to let go any more
    off = switch(story.log, "off", "r1", on=False)
    after = attempt(story.log, off, story.registry, story.initial, story.cache).replayed
    assert mm(after.state, "front-shoulder") == pytest.approx(120.0)
    assert [s.set_aside is None for s in after.steps] == [True, True, False]
    assert "nothing to let go" in str(after.steps[2].set_aside)
    back = undo(story.log, story.registry).log
    assert len(replay(back, story.registry, story.initial).state.held_lengths) == 1


def test_a_step_whose_line_is_gone_upstream_is_set_aside_with_the_reason() -> None:
    story = Story(bodice())
    story.do("mark.set", piece="front", id="w", kind="balance", name="waist", points=[[0, 230], [240, 230]])
    story.do("true.on_line", edge="front-side", end="end", line="w")
    off = switch(story.log, "off", "r1", on=False)
    tried = attempt(story.log, off, story.registry, story.initial, story.cache)
    step = tried.replayed.steps[1]
    assert "“front” has no balance line “w”" in str(step.set_aside)
    assert corner_point(tried.replayed.state.edge("front-side")[1], "end") == (240.0, 220.0)


@pytest.mark.parametrize(
    ("kind", "params"),
    [
        ("true.length", {}),
        ("true.length", {"edge": "front-side"}),
        ("true.length", {"edge": "front-side", "length_mm": "long"}),
        ("true.length", {"edge": "front-side", "length_mm": 220, "keep": "left"}),
        ("true.length", {"edge": "front-side", "length_mm": 220, "hold": "perhaps"}),
        ("true.length", {"edge": "nobody", "length_mm": 220}),
        ("true.on_line", {"line": "waist"}),
        ("true.on_line", {"edge": "front-side", "line": "waist"}),
        ("true.on_line", {"edge": "front-side", "end": "end", "notch": "front-side-notch", "line": "waist"}),
        ("true.on_line", {"edge": "front-side", "end": "end", "line": "waist", "along": "up"}),
        ("true.on_line", {"edge": "back-side", "end": "end", "line": "waist"}),
        ("held.drop", {}),
        ("held.drop", {"notch": "front-side-notch"}),
    ],
)
def test_nonsense_is_refused(kind: str, params: dict[str, object]) -> None:
    story = Story(lined(bodice(), "front", (0.0, 230.0), (240.0, 230.0)))
    with pytest.raises(EkeError):
        story.do(kind, **params)
    assert story.state == story.initial


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
