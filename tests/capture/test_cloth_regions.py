"""Which places of a picture are cloth: patterns that hold the floor's colour, touches that mend."""

import numpy as np
from tests.capture.outline_drawings import both_ways
from tests.capture.test_cloth_found import scene

from eke.capture.cloth_edge import find_cloths
from eke.capture.cloth_regions import _pattern_filled


def test_even_patches_are_a_pattern_and_a_large_hole_stays():
    cloth = np.zeros((200, 240), dtype=bool)
    cloth[20:180, 30:210] = True
    whole = cloth.copy()
    for row in range(28, 172, 12):
        for col in range(38, 202, 12):
            cloth[row : row + 5, col : col + 5] = False
    cloth[100:105, 205:210] = False  # a square of the check at the edge: a bay
    cloth[60:90, 80:110] = False  # a hole
    filled = _pattern_filled(cloth, np.ones_like(cloth))
    hole = np.zeros_like(cloth)
    hole[62:88, 82:108] = True
    assert not (filled & hole).any()
    away_from_hole = np.ones_like(cloth)
    away_from_hole[55:95, 75:115] = False
    assert (filled == whole)[away_from_hole].mean() > 0.995
    assert filled[100:105, 205:209].all()
    assert not (filled & ~whole)[:, :25].any()


def test_a_few_holes_are_no_pattern():
    cloth = np.ones((100, 100), dtype=bool)
    cloth[20:30, 20:30] = cloth[60:70, 60:70] = False
    assert (_pattern_filled(cloth, np.ones_like(cloth)) == cloth).all()


def test_touches_where_the_cloth_was_found_change_next_to_nothing():
    rect, outline, _, _ = scene((60, 120, 90), (170, 130, 90))
    (alone,) = find_cloths(rect)
    (touched,) = find_cloths(rect, touches=[(100.0, 100.0, "+"), (20.0, 20.0, "-")])
    assert both_ways(touched.outline_mm, alone.outline_mm)[0] < 0.2
    assert both_ways(touched.outline_mm, outline)[0] < 1.0
