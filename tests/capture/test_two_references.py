"""Two references far apart in one picture: placed together, and refused together where their sizes differ."""

import numpy as np
import pytest

from eke.capture.evidence import BodyPose, LensPrior, sheet_body
from eke.capture.light import light_of
from eke.capture.photo import Photo
from eke.capture.rounds import start
from eke.capture.seeds import Seed
from eke.capture.sheet import own_sheet
from eke.capture.ways import ways_to_lie
from eke.errors import NotTrustworthy, Stopped

from .scene import Lens

# a wide lens above one corner of a long paper: the first sheet lies near the border of the picture, where lines bend
WIDE = Lens(
    width=3024, height=4032, focal=1500.0, centre=(1520.0, 2001.0), distortion=(0.04, 0.0, 0.0004, 0.0001, 0.0),
    above_mm=(220.0, 30.0, 480.0), look_at_mm=(240.0, 190.0), roll_deg=3.0,
)  # fmt: skip
PLACES = (BodyPose((200.0, -180.0), 0.15, 1.0), BodyPose((250.0, 620.0), -0.02, 1.0))
PICTURE = Photo(np.zeros((4032, 3024, 3), np.uint8), focal_px_prior=1514.0)


def seeds(scales=(1.0, 1.0)):
    """Corners of the markers of two sheets as they are seen, with a quarter pixel of noise."""
    rng = np.random.default_rng(8)
    out = []
    for k, (pose, scale) in enumerate(zip(PLACES, scales, strict=True)):
        sheet = own_sheet("a4", k)
        corners = np.concatenate([np.asarray(m.corners_mm) for m in sheet.markers])
        at = (corners - np.array(sheet.sheet_mm) / 2.0) * [1.0, -1.0]
        px = WIDE.project(pose.place(at * scale))
        assert np.all((px > 0.0) & (px < [3024, 4032]))
        out.append(Seed(sheet_body(sheet, 240.0), at, px + rng.normal(0.0, 0.25, px.shape), 0.5))
    return out


def test_a_wide_lens_does_not_make_two_sheets_disagree():
    """By a camera that had seen the first only, the second seemed half as large again, and the picture was refused."""
    bodies, camera, poses, *_ = start(PICTURE, LensPrior(1514.0, 0.02), seeds(), [])
    assert len(bodies) == 2
    apart = np.subtract(poses[1].middle_mm, poses[0].middle_mm)
    true = np.subtract(PLACES[1].middle_mm, PLACES[0].middle_mm)
    assert np.hypot(*apart) == pytest.approx(np.hypot(*true), rel=0.01)
    assert camera.k1 == pytest.approx(0.04, abs=0.03)


@pytest.mark.parametrize("scales", [(1.0, 1.35), (1.35, 1.0), (1.0, 0.7), (0.6, 1.0)])
def test_sheets_of_two_sizes_are_refused(scales):
    """One was printed in another size than its maker read."""
    with pytest.raises(NotTrustworthy, match="Two references disagree"):
        start(PICTURE, LensPrior(1514.0, 0.02), seeds(scales), [])


def test_trying_one_way_after_another_can_be_stopped():
    """A picture full of card-like things takes many tries of up to a second."""
    sheet = seeds()[0]
    asked = []

    def check():
        asked.append(1)
        if len(asked) == 3:
            raise Stopped("stopped")

    # nothing is seen in a black picture, so that each way is followed by the next
    with pytest.raises(Stopped):
        ways_to_lie(
            PICTURE, light_of(PICTURE.pixels_rgb), LensPrior(1514.0, 0.02), [[sheet] * 5], [], check=check
        )
    assert len(asked) == 3
