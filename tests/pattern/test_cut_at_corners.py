"""An outline cut at its corners, wherever its ring begins."""

import numpy as np
import pytest

from eke.geometry.path import Path
from eke.pattern.tracing import cut_at_corners

CORNERS = [(0.0, 0.0), (200.0, 0.0), (200.0, 300.0), (0.0, 300.0)]


def ring(begin_mm):
    """A closed rectangle, counter-clockwise, that begins so far along its first side; negative: before its first corner."""
    start = (begin_mm, 0.0) if begin_mm >= 0.0 else (0.0, -begin_mm)
    points = [start, *CORNERS[1:], *([CORNERS[0]] if begin_mm > 0.0 else [])]
    if begin_mm < 0.0:
        points = [start, *CORNERS]
    return Path.polyline([*points, start])


@pytest.mark.parametrize("begin_mm", [0.0, 1e-9, 1e-7, 1e-4, 0.5, 70.0, -1e-9, -1e-7, -1e-4, -0.5, -70.0])
def test_the_first_corner_may_lie_where_the_ring_begins_or_just_before(begin_mm):
    """A hair before the end of the ring there was a stretch without length, and the piece was refused."""
    edges = cut_at_corners(ring(begin_mm), CORNERS)
    assert [e.length_mm for e in edges] == pytest.approx([200.0, 300.0, 200.0, 300.0], abs=1e-5)
    for edge, corner in zip(edges, CORNERS, strict=True):
        assert np.hypot(*np.subtract(edge.start, corner)) < 1e-5
