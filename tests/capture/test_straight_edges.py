"""The edges of paper that nobody called square, as straight lines: they show what the lens bends."""

import numpy as np
import pytest

from eke.capture.evidence import CARD_MM
from eke.capture.photo import Photo
from eke.capture.references import Reference
from eke.capture.survey import survey

from .scene import Lens, Plane, rectangle, rigid_errors

LENS = Lens(distortion=(0.06, 0.0, 0.0, 0.0, 0.0), above_mm=(330.0, 60.0, 1000.0), look_at_mm=(340.0, 210.0))
CROOKED = np.array([[0.0, 0.0], [600.0, 22.0], [618.0, 418.0], [-14.0, 402.0]])  # no right angle in it
PIECE = np.array([[x, y] for x in np.linspace(60, 540, 6) for y in np.linspace(60, 350, 5)], float)


def paper(bow_mm):
    """A crooked quadrangle whose sides bulge by so much in the middle, (n, 2) in mm."""
    t = np.linspace(0.0, 1.0, 40)[:-1, None]
    sides = []
    for a, b in zip(CROOKED, np.roll(CROOKED, -1, axis=0), strict=True):
        d = (b - a) / np.hypot(*(b - a))
        sides.append(a + t * (b - a) + bow_mm * 4.0 * t * (1.0 - t) * np.array([d[1], -d[0]]))
    return np.concatenate(sides)


def found(bow_mm, **said):
    plane = Plane((-120.0, -140.0), (880.0, 560.0), fine=6.0)
    plane.fill(paper(bow_mm), 0.75)
    plane.line(rectangle((60, 60), (480, 290)), 0.9, 0.05)
    plane.fill(rectangle((650.0, 180.0), CARD_MM), 0.55)
    return survey(Photo(plane.photograph(LENS), focal_px_prior=LENS.focal), [Reference("card")], **said)


def off_percent(got):
    return 100.0 * abs(rigid_errors(got.camera.to_plane(LENS.project(PIECE)), PIECE)[1] - 1.0)


@pytest.fixture(scope="module")
def alone():
    return found(0.0)


def test_straight_edges_show_the_lens_whatever_their_angles(alone):
    got = found(0.0, straight_paper=True)
    assert abs(got.camera.k1 - 0.06) < 0.5 * abs(alone.camera.k1 - 0.06)
    outline = got.camera.to_plane(LENS.project(PIECE))
    assert got.length_percent(outline) < 0.9 * alone.length_percent(outline)
    assert off_percent(got) < got.length_percent(outline)
    assert got.paper is None, "nothing is asked of its angles, so it is no square paper"


def test_bowed_edges_are_left_alone(alone):
    with_edges, without = found(6.0, straight_paper=True), found(6.0)
    assert (with_edges.camera.k1, with_edges.camera.k2) == (without.camera.k1, without.camera.k2)
    assert np.array_equal(with_edges.camera.translation_mm, without.camera.translation_mm)
    assert with_edges.warnings == without.warnings
