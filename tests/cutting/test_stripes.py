"""Stripes across the cloth meet at the seams: balance lines of one name lie at one phase of the repeat."""

from __future__ import annotations

from dataclasses import replace

import pytest

from eke.cutting import Gaps, check_lay, cut_pieces, from_placements, laid_at, to_problem
from eke.cutting.piece import CutPiece
from eke.cutting.stripes import balance_points, match_rules, matched_lines
from eke.lay import solve, verify
from eke.pattern.model import Mark

from .conftest import half_piece, square_piece, turned_cloth


def panel(name: str, **heights: float) -> tuple[CutPiece, ...]:
    marks = tuple(
        Mark(f"{name}.{line}", "balance", ((0.0, y), (200.0, y)), line.capitalize())
        for line, y in heights.items()
    )
    return cut_pieces(square_piece(name, marks=marks), "outer", 1, pairs=True)


def striped(grain_deg: float = 90.0, repeat: float | None = 40.0):
    return replace(turned_cloth(1300.0, 800.0, grain_deg), repeat_mm=(repeat, None))


PIECES = (*panel("front", waist=100.0, hip=20.0), *panel("back", waist=117.0, hip=33.0))


def test_one_line_is_enough_and_the_rest_is_tied_by_another() -> None:
    assert set(matched_lines(PIECES).values()) == {("hip",)}  # of two that all have, the first by name
    more = (*panel("front", waist=100.0, bust=160.0), *panel("back", waist=117.0), *panel("yoke", bust=11.0))
    lines = matched_lines(more)
    assert lines["back/outer"] == ("bust",) or lines["back/outer"] == ("waist",)
    tied = [set(names) for names in lines.values()]
    joined = tied.pop()
    while near := [names for names in tied if names & joined]:
        for names in near:
            joined |= names
            tied.remove(names)
    assert tied == []  # all hang together
    assert matched_lines(tuple(replace(p, hidden=True) for p in PIECES)) == {}


def test_the_point_lies_on_the_line_in_the_frame_of_the_cut_piece() -> None:
    drawn, mirrored = panel("front", waist=100.0)
    assert balance_points(drawn) == {"waist": (100.0, 100.0)}
    assert balance_points(mirrored) == {"waist": (-100.0, 100.0)}
    assert balance_points(replace(drawn, source=None)) == {}


@pytest.mark.parametrize("grain_deg", [90.0, 0.0, 33.0])
def test_stripes_meet_however_the_cloth_lies(grain_deg: float) -> None:
    cloth = striped(grain_deg)
    gaps = Gaps(2.0, 0.0, 0.0)
    problem = to_problem(PIECES, [cloth], gaps=gaps, match_stripes=True)
    answer = solve(problem, passes=600, seed=1)
    assert answer.complete
    assert verify.faults(problem, answer.placements) == []
    laid = from_placements(answer.placements, PIECES, [cloth])
    assert check_lay(laid, PIECES, [cloth], gaps=gaps, match_stripes=True) == ()


def test_the_check_sees_stripes_that_miss_each_other() -> None:
    cloth = striped()
    front, back = PIECES[0], PIECES[2]
    # the hips lie at 20 and 33 mm above the foot of their pieces, and a seam allowance does not count
    good = [laid_at(front, "c", 50.0, 113.0, 0.0), laid_at(back, "c", 400.0, 100.0, 0.0)]
    bad = [good[0], laid_at(back, "c", 400.0, 105.0, 0.0)]
    assert check_lay(good, PIECES, [cloth], match_stripes=True) == ()
    (fault,) = check_lay(bad, PIECES, [cloth], match_stripes=True)
    assert (fault.kind, fault.pieces) == ("stripes", ("front/outer", "back/outer"))
    assert fault.amount == pytest.approx(5.0)
    assert "miss each other by 5.0 mm at the hip" in fault.sentence
    assert check_lay(bad, PIECES, [cloth]) == ()
    assert check_lay(bad, PIECES, [striped(repeat=5.0)], match_stripes=True) == ()


def test_plain_cloth_and_pieces_without_lines_are_left_alone() -> None:
    assert match_rules(PIECES, [striped(repeat=None)]) == {p.id: () for p in PIECES}
    bare = cut_pieces(half_piece(), "outer", 1)
    (part,) = to_problem(bare, [striped()], match_stripes=True).parts
    assert part.phases == ()
    assert all(p.phases == () for p in to_problem(PIECES, [striped()]).parts)


def test_each_cloth_matches_by_itself() -> None:
    """Nobody knows where the stripes of one cloth lie to those of another."""
    cloths = [replace(striped(), id="c"), replace(striped(repeat=30.0), id="d")]
    part = to_problem(PIECES, cloths, match_stripes=True).parts[0]
    assert [(r.repeat, r.match) for r in part.phases] == [("c", "hip on c"), ("d", "hip on d")]
