"""Facings, linings and strips follow the pattern they are made from."""

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import Polygon

from eke.derive import Derivations, cut_outline, derive, recipe_kinds, with_derived
from eke.derive.strip import continuous_strip_mm
from eke.fit import add_dart
from eke.geometry import Cubic, Move, Path, intersections
from eke.pattern.editing import merge_edges, split_edge
from eke.pattern.model import (
    Edge,
    EdgeId,
    EdgePlace,
    HandChange,
    Mark,
    Pattern,
    Piece,
    PieceId,
    Recipe,
    RunPart,
    Seam,
    SeamId,
)


def front(piece_id="front", scale=1.0):
    """Half a bodice front on the fold at x = 0: hem, side, armhole, shoulder, neck (a quarter circle), fold."""
    neck = Path.arc((0.0, 420.0), 70.0, 0.0, -90.0)
    lines = [
        ("hem", Path.line((0.0, 0.0), (200.0, 0.0)), "hem"),
        ("side", Path.line((200.0, 0.0), (210.0, 250.0)), "seam"),
        ("armhole", Path.line((210.0, 250.0), (160.0, 400.0)), "opening"),
        ("shoulder", Path.line((160.0, 400.0), (70.0, 420.0)), "seam"),
        ("neck", neck, "opening"),
        ("fold", Path.line((0.0, 350.0), (0.0, 0.0)), "fold"),
    ]
    move = Move.scale(scale) if scale != 1.0 else Move.translation(0.0, 0.0)
    edges = tuple(Edge(EdgeId(f"{piece_id}-{n}"), p.moved(move), k, name=n) for n, p, k in lines)
    marks = (Mark("w", "balance", ((0.0, 150.0), (206.0, 150.0)), "waist"),)
    return Piece(
        PieceId(piece_id),
        piece_id,
        edges,
        marks=marks,
        grain=((50.0, 60.0), (50.0, 300.0)),
        fold=edges[-1].id,
    )


def pattern_with(*recipes):
    made = Pattern("bodice").with_piece(front())
    for recipe in recipes:
        made = made.with_recipe(recipe)
    return made


FACING = Recipe("f", "facing", "neck facing", ("front",), {"edges": ["front-neck"], "width_mm": 55.0})


def test_a_facing_has_the_same_edge_and_is_as_wide_all_along():
    derivation = derive(pattern_with(FACING), recipe_kinds())
    assert derivation.findings == ()
    (made,) = derivation.pieces.values()
    neck = made.piece.edge("f/front-neck")
    # the facing's edge equals the edge it faces (trade.md 5.9, ±1 mm)
    assert neck.path == front().edge("front-neck").path
    assert made.origin[neck.id] == "front-neck"
    inner = next(e for e in made.piece.edges if e.name == "inner edge").path
    for mm in np.linspace(5.0, inner.length_mm - 5.0, 9):
        assert neck.path.nearest(inner.point_at(float(mm))).distance_mm == pytest.approx(55.0, abs=0.1)
    assert made.piece.fold == "f/front-fold"


def test_a_facing_follows_a_lowered_neck():
    before = pattern_with(FACING)
    neck = Path((Cubic((70.0, 420.0), (70.0, 375.0), (38.0, 340.0), (0.0, 340.0)),))
    fold = Path.line((0.0, 340.0), (0.0, 0.0))
    paths = {"neck": neck, "fold": fold}
    lower = replace(front(), edges=tuple(replace(e, path=paths.get(e.name, e.path)) for e in front().edges))
    after = before.with_piece(lower)
    made = next(iter(derive(after, recipe_kinds()).pieces.values()))
    assert made.piece.edge("f/front-neck").path.length_mm == pytest.approx(
        lower.edge("front-neck").path.length_mm
    )


def test_a_facing_too_wide_becomes_a_finding_and_the_rest_goes_on():
    wide = Recipe("w", "facing", "wide facing", ("front",), {"edges": ["front-armhole"], "width_mm": 900.0})
    derivation = derive(pattern_with(wide, FACING), recipe_kinds())
    assert [f.code for f in derivation.findings] == ["target-gone"]
    assert "wide" in derivation.findings[0].sentence or "narrower" in derivation.findings[0].sentence
    assert len(derivation.pieces) == 1


def test_a_lining_ends_at_the_balance_line_and_keeps_its_seams():
    other = replace(
        front("back"), edges=tuple(replace(e, id=EdgeId(f"back-{e.name}")) for e in front("back").edges)
    )
    pattern = pattern_with(Recipe("l", "lining", "lining", ("front", "back"), {"to": "waist"})).with_piece(
        other
    )
    seam = Seam(
        SeamId("s"),
        (RunPart(PieceId("front"), EdgeId("front-shoulder")),),
        (RunPart(PieceId("back"), EdgeId("back-shoulder")),),
        name="shoulder",
    )
    derivation = derive(pattern.with_seam(seam), recipe_kinds())
    assert set(derivation.pieces) == {"l/front", "l/back"}
    for made in derivation.pieces.values():
        assert made.piece.outline.bounds[1] == pytest.approx(150.0)
        assert made.piece.cuts[0].role == "lining"
    assert "l/s" in derivation.seams
    whole = with_derived(pattern, derivation)
    assert set(whole.pieces) == {"front", "back", "l/front", "l/back"}


def test_a_lining_to_a_line_that_is_not_there_is_said():
    derivation = derive(
        pattern_with(Recipe("l", "lining", "lining", ("front",), {"to": "hip"})), recipe_kinds()
    )
    assert "no balance line “hip”" in derivation.findings[0].sentence


def test_recipes_in_a_circle_are_found_and_not_followed():
    a = Recipe("a", "layer", "a", ("b",), {})
    b = Recipe("b", "layer", "b", ("a",), {})
    derivation = derive(pattern_with(a, b, FACING), recipe_kinds())
    assert sorted(f.where[0] for f in derivation.findings) == ["a", "b"]
    assert len(derivation.pieces) == 1


def test_an_adjustment_by_hand_follows_and_is_kept_when_its_edge_is_gone():
    hand = HandChange("h", "move-edge", {"piece": "f/front", "edge": "f/front/new", "out_mm": 5.0})
    lost = HandChange("x", "move-edge", {"piece": "f/front", "edge": "gone", "out_mm": 5.0})
    plain = next(iter(derive(pattern_with(FACING), recipe_kinds()).pieces.values())).piece
    recipe = replace(FACING, by_hand=(hand, lost))
    derivation = derive(pattern_with(recipe), recipe_kinds())
    made = next(iter(derivation.pieces.values())).piece
    assert Polygon(made.outline.flatten()).area > Polygon(plain.outline.flatten()).area
    assert [f.where for f in derivation.findings] == [("x",)]


def test_bias_strip_lengths():
    # 500 mm square, 40 mm strip, 6 mm seams: 5953.6 mm; the bound is area ÷ width (plain geometry)
    assert continuous_strip_mm(500.0, 40.0, 6.0) == pytest.approx(5953.6, abs=0.1)
    # 20-in square, 2-in strip without seams: 200 in (two published texts)
    assert continuous_strip_mm(20 * 25.4, 2 * 25.4, 0.0) == pytest.approx(200 * 25.4)


def test_a_bias_strip_lies_askew_to_its_grain_and_is_four_times_the_finished_width():
    strip = Recipe(
        "b", "strip", "binding", (), {"edges": ["front-armhole"], "finished_mm": 12.7, "bias": True}
    )
    made = next(iter(derive(pattern_with(strip), recipe_kinds()).pieces.values())).piece
    widths = sorted(e.path.length_mm for e in made.edges)
    assert widths[0] == pytest.approx(50.8)  # ½ in finished is cut 2 in (two published texts)
    (x0, y0), (x1, y1) = made.grain
    assert (x0, y1 > y0) == (x1, True)
    long_side = next(e for e in made.edges if e.name == "long side").path
    tx, ty = long_side.tangent_at(1.0)
    assert abs(tx) == pytest.approx(abs(ty), abs=1e-9)  # 45° to the warp


def darted():
    """The bodice with a dart of 20 mm from the shoulder, 100 mm deep."""
    at = EdgePlace(EdgeId("front-shoulder"), mm=45.0)
    return add_dart(pattern_with(), "front-shoulder", at, 20.0, (110.0, 310.0), "c")


def test_the_cut_line_runs_over_a_dart_with_a_cap():
    piece = darted().piece("front")
    ring = Polygon(cut_outline(piece).ring)
    dart = piece.darts[0]
    first, second = piece.edge(dart.first_leg).path, piece.edge(dart.second_leg).path
    # the cloth of the dart is folded, not cut out
    mouth = Polygon([first.start, first.end, second.end])
    assert ring.buffer(1e-6).contains(mouth)
    # folded shut towards the first leg, the cloth under the fold ends where the edge beside it ends, to 0.5 mm:
    # mirror the half of the cut line beside the first leg in that leg, and compare with the allowance beside it
    ax, ay = first.end
    half = Polygon(
        [first.end, first.start, ((first.start[0] + second.end[0]) / 2, (first.start[1] + second.end[1]) / 2)]
    )
    outer = ring.intersection(half.buffer(0.01)).area
    assert outer == pytest.approx(half.area, rel=0.02)
    assert ay < 420.0 < ring.bounds[3]
    assert ax > 0


def test_a_facing_of_a_darted_edge_has_the_dart_closed():
    recipe = Recipe("f", "facing", "shoulder facing", ("front",), {"edges": [], "width_mm": 30.0})
    pattern = darted()
    ids = [e.id for e in pattern.piece("front").edges if e.name == "shoulder"]
    pattern = pattern.with_recipe(replace(recipe, params={"edges": ids, "width_mm": 30.0}))
    derivation = derive(pattern, recipe_kinds())
    assert derivation.findings == ()
    made = next(iter(derivation.pieces.values())).piece
    sewn = sum(e.path.length_mm for e in made.edges if e.name == "shoulder")
    assert sewn == pytest.approx(front().edge("front-shoulder").path.length_mm - 20.0, abs=0.01)
    assert made.darts == ()
    assert not intersections(made.edges[0].path, made.edges[2].path)


def test_a_facing_goes_on_when_its_edge_is_parted_by_a_dart_or_by_hand():
    before = pattern_with(replace(FACING, params={"edges": ["front-shoulder"], "width_mm": 30.0}))
    at = EdgePlace(EdgeId("front-shoulder"), mm=45.0)
    after = add_dart(before, "front-shoulder", at, 20.0, (110.0, 310.0), "c")
    derivation = derive(after, recipe_kinds())
    assert derivation.findings == ()
    (made,) = derivation.pieces.values()
    sewn = sum(e.path.length_mm for e in made.piece.edges if e.name == "shoulder")
    assert sewn == pytest.approx(front().edge("front-shoulder").path.length_mm - 20.0, abs=0.01)
    cut = split_edge(pattern_with(FACING), "front-neck", EdgePlace(EdgeId("front-neck"), mm=40.0), "s")
    derivation = derive(cut, recipe_kinds())
    assert derivation.findings == ()
    (made,) = derivation.pieces.values()
    assert sum(e.path.length_mm for e in made.piece.edges if e.name == "neck") == pytest.approx(
        front().edge("front-neck").path.length_mm, abs=1e-6
    )
    one, two = (e.id for e in cut.piece("front").edges if e.name == "neck")
    whole = derive(merge_edges(cut, one, two), recipe_kinds())
    assert (whole.findings, len(whole.pieces)) == ((), 1)


def test_a_strip_is_as_long_as_its_edge_however_often_that_was_cut_and_joined():
    strip = Recipe("s", "strip", "binding", ("front",), {"edges": ["front-neck"], "finished_mm": 10.0})

    def long_mm(pattern):
        (made,) = derive(pattern, recipe_kinds()).pieces.values()
        return max(e.path.length_mm for e in made.piece.edges)

    before = pattern_with(strip)
    cut = split_edge(before, "front-neck", EdgePlace(EdgeId("front-neck"), mm=40.0), "s")
    one, two = (e.id for e in cut.piece("front").edges if e.name == "neck")
    assert long_mm(cut) == pytest.approx(long_mm(before), abs=1e-6)
    assert long_mm(merge_edges(cut, one, two)) == pytest.approx(long_mm(before), abs=1e-6)


def test_the_same_pattern_is_not_worked_out_twice():
    known = Derivations()
    pattern = pattern_with(FACING)
    assert known.of(pattern) is known.of(pattern)
    assert known.of(pattern) is known.of(pattern_with(FACING))
    assert known.of(pattern) is not known.of(
        pattern_with(replace(FACING, params={**FACING.params, "width_mm": 40.0}))
    )


@pytest.mark.parametrize(
    "params",
    [
        {},
        {"piece": "f/front"},
        {"piece": "f/front", "edge": "f/front-neck"},
        {"piece": "f/front", "edge": "f/front-neck", "out_mm": [1, 2]},
        {"piece": "f/front", "edge": "f/front-neck", "out_mm": "far"},
        {"piece": "f/front", "edge": ["f"], "out_mm": 3},
        {"piece": "f/front", "edge": "f/front-neck", "out_mm": -400.0},
    ],
)
def test_an_adjustment_that_cannot_be_read_or_made_is_left_out_and_said(params):
    plain = derive(pattern_with(FACING), recipe_kinds())
    spoilt = replace(FACING, by_hand=(HandChange("h", "move-edge", params),))
    found = derive(pattern_with(spoilt), recipe_kinds())
    assert found.pieces == plain.pieces
    # one that names another piece is about that one, and nothing is said of it here
    assert [f.where for f in found.findings] == ([("h",)] if params else [])


@pytest.mark.parametrize(
    "params",
    [{}, {"edges": 5}, {"edges": ["front-neck"], "width_mm": "wide"}, {"edges": {"a": 1}, "width_mm": []}],
)
@pytest.mark.parametrize("kind", sorted(recipe_kinds()))
def test_a_recipe_that_cannot_be_read_locks_nobody_out(kind, params):
    bad = Recipe("bad", kind, "odd one", ("front",), params)
    found = derive(pattern_with(FACING, bad), recipe_kinds())
    assert PieceId("f/front") in found.pieces
    made = [d for d in found.pieces.values() if d.recipe == "bad"]
    assert made or [f.where for f in found.findings] == [("bad",)]
