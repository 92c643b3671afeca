"""Gathers that are meant, and darts inside a piece: said, kept through other changes, refused in words."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.changes import Context
from eke.errors import BadInput, ChangeConflict
from eke.fit.darts import add_dart
from eke.pattern import gathers
from eke.pattern.editing import merge_edges, split_edge, unfolded
from eke.pattern.finished import finished_measures
from eke.pattern.inner_darts import mark_inner_dart
from eke.pattern.kinds import pattern_kinds
from eke.pattern.measure import run_of
from eke.pattern.model import EdgeId, EdgePlace, Mark, Pattern, RunPart, SeamId, TapedAt
from eke.pattern.proposals import propose_seams
from eke.pattern.taped import taped_findings
from eke.pattern.tolerances import DEFAULT

from .samples import bodice

KINDS = {kind.name: kind for kind in pattern_kinds()}


def say(pattern: Pattern, kind: str, **params: object) -> Pattern:
    return KINDS[kind].apply(pattern, params, Context("c"))


def lined(*points: tuple[float, float]) -> Pattern:
    pattern = bodice()
    piece = pattern.piece("front")
    return pattern.with_piece(replace(piece, marks=(Mark("line", "line", points),)))


# ---------------------------------------------------------------- said


def test_a_stretch_is_gathered_between_two_notches_that_are_set():
    pattern = say(bodice(), "gather.say", edge="front-side", from_mm=40.0, to_mm=140.0, sewn_mm=80.0)
    piece = pattern.piece("front")
    (gather,) = piece.gathers
    assert gathers.span_mm(piece, gather) == pytest.approx((40.0, 140.0))
    assert gather.ratio == pytest.approx(1.25)
    assert {gather.start, gather.end} <= {n.id for n in piece.notches}
    edge = piece.edge("front-side")
    assert gathers.sewn_length_mm(piece, edge) == pytest.approx(edge.path.length_mm - 20.0)
    assert say(pattern, "gather.drop", gather=gather.id).piece("front").gathers == ()


@pytest.mark.parametrize(
    ("params", "words"),
    [
        ({"from_mm": 40.0, "to_mm": 42.0}, "too short"),
        ({"ratio": 0.5}, "no fullness"),
        ({"ratio": 9.0}, "up to 6"),
        ({"from_mm": 40.0, "to_mm": 140.0, "sewn_mm": 100.0}, "shorter than that"),
        ({"from_mm": 40.0, "to_mm": 140.0, "sewn_mm": -5.0}, "shorter than that"),
        ({"how": "puckered"}, "gathered, eased"),
    ],
)
def test_what_is_no_fullness_is_refused_in_words(params, words):
    with pytest.raises(BadInput, match=words):
        say(bodice(), "gather.say", edge="front-side", **params)
    once = say(bodice(), "gather.say", edge="front-side", from_mm=40.0, to_mm=140.0)
    with pytest.raises(BadInput, match="already"):
        say(once, "gather.say", edge="front-side", from_mm=100.0, to_mm=180.0)
    with pytest.raises(ChangeConflict):
        say(once, "gather.drop", gather="none")


@given(st.floats(1.05, 4.0), st.floats(0.0, 100.0), st.floats(0.2, 1.0), st.floats(0.0, 1.0))
def test_flat_and_sewn_places_of_a_run_are_each_others_reverse(ratio, low, wide, share):
    pattern = bodice()
    long = pattern.edge("front-side")[1].path.length_mm
    high = low + wide * (long - low)
    said = gathers.say_gather(
        pattern,
        "front-side",
        EdgePlace(EdgeId("front-side"), mm=low),
        EdgePlace(EdgeId("front-side"), mm=high),
        "gathered",
        ratio=ratio,
        change_id="c",
    )
    # a place half a millimetre from an end of the edge is that end
    low, high = gathers.span_mm(said.piece("front"), said.piece("front").gathers[0])
    for reverse in (False, True):
        part = RunPart(said.piece("front").id, EdgeId("front-side"), reverse)
        taken = gathers.taken_up(run_of(said, (part,)))
        mm = share * long
        assert gathers.flat_mm(taken, gathers.sewn_mm(taken, mm)) == pytest.approx(mm, abs=1e-6)
        assert gathers.sewn_mm(taken, long) == pytest.approx(
            long - (high - low) * (1.0 - 1.0 / ratio), abs=1e-6
        )


def test_what_is_said_to_be_gathered_is_proposed_to_what_is_shorter():
    # one edge of the sample is stretched in length by saying it is gathered: proposals count it drawn up
    pattern = bodice()
    plain = {frozenset(p.edge for p in (*one.a, *one.b)) for one in propose_seams(replace(pattern, seams={}))}
    said = say(pattern, "gather.say", edge="front-side", ratio=1.001)
    told = {frozenset(p.edge for p in (*one.a, *one.b)) for one in propose_seams(replace(said, seams={}))}
    assert frozenset({"front-side", "back-side"}) in plain & told
    # drawn up to half, the two no longer belong together so surely
    half = say(pattern, "gather.say", edge="front-side", ratio=2.0)
    sure = {
        frozenset(p.edge for p in (*one.a, *one.b)): one.confidence
        for one in propose_seams(replace(half, seams={}))
    }
    first = {
        frozenset(p.edge for p in (*one.a, *one.b)): one.confidence
        for one in propose_seams(replace(pattern, seams={}))
    }
    pair = frozenset({"front-side", "back-side"})
    assert sure.get(pair, 0.0) < first[pair]


# ---------------------------------------------------------------- kept through other changes


def test_a_gathered_edge_that_is_parted_is_gathered_in_its_parts():
    pattern = say(bodice(), "gather.say", edge="front-side", from_mm=40.0, to_mm=180.0, ratio=2.0)
    split = split_edge(pattern, "front-side", EdgePlace(EdgeId("front-side"), mm=100.0), "s")
    piece = split.piece("front")
    assert len(piece.gathers) == 2
    assert sum(b - a for a, b in (gathers.span_mm(piece, g) for g in piece.gathers)) == pytest.approx(140.0)
    darted = add_dart(
        pattern, "front-side", EdgePlace(EdgeId("front-side"), mm=100.0), 10.0, (100.0, 150.0), "d"
    )
    own = darted.piece("front")
    assert sum(b - a for a, b in (gathers.span_mm(own, g) for g in own.gathers)) == pytest.approx(130.0)
    # parts that are one again do not lose where the gathers end
    ids = [e.id for e in piece.edges if e.name == piece.edge(piece.gathers[0].edge).name][:2]
    with pytest.raises(ChangeConflict, match="ends at the corner"):
        merge_edges(split, *ids)


def test_the_whole_of_a_half_is_gathered_on_both_sides():
    pattern = say(bodice(), "gather.say", edge="front-side", from_mm=40.0, to_mm=180.0, ratio=2.0)
    whole = unfolded(pattern.piece("front"))
    one, two = whole.gathers
    spans = [gathers.gathered_line(whole, g) for g in (one, two)]
    assert spans[0].length_mm == pytest.approx(spans[1].length_mm)
    assert {math.copysign(1.0, s.start[0]) for s in spans} == {-1.0, 1.0}


# ---------------------------------------------------------------- a dart inside


def test_a_dart_inside_is_drawn_by_its_legs_and_changes_no_outline():
    pattern = lined((80.0, 100.0), (80.0, 260.0))
    made = say(pattern, "dart.inside", mark="line", intake_mm=10.0, measured="folded", widest=0.25)
    piece = made.piece("front")
    assert piece.edges == pattern.piece("front").edges
    (mark,) = piece.marks
    assert mark.kind == "dart"
    assert mark.id == "line"
    xs = [x for x, _ in mark.points]
    assert max(xs) - min(xs) == pytest.approx(20.0)
    assert mark.points[1][1] == pytest.approx(140.0)
    legs = [math.dist(mark.points[k], mark.points[k + 1]) for k in range(4)]
    assert legs[0] == pytest.approx(legs[3])
    assert legs[1] == pytest.approx(legs[2])
    assert "the outline is as it was" in KINDS["dart.inside"].sentence(
        {"mark": "line", "intake_mm": 10.0, "measured": "folded"}
    )


@pytest.mark.parametrize(
    ("intake", "widest", "words"),
    [
        (0.0, 0.5, "is none"),
        (-3.0, 0.5, "is none"),
        (200.0, 0.5, "could not be sewn"),
        (10.0, 0.0, "between the two points"),
    ],
)
def test_a_dart_inside_that_cannot_be_is_refused_in_words(intake, widest, words):
    pattern = lined((80.0, 100.0), (80.0, 260.0))
    with pytest.raises(BadInput, match=words) as refused:
        mark_inner_dart(pattern, "line", intake, widest)
    if "most_mm" in refused.value.data:
        assert mark_inner_dart(pattern, "line", refused.value.data["most_mm"] - 0.01, widest)
    with pytest.raises(ChangeConflict):
        mark_inner_dart(pattern, "none", 10.0)


# ---------------------------------------------------------------- measured


def test_the_finished_length_of_a_gathered_seam_is_that_of_its_mate():
    pattern = say(bodice(), "gather.say", edge="front-side", ratio=1.25)
    flat = pattern.edge("front-side")[1].path.length_mm
    mate = pattern.edge("back-side")[1].path.length_mm
    measure = next(m for m in finished_measures(pattern) if set(m.edges) == {"front-side", "back-side"})
    assert measure.mm == pytest.approx((flat / 1.25 + mate) / 2.0)
    # a tape on the garment is held against what is sewn, on the side that lies flat
    taped = replace(pattern, taped={"side": mate}, taped_at={"side": TapedAt(seam=SeamId("side"))})
    assert not list(taped_findings(taped, DEFAULT))
    wrong = replace(taped, taped={"side": flat + 40.0})
    (found,) = taped_findings(wrong, DEFAULT)
    assert "back" in found.sentence
