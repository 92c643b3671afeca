"""Splitting, merging, unfolding, saying seams; tracing a piece and tracing it again."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from eke.changes import child_id
from eke.errors import BadInput, BadShape, ChangeConflict, EkeError, NotFound
from eke.geometry import Move, Path, path_area_mm2, path_to_json
from eke.pattern import editing
from eke.pattern.corners import moved_piece, point_of
from eke.pattern.measure import run_of
from eke.pattern.model import EdgeId, EdgePlace, Notch, Pattern
from eke.pattern.tracing import averaged, closed_outline, map_edges
from eke.pattern.walking import walk

from .samples import Story, bodice, darted, half_bodice, rectangle, seam


def rows(points) -> list:
    return path_to_json(Path.polyline(points, closed=True))


RECT = [[0, 0], [120, 0], [120, 300], [0, 300]]


@given(st.floats(0.05, 0.95))
def test_splitting_keeps_lengths_seams_and_notches_where_they_are(part: float) -> None:
    pattern = bodice()
    before = {n.notch.id: n.at_mm for n in run_of(pattern, pattern.seam("side").a).notches()}
    made = editing.split_edge(pattern, "front-side", EdgePlace(EdgeId("front-side"), fraction=part), "r1")
    one, two = child_id("front-side", "r1", "first"), child_id("front-side", "r1", "second")
    assert [p.edge for p in made.seam("side").a] == [one, two]
    assert walk(made, "side").difference_mm == pytest.approx(0.0, abs=1e-9)
    after = {n.notch.id: n.at_mm for n in run_of(made, made.seam("side").a).notches()}
    assert after == pytest.approx(before)
    with pytest.raises(NotFound):
        made.edge("front-side")


def test_a_run_walked_backwards_splits_in_its_own_order() -> None:
    pattern = Pattern().with_piece(rectangle("a", 100, 300)).with_piece(rectangle("b", 100, 300, at=(200, 0)))
    pattern = pattern.with_seam(seam("s", [("a", "a-right", False)], [("b", "b-left", True)]))
    made = editing.split_edge(pattern, "b-left", EdgePlace(EdgeId("b-left"), mm=100.0), "r")
    lengths = [s.path.length_mm for s in run_of(made, made.seam("s").b).stretches]
    assert lengths == pytest.approx([200.0, 100.0])
    assert run_of(made, made.seam("s").b).point_at(0.0)[1] == pytest.approx((200.0, 0.0))


def test_merging_undoes_splitting_and_keeps_both_ids() -> None:
    pattern = bodice()
    split = editing.split_edge(pattern, "front-side", EdgePlace(EdgeId("front-side"), mm=60.0), "r1")
    one, two = (p.edge for p in split.seam("side").a)
    merged = editing.merge_edges(split, one, two)
    assert merged.edge(two)[1].id == one
    assert merged.edge(one)[1].path.length_mm == pytest.approx(220.0)
    assert [n.at_mm for n in run_of(merged, merged.seam("side").a).notches()] == pytest.approx([80.0])
    assert walk(merged, "side").difference_mm == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("first", "second", "words"),
    [
        ("front-side", "front-shoulder", "do not follow"),
        ("front-hem", "front-side", "Give both the same kind"),
        ("front-side", "front-armhole", "Only one of the two"),
    ],
)
def test_edges_that_do_not_belong_together_are_not_merged(first: str, second: str, words: str) -> None:
    with pytest.raises(ChangeConflict, match=words):
        editing.merge_edges(bodice(), first, second)


def test_folds_and_darts_are_not_cut_in_two() -> None:
    with pytest.raises(BadInput, match="fold"):
        editing.split_edge(bodice(), "front-fold", EdgePlace(EdgeId("front-fold"), mm=60.0), "r")
    story = Story(Pattern().with_piece(darted()))
    story.do("dart.say", first_leg="leg-1", second_leg="leg-2")
    with pytest.raises(BadInput, match="dart leg"):
        editing.split_edge(story.state, "leg-1", EdgePlace(EdgeId("leg-1"), mm=60.0), "r")


@given(st.floats(-180, 180))
def test_unfolding_is_exactly_symmetric(turn: float) -> None:
    # trade 1.5: a half piece mirrored must be exactly symmetric
    half = moved_piece(half_bodice("front", 110.0), Move.rotation(turn, (3.0, 4.0)))
    whole = editing.unfolded(half)
    assert path_area_mm2(whole.outline) == pytest.approx(2 * path_area_mm2(half.outline), rel=1e-9)
    assert whole.outline.is_closed
    fold = half.edge("front-fold").path
    mirror = Move.mirror(fold.start, fold.end)
    for edge in half.edges:
        if edge.kind != "fold":
            twin = whole.edge(f"{edge.id}~")
            assert twin.path.length_mm == pytest.approx(edge.path.length_mm, rel=1e-12)
            for share in (0.0, 0.3, 1.0):
                p = edge.path.point_at(share * edge.path.length_mm)
                assert twin.path.nearest(mirror.apply(p)).distance_mm < 1e-6
    notch = next(n for n in whole.notches if n.id == "front-side-notch~")
    own = next(n for n in whole.notches if n.id == "front-side-notch")
    assert point_of(whole, notch.at) == pytest.approx(mirror.apply(point_of(whole, own.at)), abs=1e-6)
    ours, theirs = (
        shapely.Polygon(whole.outline.flatten()),
        shapely.Polygon(mirror.apply_array(whole.outline.flatten())),
    )
    assert ours.symmetric_difference(theirs).area < 1e-3


def test_unfolding_a_whole_piece_changes_nothing() -> None:
    piece = rectangle("r", 10, 20)
    assert editing.unfolded(piece) is piece


@pytest.mark.parametrize(
    ("a", "b", "facts", "words"),
    [
        ([], ["back-side"], {}, "has no edge"),
        (["front-armhole"], ["front-armhole"], {}, "overlap"),
        (["front-armhole", "front-neck"], ["back-armhole", "front-neck"], {}, "overlap"),
        (["front-armhole", "front-armhole"], ["back-armhole"], {}, "named twice"),
        (["front-fold"], ["back-fold"], {}, "lies on a fold"),
        (["front-side"], ["back-side"], {}, "sewn already"),
        (["front-armhole"], ["no-such-edge"], {}, "no edge"),
        (["front-armhole"], ["back-armhole"], {"ease_between": ["x", "y"]}, "no notch"),
        (["front-armhole"], ["back-armhole"], {"kind": "welded"}, "no kind of seam"),
    ],
)
def test_seams_that_cannot_be_are_refused(a, b, facts, words) -> None:
    story = Story(bodice())
    with pytest.raises(EkeError, match=words):
        story.do("seam.say", a=a, b=b, **facts)
    assert story.state == bodice()


def test_which_seam_is_sewn_first_never_goes_in_a_circle() -> None:
    story = Story(bodice())
    story.do("seam.first", first="shoulder", second="side")
    with pytest.raises(BadInput, match="cannot also come after"):
        story.do("seam.first", first="side", second="shoulder")


def test_an_edge_may_belong_to_several_seams() -> None:
    story = Story(bodice())
    story.state.with_piece(rectangle("binding", 30, 220, at=(800, 0)))
    story = Story(story.state.with_piece(rectangle("binding", 30, 220, at=(800, 0))))
    story.do("seam.say", id="bound", a=["front-side"], b=["binding-right"])
    assert {s.id for s in story.state.seams_of("front-side")} == {"side", "bound"}


# ---------------------------------------------------------------- tracing


def test_tracing_a_rectangle() -> None:
    story = Story()
    made = story.do(
        "trace.add",
        piece="pocket",
        name="Pocket",
        segments=rows(RECT),
        corners=RECT,
        edges=[{"name": "bottom"}, {"name": "right"}, {"name": "top", "kind": "hem"}, {"name": "left"}],
        marks=[
            {"kind": "grain", "points": [[60, 50], [60, 250]]},
            {"kind": "notch", "points": [[120, 100], [112, 100]]},
            {"kind": "notch", "points": [[120, 108], [112, 108]]},
            {"kind": "point", "points": [[60, 150]]},
        ],
        cuts=[{"count": 2}, {"role": "lining", "count": 1}],
        tracing={"photo": "abc", "reference": "a4", "scale_percent": 0.1, "uncertainty_mm": 0.4},
    )
    piece = made.piece("pocket")
    assert [e.path.length_mm for e in piece.edges] == pytest.approx([120, 300, 120, 300])
    assert [e.name for e in piece.edges] == ["bottom", "right", "top", "left"]
    (notch,) = piece.notches
    assert notch.count == 2
    assert point_of(piece, notch.at) == pytest.approx((120.0, 104.0))
    assert made.tracings[piece.tracing].reference == "a4"
    assert [c.count for c in piece.cuts] == [2, 1]


def test_a_clockwise_outline_is_turned_and_a_slanting_grain_put_upright() -> None:
    story = Story()
    made = story.do(
        "trace.add",
        name="P",
        segments=[
            {"kind": "line", "points": [p, q]}
            for p, q in zip(RECT[::-1], [*RECT[-2::-1], RECT[-1]], strict=True)
        ],
        corners=RECT,
        marks=[{"kind": "grain", "points": [[0, 0], [300, 300]]}],
    )
    (piece,) = made.pieces.values()
    assert path_area_mm2(piece.outline) == pytest.approx(36_000.0)
    assert piece.grain[0][0] == pytest.approx(piece.grain[1][0])


@given(st.floats(3.0, 25.0), st.floats(3.0, 25.0))
def test_the_allowance_of_a_traced_cut_edge_comes_off(side_mm: float, hem_mm: float) -> None:
    # trade 1.1: what is stored is the seam line
    story = Story()
    made = story.do(
        "trace.add",
        piece="p",
        name="P",
        segments=rows(RECT),
        corners=RECT,
        traced_as="cut",
        traced_allowance_mm=side_mm,
        edges=[{"traced_allowance_mm": hem_mm}, {}, {"traced_as": "finished"}, {}],
    )
    piece = made.piece("p")
    width, height = 120 - 2 * side_mm, 300 - hem_mm
    assert [e.path.length_mm for e in piece.edges] == pytest.approx([width, height, width, height])
    assert piece.edges[0].traced_allowance_mm == hem_mm
    assert path_area_mm2(piece.outline) == pytest.approx(width * height)


def test_the_net_line_of_a_curved_piece_agrees_with_shapely() -> None:
    half = half_bodice("front", 110.0)
    corners = [e.path.start for e in half.edges]
    story = Story()
    made = story.do(
        "trace.add",
        piece="p",
        name="P",
        segments=path_to_json(half.outline),
        corners=[list(c) for c in corners],
        traced_as="cut",
        traced_allowance_mm=10.0,
    )
    ours = shapely.Polygon(made.piece("p").outline.flatten(0.01))
    theirs = shapely.Polygon(half.outline.flatten(0.01)).buffer(-10.0, join_style="mitre")
    assert ours.symmetric_difference(theirs).area < 0.0005 * theirs.area + 5.0


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"corners": [[0, 0], [60, 150]]}, "off the outline"),
        ({"corners": [[0, 0], [0, 300], [120, 300]]}, "counter-clockwise"),
        ({"corners": [[0, 0], [0.2, 0]]}, "at least 1 mm"),
        ({"segments": rows([[0, 0], [100, 100], [100, 0], [0, 100]]), "corners": []}, "crosses itself"),
        ({"segments": rows(RECT)[:3]}, "not closed"),
        ({"segments": [["L", 0, 0, 5, 5], ["L", 9, 9, 0, 0]]}, "gap of"),
        ({"segments": [["X", 0, 0, 5, 5]]}, "unknown kind"),
        ({"segments": []}, "no line"),
        ({"segments": rows([[0, 0], [100, 0], [200, 0]]), "corners": []}, "turns back on itself|no area"),
        ({"traced_as": "cut", "traced_allowance_mm": -3.0}, "cannot be -3 mm"),
        ({"traced_as": "cut", "traced_allowance_mm": 80.0}, "crosses|inside out|no longer meet|no area|turn"),
        ({"edges": [{"kind": "fold"}, {"kind": "fold"}]}, "one fold only"),
        ({"edges": [{"kind": "frill"}]}, "no kind of edge"),
        ({"edges": [{}] * 7}, "7 were described"),
        ({"name": None, "segments": None}, "lacks something"),
    ],
)
def test_tracings_that_cannot_be_used_are_refused(change, words) -> None:
    story = Story()
    params = {"piece": "p", "name": "P", "segments": rows(RECT), "corners": RECT, **change}
    with pytest.raises(BadInput, match=words):
        story.do("trace.add", **params)
    assert story.state == Pattern()


def test_tracing_again_keeps_ids_kinds_seams_and_notches() -> None:
    story = Story(bodice())
    old = story.state.piece("front")
    move = Move.rotation(17.0).then(Move.translation(300, -80))
    outline = old.outline.moved(Move.scale(1.01)).moved(move)
    corners = [move.apply(Move.scale(1.01).apply(e.path.start)) for e in old.edges]
    # the corners are told from another one on: numbers mean nothing
    made = story.do(
        "trace.again", piece="front", segments=path_to_json(outline), corners=[*corners[2:], *corners[:2]]
    )
    new = made.piece("front")
    assert {e.id for e in new.edges} == {e.id for e in old.edges}
    for edge in old.edges:
        assert new.edge(edge.id).path.length_mm == pytest.approx(1.01 * edge.path.length_mm, rel=1e-3)
        assert new.edge(edge.id).kind == edge.kind
        assert math.dist(new.edge(edge.id).path.start, edge.path.start) < 8.0
    assert {n.id for n in new.notches} == {n.id for n in old.notches}
    assert walk(made, "side").difference_mm == pytest.approx(2.2, abs=0.05)


def test_tracing_again_asks_where_it_is_unsure_and_takes_the_answer() -> None:
    pattern = Pattern().with_piece(rectangle("r", 200, 300))
    story = Story(pattern)
    new = [(0, 0), (200, 0), (200, 130), (200, 300), (0, 300)]
    params = {"piece": "r", "segments": rows(new), "corners": [list(p) for p in new]}
    with pytest.raises(ChangeConflict, match="not sure") as told:
        story.do("trace.again", **params)
    assert "r-right" in told.value.data["unsure"]
    assert story.state == pattern
    made = story.do("trace.again", **params, answers={"r-right": 2})
    ids = [e.id for e in made.piece("r").edges]
    assert ids[2] == "r-right"
    assert ids[1] not in {"r-hem", "r-right", "r-top", "r-left"}


def test_a_square_has_no_clear_edges() -> None:
    square = rectangle("r", 200, 200)
    found = map_edges(square, [e.path.moved(Move.rotation(2.0)) for e in square.edges])
    assert len(found.edges) + len(found.unsure) == 4


def test_the_mean_of_two_tracings_lies_between_them() -> None:
    one, other = Path.line((0, 0), (100, 0)), Path.line((0, 2), (100, 2))
    mean = averaged([one, other])
    assert mean.start == pytest.approx((0.0, 1.0))
    assert np.abs(mean.flatten()[:, 1] - 1.0).max() < 1e-9


def test_rounded_files_are_closed_and_gaps_are_not() -> None:
    outline = closed_outline([["L", 0, 0, 10, 0], ["L", 10.01, 0, 10, 10], ["L", 10, 10, 0, 0.01]])
    assert outline.is_closed
    with pytest.raises(BadShape, match="gap"):
        closed_outline([["L", 0, 0, 10, 0], ["L", 12, 0, 10, 10], ["L", 10, 10, 0, 0]])


def test_marks_and_facts_can_be_set_and_taken_back() -> None:
    story = Story(bodice())
    story.do("mark.set", piece="front", id="bust", kind="apex", points=[[100, 200]], name="bust point")
    assert story.state.piece("front").marks[0].kind == "apex"
    story.do("mark.drop", mark="bust")
    assert story.state.piece("front").marks == ()
    story.do("fact.set", name="wearer_age_years", value=9)
    story.do("measure.set", name="chest girth", mm=680)
    story.do("measure.set", name="side seam", mm=220, of="garment")
    assert (story.state.facts["wearer_age_years"], story.state.measures["chest girth"]) == (9, 680.0)
    assert story.state.taped["side seam"] == 220.0
    with pytest.raises(BadInput, match="longer than 0"):
        story.do("measure.set", name="waist girth", mm=-1)
    story.do("piece.drop", piece="back")
    assert list(story.state.seams) == []
    assert isinstance(replace(story.state, name="x"), Pattern)
    assert Notch("n", EdgePlace(EdgeId("e"), fraction=0.5)).count == 1


def test_saying_anew_what_was_traced_moves_the_net_line_and_back() -> None:
    story = Story()
    story.do(
        "trace.add",
        piece="p",
        name="P",
        segments=rows(RECT),
        corners=RECT,
        marks=[{"kind": "notch", "points": [[120, 100]]}],
    )
    plain = story.state
    side = plain.piece("p").edges[0].id
    made = story.do("edge.traced_as", edge=side, traced_as="cut", traced_allowance_mm=15.0)
    piece = made.piece("p")
    assert [e.path.length_mm for e in piece.edges] == pytest.approx([120, 285, 120, 285])
    assert point_of(piece, piece.notches[0].at) == pytest.approx((120.0, 100.0))
    back = story.do("edge.traced_as", edge=side, traced_as="finished")
    for old, new in zip(plain.piece("p").edges, back.piece("p").edges, strict=True):
        assert new.path.start == pytest.approx(old.path.start)
    with pytest.raises(BadInput, match="cannot be -1 mm"):
        story.do("edge.traced_as", edge=side, traced_as="cut", traced_allowance_mm=-1)


def test_a_fold_has_no_allowance_whether_said_at_once_or_later() -> None:
    facts = {
        "piece": "p",
        "name": "P",
        "segments": rows(RECT),
        "corners": RECT,
        "traced_as": "cut",
        "traced_allowance_mm": 10.0,
    }
    at_once = Story()
    at_once.do("trace.add", **facts, edges=[{}, {}, {}, {"kind": "fold"}])
    later = Story()
    later.do("trace.add", **facts)
    later.do("edge.set", edge=later.state.piece("p").edges[3].id, kind="fold")
    for story in (at_once, later):
        piece = story.state.piece("p")
        assert piece.edges[3].path.start[0] == pytest.approx(0.0)
        assert [e.path.length_mm for e in piece.edges] == pytest.approx([110, 280, 110, 280])
