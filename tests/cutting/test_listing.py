"""The cutting list: halves, pairs, allowances, grain lines."""

import math
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import Polygon

from eke.cutting import cut_pieces, cutting_list, fingerprint, outlined, total_area_mm2
from eke.derive.allowances import PRESETS, cut_outline
from eke.derive.recipes import derive, recipe_kinds
from eke.errors import BadInput
from eke.geometry import Path
from eke.pattern.model import CutOf, EdgeId, Pattern, Recipe

from .conftest import half_piece, square_piece


def test_a_half_is_listed_as_its_whole_and_is_exactly_symmetric():
    (cut,) = cutting_list(Pattern().with_piece(half_piece()))
    shape = Polygon(cut.outline)
    mirror = Polygon([(-x, y) for x, y in cut.outline])
    assert shape.symmetric_difference(mirror).area < 1e-3
    net_half = (150 + 190) / 2 * 400
    assert Polygon(cut.net).area == pytest.approx(2 * net_half, rel=1e-6)
    x = np.array(cut.outline)[:, 0]
    assert np.sum(np.abs(x) < 0.04) == 2, "only where the fold meets hem and top; no seam along it"


@pytest.mark.parametrize("lean_mm", [-3.0, -0.4, 0.013, 0.4, 3.0])
def test_no_slit_is_left_along_a_fold_that_leans(lean_mm):
    """A traced fold is never quite upright; the allowances at its ends must join up too, not only the net."""
    upright = half_piece()
    corners = [e.path.start for e in upright.edges]
    corners[3] = (lean_mm, corners[3][1])
    edges = tuple(
        replace(e, path=Path.line(corners[i], corners[(i + 1) % 4])) for i, e in enumerate(upright.edges)
    )
    leaning = replace(upright, edges=edges)
    (cut,) = cutting_list(Pattern().with_piece(leaning))
    ring = np.array(cut.outline)
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    cosine = np.sum(before * after, axis=1) / np.hypot(*before.T) / np.hypot(*after.T)
    assert cosine.min() > -0.9, "the outline turns back on itself"
    half = Polygon(cut_outline(cut.source.piece, PRESETS["none"], first_at={}).ring)
    assert Polygon(ring).area == pytest.approx(2 * half.area, rel=1e-4)


def test_cutting_on_the_fold_costs_nothing_and_a_seam_there_costs_two_allowances():
    # arithmetic: a 700 mm centre back at 15 mm takes 2 × 15 × 700 = 0.021 m² more
    piece = half_piece(height=700)
    (on_fold,) = cut_pieces(piece)
    opened = replace(
        piece, fold=None, edges=tuple(replace(e, kind="seam") if e.kind == "fold" else e for e in piece.edges)
    )
    split = cut_pieces(opened, pairs=True)
    more = total_area_mm2(split) - on_fold.area_mm2
    # the corners of the new allowance reach into hem (40) and top (15)
    assert more == pytest.approx(2 * 15 * (700 + 40 + 15), rel=1e-3)
    assert more >= 21_000


def test_a_pair_is_two_mirrored_pieces():
    one, two = cutting_list(Pattern().with_piece(square_piece(cuts=(CutOf(count=2, pairs=True),))))
    assert (one.copies, two.copies) == (2, 2)
    assert not one.mirrored
    assert two.mirrored
    assert {one.id, two.id} == {"panel/outer", "panel/outer/mirrored"}
    assert sorted((round(-x, 6), round(y, 6)) for x, y in one.outline) == sorted(
        (round(x, 6), round(y, 6)) for x, y in two.outline
    )
    assert Polygon(two.outline).exterior.is_ccw


def test_a_piece_in_two_roles_takes_the_allowances_of_each():
    piece = square_piece(cuts=(CutOf("outer"), CutOf("interlining"), CutOf("mock-up")))
    pattern = Pattern().with_piece(piece)
    by_role = {cut.role: cut for cut in cutting_list(pattern, roles=("outer", "interlining", "mock-up"))}
    # interlining is cut without allowances (The Dressmaker, Butterick 1911): cut line = seam line
    assert by_role["interlining"].area_mm2 == pytest.approx(200 * 300)
    assert by_role["outer"].area_mm2 == pytest.approx(230 * 355)
    # 1 in on the seams of a trial garment (University of Minnesota Extension Folder 244)
    assert by_role["mock-up"].area_mm2 == pytest.approx((200 + 50.8) * (300 + 40 + 25.4))
    assert "mock-up" not in {cut.role for cut in cutting_list(pattern)}
    assert by_role["interlining"].priority > by_role["outer"].priority
    assert by_role["interlining"].hidden
    assert by_role["interlining"].least_quality == 1


def test_a_word_of_the_maker_wins_over_the_preset():
    piece = square_piece()
    piece = piece.with_edge(replace(piece.edge("panel.right"), allowance_mm=5.0))
    (cut,) = cut_pieces(piece, preset=PRESETS["trade"])
    assert cut.area_mm2 == pytest.approx((200 + 10 + 5) * (300 + 20 + 10))


@pytest.mark.parametrize("degrees", [45.0, -45.0, 90.0, 200.0])
def test_a_grain_line_drawn_askew_turns_the_piece(degrees):
    turn = math.radians(degrees)
    line = ((100.0, 100.0), (100 + 50 * math.cos(turn), 100 + 50 * math.sin(turn)))
    (straight,) = cut_pieces(square_piece())
    (cut,) = cut_pieces(square_piece(grain=line))
    assert cut.area_mm2 == pytest.approx(straight.area_mm2)
    hem = np.array(cut.outline)[1] - np.array(cut.outline)[0]
    drawn = np.array(straight.outline)[1] - np.array(straight.outline)[0]
    turned = (math.degrees(math.atan2(*hem[::-1]) - math.atan2(*drawn[::-1]))) % 180
    assert turned == pytest.approx((90 - degrees) % 180, abs=1e-6)


def test_facings_named_hidden_may_come_from_poorer_cloth():
    (cut,) = cutting_list(Pattern().with_piece(square_piece("facing")), hidden=("facing",))
    assert (cut.hidden, cut.least_quality, cut.priority) == (True, 1, 2)


def test_a_facing_beside_the_fold_is_needed_left_and_right():
    front = half_piece()
    pattern = Pattern().with_piece(front).with_recipe(
        Recipe("f", "facing", "side facing", ("front",), {"edges": ["front.side"], "width_mm": 40.0})
    )  # fmt: skip
    made = tuple(derive(pattern, recipe_kinds()).pieces.values())
    facing = [cut for cut in cutting_list(pattern, made) if cut.piece.startswith("f/")]
    assert [cut.mirrored for cut in facing] == [False, True]
    assert all(cut.hidden for cut in facing)


def test_outlines_can_be_made_anew():
    for piece in (half_piece(), square_piece(cuts=(CutOf(pairs=True),))):
        for cut in cutting_list(Pattern().with_piece(piece)):
            assert Polygon(outlined(cut).outline).symmetric_difference(Polygon(cut.outline)).area < 1e-6


def test_the_fingerprint_sees_shape_and_number_not_names():
    (cut,) = cut_pieces(square_piece())
    assert fingerprint([replace(cut, name="other")]) == fingerprint([cut])
    assert fingerprint([replace(cut, copies=2)]) != fingerprint([cut])
    assert fingerprint(cut_pieces(square_piece(width=201))) != fingerprint([cut])


def test_what_cannot_be_listed():
    with pytest.raises(BadInput, match="without pairs"):
        cut_pieces(half_piece(), pairs=True)
    with pytest.raises(BadInput, match="cut twice"):
        cutting_list(Pattern().with_piece(square_piece(cuts=(CutOf("outer"), CutOf("outer")))))
    (cut,) = cut_pieces(square_piece())
    with pytest.raises(BadInput, match="did not come from a pattern"):
        outlined(replace(cut, source=None))
    bent = half_piece()
    bent = replace(bent, fold=EdgeId("front.hem"))
    assert cut_pieces(bent), "a fold may lie anywhere, if it is straight"
