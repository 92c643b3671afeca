"""Equal halves: the middle is found, either half or the mean is kept, twice is once, and what has no mate is refused."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eke.errors import BadInput, BadShape, EkeError
from eke.geometry import Move, Path, Pt, path_area_mm2, trouble_of
from eke.pattern.corners import corner_point, moved_piece, neighbour, point_of, with_corner
from eke.pattern.editing import unfolded
from eke.pattern.halves import equal_edge, equal_halves, halves_of
from eke.pattern.middle import middle_of, middles_of
from eke.pattern.model import Dart, EdgeId, EdgePlace, Mark, Notch, Pattern, Piece

from .samples import Story, curve, darted, edge, half_bodice, rectangle
from .test_proposals import mirrored


def whole() -> Piece:
    """A back drawn whole: exactly the same on both sides of x = 0, its neck in two edges that meet there."""
    return unfolded(half_bodice("back", 45.0))


def rough(shifts: dict[tuple[str, str], Pt], piece: Piece | None = None) -> Piece:
    """The whole back with corners moved by hand."""
    made = piece or whole()
    for (edge_id, end), (dx, dy) in shifts.items():
        x, y = corner_point(made.edge(edge_id), end)
        made = with_corner(made, edge_id, end, (x + dx, y + dy))
    return made


AXIS = ((0.0, 0.0), (0.0, 100.0))
CROOKED = {
    ("back-side", "start"): (6.0, -3.0),
    ("back-armhole", "end"): (2.0, 5.0),
    ("back-side~", "start"): (-1.0, 4.0),
}


def apron() -> Piece:
    """A bib drawn whole: its hem, its bowed top and its curved sides each one edge; the top and the hem cross the middle."""
    a, b, c, d = (-150.0, 0.0), (150.0, 0.0), (95.0, 300.0), (-95.0, 300.0)
    return Piece(
        rectangle("bib", 1, 1).id,
        "bib",
        (
            edge("hem", curve(a, -12.0, b, 12.0), "hem"),
            edge("right", curve(b, 95.0, c, 115.0)),
            edge("top", curve(c, 200.0, d, 160.0), "opening"),
            edge("left", curve(d, -115.0, a, -95.0)),
        ),
        notches=(
            Notch("right-notch", EdgePlace(EdgeId("right"), mm=100.0)),
            Notch("left-notch", EdgePlace(EdgeId("left"), mm=100.0, from_end="end")),
        ),
    )


def same_on_both_sides(piece: Piece, line: Pt, way: Pt) -> None:
    """By its own reckoning: the mirrored outline lies on the outline, everywhere."""
    mirror = Move.mirror(line, (line[0] + way[0], line[1] + way[1]))
    outline = piece.outline
    for p in outline.points_at(np.linspace(0.0, outline.length_mm, 200)):
        assert outline.nearest(mirror.apply((float(p[0]), float(p[1])))).distance_mm < 1e-6


def joined_up(piece: Piece) -> None:
    for one in piece.edges:
        assert math.dist(one.path.end, neighbour(piece, one.id, "end").path.start) < 1e-9
    assert trouble_of(piece.outline) is None
    assert path_area_mm2(piece.outline) > 0.0


# ---------------------------------------------------------------- the middle


def test_a_marked_line_goes_before_the_grain_and_the_grain_before_the_best() -> None:
    piece = whole()
    assert middles_of(piece)[0].by == "grain"
    marked = replace(piece, marks=(Mark("cb", "line", ((3.0, 10.0), (3.0, 300.0)), "Centre back"),))
    found = middle_of(marked)
    assert found.by == "marked"
    assert found.left_mm((3.0, 77.0)) == pytest.approx(0.0)
    # a waist line is no middle, and neither is a point called so
    others = replace(
        piece,
        marks=(Mark("w", "balance", ((0, 9), (9, 9)), "waist"), Mark("p", "point", ((1, 1),), "centre")),
    )
    assert middle_of(others).by == "grain"
    with pytest.raises(BadInput, match="is marked as its middle"):
        middle_of(others, "marked")


@settings(max_examples=12)
@given(st.floats(-90.0, 90.0), st.floats(-400.0, 400.0), st.booleans())
def test_the_best_line_of_a_piece_without_grain_is_its_axis(turn: float, dx: float, banded: bool) -> None:
    """However it lies: the axis of a symmetric outline, checked as the image of x = 0 under the same move."""
    piece = replace(apron() if banded else whole(), grain=None)
    move = Move.rotation(turn, (40.0, 70.0)).then(Move.translation(dx, -dx / 3.0))
    line = middle_of(moved_piece(piece, move), "fit")
    ends = sorted(abs(line.left_mm(move.apply(p))) for p in ((0.0, 0.0), (0.0, 300.0)))
    assert ends[1] < 1e-3
    assert line.rms_mm < 1e-3


def test_it_is_told_how_far_the_halves_lie_apart() -> None:
    """One side seam 4 mm farther out from hem to underarm: over a line that stays, they lie 4 mm apart there."""
    piece = rough({("back-side", "start"): (4.0, 0.0), ("back-side", "end"): (4.0, 0.0)})
    found = halves_of(Pattern().with_piece(piece), "back", along=AXIS)
    gaps = {g.edge: g for g in found.gaps}
    assert set(gaps) == {"back-hem~", "back-side~", "back-armhole~", "back-shoulder~", "back-neck~"}
    assert gaps["back-side~"].mean_mm == pytest.approx(4.0, abs=0.02)
    assert gaps["back-hem~"].longer_mm == pytest.approx(4.0)
    assert found.greatest_mm == pytest.approx(4.0, abs=0.02)
    assert found.middle.sides == ("left", "right")


# ---------------------------------------------------------------- what is kept

SHIFT = st.tuples(st.floats(-6.0, 6.0), st.floats(-6.0, 6.0))


@settings(max_examples=10)
@given(SHIFT, SHIFT, st.sampled_from(["mean", "left", "right"]))
def test_both_halves_are_the_same_and_twice_is_once(one: Pt, other: Pt, take: str) -> None:
    piece = rough({("back-side", "start"): one, ("back-shoulder~", "start"): other})
    once = equal_halves(Pattern().with_piece(piece), "back", "c", take)
    line = halves_of(Pattern().with_piece(piece), "back").middle
    same_on_both_sides(once.piece("back"), line.start, line.direction)
    joined_up(once.piece("back"))
    assert [e.id for e in once.piece("back").edges] == [e.id for e in piece.edges]
    assert equal_halves(once, "back", "d", take) == once


def test_a_half_that_is_kept_stays_to_the_last_digit_and_the_mean_lies_between() -> None:
    piece = rough(CROOKED)
    pattern = Pattern().with_piece(piece)
    right = equal_halves(pattern, "back", "c", "right", along=AXIS).piece("back")
    left = equal_halves(pattern, "back", "c", "left", along=AXIS).piece("back")
    mean = equal_halves(pattern, "back", "c", along=AXIS).piece("back")
    for name in ("side", "armhole", "shoulder"):
        assert right.edge(f"back-{name}").path == piece.edge(f"back-{name}").path
        assert left.edge(f"back-{name}~").path == piece.edge(f"back-{name}~").path
    areas = [path_area_mm2(p.outline) for p in (left, right, mean)]
    # exact but for the curves, whose mean is taken by share of length
    assert areas[2] == pytest.approx((areas[0] + areas[1]) / 2.0, rel=2e-3)
    x, y = corner_point(mean.edge("back-side"), "start")
    assert (x, y) == pytest.approx((240.0 + (6.0 + 0.0) / 2.0, (-3.0 + 0.0) / 2.0))


@settings(max_examples=8)
@given(st.floats(-80.0, 80.0), st.floats(-300.0, 300.0), st.sampled_from(["mean", "left", "right"]))
def test_of_a_moved_piece_it_is_the_moved_result(turn: float, dx: float, take: str) -> None:
    piece = rough(CROOKED)
    move = Move.rotation(turn, (11.0, -20.0)).then(Move.translation(dx, dx / 2.0))
    there = equal_halves(Pattern().with_piece(piece), "back", "c", take).piece("back")
    # beyond 45 degrees the line lies flat and its left side is the upper one
    took = take
    moved_line = halves_of(Pattern().with_piece(moved_piece(piece, move)), "back").middle
    if take != "mean" and moved_line.left_mm(move.apply((-200.0, 100.0))) < 0.0:
        took = "right" if take == "left" else "left"
    here = equal_halves(Pattern().with_piece(moved_piece(piece, move)), "back", "c", took).piece("back")
    compared(here, moved_piece(there, move))


def compared(here: Piece, there: Piece, *, suffix: str = "") -> None:
    for one in there.edges:
        path = here.edge(f"{one.id}{suffix}").path
        assert path.length_mm == pytest.approx(one.path.length_mm, abs=0.01)
        for share in (0.0, 0.3, 0.6, 1.0):
            assert path.nearest(one.path.point_at(share * one.path.length_mm)).distance_mm < 0.01


def test_of_a_mirrored_piece_it_is_the_mirrored_result() -> None:
    piece = rough(CROOKED)
    for take, other in (("mean", "mean"), ("left", "right"), ("right", "left")):
        there = equal_halves(Pattern().with_piece(piece), "back", "c", take).piece("back")
        here = equal_halves(Pattern().with_piece(mirrored(piece)), "back", "c", other).piece("back")
        compared(here, mirrored(there))


# ---------------------------------------------------------------- edges over the middle


@pytest.mark.parametrize("take", ["mean", "left", "right"])
def test_an_edge_that_crosses_the_middle_runs_on_smoothly_over_it(take: str) -> None:
    piece = rough({("hem", "start"): (-4.0, 3.0), ("top", "start"): (3.0, 2.0)}, apron())
    made = equal_halves(Pattern().with_piece(piece), "bib", "c", take).piece("bib")
    line = middle_of(made)
    for name in ("hem", "top"):
        path = made.edge(name).path
        middle = path.length_mm / 2.0
        assert abs(line.left_mm(path.point_at(middle))) < 1e-3
        before, after = path.tangent_at(middle, side="before"), path.tangent_at(middle, side="after")
        # 90 degrees at the middle, both sides of it (as at a fold: trade value, common practice)
        for ux, uy in (before, after):
            assert abs(ux * line.direction[0] + uy * line.direction[1]) < 1e-3
    joined_up(made)


@pytest.mark.parametrize("take", ["left", "right"])
@pytest.mark.parametrize("off_deg", [0.3, 2.0, 9.0])
def test_smoothing_over_the_middle_hardly_moves_a_round_edge(take: str, off_deg: float) -> None:
    """A strap with a round end of 15 mm and a line beside its middle: it meets that off square; only so much is bent."""
    low, high = Path.line((15.0, 0.0), (15.0, 185.0)), Path.line((-15.0, 185.0), (-15.0, 0.0))
    arc = Path.arc((0.0, 185.0), 15.0, 0.0, 180.0).with_ends(low.end, high.start)
    line = Path.chained((low, arc, high))
    piece = Piece(
        rectangle("strap", 1, 1).id,
        "strap",
        (edge("round", line), edge("end", Path.line(line.end, line.start))),
    )
    beside = 15.0 * math.sin(math.radians(off_deg))
    along = ((beside, 0.0), (beside, 100.0))
    found = equal_halves(Pattern().with_piece(piece), "strap", "c", take, along=along)
    made = found.piece("strap").edge("round").path
    # the edge runs from the right to the left
    halves = made.split(made.length_mm / 2.0)
    kept = halves[0 if take == "right" else 1]
    for p in kept.points_at(np.linspace(0.0, kept.length_mm, 100)):
        near = line.nearest((float(p[0]), float(p[1]))).distance_mm
        assert near <= 4.0 / 27.0 * 60.0 * math.sin(math.radians(off_deg)) + 1e-6
    assert abs(halves[0].tangent_at(halves[0].length_mm)[1]) < 1e-9
    joined_up(found.piece("strap"))


@pytest.mark.parametrize("take", ["mean", "left", "right"])
def test_one_edge_is_made_the_same_and_the_rest_only_follows(take: str) -> None:
    piece = rough({("hem", "start"): (-8.0, 3.0)}, apron())
    pattern = Pattern().with_piece(piece)
    made = equal_edge(pattern, "hem", "c", take, along=AXIS).piece("bib")
    path = made.edge("hem").path
    for share in np.linspace(0.0, 0.5, 9):
        p, q = (path.point_at(s * path.length_mm) for s in (share, 1.0 - share))
        assert (p[0], p[1]) == pytest.approx((-q[0], q[1]), abs=1e-3)
    wide = {"mean": 154.0, "left": 158.0, "right": 150.0}[take]
    assert path.end[0] == pytest.approx(wide)
    assert made.edge("top").path == piece.edge("top").path
    joined_up(made)
    again = equal_edge(Pattern().with_piece(made), "hem", "d", take, along=AXIS)
    assert again.piece("bib") == made


def test_one_edge_has_a_middle_of_its_own_where_the_piece_has_none() -> None:
    """A wrap front: nothing else is the same on both sides, yet its hem can be, over the middle between its own ends."""
    points = [(0.0, 0.0), (200.0, 8.0), (320.0, 330.0), (40.0, 500.0)]
    hem = Path.from_points([(0.0, 0.0), (60.0, -9.0), (130.0, -7.0), (200.0, 8.0)])
    names = ("hem", "right", "top", "left")
    paths = [hem, *(Path.line(p, q) for p, q in zip(points[1:], [*points[2:], points[0]], strict=True))]
    piece = Piece(
        rectangle("wrap", 1, 1).id, "wrap", tuple(edge(n, p) for n, p in zip(names, paths, strict=True))
    )
    made = equal_edge(Pattern().with_piece(piece), "hem", "c", middle="edge").piece("wrap")
    path = made.edge("hem").path
    assert (path.start, path.end) == (pytest.approx((0.0, 0.0)), pytest.approx((200.0, 8.0)))
    same_on = Move.mirror((100.0, 4.0), (100.0 - 8.0, 4.0 + 200.0))
    for share in np.linspace(0.0, 1.0, 15):
        assert path.nearest(same_on.apply(path.point_at(share * path.length_mm))).distance_mm < 1e-3
    with pytest.raises(BadInput, match="does not cross that line in its middle"):
        equal_edge(Pattern().with_piece(piece), "left", "c", middle="grain")


# ---------------------------------------------------------------- notches, darts, marks


def test_notches_of_both_halves_lie_alike() -> None:
    piece = apron()
    piece = replace(
        piece,
        notches=(
            replace(piece.notches[0], at=EdgePlace(EdgeId("right"), mm=106.0)),
            piece.notches[1],
            Notch("hem-middle", EdgePlace(EdgeId("hem"), fraction=0.49)),
            Notch("hem-left", EdgePlace(EdgeId("hem"), mm=60.0)),
            Notch("right-only", EdgePlace(EdgeId("right"), mm=200.0), 2),
        ),
    )
    piece = rough({("hem", "start"): (-2.0, 0.0)}, piece)
    for take, at in (("mean", 103.0), ("left", 100.0), ("right", 106.0)):
        made = equal_halves(Pattern().with_piece(piece), "bib", "c", take, along=AXIS).piece("bib")
        spots = {n.id: point_of(made, n.at) for n in made.notches}
        for x, y in spots.values():
            assert any(math.dist((-x, y), other) < 0.01 for other in spots.values())
        assert spots["hem-middle"][0] == pytest.approx(0.0, abs=1e-6)
        near = made.edge("right").mm_of(next(n for n in made.notches if n.id == "right-notch").at)
        assert near == pytest.approx(at, abs=1.0)
        # a lonely notch gets a mate, unless its half is given up
        assert ("right-only" in spots) == (take != "left")
        assert ("hem-left" in spots) == (take != "right")
        assert len(spots) == 3 + (2 if take != "left" else 0) + (2 if take != "right" else 0)
        assert {n.count for n in made.notches if "right-only" in n.id} <= {2}


def test_a_dart_gets_its_mate_and_marks_lie_alike() -> None:
    half = darted(30, 200)
    # both tops have the corners of a dart; only one is said to be one
    names = {e.id: e for e in half.edges}
    assert set(names) >= {"leg-1", "leg-2"}
    fold = replace(
        half,
        edges=tuple(replace(e, kind="fold") if e.id == "left" else e for e in half.edges),
        fold=EdgeId("left"),
        grain=((50, 50), (50, 450)),
    )
    piece = unfolded(fold)
    dart = Dart("d", EdgeId("leg-1"), EdgeId("leg-2"))
    marks = (
        Mark("hip", "balance", ((-300.0, 302.0), (300.0, 298.0)), "hip"),
        Mark("cf", "line", ((1.0, 100.0), (1.0, 400.0)), "placket"),
        Mark("one", "drill", ((100.0, 210.0),)),
        Mark("two", "drill", ((-104.0, 206.0),)),
        Mark("pocket", "button", ((150.0, 100.0),)),
    )
    piece = rough({("right", "start"): (5.0, 0.0)}, replace(piece, darts=(dart,), marks=marks))
    made = equal_halves(Pattern().with_piece(piece), "skirt", "c", along=AXIS).piece("skirt")
    assert {(d.first_leg, d.second_leg, d.pressed) for d in made.darts} == {
        ("leg-1", "leg-2", "first"),
        ("leg-2~", "leg-1~", "second"),
    }
    by_id = {m.id: m.points for m in made.marks}
    assert by_id["hip"] == (pytest.approx((-300.0, 300.0)), pytest.approx((300.0, 300.0)))
    assert by_id["cf"] == (pytest.approx((0.0, 100.0)), pytest.approx((0.0, 400.0)))
    assert by_id["one"] == (pytest.approx((102.0, 208.0)),)
    assert by_id["two"] == (pytest.approx((-102.0, 208.0)),)
    assert by_id["pocket"] == ((150.0, 100.0),)


# ---------------------------------------------------------------- refused


def test_refused_in_words() -> None:
    half = half_bodice("back", 45.0)
    with pytest.raises(BadInput, match="drawn as a half on its fold"):
        equal_halves(Pattern().with_piece(half), "back", "c")
    story = Story(Pattern().with_piece(whole()))
    story.do("edge.split", edge="back-side", fraction=0.5)
    with pytest.raises(BadInput, match="left half of “back” has 4 corners and the right half 5") as trouble:
        equal_halves(story.state, "back", "c", along=AXIS)
    assert trouble.value.data["at_mm"] == pytest.approx((-240.0, 110.0))
    odd = rectangle("r", 300, 400)
    odd = with_corner(odd, "r-right", "end", (380.0, 400.0))
    with pytest.raises(BadInput, match=r"apart over that line|no mate"):
        equal_halves(Pattern().with_piece(odd), "r", "c", middle="grain")
    with pytest.raises(BadInput, match="at least 1 mm apart"):
        equal_halves(Pattern().with_piece(whole()), "back", "c", along=((1.0, 1.0), (1.0, 1.0)))


def test_an_outline_that_would_cross_itself_is_refused() -> None:
    """A tongue that reaches over the middle: its mirror image would run through it."""
    points = [
        (-100.0, 0.0),
        (100.0, 0.0),
        (100.0, 100.0),
        (-14.0, 110.0),
        (-14.0, 120.0),
        (100.0, 130.0),
        (100.0, 200.0),
    ]
    points += [(-100.0, 200.0), (-100.0, 130.0), (-10.0, 120.0), (-10.0, 110.0), (-100.0, 100.0)]
    # the left tongue is cut out so that both do not touch as they are
    points[9], points[10] = (-24.0, 120.0), (-24.0, 110.0)
    edges = tuple(
        edge(f"e{k}", Path.line(p, q))
        for k, (p, q) in enumerate(zip(points, [*points[1:], points[0]], strict=True))
    )
    piece = Piece(rectangle("t", 1, 1).id, "t", edges)
    with pytest.raises((BadShape, BadInput)):
        equal_halves(Pattern().with_piece(piece), "t", "c", "right", along=AXIS)


# ---------------------------------------------------------------- as a change


def test_as_a_change_it_says_so_and_is_taken_back() -> None:
    story = Story(Pattern().with_piece(rough(CROOKED)))
    before = story.state
    made = story.do("true.halves", piece="back", take="left", called="back", apart_mm=3.25, kept="left")
    assert made.piece("back") != before.piece("back")
    kind = story.registry.kind("true.halves", 1)
    said = {"piece": "back", "called": "back", "apart_mm": 3.25}
    assert kind.sentence(said) == "Made both halves of “back” the same; they lay up to 3.2 mm apart"
    assert kind.sentence({**said, "take": "right", "kept": "lower"}) == (
        "Made both halves of “back” like its lower half; they lay up to 3.2 mm apart"
    )
    assert tuple(kind.touches({"piece": "back"})) == ("back",)
    for params in (
        {},
        {"piece": "back", "edge": "back-hem"},
        {"piece": "back", "take": "both"},
        {"piece": "back", "middle": "x"},
    ):
        with pytest.raises(EkeError):
            story.do("true.halves", **params)
    assert story.state == made
