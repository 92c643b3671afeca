"""Parts that were traced sewn shut, opened: folded shut again they are what was traced."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from eke.changes import Context
from eke.derive.facing import facing
from eke.errors import BadInput, ChangeConflict, EkeError
from eke.fit.named import open_dart, open_gathers, open_pleat
from eke.geometry import Cubic, Line, Move, Path, deviation_mm, path_area_mm2
from eke.pattern.checking import check, check_seam
from eke.pattern.corners import (
    dart_intake_mm,
    dart_legs_mm,
    interior_angle_deg,
    pleat_intake_mm,
    pleat_shut_move,
    shut_move,
    with_corner,
)
from eke.pattern.gathers import AT_END_MM, sewn_length_mm
from eke.pattern.kinds import pattern_kinds
from eke.pattern.model import (
    Edge,
    EdgeId,
    EdgePlace,
    Gather,
    Mark,
    Notch,
    Pattern,
    Piece,
    PieceId,
    Recipe,
    RunPart,
    Seam,
    SeamId,
)
from eke.pattern.pleats import mouth_off_mm, shut_pleat
from eke.pattern.walking import walk
from helpers.tunic import EDGES, FRONT, KINDS

SAME_MM = 0.01
"""Folded shut, the outline is the traced one within a hundredth of a millimetre."""
CLEAR_MM = 15.0
"""So far from the mouth of a dart nothing is smoothed, also where its own edge is hinged (40 mm away or more, smoothed
over 25 mm to each side)."""


def front(*marks: Mark, fold: bool = True) -> Pattern:
    edges = []
    for chain, name in zip(FRONT, EDGES, strict=True):
        segment = Line(*chain) if len(chain) == 2 else Cubic(*chain)  # type: ignore[arg-type,misc]
        kind = KINDS.get(name, "seam") if fold or name != "centre" else "seam"
        edges.append(Edge(EdgeId(name), Path((segment,)), kind, name))  # type: ignore[arg-type]
    piece = Piece(
        PieceId("front"),
        "front",
        tuple(edges),
        marks=marks,
        grain=((40.0, 50.0), (40.0, 300.0)),
        fold=EdgeId("centre") if fold else None,
    )
    return Pattern("tunic").with_piece(piece)


def moved(pattern: Pattern, move: Move) -> Pattern:
    """The pattern's one piece moved, turned or mirrored as a whole."""
    piece = pattern.piece("front")
    edges = [Edge(e.id, e.path.moved(move), e.kind, e.name) for e in piece.edges]
    if move.flips:
        edges = [Edge(e.id, e.path.reversed(), e.kind, e.name) for e in reversed(edges)]
    grain = piece.grain and (move.apply(piece.grain[0]), move.apply(piece.grain[1]))
    marks = tuple(Mark(m.id, m.kind, tuple(move.apply(p) for p in m.points), m.name) for m in piece.marks)
    return Pattern("tunic").with_piece(
        Piece(piece.id, piece.name, tuple(edges), marks=marks, grain=grain, fold=piece.fold)
    )


def line(a: tuple[float, float], b: tuple[float, float]) -> Mark:
    return Mark("line", "line", (a, b))


def dart(pattern: Pattern, intake_mm: float = 24.0, **more: object) -> Pattern:
    return open_dart.KIND.apply(pattern, {"mark": "line", "intake_mm": intake_mm, **more}, Context("c"))


def pleat(pattern: Pattern, intake_mm: float = 30.0, **more: object) -> Pattern:
    return open_pleat.KIND.apply(pattern, {"mark": "line", "intake_mm": intake_mm, **more}, Context("c"))


def area(pattern: Pattern) -> float:
    return path_area_mm2(pattern.piece("front").outline)


def along(pattern: Pattern, name: str) -> float:
    """How long an edge is, whatever parts it is in, with what is folded away left out."""
    return sum(e.path.length_mm for e in pattern.piece("front").edges if e.name == name)


SIDE_LINE = ((189.0, 200.0), (110.0, 260.0))
HEM_LINE = ((120.0, 0.0), (115.0, 210.0))
SHOULDER_LINE = ((110.0, 490.0), (100.0, 380.0))


# ---------------------------------------------------------------- darts


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from([SIDE_LINE, HEM_LINE, SHOULDER_LINE]),
    st.floats(4.0, 30.0),
    st.sampled_from(["first", "second"]),
)
def test_a_dart_folded_shut_is_the_traced_outline(ends, intake, pressed):
    before = front(line(*ends))
    after = dart(before, intake, pressed=pressed)
    piece, old = after.piece("front"), before.piece("front")
    (made,) = piece.darts
    leg = math.dist(open_dart.traced_line(before, {"mark": "line"}).start, ends[1])
    assert made.pressed == pressed
    assert dart_legs_mm(piece, made) == pytest.approx((leg, leg), abs=1e-6)
    assert dart_intake_mm(piece, made) == pytest.approx(intake, abs=1e-6)
    # both sides of the dart, the second folded onto the first, laid on the traced piece by the dart's line
    first = piece.edge(made.first_leg).path
    found = open_dart.traced_line(before, {"mark": "line"})
    mouth = found.start
    at, behind_hinge, ahead_hinge = open_dart.hinges_of(found, intake)
    own = at.index in (behind_hinge.index, ahead_hinge.index)
    lay = Move.between(first.start, first.end, mouth, ends[1])
    index = piece.edges.index(piece.edge(made.first_leg))
    behind = piece.edges[index - 1].path.moved(lay)
    ahead = piece.edges[(index + 2) % len(piece.edges)].path.moved(shut_move(piece, made).then(lay))
    traced = min(old.edges, key=lambda e: e.path.nearest(mouth).distance_mm).path
    for path in (behind, ahead):
        clear = CLEAR_MM if own else path.length_mm
        near = (
            path.slice(path.length_mm - clear, path.length_mm) if path is behind else path.slice(0.0, clear)
        )
        for place in near.flatten():
            assert traced.nearest((float(place[0]), float(place[1]))).distance_mm <= SAME_MM
    # every edge is as long as it was traced
    for edge in old.edges:
        assert along(after, edge.name) == pytest.approx(edge.path.length_mm, abs=0.5)
    assert piece.edge("centre").path == old.edge("centre").path, "the fold stays"
    assert area(after) > area(before)


def test_the_piece_gains_the_bulge_between_its_hinges_and_no_more():
    before = front(line(*SHOULDER_LINE), fold=False)
    found = open_dart.traced_line(before, {"mark": "line"})
    _, *hinges = open_dart.hinges_of(found, 24.0)
    one, two = (open_dart.point_at(found.piece, at) for at in hinges)
    kite = abs(Polygon([one, found.end, two, Move.mirror(one, two).apply(found.end)]).area)
    # what the smoothing of bends takes away or adds is a sliver of 25 mm to each side
    assert area(dart(before)) - area(before) == pytest.approx(kite, abs=25.0)


@settings(max_examples=25, deadline=None)
@given(
    st.floats(-180.0, 180.0),
    st.floats(-500.0, 500.0),
    st.booleans(),
    st.sampled_from([SIDE_LINE, SHOULDER_LINE]),
)
def test_a_piece_moved_turned_or_mirrored_opens_to_the_same_piece(turn, shift, flip, ends):
    move = Move.rotation(turn, (40.0, 70.0)).then(Move.translation(shift, -shift))
    if flip:
        move = Move.mirror((0.0, 0.0), (0.0, 1.0)).then(move)
    before = front(line(*ends))
    # the line from the side would be run on to the fold, where no pleat ends
    for opened in (dart, pleat) if ends is SHOULDER_LINE else (dart,):
        one, two = opened(before), opened(moved(before, move))
        expected = one.piece("front").outline.moved(move)
        if flip:
            # seen from the other side the pleat's fold lies on the other line
            two = opened(moved(before, move), pressed="second")
            expected = expected.reversed()
            assert deviation_mm(two.piece("front").outline, expected.flatten()) <= 0.02
        assert area(two) == pytest.approx(area(one), rel=1e-6)


def test_folded_depth_is_half_of_what_is_taken_up():
    whole = dart(front(line(*SIDE_LINE)), 24.0)
    folded = dart(front(line(*SIDE_LINE)), 12.0, measured="folded")
    assert folded.piece("front").edges == whole.piece("front").edges
    assert open_dart.KIND.sentence({"intake_mm": 12.0, "measured": "folded"}) == (
        "Opened a traced dart of 24 mm (12 mm folded) at a piece"
    )
    assert open_dart.KIND.sentence({"intake_mm": 24.0, "name": "side of front"}).endswith("at side of front")


def test_a_dart_of_an_edge_and_a_point_is_that_of_a_line():
    mouth = open_dart.traced_line(front(line(*SIDE_LINE)), {"mark": "line"}).at_start
    said = {"edge": "side", "mm": mouth.mm, "apex": list(SIDE_LINE[1]), "intake_mm": 24.0}
    by_point = open_dart.KIND.apply(front(), said, Context("c"))
    assert by_point.piece("front").edges == dart(front(line(*SIDE_LINE))).piece("front").edges


def test_the_line_has_become_the_dart_and_its_seam_fits_as_before():
    pattern = front(line(*SIDE_LINE))
    back = Piece(PieceId("back"), "back", front().piece("front").edges, fold=EdgeId("centre"))
    edges = tuple(Edge(EdgeId(f"b-{e.id}"), e.path, e.kind, e.name) for e in back.edges)
    back = Piece(PieceId("back"), "back", edges, fold=EdgeId("b-centre"))
    seam = Seam(
        SeamId("side"),
        (RunPart(PieceId("front"), EdgeId("side")),),
        (RunPart(PieceId("back"), EdgeId("b-side")),),
        "side",
    )
    after = dart(pattern.with_piece(back).with_seam(seam))
    assert after.piece("front").marks == ()
    assert len(after.seams["side"].a) == 2
    assert walk(after, "side").difference_mm == pytest.approx(0.0, abs=0.05)


@pytest.mark.parametrize(
    ("marks", "intake", "words"),
    [
        (line((150.0, 200.0), (110.0, 260.0)), 24.0, "reaches no edge"),
        (line((0.0, 200.0), (110.0, 260.0)), 24.0, "lies on a fold"),
        (line(*SIDE_LINE), 0.0, "takes up 0 mm"),
        (line(*SIDE_LINE), -5.0, "takes up -5 mm"),
        (line(*SIDE_LINE), 300.0, "legs would stand more than 60"),
        (line((189.0, 200.0), (110.0, 490.0)), 20.0, "from edge to edge"),
        (line((189.0, 200.0), (180.0, 195.0)), 20.0, "no line of 20 mm"),
        (Mark("line", "line", ((189.0, 200.0), (150.0, 200.0), (110.0, 260.0))), 20.0, "bends by"),
    ],
)
def test_a_dart_that_cannot_be_opened_is_refused_in_words(marks, intake, words):
    with pytest.raises(BadInput, match=words):
        dart(front(marks), intake)


def test_the_most_that_works_works_as_it_was_measured():
    with pytest.raises(BadInput) as refused:
        dart(front(line(*SIDE_LINE)), 300.0, measured="folded")
    most = refused.value.data["most_mm"]
    opened = dart(front(line(*SIDE_LINE)), math.floor(most * 10.0) / 10.0, measured="folded")
    assert len(opened.piece("front").darts) == 1
    with pytest.raises(ChangeConflict):
        dart(front(), 20.0)


# ---------------------------------------------------------------- tucks and pleats

ACROSS = ((120.0, 0.0), (110.0, 490.0))
RELEASED = ((110.0, 490.0), (112.0, 380.0))


@settings(max_examples=40, deadline=None)
@given(
    st.floats(4.0, 80.0),
    st.one_of(st.none(), st.floats(0.0, 60.0)),
    st.sampled_from(["first", "second"]),
    st.sampled_from([ACROSS, RELEASED]),
)
def test_a_pleat_folded_shut_is_the_traced_outline(intake, far, pressed, ends):
    before = front(line(*ends))
    after = pleat(before, intake, pressed=pressed, **({} if far is None else {"far_mm": far}))
    piece, old = after.piece("front"), before.piece("front")
    (made,) = piece.pleats
    assert pleat_intake_mm(piece, made) == pytest.approx(intake, abs=1e-6)
    shut = pleat_shut_move(piece, made)
    mouth = {e for pair in made.mouths for e in pair}
    hinged = len(made.mouths) == 1
    # the side with the fold is as it was; the other, folded shut, too
    folded = piece.edge(made.mouths[0][0]).path.start, piece.edge(made.mouths[0][1]).path.end
    assert shut.apply(folded[1]) == pytest.approx(folded[0], abs=1e-6)
    centre_stays = piece.edge("centre").path == old.edge("centre").path
    assert centre_stays
    ring = old.outline
    for edge in piece.edges:
        if edge.id in mouth or (hinged and edge.name == ("hem" if ends is RELEASED else "shoulder")):
            continue  # the edge at which it is hinged is smoothed over the bend
        there = edge.path.flatten()
        # whichever side of the line it lies on
        best = min(
            max(ring.nearest(move.apply((float(x), float(y)))).distance_mm for x, y in there)
            for move in (Move(), shut, shut.inverse())
        )
        assert best <= SAME_MM, edge.name
    for edge in old.edges:
        assert along(after, edge.name) == pytest.approx(edge.path.length_mm, abs=0.1)


@settings(max_examples=20, deadline=None)
@given(
    st.floats(4.0, 60.0),
    st.sampled_from([0.0, 10.0, None]),
    st.sampled_from(["first", "second"]),
    st.sampled_from([ACROSS, RELEASED]),
)
def test_a_piece_with_its_pleat_shut_is_the_traced_piece(intake, far, pressed, ends):
    before = front(line(*ends))
    piece = pleat(before, intake, pressed=pressed, **({} if far is None else {"far_mm": far})).piece("front")
    (made,) = piece.pleats
    # what was drawn is what it must be
    assert mouth_off_mm(piece, made) <= SAME_MM
    shut = shut_pleat(piece, made)
    assert shut.pleats == ()
    ring = before.piece("front").outline
    # where it opens to nothing the edge was smoothed over its bend, 25 mm to each side
    allowed = SAME_MM if len(made.mouths) > 1 else 2.0
    assert max(ring.nearest((float(x), float(y))).distance_mm for x, y in shut.outline.flatten()) <= allowed
    assert path_area_mm2(shut.outline) == pytest.approx(
        area(before), rel=1e-9 if allowed == SAME_MM else 2e-3
    )


def test_a_pleat_whose_edge_was_changed_beside_it_is_told_and_trued():
    after = pleat(front(line(*RELEASED)), 30.0)
    piece = after.piece("front")
    (made,) = piece.pleats
    at = piece.edges.index(piece.edge(made.mouths[0][0]))
    beside = piece.edges[at - 1]
    bent = with_corner(piece, beside.id, "start", (beside.path.start[0], beside.path.start[1] - 12.0))
    changed = after.with_piece(bent)
    found = [f for f in check(changed) if f.code == "pleat-mouth"]
    assert len(found) == 1
    assert found[0].amount > 1.5
    (fix,) = found[0].fixes
    kinds = {kind.name: kind for kind in pattern_kinds()}
    trued = kinds[fix.kind].apply(changed, dict(fix.params), Context("t"))
    assert not [f for f in check(trued) if f.code == "pleat-mouth"]
    assert not [f for f in check(after) if f.code == "pleat-mouth"]


def test_a_facing_over_a_pleat_is_cut_with_it_shut():
    before = front(line(*ACROSS))
    names = ("shoulder",)
    recipe = Recipe("r", "facing", "facing", ("front",), {"edges": list(names), "width_mm": 40.0})
    (plain,) = facing(before.with_recipe(recipe), recipe)
    after = pleat(before.with_recipe(recipe), 30.0)
    (made,) = facing(after, after.recipes["r"])
    assert path_area_mm2(made.piece.outline) == pytest.approx(path_area_mm2(plain.piece.outline), rel=1e-4)
    assert made.piece.pleats == ()


@pytest.mark.parametrize("pressed", ["first", "second"])
def test_the_edge_across_a_pleat_is_trued_as_folded(pressed):
    after = pleat(front(line(*ACROSS)), 40.0, pressed=pressed)
    piece = after.piece("front")
    (made,) = piece.pleats
    shut = pleat_shut_move(piece, made)
    for mouth, turned in zip(made.mouths, (False, True), strict=True):
        under, back = (piece.edge(e).path for e in mouth)
        # both layers of the fold lie on the edge beside them: mirrored in the line between them they are one
        at = piece.edges.index(piece.edge(mouth[0]))
        beside_before = (pressed == "first") != turned
        beside = piece.edges[at - 1 if beside_before else (at + 2) % len(piece.edges)].path
        to_before = shut.inverse() if turned else shut
        layer = back.moved(to_before) if beside_before else under.moved(to_before.inverse())
        assert max(beside.nearest((float(x), float(y))).distance_mm for x, y in layer.flatten()) <= SAME_MM
        assert under.length_mm == pytest.approx(back.length_mm, abs=1e-6)
    # shut, the hem runs on straight
    hem = next(e for e in piece.edges if e.name == "hem")
    assert interior_angle_deg(piece, hem.id, "end") == pytest.approx(180.0, abs=1e-6)


def test_a_straight_pleat_adds_its_intake_times_its_length():
    square = [(0.0, 0.0), (400.0, 0.0), (400.0, 300.0), (0.0, 300.0), (0.0, 0.0)]
    edges = tuple(
        Edge(EdgeId(n), Path.line(a, b), name=n)
        for n, a, b in zip(("hem", "side", "top", "centre"), square, square[1:], strict=False)
    )
    flat = Pattern("skirt").with_piece(
        Piece(PieceId("front"), "front", edges, marks=(line((150.0, 0.0), (150.0, 300.0)),))
    )
    # trade: visible length + 2 × depth per tuck is the flat length, so 400 mm with a tuck 20 mm deep is 440 mm flat
    opened = pleat(flat, 20.0, measured="folded", how="tuck")
    assert area(opened) - area(flat) == pytest.approx(40.0 * 300.0, abs=1e-6)
    piece = opened.piece("front")
    assert {m.kind for m in piece.marks} == {"stitch", "fold"}
    hem = [
        e for e in piece.edges if e.name in ("hem", "pleat") and e.path.end[1] < 1.0 and e.path.start[1] < 1.0
    ]
    assert sum(e.path.length_mm for e in hem) == pytest.approx(440.0, abs=1e-6)
    hinged = pleat(flat, 40.0, far_mm=0.0)
    # a wedge: half of its width times its length (the mouth, trued as folded, is a sliver more or less)
    assert area(hinged) - area(flat) == pytest.approx(0.5 * 40.0 * 300.0, rel=0.03)


@pytest.mark.parametrize(
    ("mark", "more", "words"),
    [
        (line((110.0, 300.0), (112.0, 200.0)), {}, "reaches no edge"),
        (line(*ACROSS), {"intake_mm": 0.0}, "nothing opens"),
        (line(*ACROSS), {"intake_mm": 900.0}, "more than any that is sewn"),
        (line(*ACROSS), {"far_mm": -3.0}, "nothing, or more"),
        (line((120.0, 0.0), (0.0, 200.0)), {}, "lies on a fold"),
        (line((199.9, 0.5), (70.2, 499.0)), {}, "corner"),
    ],
)
def test_a_pleat_that_cannot_be_opened_is_refused_in_words(mark, more, words):
    with pytest.raises(BadInput, match=words):
        pleat(front(mark), **{"intake_mm": 30.0, **more})


# ---------------------------------------------------------------- gathers


def gathers(pattern: Pattern, **params: object) -> Pattern:
    return open_gathers.KIND.apply(pattern, params, Context("c"))


@settings(max_examples=20, deadline=None)
@given(st.floats(1.1, 2.2), st.sampled_from(["nothing", "same"]), st.floats(0.0, 40.0), st.integers(3, 8))
@example(2.0, "nothing", 0.5, 3)
def test_gathers_drawn_up_are_as_long_as_they_were_traced(ratio, far, low, slashes):
    before = front()
    span = {"from_mm": low, "to_mm": 180.0}
    to = {"edge": "neck"}
    try:
        after = gathers(before, edge="hem", to=to, ratio=ratio, far=far, slashes=slashes, **span)
    except BadInput as refused:
        assert "slashes" in refused.message  # noqa: PT017
        return
    piece = after.piece("front")
    (gather,) = piece.gathers
    hem = piece.edge("hem")
    low = 0.0 if low <= AT_END_MM else low  # so near the end it is the end
    assert hem.path.length_mm == pytest.approx(200.0 + (ratio - 1.0) * (180.0 - low), abs=0.1)
    assert sewn_length_mm(piece, hem) == pytest.approx(200.0, abs=0.02)
    assert gather.ratio == pytest.approx(ratio, abs=0.002)
    grown = piece.edge("neck").path.length_mm - before.piece("front").edge("neck").path.length_mm
    assert grown > 1.0 if far == "same" else grown == pytest.approx(0.0, abs=1.0)
    assert area(after) > area(before)


def skirt_and_band(ratio: float | None, flat_mm: float = 450.0) -> Pattern:
    def strip(name: str, long: float) -> Piece:
        ring = [(0.0, 0.0), (long, 0.0), (long, 100.0), (0.0, 100.0), (0.0, 0.0)]
        edges = tuple(Edge(EdgeId(f"{name}-{k}"), Path.line(a, b)) for k, (a, b) in enumerate(pairwise(ring)))
        return Piece(PieceId(name), name, edges)

    skirt = strip("skirt", flat_mm)
    notches = (Notch("n", EdgePlace(EdgeId("skirt-2"), fraction=0.5)),)
    gather = Gather("g", EdgeId("skirt-2"), None, None, "gathered", ratio)
    skirt = Piece(skirt.id, "skirt", skirt.edges, notches=notches, gathers=(gather,))
    band = strip("band", 300.0)
    band = Piece(
        band.id, "band", band.edges, notches=(Notch("m", EdgePlace(EdgeId("band-0"), fraction=0.5)),)
    )
    seam = Seam(
        SeamId("waist"),
        (RunPart(skirt.id, EdgeId("skirt-2"), True),),
        (RunPart(band.id, EdgeId("band-0")),),
        "waist",
    )
    return Pattern("skirt").with_piece(skirt).with_piece(band).with_seam(seam)


@pytest.mark.parametrize("ratio", [1.5, None])
def test_walking_draws_gathers_up(ratio):
    # trade: 300 mm × 1.5 = 450 mm
    pattern = skirt_and_band(ratio)
    walked = walk(pattern, "waist")
    assert walked.difference_mm == pytest.approx(0.0, abs=1e-9)
    (pair,) = walked.pairs
    assert pair.apart_mm == pytest.approx(0.0, abs=1e-6)
    assert not [f for f in check_seam(pattern, "waist") if f.code.startswith(("seam-length", "notch"))]
    assert all(abs(off) < 1e-6 for _, off in walked.running())
    # without the gathers the surplus is found
    plain = pattern.with_piece(Piece(PieceId("skirt"), "skirt", pattern.piece("skirt").edges))
    assert "seam-length" in {f.code for f in check_seam(plain, "waist")}


def test_a_wrong_fullness_is_still_found():
    walked = walk(skirt_and_band(1.5, 480.0), "waist")
    assert walked.difference_mm == pytest.approx(20.0, abs=1e-9)
    assert "gathers drawn up" in check_seam(skirt_and_band(1.5, 480.0), "waist")[0].sentence
    # open gathers take up what is longer, never what is too short
    assert walk(skirt_and_band(None, 290.0), "waist").difference_mm == pytest.approx(-10.0, abs=1e-9)


@pytest.mark.parametrize(
    ("params", "words"),
    [
        ({"ratio": 1.0}, "no fullness"),
        ({"ratio": -2.0}, "no fullness"),
        ({"flat_mm": 100.0}, "pulled flat"),
        ({"ratio": 1.5, "slashes": 0}, "1 to 12 slashes"),
        ({"ratio": 1.5, "from_mm": 0.0, "to_mm": 900.0}, "no place 900"),
        ({"ratio": 1.5, "to": {"edge": "centre"}}, "fold"),
        ({"ratio": 1.5, "to": {"edge": "hem"}}, "another edge"),
    ],
)
def test_gathers_that_cannot_be_opened_are_refused_in_words(params, words):
    with pytest.raises(EkeError, match=words):
        gathers(front(), **{"edge": "hem", "to": {"edge": "neck"}, **params})
