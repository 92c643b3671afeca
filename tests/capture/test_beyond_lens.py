"""Terms that the solver does not estimate: what they do to a picture, and that what is stated counts what they do."""

from dataclasses import replace

import numpy as np
import pytest

import eke.capture.solve as solve_module
from eke.capture.beyond_lens import BEYOND, beyond_px
from eke.capture.camera import CAMERA_UNKNOWNS
from eke.capture.evidence import BodyPose, LensPrior
from eke.capture.measure import camera_from_points
from eke.capture.solve import solve

from .scene import Lens, rigid_errors
from .test_solve import A4, CARD, PAPER, PIECE, evidence

PLAIN = Lens(
    width=4032, height=3024, focal=3028.0, centre=(2015.5, 1511.5), distortion=(0.0,) * 5,
    above_mm=(420.0, 150.0, 700.0), look_at_mm=(420.0, 220.0),
)  # fmt: skip
NEAR = PIECE[(abs(PIECE[:, 0] - 350) < 200) & (abs(PIECE[:, 1] - 250) < 200)]


@pytest.mark.parametrize("size", [(4000, 3000), (3000, 4000)])
def test_a_drift_grows_from_row_to_row_of_the_sensor(size):
    """A hand that turns while rows are read, rows along the longer side: the first and the last are moved against each other."""
    w, h = size
    corners = np.array([[0, 0], [w, 0], [w, h], [0, h]], float)
    side, along = beyond_px(size, corners).transpose(2, 0, 1)
    late = corners[:, 1] > 0 if w > h else corners[:, 0] > 0
    assert np.ptp(side[late], axis=0) == pytest.approx(0.0, abs=1e-12)
    step = [v[late].mean(axis=0) - v[~late].mean(axis=0) for v in (side, along)]
    assert step[0] == pytest.approx([1.0, 0.0] if w > h else [0.0, 1.0])  # 1 px of a diagonal of 5000
    assert step[1] == pytest.approx([0.0, 1.0] if w > h else [1.0, 0.0])


def moved(edges, term, by):
    """The same edges as that term, so many standard deviations of it, draws them."""
    size = PLAIN.width, PLAIN.height
    return [replace(e, points_px=e.points_px + by * beyond_px(size, e.points_px)[:, :, term]) for e in edges]


@pytest.mark.parametrize("term", range(BEYOND))
@pytest.mark.parametrize("placed", [[CARD], [A4], [CARD, PAPER]], ids=["card", "a4", "card and paper"])
def test_what_a_term_does_is_what_the_covariance_says(placed, term, monkeypatch):
    """The answers with and without it differ by the column of the covariance that belongs to it."""
    # an answer is usually left alone within some hundredths of its standard deviation, about as much as a term does;
    # and points scatter little here, for how residuals bend is no part of a covariance
    monkeypatch.setattr(solve_module, "GAIN_THAT_MATTERS", 1e-12)
    monkeypatch.setattr(solve_module, "GAIN_BEFORE_WEIGHING", 1e-12)
    first = placed[0][1]
    bodies = [b for b, _ in placed]
    rng = np.random.default_rng(3)
    edges = [e for i, (b, p) in enumerate(placed) for e in evidence(PLAIN, b, i, p, rng, noise=0.002)]
    start = camera_from_points(
        (PLAIN.width, PLAIN.height), PLAIN.focal, bodies[0].outline_mm,
        PLAIN.project(first.place(bodies[0].outline_mm), bodies[0].height_mm), bodies[0].height_mm,
    )[0]  # fmt: skip
    c, s = np.cos(-first.turn_rad), np.sin(-first.turn_rad)
    away = [np.subtract(p.middle_mm, first.middle_mm) for _, p in placed]
    poses = [
        BodyPose((c * d[0] - s * d[1], s * d[0] + c * d[1]), p.turn_rad - first.turn_rad, 1.0)
        for d, (_, p) in zip(away, placed, strict=True)
    ]

    def answer(seen):
        return solve(
            (PLAIN.width, PLAIN.height), LensPrior(3028.0, 0.02), bodies, seen, camera=start, poses=poses, passes=1
        )  # fmt: skip

    without = answer(edges)
    by = 0.2  # of a standard deviation: so small that weights stay as they are
    with_it = answer(moved(edges, term, by))
    px = PLAIN.project(NEAR)
    drawn = px + by * beyond_px((PLAIN.width, PLAIN.height), px)[:, :, term]
    before = 1.0 / rigid_errors(without.camera.to_plane(px), NEAR)[1]
    after = 1.0 / rigid_errors(with_it.camera.to_plane(drawn), NEAR)[1]
    sure = without.certainty
    points = without.camera.to_plane(px)
    column = sure.sensitivity(points) @ sure.covariance[:, CAMERA_UNKNOWNS + term]
    rel = points - points.mean(axis=0)
    told = by * np.sum(rel * column) / np.sum(rel * rel)
    assert after - before == pytest.approx(told, rel=0.25, abs=2e-6)
