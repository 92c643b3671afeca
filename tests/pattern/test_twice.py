"""Two tracings of one piece: registered, compared, made one; and taken back."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eke.errors import BadInput
from eke.geometry import Move, path_area_mm2
from eke.pattern.corners import moved_piece, with_corner
from eke.pattern.model import CutOf, EdgeId, Pattern, Piece, PieceId
from eke.pattern.twice import combined, compare, twins

from .samples import Story, half_bodice, rectangle, seam
from .test_proposals import mirrored


def second_of(piece: Piece, move: Move | None = None, *, over: bool = False) -> Piece:
    made = mirrored(piece) if over else piece
    made = replace(
        made,
        id=PieceId("other"),
        name="other",
        edges=tuple(replace(e, id=EdgeId(f"o-{e.id}")) for e in made.edges),
        notches=(),
        fold=None,
    )
    return moved_piece(made, move) if move else made


@pytest.mark.parametrize("over", [False, True])
@settings(max_examples=5)
@given(st.floats(-180.0, 180.0), st.floats(-500.0, 500.0))
def test_the_same_tracing_lies_on_itself_wherever_it_lies(over: bool, turn: float, dx: float) -> None:
    piece = half_bodice("front", 110.0)
    move = Move.rotation(turn, (40.0, 90.0)).then(Move.translation(dx, -dx / 2.0))
    found = compare(piece, second_of(piece, move, over=over))
    assert found.turned_over == over
    assert found.greatest_mm < 0.02
    assert all(abs(g.longer_mm) < 0.02 for g in found.gaps)
    assert len(found.sentences) == len(piece.edges)


def test_it_says_where_they_differ_and_how() -> None:
    """The side 8 mm farther out at the hem: hem and side lie outside there, and the hem is longer by so much."""
    piece = half_bodice("front", 110.0)
    found = compare(
        piece, second_of(with_corner(piece, "front-side", "start", (248.0, 0.0))), turned_over=False
    )
    gaps = {g.edge: g for g in found.gaps}
    # laid so that the squares of the gaps are least: most of it is left at the corner
    assert 4.0 <= found.greatest_mm <= 8.0
    assert gaps["front-side"].out_mm[0][1] == pytest.approx(found.greatest_mm, abs=1.0)
    assert gaps["front-side"].worst_at_mm < 20.0
    assert gaps["front-hem"].longer_mm == pytest.approx(8.0, abs=0.5)
    assert abs(gaps["front-shoulder"].longer_mm) < 0.1
    assert "outside" in found.sentences[0]


@settings(max_examples=6)
@given(st.floats(-8.0, 8.0), st.floats(-8.0, 8.0))
def test_the_mean_lies_between_and_either_is_either(dx: float, dy: float) -> None:
    piece = half_bodice("front", 110.0)
    tip = piece.edge("front-shoulder").path.start
    other = second_of(with_corner(piece, "front-shoulder", "start", (tip[0] + dx, tip[1] + dy)))
    pattern = Pattern().with_piece(piece).with_piece(other)
    area = path_area_mm2(piece.outline), path_area_mm2(other.outline)
    made = combined(pattern, "front", "other", "c", turned_over=False)
    assert set(made.pieces) == {"front"}
    assert [e.id for e in made.piece("front").edges] == [e.id for e in piece.edges]
    assert path_area_mm2(made.piece("front").outline) == pytest.approx(sum(area) / 2.0, abs=60.0)
    first = combined(pattern, "front", "other", "c", take="first", turned_over=False).piece("front")
    assert first.edges == piece.edges
    second = combined(pattern, "front", "other", "c", take="second", turned_over=False).piece("front")
    assert path_area_mm2(second.outline) == pytest.approx(area[1], abs=1.0)


def test_edges_are_chosen_one_by_one() -> None:
    piece = rectangle("a", 300.0, 400.0)
    wide = rectangle("b", 310.0, 400.0)
    pattern = Pattern().with_piece(piece).with_piece(wide)
    made = combined(
        pattern, "a", "b", "c", take="first", edges={"a-right": "second"}, turned_over=False
    ).piece("a")
    x0, _, x1, _ = made.outline.bounds
    # laid middle on middle: the right edge of the second lies 5 mm farther out, the left of the first stays
    assert x0 == pytest.approx(0.0, abs=3.0)
    assert 300.0 < x1 <= 306.0


def test_left_and_right_become_a_pair_and_a_missing_notch_is_brought() -> None:
    piece = replace(half_bodice("front", 110.0), fold=None)
    with_notch = replace(
        second_of(piece, over=True),
        notches=tuple(
            replace(n, at=replace(n.at, edge=EdgeId(f"o-{n.at.edge}"))) for n in mirrored(piece).notches
        ),
    )
    bare = replace(piece, notches=())
    made = combined(Pattern().with_piece(bare).with_piece(with_notch), "front", "other", "c").piece("front")
    assert made.cuts == (CutOf(pairs=True),)
    assert {n.at.edge for n in made.notches} == {n.at.edge for n in piece.notches}
    for notch in made.notches:
        old = next(n for n in piece.notches if n.at.edge == notch.at.edge)
        assert made.edge(notch.at.edge).mm_of(notch.at) == pytest.approx(
            piece.edge(old.at.edge).mm_of(old.at), abs=0.1
        )


def test_noise_of_two_hands_is_halved_in_the_square() -> None:
    """The mean of two independent tracings is nearer to the truth than they are on the whole (plain statistics)."""
    true = half_bodice("front", 110.0)
    rng = np.random.default_rng(4)
    better = []
    for _ in range(6):
        hands = []
        for name in ("one", "two"):
            rough = replace(true, id=PieceId(name), name=name)
            rough = replace(
                rough,
                edges=tuple(replace(e, id=EdgeId(f"{name}-{e.id}")) for e in rough.edges),
                notches=(),
                fold=None,
            )
            for edge in rough.edges[1:5]:
                x, y = edge.path.start
                rough = with_corner(rough, edge.id, "start", (x + rng.normal(0, 2), y + rng.normal(0, 2)))
            hands.append(rough)
        made = combined(Pattern().with_piece(hands[0]).with_piece(hands[1]), "one", "two", "c").piece("one")
        off = [compare(true, p, turned_over=False).rms_mm for p in (*hands, made)]
        better.append(off[2] ** 2 / ((off[0] ** 2 + off[1] ** 2) / 2.0))
    assert np.mean(better) < 0.75


def test_refused_in_words() -> None:
    one, other = rectangle("a", 300.0, 400.0), rectangle("b", 120.0, 700.0)
    pattern = Pattern().with_piece(one).with_piece(other)
    with pytest.raises(BadInput, match="hardly the same piece"):
        combined(pattern, "a", "b", "c")
    with pytest.raises(BadInput, match="not one twice"):
        combined(pattern, "a", "a", "c")
    near = rectangle("b", 302.0, 400.0)
    sewn = Pattern().with_piece(one).with_piece(near)
    sewn = sewn.with_piece(rectangle("d", 50.0, 400.0))
    sewn = sewn.with_seam(seam("s", [("b", "b-right", False)], [("d", "d-left", True)]))
    with pytest.raises(BadInput, match="sewn already"):
        combined(sewn, "a", "b", "c")
    with pytest.raises(BadInput, match="mean, the first or the second"):
        combined(Pattern().with_piece(one).with_piece(near), "a", "b", "c", edges={"a-right": "third"})


def test_twins_are_found() -> None:
    piece = half_bodice("front", 110.0)
    pattern = Pattern().with_piece(piece).with_piece(second_of(piece, Move.rotation(30.0), over=True))
    pattern = pattern.with_piece(rectangle("r", 300.0, 200.0))
    ((one, other, apart),) = twins(pattern)
    assert {one, other} == {"front", "other"}
    assert apart < 0.1


def test_as_a_change_it_says_so_and_is_taken_back() -> None:
    piece = rectangle("a", 300.0, 400.0)
    story = Story(Pattern().with_piece(piece).with_piece(rectangle("b", 304.0, 400.0)))
    made = story.do("trace.combine", piece="a", other="b", called="front", apart_mm=2.0, turned_over=False)
    assert set(made.pieces) == {"a"}
    kind = story.registry.kind("trace.combine", 1)
    said = kind.sentence({"piece": "a", "other": "b", "called": "front", "apart_mm": 2.04})
    assert said == "Took the mean of two tracings of “front”; they lay up to 2.0 mm apart"
    assert set(story.initial.pieces) == {"a", "b"}
