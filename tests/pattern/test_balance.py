"""Balance lines across seams: found apart, read on where drawn short, moved and carried."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.errors import BadInput, ChangeConflict
from eke.geometry import Move, Pt
from eke.pattern.balance import balance_pairs, meets
from eke.pattern.checking import check, check_seam
from eke.pattern.corners import moved_piece
from eke.pattern.model import Dart, EdgeId, Mark, Pattern
from eke.pattern.walking import walk

from .samples import Story, bodice, darted, rectangle, seam


def lined(pattern: Pattern, piece: str, *points: Pt, name: str = "waist") -> Pattern:
    found = pattern.piece(piece)
    mark = Mark(f"{piece}-{name}", "balance", points, name)
    return pattern.with_piece(replace(found, marks=(*found.marks, mark)))


def bodice_lined(front_y: float, back_y: float) -> Pattern:
    pattern = lined(bodice(), "front", (0.0, front_y), (240.0, front_y))
    return lined(pattern, "back", (400.0, back_y), (640.0, back_y))


def flat(points: tuple[Pt, ...]) -> list[float]:
    return [x for p in points for x in p]


def apart(pattern: Pattern) -> list[float]:
    return [pair.apart_mm for pair in balance_pairs(walk(pattern, "side"))]


@pytest.mark.parametrize(
    ("off", "severity"), [(0.0, None), (1.0, None), (1.6, "note"), (3.0, "note"), (3.2, "ask")]
)
def test_lines_are_compared_along_the_seam_within_the_limits_of_notches(
    off: float, severity: str | None
) -> None:
    # trade value: ±1 mm at the seam is good (common practice); the side seam is upright, so mm are mm
    found = [f for f in check_seam(bodice_lined(80.0, 80.0 + off), "side") if f.code == "balance-apart"]
    assert [f.severity for f in found] == ([severity] if severity else [])
    if found:
        assert found[0].amount == pytest.approx(off)
        assert found[0].at_mm == pytest.approx((640.0, 80.0 + off))


def test_a_line_drawn_short_is_read_on_to_the_edge() -> None:
    pattern = lined(bodice(), "front", (60.0, 80.0), (150.0, 80.0), name="Waist ")
    pattern = lined(pattern, "back", (500.0, 86.0), (520.0, 86.0))
    assert apart(pattern) == pytest.approx([6.0])
    # and one drawn beyond the edges of the paper meets it where it crosses
    over = lined(lined(bodice(), "front", (-20.0, 80.0), (300.0, 80.0)), "back", (380.0, 86.0), (700.0, 86.0))
    assert apart(over) == pytest.approx([6.0])


def test_a_line_goes_on_over_a_dart_and_stops_at_the_first_edge_beyond() -> None:
    piece = replace(darted(30, 200), darts=(Dart("d", EdgeId("leg-1"), EdgeId("leg-2")),))
    mark = Mark("m", "balance", ((20.0, 450.0), (60.0, 450.0)), "hip")
    assert [(e, round(mm, 6)) for e, mm, _ in meets(piece, mark)] == [("left", 50.0), ("right", 450.0)]


def test_lines_of_other_names_and_points_are_no_mates() -> None:
    pattern = lined(lined(bodice(), "front", (0, 80), (240, 80)), "back", (400, 90), (640, 90), name="hip")
    assert apart(pattern) == []
    dot = lined(lined(bodice(), "front", (120, 80)), "back", (400, 90), (640, 90))
    assert apart(dot) == []
    assert "balance-apart" not in {f.code for f in check(dot)}


def test_every_remedy_brings_the_lines_together() -> None:
    pattern = bodice_lined(80.0, 88.0)
    (found,) = [f for f in check_seam(pattern, "side") if f.code == "balance-apart"]
    assert len(found.fixes) == 5
    for fix in found.fixes:
        story = Story(pattern)
        story.do(fix.kind, **fix.params)
        assert "balance-apart" not in {f.code for f in check(story.state)}
        if fix.kind == "balance.match":
            assert apart(story.state) == pytest.approx([0.0], abs=1e-6)
    story = Story(pattern)
    story.do("balance.match", seam="side", mark="back-waist", to="front-waist")
    assert flat(story.state.piece("back").marks[0].points) == pytest.approx([400.0, 80.0, 640.0, 80.0])
    story = Story(pattern)
    story.do("balance.match", seam="side", mark="back-waist", to="front-waist", only_end=True)
    assert flat(story.state.piece("back").marks[0].points) == pytest.approx([400.0, 88.0, 640.0, 80.0])


def test_ease_is_counted_before_lines_are_compared() -> None:
    pattern = bodice_lined(110.0, 110.0)
    longer = Story(pattern)
    longer.do("corner.move", edge="front-side", end="end", to=[240.0, 232.0])
    longer.do("seam.ease", seam="side", ease_mm=12.0)
    # half-way up, half of the 12 mm is used up: the mate of 110 of 232 lies at 110 - 12·110/232
    assert apart(longer.state) == pytest.approx([12.0 * 110.0 / 232.0], abs=1e-6)


def test_a_line_is_carried_over_a_seam() -> None:
    story = Story(lined(bodice(), "front", (0.0, 75.0), (240.0, 75.0)))
    story.do("balance.carry", seam="side", mark="front-waist")
    (mark,) = story.state.piece("back").marks
    assert flat(mark.points) == pytest.approx([400.0, 75.0, 640.0, 75.0])
    assert apart(story.state) == pytest.approx([0.0])
    with pytest.raises(ChangeConflict, match="has a waist line already"):
        story.do("balance.carry", seam="side", mark="front-waist")


def test_what_does_not_meet_the_seam_is_refused() -> None:
    story = Story(bodice_lined(80.0, 88.0))
    with pytest.raises(ChangeConflict, match="do not meet this seam"):
        story.do("balance.match", seam="shoulder", mark="back-waist", to="front-waist")
    with pytest.raises(ChangeConflict, match="does not meet"):
        story.do("balance.carry", seam="shoulder", mark="back-waist")
    for nonsense in ({}, {"seam": "side", "mark": "back-waist", "to": "front-waist", "only_end": "perhaps"}):
        with pytest.raises(BadInput):
            story.do("balance.match", **nonsense)
    with pytest.raises(BadInput):
        story.do("balance.carry", seam="side")


def test_one_line_over_one_piece_that_is_closed_to_a_tube() -> None:
    pattern = lined(Pattern().with_piece(rectangle("sleeve", 300, 400)), "sleeve", (0, 200), (300, 206))
    pattern = pattern.with_seam(
        seam("under", [("sleeve", "sleeve-left", True)], [("sleeve", "sleeve-right", False)])
    )
    (found,) = [f for f in check_seam(pattern, "under") if f.code == "balance-apart"]
    assert found.amount == pytest.approx(6.0)
    story = Story(pattern)
    story.do(found.fixes[0].kind, **found.fixes[0].params)
    assert "balance-apart" not in {f.code for f in check_seam(story.state, "under")}


@given(st.floats(-180, 180), st.floats(-500, 500), st.floats(10.0, 200.0), st.floats(10.0, 200.0))
def test_where_the_pieces_lie_does_not_matter(turn: float, shift: float, one: float, other: float) -> None:
    pattern = bodice_lined(one, other)
    move = Move.rotation(turn, (10.0, 20.0)).then(Move.translation(shift, -shift))
    moved = pattern.with_piece(moved_piece(pattern.piece("back"), move))
    assert apart(moved) == pytest.approx(apart(pattern), abs=1e-6)
