"""The vector of a camera's unknowns draws as the camera does, and its derivatives are those of what it draws."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.capture.camera import CAMERA_UNKNOWNS, Camera, rotation_matrix
from eke.capture.unknowns import drawn, drawn_slopes, to_plane

PLANE = np.array([[x, y] for x in (-250.0, 0.0, 320.0) for y in (-180.0, 40.0, 210.0)])
HEIGHT = np.linspace(0.0, 3.0, len(PLANE))


def unknowns(tilt, turn, k1, k2, p1, p2):
    """A camera some 800 mm above the plane, looking down; world is (x, -y, -height), so no turn looks straight down."""
    vector = np.array([tilt, 0.4 * tilt, turn])
    return np.array([math.log(2900.0), 2010.0, 1520.0, k1, k2, *vector, 30.0, -20.0, 800.0, p1, p2])


CAMERAS = st.builds(
    unknowns,
    st.floats(-0.6, 0.6),
    st.floats(-3.0, 3.0),
    st.floats(-0.08, 0.08),
    st.floats(-0.08, 0.08),
    st.floats(-1e-3, 1e-3),
    st.floats(-1e-3, 1e-3),
)


def draw(x, plane=PLANE, height=HEIGHT):
    return drawn(x, plane, height, rotation_matrix(x[5:8]))


@given(CAMERAS)
def test_it_draws_as_the_camera_does_and_back(x):
    camera = Camera(
        (4032, 3024), math.exp(x[0]), (x[1], x[2]), x[3], x[4], x[5:8].copy(), x[8:11].copy(), x[11], x[12]
    )
    for k, height in enumerate(HEIGHT):
        assert draw(x)[k] == pytest.approx(camera.project(PLANE[k : k + 1], height)[0], abs=1e-6)
    # decentred glass is undone in two rounds, whatever it draws at the far ends of what its terms may be
    assert to_plane(x, draw(x), HEIGHT, rotation_matrix(x[5:8])) == pytest.approx(PLANE, abs=1e-2)


@given(CAMERAS)
def test_derivatives_are_those_of_what_is_drawn(x):
    """Against central differences."""
    slopes = drawn_slopes(x, PLANE, HEIGHT, rotation_matrix(x[5:8]))
    for k in range(CAMERA_UNKNOWNS):
        step = 1e-6 * max(1.0, abs(x[k]))
        more, less = x.copy(), x.copy()
        more[k] += step
        less[k] -= step
        true = (draw(more) - draw(less)).T / (2.0 * step)
        within = 1e-5 * max(1.0, float(np.abs(true).max()))
        assert slopes.by_camera[k] == pytest.approx(true, rel=1e-5, abs=within)
    true = (draw(x, height=HEIGHT + 1e-3) - draw(x, height=HEIGHT - 1e-3)).T / 2e-3
    assert slopes.by_height == pytest.approx(true, rel=1e-5, abs=1e-6)
    for k, step in enumerate(np.eye(2) * 1e-3):
        true = (draw(x, PLANE + step) - draw(x, PLANE - step)).T / 2e-3
        assert slopes.by_place[k] == pytest.approx(true, rel=1e-5, abs=1e-6)
