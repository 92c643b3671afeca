"""Cloth folded double: everything comes out twice, as mirror images, and the open cloth's check agrees."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import Polygon

from eke.cloth import Cloth, Flaw
from eke.cutting import (
    Fold,
    Gaps,
    check_lay,
    cut_pieces,
    doubled,
    from_folded,
    mirrored,
    to_folded_problem,
    to_problem,
)
from eke.cutting.piece import CutPiece
from eke.errors import BadInput
from eke.lay import solve, verify

from .conftest import flag, half_piece, turned_cloth

CLOTH = Cloth("c", "curtain", ((0, 0), (1000, 0), (1000, 900), (0, 900)), grain_deg=90.0)
MIDDLE = Fold((500.0, 0.0), (500.0, 900.0))
GAPS = Gaps(3.0, 4.0, 5.0)


def halves() -> tuple[CutPiece, ...]:
    return cut_pieces(half_piece(count=1), "outer", 1, unfold=False)


def pair(id_: str = "side", copies: int = 1) -> tuple[CutPiece, CutPiece]:
    one = flag(id_, copies=copies)
    return one, mirrored(one, f"{id_}, mirrored")


def laid_on(cloth: Cloth, fold: Fold, pieces: tuple[CutPiece, ...], passes: int = 300):
    problem = to_folded_problem(pieces, cloth, fold, gaps=GAPS)
    answer = solve(problem, passes=passes, seed=1)
    assert verify.faults(problem, answer.placements) == []
    laid, listed = from_folded(answer.placements, pieces, cloth, fold)
    return answer, laid, listed


def test_halves_and_pairs_come_out_whole_and_twice() -> None:
    answer, laid, listed = laid_on(CLOTH, MIDDLE, (*halves(), *pair(copies=2)))
    assert answer.complete
    assert len(answer.placements) == 3
    assert check_lay(laid, listed, [CLOTH], gaps=GAPS) == ()
    assert sorted(one.piece for one in laid) == [
        "front/outer",
        "side",
        "side",
        "side/mirrored",
        "side/mirrored",
    ]
    whole = next(one for one in laid if one.piece == "front/outer")
    xs = np.array(whole.outline)[:, 0]
    assert xs.min() + xs.max() == pytest.approx(1000.0, abs=0.1)  # symmetric in the fold


@pytest.mark.parametrize("grain_deg", [90.0, 0.0, 33.0])
@pytest.mark.parametrize("backwards", [False, True])
def test_however_the_cloth_lies(grain_deg: float, backwards: bool) -> None:
    cloth = turned_cloth(1000.0, 900.0, grain_deg)
    turn = np.radians(grain_deg - 90.0)
    matrix = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    ends = [tuple(map(float, p)) for p in np.array([(450.0, 0.0), (450.0, 900.0)]) @ matrix]
    fold = Fold(*(ends[::-1] if backwards else ends))
    answer, laid, listed = laid_on(cloth, fold, (*halves(), *pair()))
    assert answer.complete
    assert check_lay(laid, listed, [cloth], gaps=GAPS) == ()
    assert len(laid) == 3


def test_a_half_laid_mirrored_is_the_same_whole() -> None:
    """The half may lie as drawn, upside down, or mirrored, upright: the whole is found either way."""
    pieces = halves()
    problem = to_folded_problem(pieces, CLOTH, MIDDLE, gaps=GAPS)
    seen = set()
    for seed in range(12):
        answer = solve(problem, passes=20, seed=seed, workers=1)
        place = answer.placements[0]
        seen.add((place.mirrored, round(place.turn_deg) % 360))
        laid, listed = from_folded(answer.placements, pieces, CLOTH, MIDDLE)
        assert check_lay(laid, listed, [CLOTH], gaps=GAPS) == ()
    assert seen == {(False, 180), (True, 0)}


def test_with_the_fold_the_other_way_round_the_half_is_not_mirrored() -> None:
    answer, laid, listed = laid_on(CLOTH, Fold(MIDDLE.end, MIDDLE.start), halves(), 30)
    assert answer.complete
    assert check_lay(laid, listed, [CLOTH], gaps=GAPS) == ()


def test_only_what_lies_double_is_used_and_flaws_of_both_layers_count() -> None:
    stain = Flaw("f", ((900.0, 100.0), (950.0, 100.0), (950.0, 150.0), (900.0, 150.0)), "stain", 1)
    hole = ((800.0, 600.0), (820.0, 600.0), (820.0, 620.0), (800.0, 620.0))
    cloth = replace(CLOTH, flaws=(stain,), holes=(hole,))
    both = doubled(cloth, Fold((600.0, 0.0), (600.0, 900.0)))
    assert both.polygon.bounds == pytest.approx((200.0, 0.0, 600.0, 900.0))  # the right layer is 400 wide
    assert both.polygon.area == pytest.approx(400 * 900 - 400)
    (poor,) = both.flaws
    assert Polygon(poor.polygon).bounds == pytest.approx((250.0, 100.0, 300.0, 150.0))
    answer, laid, listed = laid_on(cloth, Fold((600.0, 0.0), (600.0, 900.0)), (*halves(), *pair()))
    assert answer.complete
    assert check_lay(laid, listed, [cloth], gaps=GAPS) == ()


def test_a_shape_that_is_its_own_mirror_image_comes_in_twos_without_a_pair() -> None:
    pocket = CutPiece(
        "pocket", "pocket", "Pocket", "outer", ((0, 0), (90, 0), (90, 80), (45, 110), (0, 80)), copies=4
    )
    answer, laid, listed = laid_on(CLOTH, MIDDLE, (pocket,), 60)
    assert answer.complete
    assert len(answer.placements) == 2
    assert len(laid) == 4
    assert check_lay(laid, listed, [CLOTH], gaps=GAPS) == ()


def test_on_cloth_without_a_right_side_any_two_will_do() -> None:
    cloth = replace(CLOTH, same_face=True)
    answer, laid, listed = laid_on(cloth, MIDDLE, (flag("f", copies=2),), 60)
    assert answer.complete
    assert check_lay(laid, listed, [cloth], gaps=GAPS) == ()


@pytest.mark.parametrize(
    "pieces", [(flag("once"),), (flag("twice", copies=2),), (*pair(), flag("x", copies=3))]
)
def test_what_does_not_come_in_mirror_image_twos_is_told(pieces: tuple[CutPiece, ...]) -> None:
    with pytest.raises(BadInput, match="mirror-image twos"):
        to_folded_problem(pieces, CLOTH, MIDDLE)


def test_a_fold_beside_the_cloth_folds_nothing() -> None:
    with pytest.raises(BadInput, match="nothing of “curtain” lies double"):
        doubled(CLOTH, Fold((2000.0, 0.0), (2000.0, 900.0)))
    with pytest.raises(BadInput, match="two different points"):
        Fold((1.0, 1.0), (1.0, 1.0))


def test_a_visible_pair_that_may_be_tilted_is_tilted_mirror_wise() -> None:
    pieces = tuple(replace(piece, tilt_deg=2.0) for piece in pair())
    problem = to_problem(pieces, [CLOTH])
    left, right = problem.parts
    assert left.tilt_pair is not None
    assert right.tilt_pair is not None
    assert (left.tilt_pair.name, left.tilt_pair.mirrored) == ("side", False)
    assert (right.tilt_pair.name, right.tilt_pair.mirrored) == ("side", True)
    for free in (pair(), tuple(replace(piece, hidden=True) for piece in pieces)):
        assert [p.tilt_pair for p in to_problem(free, [CLOTH]).parts] == [None, None]


@pytest.mark.parametrize(("tilts", "sound"), [((1.5, -1.5), True), ((1.5, 1.5), False), ((1.5, -0.5), False)])
def test_the_check_sees_a_pair_that_would_hang_unlike(tilts: tuple[float, float], sound: bool) -> None:
    from eke.cutting import laid_at

    pieces = tuple(replace(piece, tilt_deg=2.0) for piece in pair())
    laid = [laid_at(p, "c", x, 100.0, t) for p, x, t in zip(pieces, (100.0, 500.0), tilts, strict=True)]
    faults = check_lay(laid, pieces, [CLOTH])
    assert (faults == ()) is sound
    if not sound:
        assert "hang unlike" in faults[0].sentence
