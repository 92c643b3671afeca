"""The comparison of outlines: it must see what is wrong and must not mind where things lie."""

from __future__ import annotations

import numpy as np
import pytest
from demo.garments import as_traced, outline_points, piece
from demo.scenes.score import score_outline
from hypothesis import given, settings
from hypothesis import strategies as st


def moved(p: np.ndarray, turn_deg: float, by: tuple[float, float]) -> np.ndarray:
    a = np.radians(turn_deg)
    return p @ np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]]).T + by


FRONT = outline_points(piece("front"), 0.5)


@settings(max_examples=8, deadline=None)
@given(st.floats(-180, 180), st.floats(-900, 900), st.integers(0, 900))
def test_place_turn_and_starting_point_do_not_matter(turn_deg: float, x: float, start: int):
    s = score_outline(moved(np.roll(FRONT, start, axis=0), turn_deg, (x, -x / 2)), FRONT)
    assert s.p95_mm < 0.06
    assert abs(s.scale_percent) < 0.01


def test_scale_is_told_and_not_forgiven():
    s = score_outline(FRONT * 1.005, FRONT)
    assert s.scale_percent == pytest.approx(0.5, abs=0.03)
    assert s.p95_mm > 0.8


def test_a_mirrored_piece_is_far_off():
    assert score_outline((FRONT * [-1, 1])[::-1], FRONT).p95_mm > 3


def test_a_bump_is_seen():
    bumped = FRONT.copy()
    i = len(bumped) // 3
    bumped[i - 20 : i + 20] += [2.0, 0]
    assert 1.4 < score_outline(bumped, FRONT).max_mm < 2.2


def test_the_mistraced_edge_is_seen():
    p = piece("side_front")
    assert score_outline(outline_points(as_traced(p)), outline_points(p)).max_mm > 1.2


def test_points_are_placed_in_the_true_frame():
    s = score_outline(moved(FRONT, 30, (100, 50)), FRONT)
    np.testing.assert_allclose(s.place(moved(FRONT, 30, (100, 50))), FRONT, atol=0.1)


def test_quite_another_shape_gives_large_numbers_and_no_error():
    s = score_outline(outline_points(piece("strap")), FRONT)
    assert s.p95_mm > 10
    assert np.isfinite([s.p95_mm, s.max_mm, s.scale_percent]).all()


def test_a_nearly_symmetric_cloth_is_not_laid_upside_down():
    cloth = np.array([[0, 0], [903.0, 4], [899, 1148], [-3, 1151]])
    s = score_outline(moved(cloth, 171.0, (40, 70)), cloth)
    assert s.p95_mm < 0.1
    np.testing.assert_allclose(s.place(moved(cloth, 171.0, (40, 70))), cloth, atol=0.2)
