"""Where the camera stands, from the corners of a paper of unknown size."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eke.capture.paper_start import rectangle_by_any_lens, rectangle_seen
from eke.capture.photo import Photo
from eke.capture.quads import Quad
from eke.capture.references import Reference
from eke.capture.survey import survey
from eke.errors import NotTrustworthy

from .scene import Lens, Plane

SIZE = (4032, 3024)


def quad(lens, width, height):
    corners = np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])
    return Quad(lens.project(corners), 1.0, (False,) * 4)


def camera_over(width, height, tilt_mm, focal):
    middle = (width / 2, height / 2)
    return Lens(
        width=SIZE[0], height=SIZE[1], focal=focal, centre=((SIZE[0] - 1) / 2, (SIZE[1] - 1) / 2),
        distortion=(0.0,) * 5, above_mm=(middle[0] - 0.6 * tilt_mm, middle[1] - tilt_mm, 900.0), look_at_mm=middle, roll_deg=3.0,
    )  # fmt: skip


@settings(deadline=None, max_examples=25)
@given(st.floats(250.0, 700.0), st.floats(250.0, 480.0), st.floats(10.0, 500.0))
def test_the_rectangle_is_found_to_a_pixel_however_slightly_the_camera_is_tilted(width, height, tilt_mm):
    lens = camera_over(width, height, tilt_mm, 3028.0)
    error_px, body, camera = rectangle_seen(SIZE, 3028.0, quad(lens, width, height), height)
    assert error_px < 1.0
    assert np.ptp(body.outline_mm, axis=0) == pytest.approx([width, height], rel=0.01)
    assert camera.tilt_deg == pytest.approx(lens.tilt_deg, abs=1.5)


@pytest.mark.parametrize("focal", [1500.0, 2100.0, 3400.0])
def test_a_lens_that_nobody_told_is_found_by_the_perspective(focal):
    lens = camera_over(520.0, 380.0, 350.0, focal)
    error_px, body, camera = rectangle_by_any_lens(
        SIZE, (3024.0, 2369.0, 1814.0, 4032.0), quad(lens, 520.0, 380.0), 380.0
    )
    assert error_px < 2.0
    assert camera.focal_px == pytest.approx(focal, rel=0.02)
    assert np.ptp(body.outline_mm, axis=0) == pytest.approx([520.0, 380.0], rel=3e-3)


def test_a_ruler_is_not_taken_for_the_paper_beside_it():
    """The paper has the floor's own tone: only the ruler has edges, and it carries both points."""
    lens = Lens(above_mm=(330.0, 120.0, 620.0), look_at_mm=(330.0, 220.0))
    plane = Plane((-200.0, -200.0), (900.0, 700.0))
    plane.line(np.array([[60.0, 60.0], [480.0, 90.0], [210.0, 330.0]]), 0.9, 0.05)
    plane.fill(np.array([[520.0, 60.0], [590.0, 60.0], [590.0, 400.0], [520.0, 400.0]]), 0.7)
    a, b = lens.project(np.array([[580.0, 70.0], [580.0, 390.0]]))
    ticks = Reference("points", from_px=tuple(a), to_px=tuple(b), distance_mm=320.0)
    with pytest.raises(NotTrustworthy) as no:
        survey(Photo(plane.photograph(lens), focal_px_prior=lens.focal), [ticks], square_paper=True)
    assert no.value.data["reason"] == "no tilt"
