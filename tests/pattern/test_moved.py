"""Turned, shifted and mirrored pieces give turned, shifted and mirrored results."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eke.geometry import Move
from eke.pattern import trueing
from eke.pattern.corners import moved_piece, with_corner
from eke.pattern.model import Pattern
from eke.pattern.walking import walk

from .samples import bodice
from .test_trueing import wobbly

STEPS = {
    "straighten": lambda p: trueing.straighten(p, "front-side"),
    "fair": lambda p: trueing.fair(p, "front-armhole", 1.2),
    "square": lambda p: trueing.square(p, "front-neck", "end"),
    "longer": lambda p: trueing.resize_edge(p, "front-side", 4.0, "end"),
    "shorter": lambda p: trueing.resize_edge(p, "front-shoulder", -3.0, "start"),
    "share": lambda p: trueing.share_difference(p, "side", 0.3, "end"),
    "join": lambda p: trueing.smooth_join(p, "shoulder", "end"),
}


def rough() -> Pattern:
    pattern = wobbly(wobbly(bodice(), "front-armhole", 0.3, 4), "front-side", 0.3, 5)
    front = with_corner(pattern.piece("front"), "front-neck", "start", (71.0, 432.0))
    return pattern.with_piece(front)


@pytest.mark.parametrize("step", STEPS)
@settings(max_examples=8)
@given(turn=st.floats(-180, 180), dx=st.floats(-300, 300), dy=st.floats(-300, 300))
def test_a_step_on_the_moved_piece_is_the_moved_step(step: str, turn: float, dx: float, dy: float) -> None:
    move = Move.rotation(turn, (50.0, 60.0)).then(Move.translation(dx, dy))
    pattern = rough()
    moved = pattern.with_piece(moved_piece(pattern.piece("front"), move))
    here, there = STEPS[step](moved), STEPS[step](pattern)
    for edge in there.piece("front").edges:
        ours, theirs = here.edge(edge.id)[1].path, edge.path.moved(move)
        assert ours.length_mm == pytest.approx(theirs.length_mm, abs=0.02)
        for share in (0.0, 0.25, 0.5, 0.75, 1.0):
            p = theirs.point_at(share * theirs.length_mm)
            assert ours.nearest(p).distance_mm < 0.02
    assert walk(here, "side").difference_mm == pytest.approx(walk(there, "side").difference_mm, abs=0.02)


@pytest.mark.parametrize("step", [s for s in STEPS if s not in ("longer", "shorter")])
def test_a_step_done_twice_changes_nothing_more(step: str) -> None:
    once = STEPS[step](rough())
    twice = STEPS[step](once)
    for piece in once.pieces.values():
        for edge in piece.edges:
            assert twice.edge(edge.id)[1].path.length_mm == pytest.approx(edge.path.length_mm, abs=0.3)
