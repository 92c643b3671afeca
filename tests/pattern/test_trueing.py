"""Trueing steps: what they promise holds exactly, nothing beside them changes, and each fix cures its finding."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eke.errors import BadInput, BadShape, ChangeConflict
from eke.geometry import Move, Path, deviation_mm, path_area_mm2, straightness_mm
from eke.pattern import notching, trueing
from eke.pattern.checking import check, check_seam
from eke.pattern.corners import interior_angle_deg, place_at, with_corner
from eke.pattern.model import EdgeId, EdgePlace, Notch, Pattern
from eke.pattern.walking import walk

from .samples import Story, bodice, edge, half_bodice, joined_up, rectangle, seam


def wobbly(pattern: Pattern, edge_id: str, rms: float, seed: int) -> Pattern:
    piece, edge = pattern.edge(edge_id)
    n = 60
    mms = np.linspace(0, edge.path.length_mm, n)
    noise = np.convolve(np.random.default_rng(seed).normal(0, rms, n), np.ones(3) / 3, "same")
    noise[0] = noise[-1] = 0
    t = edge.path.tangents_at(mms)
    points = edge.path.points_at(mms) + noise[:, None] * np.stack([-t[:, 1], t[:, 0]], axis=1)
    points[0], points[-1] = edge.path.start, edge.path.end
    return pattern.with_piece(piece.with_edge(replace(edge, path=Path.polyline(points))))


def test_straightening() -> None:
    pattern = wobbly(bodice(), "front-side", 0.5, 1)
    off = trueing.straightness_of(pattern, "front-side")
    assert 0.3 < off < 3.0
    made = trueing.straighten(pattern, "front-side")
    assert straightness_mm(made.edge("front-side")[1].path) == 0.0
    assert made.edge("front-side")[1].shape == "straight"
    assert made.edge("front-side")[1].path.length_mm == pytest.approx(220.0)
    joined_up(made)


@pytest.mark.parametrize("name", ["front-armhole", "back-armhole", "front-neck"])
def test_fairing_a_rough_curve(name: str) -> None:
    true = bodice().edge(name)[1].path
    rough = wobbly(bodice(), name, 0.4, 7)
    fit = trueing.fairing_of(rough, name, 1.2)
    made = trueing.fair(rough, name, 1.2)
    path = made.edge(name)[1].path
    assert fit.deviation_mm <= 1.2
    assert deviation_mm(path, rough.edge(name)[1].path.flatten()) <= 1.25
    assert deviation_mm(path, true.points_at(np.linspace(0, true.length_mm, 30))) < 0.8
    assert path.length_mm == pytest.approx(true.length_mm, abs=1.0)
    assert len(path.segments) <= 2
    joined_up(made)


def test_a_faired_neck_stays_square_at_the_fold() -> None:
    made = trueing.fair(wobbly(bodice(), "front-neck", 0.15, 3), "front-neck", 1.5)
    assert interior_angle_deg(made.piece("front"), "front-fold", "start") == pytest.approx(90.0, abs=1e-6)


def test_fairing_that_cannot_reach_says_what_can() -> None:
    piece = rectangle("r", 100, 100)
    zigzag = Path.polyline([(100, 0), (130, 20), (100, 40), (130, 60), (100, 80), (115, 90), (100, 100)])
    pattern = Pattern().with_piece(piece.with_edge(replace(piece.edge("r-right"), path=zigzag)))
    with pytest.raises(BadShape, match="Put a corner on it"):
        trueing.fair(pattern, "r-right", 0.05)


@pytest.mark.parametrize("end", ["start", "end"])
def test_squaring_a_neck_and_a_hem_at_the_fold(end: str) -> None:
    story = Story(bodice())
    # both corners at the fold are pushed out of square: neck up, hem down
    story.do("corner.move", edge="front-fold", end=end, to=[0.0, 330.0 if end == "start" else -6.0])
    edge = "front-neck" if end == "start" else "front-hem"
    if end == "start":
        story.do("true.straighten", edge=edge)
    found = [f for f in check(story.state) if f.code == "fold-square"]
    assert len(found) == 1
    before = story.state.piece("front").edge("front-fold").path.start
    fix = found[0].fixes[0]
    story.do(fix.kind, **fix.params)
    assert not [f for f in check(story.state) if f.code == "fold-square"]
    piece = story.state.piece("front")
    assert interior_angle_deg(piece, "front-fold", end) == pytest.approx(90.0, abs=1e-6)
    # square for at least 10 mm (trade 2.11)
    path = piece.edge(edge).path
    near = path.slice(path.length_mm - 10.0, path.length_mm) if end == "start" else path.slice(0.0, 10.0)
    assert straightness_mm(near) < 1e-9
    if end == "start":
        # a V neck is not turned level: its corner stays and its end bends
        assert piece.edge("front-fold").path.start == before
    joined_up(story.state)


@pytest.mark.parametrize("radius", [15.0, 20.0, 30.0])
def test_a_tight_round_end_is_squared_at_the_fold_without_being_cut_short(radius: float) -> None:
    # half a strap end: a quarter round up to the fold at the left, where it comes in 3 degrees off square
    k, length = radius, 200.0
    round_end = Path.arc((0.0, length), k, 0.0, 90.0).moved(Move.rotation(-3.0, (0.0, length + k)))
    right = Path.line((k, 0.0), round_end.start)
    edges = (
        edge("s-hem", Path.line((0.0, 0.0), (k, 0.0)), "hem"),
        edge("s-side", right),
        edge("s-round", round_end),
        edge("s-fold", Path.line(round_end.end, (0.0, 0.0)), "fold"),
    )
    pattern = Pattern().with_piece(replace(rectangle("s", 1, 1), edges=edges, fold="s-fold"))
    made = trueing.square(pattern, "s-round", "end")
    assert interior_angle_deg(made.piece("s"), "s-fold", "start") == pytest.approx(90.0, abs=1e-6)
    path = made.edge("s-round")[1].path
    assert deviation_mm(path, round_end.points_at(np.linspace(0.0, round_end.length_mm, 200))) < 1.2
    # what is said is done: straight for 10 mm cuts into it
    cut = trueing.square(pattern, "s-round", "end", 10.0).edge("s-round")[1].path
    assert straightness_mm(cut.slice(cut.length_mm - 10.0, cut.length_mm)) < 1e-9


@settings(max_examples=25)
@given(st.floats(-6.0, 6.0), st.sampled_from([0.0, 0.3, 0.5, 1.0]), st.sampled_from(["start", "end"]))
def test_sharing_a_difference_makes_the_sides_match(off: float, share: float, at: str) -> None:
    story = Story(bodice())
    story.do("corner.move", edge="back-side", end="end", to=[640.0, 220.0 + off])
    other_before = story.state.edge("back-shoulder")[1].path.length_mm
    lengths = [story.state.edge(e)[1].path.length_mm for e in ("front-side", "back-side")]
    made = story.do("true.share", seam="side", share_a=share, at=at)
    assert walk(made, "side").difference_mm == pytest.approx(0.0, abs=1e-6)
    moved = [
        made.edge(e)[1].path.length_mm - was
        for e, was in zip(("front-side", "back-side"), lengths, strict=True)
    ]
    assert moved[0] == pytest.approx(share * off, abs=1e-6)
    assert moved[1] == pytest.approx((share - 1.0) * off, abs=1e-6)
    assert made.edge("back-shoulder")[1].path.length_mm == pytest.approx(other_before)
    joined_up(made)


def waisted(by_mm: float) -> Pattern:
    """A bodice front over a skirt, both halves on the fold, sewn at the waist; the skirt's waist is longer by so much."""
    front, skirt = half_bodice("front", 110.0), half_bodice("skirt", 45.0, at=(400.0, 0.0))
    skirt = with_corner(skirt, "skirt-hem", "end", (640.0 + by_mm, 0.0))
    pattern = Pattern().with_piece(front).with_piece(skirt)
    return pattern.with_seam(seam("waist", [("front", "front-hem", False)], [("skirt", "skirt-hem", False)]))


@pytest.mark.parametrize("at", ["start", "end"])
@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
def test_a_side_that_ends_on_the_fold_gives_at_its_other_end_and_the_fold_stays(
    at: str, share: float
) -> None:
    pattern = waisted(6.0)
    made = trueing.share_difference(pattern, "waist", share, at)
    assert walk(made, "waist").difference_mm == pytest.approx(0.0, abs=1e-6)
    for name in ("front", "skirt"):
        assert made.edge(f"{name}-fold")[1].path == pattern.edge(f"{name}-fold")[1].path
    joined_up(made)


def test_an_end_on_the_fold_is_not_lengthened_off_it() -> None:
    pattern = bodice()
    for edge_id, end in (("front-hem", "start"), ("front-neck", "end")):
        with pytest.raises(BadInput, match=r"slides along it only\. Change its length"):
            trueing.resize_edge(pattern, edge_id, 5.0, end)
    # the fold itself grows along itself
    made = trueing.resize_edge(pattern, "front-fold", 5.0, "start")
    assert made.edge("front-fold")[1].path.start == pytest.approx((0.0, 325.0))
    # from the fold to the fold nothing can be shared, so it is not offered either
    ring = tuple(
        replace(e, kind="fold") if e.id.endswith(("left", "right")) else e
        for e in rectangle("r", 100, 50).edges
    )
    ends = (
        Pattern().with_piece(replace(rectangle("r", 100, 50), edges=ring)).with_piece(rectangle("b", 104, 50))
    )
    ends = ends.with_seam(seam("s", [("r", "r-hem", False)], [("b", "b-hem", False)]))
    assert [trueing.can_share(ends, "s", share, "end") for share in (0.0, 0.5, 1.0)] == [True, False, False]
    with pytest.raises(BadInput, match="neither end can leave it"):
        trueing.share_difference(ends, "s", 1.0)


def test_every_fix_of_a_length_cures_it() -> None:
    story = Story(bodice())
    story.do("corner.move", edge="back-side", end="end", to=[640.0, 226.0])
    (found,) = [f for f in check_seam(story.state, "side") if f.code == "seam-length"]
    assert len(found.fixes) == 4
    for fix in found.fixes:
        other = Story(story.state)
        other.do(fix.kind, **fix.params)
        assert not [f for f in check_seam(other.state, "side") if f.code == "seam-length"]


def test_small_differences_are_shared_in_one_step_and_large_ones_are_left() -> None:
    story = Story(bodice())
    story.do("corner.move", edge="back-side", end="end", to=[640.0, 221.2])
    made = story.do("true.share_small")
    assert abs(walk(made, "side").difference_mm) < 1e-6
    story.do("corner.move", edge="back-side", end="end", to=[640.0, 230.0])
    made = story.do("true.share_small")
    assert abs(walk(made, "side").difference_mm) > 5.0


def test_notches_stay_on_the_cloth_when_an_edge_grows() -> None:
    pattern = bodice()
    piece = pattern.piece("front")
    notch = Notch("n", place_at(piece.edge("front-side"), 80.0))
    pattern = pattern.with_piece(replace(piece, notches=(notch,)))
    point = pattern.edge("front-side")[1].path.point_at(80.0)
    for end, by in (("end", 7.0), ("start", 5.0), ("end", -9.0)):
        made = trueing.resize_edge(pattern, "front-side", by, end)
        edge = made.edge("front-side")[1]
        assert edge.path.point_at(edge.mm_of(made.piece("front").notches[0].at)) == pytest.approx(
            point, abs=1e-6
        )
        assert edge.path.length_mm == pytest.approx(220.0 + by)


def test_redrawing_a_join_makes_180_degrees_and_keeps_seam_lengths() -> None:
    story = Story(bodice())
    story.do("true.straighten", edge="front-neck")
    (found,) = [f for f in check_seam(story.state, "shoulder") if f.code == "join-angle"]
    before = walk(story.state, "shoulder").difference_mm
    story.do(found.fixes[0].kind, **found.fixes[0].params)
    walked = walk(story.state, "shoulder")
    assert [j.off_deg for j in walked.joins] == pytest.approx([0.0, 0.0], abs=1e-6)
    assert walked.difference_mm == pytest.approx(before)
    joined_up(story.state)


def test_notch_fixes_cure_their_findings() -> None:
    story = Story(bodice())
    story.do("notch.set", edge="back-side", id="back-side-notch", mm=84.0)
    (found,) = [f for f in check_seam(story.state, "side") if f.code == "notch-apart"]
    for fix in found.fixes:
        other = Story(story.state)
        other.do(fix.kind, **fix.params)
        assert not [f for f in check_seam(other.state, "side") if f.code == "notch-apart"]
    story.do("notch.drop", notch="back-side-notch")
    (found,) = [f for f in check_seam(story.state, "side") if f.code == "notch-alone"]
    for fix in found.fixes:
        other = Story(story.state)
        other.do(fix.kind, **fix.params)
        assert not [f for f in check_seam(other.state, "side") if f.code.startswith("notch-a")]


@given(st.floats(10.0, 290.0), st.floats(0.0, 25.0))
def test_a_pair_of_notches_lies_at_equal_seam_distance_ease_counted(at_mm: float, ease: float) -> None:
    pattern = (
        Pattern()
        .with_piece(rectangle("a", 100, 300.0 + ease))
        .with_piece(rectangle("b", 100, 300, at=(200, 0)))
    )
    pattern = pattern.with_seam(seam("s", [("a", "a-right", False)], [("b", "b-left", True)], ease_mm=ease))
    made = notching.set_notches(pattern, "s", at_mm, 1, "r1")
    (pair,) = walk(made, "s").pairs
    assert pair.a.at_mm == pytest.approx(at_mm, abs=1e-6)
    assert pair.b.at_mm == pytest.approx(at_mm - ease * at_mm / (300.0 + ease), abs=1e-6)
    assert pair.apart_mm == pytest.approx(0.0, abs=1e-6)


def test_grain_turns_the_piece_upright() -> None:
    pattern = Pattern().with_piece(replace(rectangle("r", 100, 300), grain=None))
    made = trueing.set_grain(pattern, "r", ((0.0, 0.0), (30.0, 300.0)))
    (x0, y0), (x1, y1) = made.piece("r").grain
    assert x0 == pytest.approx(x1)
    assert y1 > y0
    assert path_area_mm2(made.piece("r").outline) == pytest.approx(30_000.0)
    by_edge = trueing.set_grain(pattern, "r", edge_id="r-hem")
    across, along = by_edge.piece("r").edge("r-hem").path.tangent_at(1.0)
    assert (across, abs(along)) == pytest.approx((0.0, 1.0), abs=1e-9)


@pytest.mark.parametrize(
    ("step", "error", "words"),
    [
        (lambda p: trueing.resize_edge(p, "front-side", -150.0, "end"), BadInput, "at most 110.0 mm"),
        (lambda p: trueing.share_difference(p, "side", 1.5), BadInput, "between 0 and 1"),
        (lambda p: trueing.smooth_join(p, "side", "end"), None, ""),
        (lambda p: notching.set_notches(p, "side", 400.0, 1, "r"), BadInput, "220.0 mm long"),
        (lambda p: notching.set_notches(p, "side", 100.0, 4, "r"), BadInput, "single, double or triple"),
        (lambda p: notching.match_notch(p, "side", "x", "y"), ChangeConflict, "two sides"),
        (lambda p: trueing.set_grain(p, "front", ((0, 0), (0, 0.1))), BadInput, "two points"),
    ],
)
def test_what_cannot_be_done_is_refused_in_words(step, error, words) -> None:
    if error is None:
        step(bodice())
        return
    with pytest.raises(error, match=words):
        step(bodice())


def test_moving_a_corner_on_the_fold_slides_along_it_and_curves_keep_their_directions() -> None:
    story = Story(bodice())
    story.do("corner.move", edge="front-neck", end="end", to=[25.0, 310.0])
    piece = story.state.piece("front")
    assert piece.edge("front-neck").path.end == pytest.approx((0.0, 310.0))
    assert interior_angle_deg(piece, "front-fold", "start") == pytest.approx(90.0, abs=1e-6)
    assert EdgePlace(EdgeId("e"), mm=1.0).fraction is None
    joined_up(story.state)
