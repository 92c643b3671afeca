"""A seam that is moved: one piece gains what the other loses."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.errors import BadInput, NotFound
from eke.pattern.walking import walk
from fit.bodies import area, bodice, do, length


@given(st.floats(-12.0, 12.0))
def test_one_gains_what_the_other_loses(by):
    before = bodice()
    after = do(before, "fit.move_seam", seam="side", knots=[[0.0, by], [220.0, by]])
    for piece, sign in (("front", 1.0), ("back", -1.0)):
        hem = length(after, f"{piece}-hem") - length(before, f"{piece}-hem")
        assert hem == pytest.approx(sign * by, abs=1e-6)
    # the armhole is no straight line, so the corner slides along it: the lengths of the side differ by little
    assert walk(after, "side").difference_mm == pytest.approx(0.0, abs=1.5)


def test_forward_shoulder():
    before = bodice()
    # the front is the first side and loses at the tip, where the seam starts
    after = do(before, "fit.move_seam", seam="shoulder", knots=[[0.0, -12.0], [120.0, 0.0]])
    front = area(after.piece("front")) - area(before.piece("front"))
    back = area(after.piece("back")) - area(before.piece("back"))
    assert front == pytest.approx(-back, abs=40.0)
    assert front < -500.0
    assert after.edge("front-neck")[1].path == before.edge("front-neck")[1].path
    assert walk(after, "armhole").b.length_mm == pytest.approx(walk(before, "armhole").b.length_mm, abs=1.5)


def test_refusals():
    with pytest.raises(NotFound):
        do(bodice(), "fit.move_seam", seam="gone", knots=[[0.0, 5.0]])
    with pytest.raises(BadInput, match="no place 900 mm"):
        do(bodice(), "fit.move_seam", seam="side", knots=[[900.0, 5.0]])
    with pytest.raises(BadInput, match="at least one place"):
        do(bodice(), "fit.move_seam", seam="side", knots=[])
