"""Stints: ranked by harm, areas exact, each a pure change of the cutting list."""

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Polygon
from shapely.ops import unary_union

from eke.cloth import Cloth, rectangle
from eke.cutting import CutPiece, cut_pieces, cutting_list, total_area_mm2
from eke.derive.recipes import derive, recipe_kinds
from eke.errors import BadInput
from eke.geometry.path import Path
from eke.pattern.model import CutOf, Edge, EdgeId, Pattern, Piece, PieceId, Recipe
from eke.stint import HARM, apply, edge_moved_in, least, opened, pieced, propose, seam_length_mm, taken_off

PLAIN = [Cloth("c", "sheet", rectangle(1000, 1000), grain_deg=90)]
VELVET = [Cloth("v", "velvet", rectangle(1000, 1000), grain_deg=90, nap="one-way")]

ONCE = (CutOf(),)


def panel(name, corners, kinds, *, fold=None, cuts=ONCE) -> Piece:
    edges = tuple(
        Edge(
            EdgeId(f"{name}.{i}"),
            Path.line(corners[i], corners[(i + 1) % len(corners)]),
            kind=kind,
            name=str(i),
        )
        for i, kind in enumerate(kinds)
    )
    return Piece(
        PieceId(name), name, edges, fold=EdgeId(f"{name}.{fold}") if fold is not None else None, cuts=cuts
    )


def garment() -> Pattern:
    front = panel(
        "front",
        [(0, 0), (200, 0), (160, 500), (60, 500), (0, 420)],
        ["hem", "seam", "seam", "seam", "fold"],
        fold=4,
    )
    back = panel(
        "back",
        [(0, 0), (200, 0), (160, 500), (0, 500)],
        ["hem", "seam", "seam", "seam"],
        cuts=(CutOf(pairs=True),),
    )
    lining = panel(
        "lining",
        [(0, 0), (200, 0), (160, 300), (0, 300)],
        ["hem", "seam", "seam", "seam"],
        cuts=(CutOf("lining"),),
    )
    pattern = Pattern().with_piece(front).with_piece(back).with_piece(lining)
    recipe = Recipe("facing", "facing", "neck facing", ("front",), {"edges": ["front.3"], "width_mm": 75})
    return pattern.with_recipe(recipe)


def listed() -> tuple[CutPiece, ...]:
    pattern = garment()
    made = derive(pattern, recipe_kinds())
    assert made.pieces, made.findings
    return cutting_list(pattern, tuple(made.pieces.values()))


def by_kind(stints, kind, piece=None):
    found = [s for s in stints if s.kind == kind and (piece is None or piece in s.pieces)]
    assert found, f"no stint {kind} for {piece}"
    return found[0]


def test_the_order_of_harm():
    stints = propose(listed(), PLAIN, 20_000)
    assert all(a.harm <= b.harm for a, b in pairwise(stints))
    # hidden parts from other cloth < narrower allowances < … < centre seam < hem < piecing < … < shorter < second cloth
    order = ["other cloth", "narrower allowances", "cross grain", "centre seam", "narrower hem", "piece hidden",
             "piece visible", "shorter", "second cloth"]  # fmt: skip
    seen = list(dict.fromkeys(s.kind for s in stints if s.kind in order))
    assert seen == order
    # better to piece than to leave the straight of grain (US Dept of Agriculture)
    assert HARM["piece hidden"] < HARM["tilt"]


def test_each_stint_saves_what_it_says_and_touches_only_its_pieces():
    pieces = listed()
    for stint in propose(pieces, PLAIN, 20_000):
        after = apply(stint, pieces)
        assert total_area_mm2(pieces) - total_area_mm2(after) == pytest.approx(stint.saved_mm2, abs=1e-3)
        untouched = [p for p in pieces if p.id not in stint.pieces]
        assert [p for p in after if p.id in {u.id for u in untouched}] == untouched
        assert stint.enough == (stint.saved_mm2 >= 20_000)
        assert stint.sentence.endswith(".")
        for piece in after:
            assert Polygon(piece.outline).is_valid
        assert len({p.id for p in after}) == len(after)


def test_narrower_allowances_are_exact_and_stop_at_the_least():
    square = panel("sq", [(0, 0), (200, 0), (200, 300), (0, 300)], ["seam"] * 4)
    pieces = cut_pieces(square)
    # 15 mm all round is 230 × 330; least 10 mm on plain cloth, 12 where it frays (common practice)
    plain = by_kind(propose(pieces, PLAIN), "narrower allowances")
    assert plain.saved_mm2 == pytest.approx(230 * 330 - 220 * 320)
    fraying = by_kind(propose(pieces, PLAIN, frays=True), "narrower allowances")
    assert fraying.saved_mm2 == pytest.approx(230 * 330 - 224 * 324)
    again = propose(apply(plain, pieces), PLAIN)
    assert not [s for s in again if s.kind == "narrower allowances"]


@given(st.floats(20, 280), st.booleans(), st.floats(5, 20))
def test_a_pieced_piece_is_larger_by_two_allowances_times_the_seam(at, across, allowance):
    # arithmetic: whole + 2 · sa · length of the seam
    trapeze = panel("t", [(0, 0), (300, 0), (250, 400), (30, 400)], ["seam"] * 4)
    (cut,) = cut_pieces(trapeze)
    parts = pieced(cut, at, across=across, allowance_mm=allowance)
    length = seam_length_mm(cut, at, across=across)
    assert total_area_mm2(parts) == pytest.approx(cut.area_mm2 + 2 * allowance * length)
    assert all(part.grain == cut.grain for part in parts), "same grain"
    joined = unary_union([part.polygon for part in parts])
    assert joined.buffer(1e-6).covers(cut.polygon)
    nets = unary_union([Polygon(part.net) for part in parts])
    assert nets.symmetric_difference(Polygon(cut.net)).area < 1e-6


def test_a_centre_seam_instead_of_a_fold_costs_two_allowances():
    # 700 mm of centre back at 15 mm: 2 · 15 · 700 = 0.021 m²
    half = panel(
        "back", [(0, 0), (200, 0), (200, 700), (0, 700)], ["opening", "seam", "opening", "fold"], fold=3
    )
    half = replace(
        half, edges=tuple(replace(e, allowance_mm=0.0) if e.kind == "opening" else e for e in half.edges)
    )
    (whole,) = cut_pieces(half)
    pair = opened(whole, 15.0)
    assert total_area_mm2(pair) - whole.area_mm2 == pytest.approx(21_000, rel=1e-6)
    assert [p.mirrored for p in pair] == [False, True]
    with pytest.raises(BadInput, match="does not lie on a fold"):
        opened(cut_pieces(panel("x", [(0, 0), (9, 0), (9, 9)], ["seam"] * 3))[0], 10)


def test_an_edge_moves_in_parallel_and_its_neighbours_are_cut_there():
    piece = panel("p", [(0, 0), (200, 0), (160, 500), (0, 500)], ["hem", "seam", "seam", "seam"])
    shorter = edge_moved_in(piece, "p.0", 30.0)
    width = 200 - 40 * 30 / 500
    area = (width + 160) / 2 * 470
    assert Polygon(shorter.outline.flatten()).area == pytest.approx(area)
    assert [e.kind for e in shorter.edges].count("hem") == 1
    with pytest.raises(BadInput):
        edge_moved_in(piece, "p.0", 600.0)


def test_shortening_keeps_the_fold_of_a_half():
    pieces = listed()
    stint = by_kind(propose(pieces, PLAIN), "shorter", "front/outer")
    assert set(stint.pieces) == {"front/outer", "back/outer", "back/outer/mirrored", "lining/lining"}
    after = next(p for p in apply(stint, pieces) if p.piece == "front")
    assert (
        Polygon(after.outline).symmetric_difference(Polygon([(-x, y) for x, y in after.outline])).area < 1e-3
    )


def test_a_narrower_facing_keeps_its_neck_edge():
    pieces = listed()
    stint = by_kind(propose(pieces, PLAIN), "narrower facing")
    before = next(p for p in pieces if p.id in stint.pieces)
    after = next(p for p in apply(stint, pieces) if p.id in stint.pieces)
    assert stint.saved_mm2 > 0
    assert Polygon(before.net).buffer(0.1).covers(Polygon(after.net))
    assert max(y for _, y in after.net) == pytest.approx(max(y for _, y in before.net), abs=0.1)


def test_hidden_parts_may_lie_crosswise_only_where_the_cloth_has_no_direction():
    assert [s for s in propose(listed(), PLAIN) if s.kind == "cross grain"]
    assert not [s for s in propose(listed(), VELVET) if s.kind == "cross grain"]
    stint = by_kind(propose(listed(), PLAIN), "cross grain")
    changed = next(p for p in apply(stint, listed()) if p.id in stint.pieces)
    assert changed.grain == "cross"


def test_tilt_is_2_degrees_where_seen_and_5_where_hidden():
    stints = propose(listed(), PLAIN)
    assert by_kind(stints, "tilt", "front/outer").params["tilt_deg"] == 2.0
    assert by_kind(stints, "tilt", "lining/lining").params["tilt_deg"] == 5.0


def test_a_pair_is_changed_on_both_sides():
    pieces = listed()
    for stint in propose(pieces, PLAIN):
        if any(p.startswith("back/") for p in stint.pieces):
            assert {"back/outer", "back/outer/mirrored"} <= set(stint.pieces)
            after = [p for p in apply(stint, pieces) if p.piece == "back"]
            if after:
                one = unary_union([p.polygon for p in after if not p.mirrored])
                two = unary_union([Polygon([(-x, y) for x, y in p.outline]) for p in after if p.mirrored])
                assert one.symmetric_difference(two).area < 1e-3


def test_a_pair_that_is_joined_along_the_grain_is_joined_at_the_same_place_mirrored():
    wide = panel("yoke", [(0, 0), (500, 0), (420, 200), (0, 160)], ["seam"] * 4, cuts=(CutOf(pairs=True),))
    pieces = cutting_list(Pattern().with_piece(wide))
    stint = by_kind(propose(pieces, PLAIN), "piece visible")
    assert stint.params["across"] is False
    after = apply(stint, pieces)
    assert len(after) == 4
    drawn = sorted(p.area_mm2 for p in after if not p.mirrored)
    assert sorted(p.area_mm2 for p in after if p.mirrored) == pytest.approx(drawn)
    assert drawn[1] - drawn[0] > 1000, "not in the middle, so that the place matters"


def test_what_is_cut_from_another_cloth_leaves_the_list():
    pieces = listed()
    stint = by_kind(propose(pieces, PLAIN), "other cloth", "facing/front/outer")
    gone = taken_off(stint, pieces)
    assert {p.id for p in gone} == set(stint.pieces)
    assert len(apply(stint, pieces)) == len(pieces) - len(gone)
    assert "neck facing" in stint.sentence
    assert taken_off(by_kind(propose(pieces), "tilt"), pieces) == ()


def test_the_least_harmful_set_that_is_enough():
    stints = propose(listed(), PLAIN, 100_000)
    chosen = least(stints, 100_000)
    assert sum(s.saved_mm2 for s in chosen) >= 100_000
    assert sum(s.saved_mm2 for s in chosen[:-1]) < 100_000
    assert all(a.harm <= b.harm for a, b in pairwise(chosen))
    names = [p for s in chosen for p in s.pieces]
    assert len(set(names)) == len(names)
    assert least(stints, 0) == ()


def test_a_stint_whose_piece_is_gone_is_refused():
    pieces = listed()
    stint = by_kind(propose(pieces, PLAIN), "other cloth")
    with pytest.raises(BadInput, match="not on the cutting list any more"):
        apply(stint, apply(stint, pieces))


def test_a_pockets_hem_is_at_its_top_and_is_not_shortened():
    pocket = panel("pocket", [(0, 0), (120, 0), (120, 140), (0, 140)], ["seam", "seam", "hem", "seam"])
    assert not [s for s in propose(cut_pieces(pocket), PLAIN) if s.kind == "shorter"]


def test_pieces_without_a_pattern_can_still_be_parted_and_tilted():
    bare = CutPiece("b", "b", "b", "outer", rectangle(300, 900))
    kinds = {s.kind for s in propose([bare], PLAIN)}
    assert kinds == {"piece visible", "tilt", "second cloth"}
    assert propose([], PLAIN) == ()
