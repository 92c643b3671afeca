"""Paper that does not lie flat is noticed: a corner lifted over a plane, or a fold across it, seen through SciPy and
OpenCV."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from eke.capture.photo import Photo
from eke.capture.references import Reference
from eke.capture.survey import survey

from .scene import Lens, Plane

PAPER_MM = (560.0, 420.0)
PAPER_AT = (250.0, 0.0)
A4_AT = (0.0, 60.0)


def _rectangle(at: tuple[float, float], size: tuple[float, float], steps: int = 80) -> np.ndarray:
    """Anticlockwise, many points along each side."""
    w, h = size
    corners = np.array([[0, 0], [w, 0], [w, h], [0, h], [0, 0]], float) + at
    return np.concatenate([np.linspace(a, b, steps, endpoint=False) for a, b in pairwise(corners)])


def _seen_from(lens: Lens, points: np.ndarray, height_mm: np.ndarray) -> np.ndarray:
    """Where points that are lifted seem to lie on the plane: moved away from the place below the camera."""
    eye = np.array(lens.above_mm)
    return eye[:2] + (points - eye[:2]) * (eye[2] / (eye[2] - height_mm))[:, None]


def _corner_up(paper: np.ndarray) -> np.ndarray:
    corner = np.add(PAPER_AT, PAPER_MM)
    return np.exp(-(((paper - corner) / 110.0) ** 2).sum(axis=1))


def _fold_across(paper: np.ndarray) -> np.ndarray:
    """A ridge of 70 mm across the paper, four fifths of the way along it."""
    return np.maximum(0.0, 1.0 - np.abs(paper[:, 0] - (PAPER_AT[0] + 0.8 * PAPER_MM[0])) / 35.0)


def _photo(height_mm: np.ndarray) -> Photo:
    lens = Lens()
    plane = Plane((-120.0, -150.0), (900.0, 560.0))
    plane.fill(_seen_from(lens, _rectangle(PAPER_AT, PAPER_MM), height_mm), 0.75)
    plane.fill(_rectangle(A4_AT, (210.0, 297.0)), 0.8)
    return Photo(plane.photograph(lens), focal_px_prior=lens.focal)


@pytest.mark.parametrize("lift_mm", [0.0, 25.0])
def test_a_lifted_corner_is_said_and_flat_paper_is_not(lift_mm: float) -> None:
    height = lift_mm * _corner_up(_rectangle(PAPER_AT, PAPER_MM))
    found = survey(_photo(height), [Reference("a4")], square_paper=True)
    said = [w for w in found.warnings if "does not lie flat" in w]
    if lift_mm:
        assert len(said) == 1
        assert "The paper" in said[0]
        assert "upper edge" in said[0] or "right edge" in said[0]
        # what is straight of its edges may tell of the lens, what is bent must not
        assert found.camera.k1 == pytest.approx(Lens().distortion[0], abs=0.02)
    else:
        assert not found.warnings
        assert found.paper is not None


@pytest.mark.parametrize("ridge_mm", [5.0, 9.0])
def test_a_fold_across_the_paper_is_said_and_its_straight_edges_still_serve(ridge_mm: float) -> None:
    height = ridge_mm * _fold_across(_rectangle(PAPER_AT, PAPER_MM))
    found = survey(_photo(height), [Reference("a4")], square_paper=True)
    (said,) = [w for w in found.warnings if "does not lie flat" in w]
    assert "upper edge" in said or "lower edge" in said
    assert found.paper is not None
    ring = found.polygon(found.paper)
    np.testing.assert_allclose(np.hypot(*(ring[1:3] - ring[:2]).T), PAPER_MM, rtol=0.03)
    # what the fold adds is in what is stated
    flat = survey(_photo(0.0 * height), [Reference("a4")], square_paper=True)
    middle = _rectangle(PAPER_AT, PAPER_MM)[::16]
    assert found.unflat_mm > 0.6
    assert flat.unflat_mm == 0.0
    assert found.local_mm(middle).min() >= found.unflat_mm
