"""Groups of set pixels against OpenCV's labels of the whole picture."""

import cv2
import numpy as np
import pytest

from eke.capture.connected import connected, places_of


@pytest.mark.parametrize("share", [0.0, 0.05, 0.3, 0.6, 1.0])
def test_groups_are_those_of_a_labelled_picture(share):
    rng = np.random.default_rng(3)
    for height, width in ((1, 1), (1, 9), (9, 1), (40, 57)):
        mask = (rng.random((height, width)) < share).astype(np.uint8)
        places, group, count = connected(mask)
        every, labels = cv2.connectedComponents(mask, connectivity=8)
        assert count == every - 1
        theirs = labels.ravel()[places]
        assert len(set(zip(group.tolist(), theirs.tolist(), strict=True))) == count
        assert np.all(np.diff(np.unique(group, return_index=True)[1]) > 0)


def test_a_row_does_not_touch_the_next_round_the_edge():
    mask = np.zeros((4, 6), np.uint8)
    mask[0, 5] = mask[1, 0] = mask[3, 0] = 1
    assert connected(mask)[2] == 3
    assert places_of(mask[:, ::-1]).tolist() == [0, 11, 23]
