"""Smaller copies of a picture: each pixel is the mean of what it covers, by whatever way it is reckoned."""

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.capture.shrink import shrunk, shrunk_to


def picture(width, height, seed):
    return np.random.default_rng(seed).integers(0, 256, (height, width, 3), dtype=np.uint8)


@given(st.integers(20, 90), st.integers(20, 90), st.floats(0.1, 1.0), st.integers(0, 99))
def test_as_the_means_of_areas(width, height, share, seed):
    whole = picture(width, height, seed)
    size = (max(2, round(width * share)), max(2, round(height * share)))
    off = shrunk_to(whole, size).astype(int) - cv2.resize(whole, size, interpolation=cv2.INTER_AREA)
    # a pixel of four that is cut through counts for its part of their mean: half a level of noise, in the mean none
    assert abs(float(off.mean())) < 0.6
    smooth = cv2.GaussianBlur(whole, (0, 0), 6.0)
    off = shrunk_to(smooth, size).astype(int) - cv2.resize(smooth, size, interpolation=cv2.INTER_AREA)
    assert np.abs(off).max() <= 3


@pytest.mark.parametrize(("side", "size"), [(100, (100, 40)), (250, (250, 100)), (300, (250, 100))])
def test_the_longer_side_is_what_was_asked_and_nothing_is_enlarged(side, size):
    whole = picture(250, 100, 5)
    assert shrunk(whole, side).shape == (size[1], size[0], 3)
