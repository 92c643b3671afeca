"""Photographs of one paper, joined: against the drawn line, and what must be refused."""

import dataclasses

import numpy as np
import pytest
from demo.scenes.score import score_outline

from eke.capture.by_hand import Stroke
from eke.capture.camera import Camera
from eke.capture.join import join, trace_joined
from eke.capture.join_adjust import over_common
from eke.capture.join_match import Move, fitted_move
from eke.capture.photo import Photo
from eke.capture.references import Reference
from eke.capture.sheet import own_sheet
from eke.capture.trace import look_at
from eke.errors import BadInput, NotTrustworthy, Stopped

from .join_scene import together
from .scene import Lens, Plane

SAID = (Reference("sheet", check_line_mm=240.0),)
PIECE = np.array(
    [[40, 60], [500, 45], [1050, 80], [1090, 170], [1050, 250], [620, 300], [60, 280], [40, 200]], dtype=float
)
STROKES = [
    [[500, 120], [600, 128]],
    [[590, 118], [600, 128], [591, 137]],
    [[550, 200], [565, 235], [580, 200]],
    [[558, 220], [573, 220]],
    [[530, 160], [534, 176]],
]
"""An arrow, a letter and a stroke in the middle, which both pictures show."""


def paper(shift_mm=0.0, sheets=((0, (130.0, -15.0)), (1, (660.0, -25.0))), strokes=True):
    """A long paper on a floor with a piece drawn on it; ``shift_mm``: how far it was pushed along."""
    plane = Plane((-120, -290), (1280, 420), fine=3.0)
    move = np.array([shift_mm, 0.0])
    plane.fill(np.array([[0, 0], [1140, 0], [1140, 340], [0, 340]]) + move, 0.72)
    plane.line(PIECE + move, 0.9, 0.06)
    if strokes:
        for line in STROKES:
            points = np.array(line, float)
            # there and back: the drawing of the plane closes its lines
            plane.line(np.vstack([points, points[-2:0:-1]]) + move, 0.8, 0.08)
    for number, at in sheets:
        plane.sheet(own_sheet("a4", number), at, 3.0 * number)
    return plane


def lens(x, **more):
    """A camera above ``x`` that sees about 800 mm of the paper's length."""
    return Lens(
        1200, 900, 900.0, (603.0, 447.0), above_mm=(x - 20.0, 20.0, 600.0), look_at_mm=(x, 50.0), **more
    )


def photo(plane, camera, seed):
    return Photo(plane.photograph(camera, seed=seed), focal_px_prior=900.0)


@pytest.fixture(scope="module")
def two():
    plane = paper()
    return [photo(plane, lens(330.0), 3), photo(plane, lens(810.0, roll_deg=-7.0), 4)]


@pytest.fixture(scope="module")
def joined(two):
    return trace_joined(two, references=[SAID, SAID])


def test_the_joined_outline_is_the_drawn_one(joined):
    (piece,) = joined.pieces
    score = score_outline(piece.found.outline_mm, PIECE)
    assert abs(score.scale_percent) < joined.uncertainty_percent < 0.5
    assert score.p95_mm < piece.uncertainty_mm < 1.7
    assert score.p95_mm < 0.6
    assert any("joined at" in w and "mm" in w for w in joined.warnings)
    assert any("was compared at" in w for w in joined.warnings)


def test_what_was_drawn_on_a_part_or_on_the_joined_picture_is_traced(two, joined):
    """Rubbed out on one picture, the line is broken; drawn again on the joined one, it is whole."""
    (piece,) = joined.pieces
    ring = piece.found.outline_mm
    low = ring[np.abs(ring[:, 1] - ring[:, 1].min()) < 60.0]
    here = low[np.abs(low[:, 0] - np.median(low[:, 0])) < 40.0]
    here = here[np.argsort(here[:, 0])]
    drawn = Stroke("draw", here[[0, -1]] + [[-4.0, 0.0], [4.0, 0.0]])
    rubbed = Stroke("rub", here)
    again = trace_joined(two, references=[SAID, SAID], strokes_mm=[rubbed, drawn])
    (back,) = again.pieces
    assert score_outline(back.found.outline_mm, ring).p95_mm < 1.0
    assert np.array_equal(again.rectified.image_rgb, joined.rectified.image_rgb), (
        "the photograph stays as it is"
    )
    first = join(two, references=[SAID, SAID]).looks[0].camera
    for said in ({"strokes_mm": [rubbed]}, {"strokes": [[Stroke("rub", first.project(here))]]}):
        with pytest.raises(NotTrustworthy, match="No closed outline"):
            trace_joined(two, references=[SAID, SAID], **said)


def test_one_picture_twice_is_that_picture(two):
    alone = look_at(two[0], references=SAID)
    twice = join([two[0], two[0]], references=[SAID, SAID])
    box = np.array([[0.0, 0.0], [250.0, 0.0], [250.0, 250.0], [0.0, 250.0]])
    assert twice.seams[0].p95_mm < 0.05
    assert twice.length_percent(box) == pytest.approx(alone.length_percent(box), rel=0.05)
    a, b = (look.camera.to_plane(np.array([[100.0, 100.0], [1100.0, 800.0]])) for look in twice.looks)
    assert np.abs(a - b).max() < 0.05


def test_the_order_of_the_pictures_does_not_matter(two, joined):
    other = trace_joined(two[::-1], references=[SAID, SAID])
    score = score_outline(other.pieces[0].found.outline_mm, joined.pieces[0].found.outline_mm)
    assert score.p95_mm < 0.2 * joined.pieces[0].uncertainty_mm
    assert abs(score.scale_percent) < 0.05
    assert other.uncertainty_percent == pytest.approx(joined.uncertainty_percent, rel=0.1)


def test_nothing_is_mirrored(two):
    flipped = dataclasses.replace(two[1], pixels_rgb=np.ascontiguousarray(two[1].pixels_rgb[:, ::-1]))
    with pytest.raises(NotTrustworthy, match=r"Picture 2: .*mirror"):
        join([two[0], flipped], references=[SAID, SAID])


def test_without_an_overlap_it_is_refused(two):
    other = Plane((400, -290), (1280, 420), fine=3.0, seed=9)
    other.fill(np.array([[450, 0], [1140, 0], [1140, 340], [450, 340]]), 0.72)
    other.line(np.array([[640, 60], [1040, 80], [990, 280], [700, 240]]), 0.9, 0.06)
    other.sheet(own_sheet("a4", 1), (660.0, -25.0), 3.0)
    with pytest.raises(NotTrustworthy, match="no part that is clearly the same") as no:
        join([two[0], photo(other, lens(810.0), 4)], references=[SAID, SAID])
    assert no.value.data["pictures"] == [1]


@pytest.mark.parametrize("push_mm", [4.0, 30.0])
def test_paper_that_was_pushed_on_is_refused(two, push_mm):
    pushed = paper(shift_mm=push_mm)
    with pytest.raises(NotTrustworthy) as no:
        trace_joined([two[0], photo(pushed, lens(810.0), 5)], references=[SAID, SAID])
    assert no.value.data["reason"] in ("moved", "repeats", "seam", "no overlap")


def test_two_sizes_are_not_averaged_in_silence(two):
    other = (Reference("sheet", check_line_mm=247.0),)
    with pytest.raises(NotTrustworthy, match="disagree about the size"):
        join(two, references=[SAID, other])


def test_each_picture_needs_a_scale(two):
    blank = Photo(np.full((900, 1200, 3), 128, np.uint8), focal_px_prior=900.0)
    with pytest.raises(NotTrustworthy, match="Picture 2: "):
        join([two[0], blank], references=[SAID, SAID])


@pytest.mark.parametrize("count", [0, 1, 13])
def test_too_few_or_too_many(count):
    blank = Photo(np.zeros((40, 40, 3), np.uint8))
    with pytest.raises(BadInput, match="pictures can be joined"):
        join([blank] * count, references=[SAID] * count)


def test_it_can_be_stopped(two):
    told = []
    with pytest.raises(Stopped):
        join(
            two, references=[SAID, SAID], listener=lambda sentence, share: told.append(share),
            stop=lambda: len(told) >= 2,
        )  # fmt: skip
    assert told == sorted(told)


def test_a_camera_over_another_plane_sees_the_same():
    base = Camera(
        (1200, 900), 900.0, (600.0, 450.0), 0.02, -0.01, np.array([0.1, -0.05, 0.02]),
        np.array([-100.0, 50.0, 600.0]),
    )  # fmt: skip
    move = Move(0.3, (120.0, -45.0))
    points = np.array([[0.0, 0.0], [50.0, -20.0], [300.0, 200.0]])
    assert np.allclose(over_common(base, move).project(move.of(points)), base.project(points), atol=1e-6)
    assert np.allclose(move.back(move.of(points)), points)
    again = fitted_move(move.of(points), points)
    assert again.turn_rad == pytest.approx(0.3)
    assert again.shift_mm == pytest.approx((120.0, -45.0))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("seed", "more"),
    [
        (1, {}),
        (2, {"lay": "same"}),
        (7, {"views": 3, "length_mm": 1200.0}),
        (8, {"overlap": 0.15, "lay": "same", "floor": "tiles"}),
    ],
)
def test_a_rendered_long_paper(seed, more):
    taken = together(seed, **more)
    got = trace_joined(taken.photos, references=taken.said)
    for score, stated in taken.scores(got):
        assert score.p95_mm <= stated
        assert score.p95_mm <= 1.0
        assert abs(score.scale_percent) <= got.uncertainty_percent


@pytest.mark.slow
@pytest.mark.parametrize(("seed", "more"), [(32, {}), (33, {"lay": "same"})])
def test_a_rendered_long_cloth(seed, more):
    taken = together(seed, cloth=True, **more)
    got = trace_joined(taken.photos, references=taken.said, cloth=True)
    for score, stated in taken.scores(got):
        assert score.p95_mm <= stated
        assert score.p95_mm <= 1.5
        assert abs(score.scale_percent) <= got.uncertainty_percent


@pytest.mark.slow
def test_a_rendered_paper_that_was_pushed_on():
    taken = together(5, moved_mm=25.0, lay="same")
    with pytest.raises(NotTrustworthy):
        trace_joined(taken.photos, references=taken.said)
