"""Two states of a pattern: pieces laid on one another by their ids, measures matched."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.geometry import Move, Path
from eke.pattern.between import laid_by, measures_between, piece_between, pieces_between
from eke.pattern.corners import moved_piece
from eke.pattern.model import CutOf, Edge, EdgeId, Pattern, Piece, PieceId

CORNERS = [(0.0, 0.0), (180.0, 0.0), (160.0, 240.0), (20.0, 260.0)]


def shaped(corners: list[tuple[float, float]], name: str = "pocket") -> Piece:
    edges = tuple(
        Edge(EdgeId(f"{name}-{k}"), Path.line(p, q), kind="hem" if k == 0 else "seam", name=f"side {k}")
        for k, (p, q) in enumerate(zip(corners, (*corners[1:], corners[0]), strict=True))
    )
    return Piece(PieceId(name), name, edges, cuts=(CutOf("outer", 1, pairs=False),))


POCKET = shaped(CORNERS)
away = st.floats(-300.0, 300.0).filter(lambda v: abs(v) > 1.0)


@given(away, away)
def test_a_shifted_piece_is_the_same_piece(dx: float, dy: float) -> None:
    found = piece_between("pocket", POCKET, moved_piece(POCKET, Move.translation(dx, dy)))
    assert found.how == "same"
    assert found.shift_mm == pytest.approx((dx, dy))


@given(away, away, st.floats(0.2, 40.0))
def test_a_change_is_told_with_its_amount_wherever_the_piece_lies(dx: float, dy: float, down: float) -> None:
    longer = shaped([(0.0, -down), (180.0, -down), *CORNERS[2:]])
    still = piece_between("pocket", POCKET, longer)
    assert still.shift_mm == (0.0, 0.0)
    assert (still.how, still.where) == ("changed", "side 0")
    assert still.apart_mm == pytest.approx(down, rel=1e-6)
    turned = piece_between("pocket", longer, POCKET)
    assert turned.apart_mm == pytest.approx(down, rel=1e-6)
    # moved as well: two corners stayed together with each of the others, so the amount is told all the same
    moved = piece_between("pocket", POCKET, moved_piece(longer, Move.translation(dx, dy)))
    assert moved.apart_mm == pytest.approx(down, rel=1e-6)


def test_a_piece_that_was_drawn_anew_is_laid_by_its_corners() -> None:
    other = shaped(
        [(x + 500.0 + wobble, y - 90.0) for (x, y), wobble in zip(CORNERS, (0, 1, -1, 0.5), strict=True)]
    )
    x, y = laid_by(POCKET, other)
    assert (x, y) == pytest.approx((500.125, -90.0))
    assert laid_by(POCKET, shaped(CORNERS, "other")) == (0.0, 0.0)


def test_new_gone_and_renamed_ids() -> None:
    other = shaped(CORNERS, "other")
    found = pieces_between(
        {"pocket": POCKET, "old": other}, {"pocket": POCKET, "other": other}, {"old": "other"}
    )
    assert [(p.id, p.how) for p in found] == [("pocket", "same"), ("other", "same")]
    found = pieces_between({"pocket": POCKET}, {"other": other})
    assert [(p.id, p.how) for p in found] == [("other", "added"), ("pocket", "removed")]


def test_measures_meet_by_name_then_by_edges() -> None:
    before = Pattern("a", {PieceId("pocket"): POCKET})
    wide = shaped([(0.0, 0.0), (200.0, 0.0), *CORNERS[2:]])
    (one,) = measures_between(before, Pattern("a", {PieceId("pocket"): wide}))
    assert (one.name, one.difference_mm) == ("hem of pocket", pytest.approx(20.0))
    # renamed: the edges tell that it is the same hem
    (same,) = measures_between(before, Pattern("a", {PieceId("pocket"): replace(wide, name="bag")}))
    assert (same.name, same.difference_mm) == ("hem of bag", pytest.approx(20.0))
    # another piece in its place is another hem: one is new, one is gone
    new, gone = measures_between(before, Pattern("a", {PieceId("other"): shaped(CORNERS, "other")}))
    assert (new.before, gone.after) == (None, None)
    assert (new.difference_mm, gone.difference_mm) == (None, None)
