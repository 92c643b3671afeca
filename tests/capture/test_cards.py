"""A bank card far away in the picture: its stripes look like edges, its pale end like the floor."""

from dataclasses import replace

import numpy as np
import pytest
from demo.scenes.camera import DIAGONAL_35MM
from demo.scenes.random_scenes import _beside, random_scene
from demo.scenes.scene import photograph as render

from eke.capture.evidence import CARD_MM
from eke.capture.photo import Photo
from eke.capture.quads import find_quads
from eke.capture.quads_unlike import RAREST, find_small_quads, rare_colours
from eke.capture.references import Reference
from eke.capture.survey import survey

from .scene import Lens, Plane, rectangle

PAPER_AT, PAPER_MM = (0.0, 0.0), (620.0, 420.0)
PIECE = np.array([[x, y] for x in np.linspace(60, 560, 6) for y in np.linspace(50, 370, 5)], float)


def card(middle, turn_deg):
    """Outline with round corners, a stripe along its long side and the corners, (n, 2) each in mm."""
    a = np.radians(turn_deg)
    turn = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    half, radius = np.array(CARD_MM) / 2, 3.18
    arc = np.radians(np.arange(0, 91, 10))
    ring = []
    for k, (sx, sy) in enumerate(((1, 1), (-1, 1), (-1, -1), (1, -1))):
        at = arc + k * np.pi / 2
        ring.append(np.array([sx, sy]) * (half - radius) + radius * np.column_stack([np.cos(at), np.sin(at)]))
    stripe = rectangle((-half[0], half[1] - 16.0), (2 * half[0], 9.0))
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half
    return [p @ turn + middle for p in (np.concatenate(ring), stripe, corners)]


def photograph(lens, middle, turn_deg, pale=0.3):
    plane = Plane((-100.0, -120.0), (860.0, 560.0), fine=6.0)
    plane.fill(rectangle(PAPER_AT, PAPER_MM), 0.75)
    plane.line(rectangle((60, 50), (500, 320)), 0.9, 0.05)
    face, stripe, corners = card(np.array(middle), turn_deg)
    plane.fill(face, pale)
    plane.fill(stripe, 0.01)
    return Photo(plane.photograph(lens), focal_px_prior=lens.focal), corners


@pytest.mark.parametrize("turn_deg", [3.0, 93.0])
@pytest.mark.parametrize("above", [(340.0, -60.0, 680.0), (560.0, 330.0, 700.0)])
def test_the_stripe_of_a_card_is_not_its_edge(turn_deg, above):
    lens = Lens(above_mm=above, look_at_mm=(360.0, 210.0))
    photo, _ = photograph(lens, (685.0, 210.0), turn_deg)
    found = survey(photo, [Reference("card")], square_paper=True)
    assert found.paper is not None
    seen = found.camera.to_plane(lens.project(PIECE))
    a, b = seen - seen.mean(axis=0), PIECE - PIECE.mean(axis=0)
    scale = np.sqrt((a**2).sum() / (b**2).sum())
    assert abs(scale - 1.0) < 0.004  # the drawing is that coarse: a sixth of a millimetre on 54
    assert abs(scale - 1.0) * 100 < found.length_percent(seen)


@pytest.mark.parametrize("turn_deg", [10.0])
def test_a_card_that_a_coarse_look_mistakes_is_found_by_a_close_one(turn_deg):
    """Nearly as light as the floor, so that its stripe is all that is seen from afar."""
    lens = Lens(
        width=2400, height=1800, focal=1800.0, centre=(1210.0, 890.0), above_mm=(300.0, 180.0, 1300.0)
    )
    photo, corners = photograph(lens, (685.0, 210.0), turn_deg, pale=0.23)
    true = lens.project(corners)

    def nearest(quads):
        return min(
            (
                np.hypot(*(np.roll(q.corners_px, k, axis=0) - way).T).max()
                for q in quads
                for k in range(4)
                for way in (true, true[::-1])
            ),
            default=np.inf,
        )

    rare = rare_colours(photo.pixels_rgb)
    close = nearest(find_small_quads(rare, RAREST))
    assert close < 10.0, "near enough for its edges to be followed"
    assert nearest(find_small_quads(rare)) <= close
    assert close < nearest(find_quads(photo.pixels_rgb))


@pytest.mark.parametrize("seed", [110, 114, 117])
def test_a_card_is_found_on_tiles_whose_joints_run_into_it_and_on_carpet(seed):
    """Rendered scenes in which lightness alone showed no card: one half of it is as light as the floor."""
    size = (2016, 1512)
    base = random_scene(seed, "tracing", size)
    paper = replace(base.scene.paper, straight=True)
    rng = np.random.default_rng([20261128, seed, 4])
    side, scale = int(rng.permutation(4)[0]), float(rng.choice([1.0, rng.uniform(0.994, 1.006), 0.97]))
    laid = _beside(rng, "card", paper.size_mm, side, 0, scale)
    taken = render(replace(base.scene, paper=paper, pieces=base.scene.pieces[:1], references=(laid,)))
    pixels = np.rot90(taken.picture, -1) if taken.camera.upright == 6 else taken.picture
    focal = round(base.exif_focal) * float(np.hypot(*size)) / DIAGONAL_35MM
    found = survey(
        Photo(np.ascontiguousarray(pixels), focal_px_prior=focal), [Reference("card")], square_paper=True
    )
    assert found.paper is not None
    seen = found.camera.project(found.polygon(0), 0.76)
    true = np.array(taken.truth["references"][0]["corners_upright_px"])
    assert max(np.hypot(*(seen - t).T).min() for t in true) < 1.0
