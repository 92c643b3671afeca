"""True scale from rendered photographs: the renderer and its lens are SciPy's and OpenCV's (see scene.py)."""

import io
from dataclasses import replace

import cv2
import numpy as np
import pytest
from PIL import Image

from eke.capture.photo import Photo
from eke.capture.references import Reference
from eke.capture.sheet import own_sheet
from eke.capture.survey import survey
from eke.capture.trace import OTHER_PAPER, Trace, look_at, trace
from eke.capture.unroll import rectify
from eke.errors import BadInput, HonestNo, NotTrustworthy
from eke.formats.images import photo_from_bytes

from .scene import Lens, Plane, rigid_errors

PIECE = np.array([[x, y] for x in np.linspace(70, 330, 5) for y in np.linspace(60, 360, 6)], float)
LENS = Lens()
PAPER = np.array([[30.0, 20.0], [380.0, 20.0], [380.0, 400.0], [30.0, 400.0]])


def ground(light=0.72):
    plane = Plane((-420, -320), (1050, 760), fine=2.5)
    plane.fill(PAPER, light)
    plane.line(np.array([[80, 60], [320, 60], [320, 300], [200, 360], [80, 300]]), 1.2, 0.05)
    return plane


def rectangle(width, height, middle, turn_deg):
    a = np.radians(turn_deg)
    rot = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    return np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [width / 2, height / 2] @ rot.T + middle


@pytest.fixture(scope="module")
def with_sheet():
    plane = ground()
    plane.sheet(own_sheet("a4", 2), (640.0, 350.0), -84.0)
    return plane.photograph(LENS)


@pytest.fixture(scope="module")
def with_a4():
    plane = ground()
    plane.fill(rectangle(210.0, 297.0, (510.0, 200.0), 5.0), 0.8)
    return plane.photograph(LENS)


@pytest.fixture(scope="module")
def with_letter():
    plane = ground(0.5)
    plane.fill(rectangle(215.9, 279.4, (510.0, 200.0), -6.0), 0.8)
    return plane.photograph(LENS)


def photo(pixels, focal=1185.0):
    return Photo(pixels, focal_px_prior=focal, focal_sigma=0.021)


def judged(got, lens=LENS, to_px=lambda p: p):
    seen = got.camera.to_plane(to_px(lens.project(PIECE)))
    errors, scale = rigid_errors(seen, PIECE)
    return errors, scale, seen


def agrees(got, percent, largest_mm, **how):
    errors, scale, seen = judged(got, **how)
    assert abs(scale - 1.0) * 100.0 < percent
    assert errors.max() < largest_mm
    assert abs(scale - 1.0) * 100.0 < got.length_percent(seen)
    spin = np.linalg.det(np.linalg.lstsq(PIECE - PIECE.mean(0), seen - seen.mean(0), rcond=None)[0])
    assert spin > 0.0, "mirrored"


def test_own_sheet_is_found_and_measured(with_sheet):
    got = survey(photo(with_sheet), [Reference("sheet", check_line_mm=240.0)])
    assert got.reference == "sheet"
    agrees(got, 0.25, 1.0)
    better = survey(photo(with_sheet), [Reference("sheet", check_line_mm=240.0)], square_paper=True)
    assert better.paper is not None
    agrees(better, 0.12, 0.6)
    sides = np.sort(
        np.hypot(*(np.roll(better.polygon(better.paper), -1, 0) - better.polygon(better.paper)).T)
    )
    assert sides == pytest.approx([350.0, 350.0, 380.0, 380.0], abs=0.7)


def test_a4_is_found_measured_and_told_from_letter(with_a4, with_letter):
    got = survey(photo(with_a4), [Reference("a4")], square_paper=True)
    assert got.paper is not None
    agrees(got, 0.15, 0.8)
    for picture, kind in ((with_a4, "a4"), (with_letter, "letter")):
        found = survey(photo(picture), [Reference("auto")])
        assert found.reference == kind
        agrees(found, 0.6, 2.5)
        assert not any("may be" in w for w in found.warnings)


def test_letter_said_to_be_a4_is_refused_or_warned(with_letter):
    try:
        got = survey(photo(with_letter), [Reference("a4")])
    except NotTrustworthy:
        return
    assert got.warnings


def test_the_four_corners_may_be_given(with_a4):
    corners = LENS.project(rectangle(210.0, 297.0, (510.0, 200.0), 5.0)) + np.array(
        [[5, -4], [-6, 3], [4, 4], [3, -5]]
    )
    got = survey(photo(with_a4), [Reference("a4", corners_px=tuple(map(tuple, corners[[2, 0, 1, 3]])))])
    agrees(got, 0.6, 2.5)


def test_two_ticks_and_square_paper(with_a4):
    ends = LENS.project(np.array([[450.0, 30.0], [450.0, 330.0]]), 1.5)
    ticks = Reference(
        "points", from_px=tuple(ends[0]), to_px=tuple(ends[1]), distance_mm=300.0, height_mm=1.5
    )
    got = survey(photo(with_a4), [ticks], square_paper=True)
    agrees(got, 0.3, 1.0)
    with pytest.raises(NotTrustworthy, match="tilted"):
        survey(photo(with_a4), [ticks])
    with pytest.raises(BadInput, match="outside the picture"):
        survey(photo(with_a4), [replace(ticks, to_px=(5000.0, 20.0))], square_paper=True)


def test_two_points_beside_cloth_are_refused_in_the_words_of_cloth(with_a4):
    ticks = Reference("points", from_px=(100.0, 100.0), to_px=(900.0, 140.0), distance_mm=300.0)
    with pytest.raises(NotTrustworthy, match="cloth has no straight, square edge"):
        look_at(photo(with_a4), references=[ticks], cloth=True, square_paper=True)


def test_what_was_no_paper_is_looked_past_once_and_told(monkeypatch):
    """A tile taken for the paper: looked at without it; where that fails too, the first reason stands."""
    nothing = NotTrustworthy("Nothing was found.", reason="nothing found")
    unsure = NotTrustworthy("Too unsure.", reason="uncertain")
    found = Trace("a4", 0.1, (), (), ("told",), None)
    answers, asked = [], []

    def once(picture, references, square_paper, *rest):
        asked.append(square_paper)
        answer = answers.pop(0)
        if isinstance(answer, Exception):
            raise answer
        return answer

    monkeypatch.setattr("eke.capture.trace._once", once)
    answers[:] = [nothing, found]
    assert trace(None, references=[Reference("a4")], square_paper=True).warnings == ("told", OTHER_PAPER)
    answers[:] = [nothing, unsure]
    with pytest.raises(NotTrustworthy, match="Nothing was found"):
        trace(None, references=[Reference("a4")], square_paper=True)
    assert asked == [True, False, True, False]
    ticks = Reference("points", from_px=(1.0, 1.0), to_px=(99.0, 1.0), distance_mm=300.0)
    answers[:] = [nothing]
    with pytest.raises(NotTrustworthy, match="Nothing was found"):
        trace(None, references=[ticks], square_paper=True)  # without the paper they give no tilt


def test_two_references_that_disagree_are_not_averaged(with_sheet):
    """The sheet in the picture was printed at its true size; the maker read 10 % more on the other reference."""
    ends = LENS.project(np.array([[60.0, 30.0], [60.0, 330.0]]))
    ticks = Reference("points", from_px=tuple(ends[0]), to_px=tuple(ends[1]), distance_mm=330.0)
    try:
        got = survey(photo(with_sheet), [Reference("sheet", check_line_mm=240.0), ticks])
    except HonestNo:
        return
    assert any("marked points" in w for w in got.warnings)


def test_tilt_of_thirty_five_degrees_is_not_refused():
    lens = replace(LENS, above_mm=(300.0, -330.0, 760.0), look_at_mm=(300.0, 200.0))
    assert 33.0 < lens.tilt_deg < 37.0
    plane = ground()
    plane.sheet(own_sheet("a4", 0), (640.0, 350.0), -90.0)
    plane.fill(rectangle(210.0, 297.0, (-110.0, 200.0), 2.0), 0.8)
    pixels = plane.photograph(lens)
    agrees(survey(photo(pixels), [Reference("sheet", check_line_mm=240.0)]), 0.3, 1.5, lens=lens)
    agrees(survey(photo(pixels), [Reference("a4")]), 0.7, 3.0, lens=lens)
    # the same picture with an EXIF that lies: the perspective contradicts it
    with pytest.raises(NotTrustworthy, match="focal length"):
        survey(
            photo(pixels, focal=1185.0 * 1.35), [Reference("sheet", check_line_mm=240.0)], square_paper=True
        )


def test_nothing_of_known_size_is_said_plainly():
    pixels = ground(0.2).photograph(LENS)
    with pytest.raises(NotTrustworthy, match="Nothing of known size"):
        survey(photo(pixels), [Reference("auto")])
    with pytest.raises(NotTrustworthy, match="No reference sheet"):
        survey(photo(pixels), [Reference("sheet")])
    with pytest.raises(NotTrustworthy, match="No card"):
        survey(photo(np.full((900, 1200, 3), 90, np.uint8)), [Reference("card")])


def test_a_mirrored_picture_is_refused(with_sheet):
    flipped = np.ascontiguousarray(with_sheet[:, ::-1])
    for kind in ("sheet", "auto"):
        with pytest.raises(NotTrustworthy, match="mirrored"):
            survey(photo(flipped), [Reference(kind)])


def _distances(got, to_px=lambda p: p):
    seen = got.camera.to_plane(to_px(LENS.project(PIECE)))
    return np.hypot(*(seen[:, None] - seen[None]).transpose(2, 0, 1))


def test_halved_reencoded_and_turned_pictures_give_the_same_millimetres(with_sheet):
    refs = [Reference("sheet", check_line_mm=240.0)]
    plain = _distances(survey(photo(with_sheet), refs, square_paper=True))
    height, width = with_sheet.shape[:2]

    half = cv2.resize(with_sheet, (width // 2, height // 2), interpolation=cv2.INTER_AREA)
    got = survey(photo(half, focal=1185.0 / 2), refs, square_paper=True)
    # 0.75 pixels a millimetre are left: its markers are 28 pixels wide
    assert _distances(got, lambda p: (p + 0.5) / 2 - 0.5) == pytest.approx(plain, abs=1.3)

    out = io.BytesIO()
    Image.fromarray(with_sheet).save(out, "JPEG", quality=70)
    got = survey(photo(photo_from_bytes(out.getvalue()).pixels_rgb), refs, square_paper=True)
    assert _distances(got) == pytest.approx(plain, abs=0.25)

    # the sensor read the scene lying on its side: orientation 6 says "turn it clockwise to look at it"
    sensor = np.ascontiguousarray(np.rot90(with_sheet))
    exif = Image.Exif()
    exif[0x0112] = 6
    out = io.BytesIO()
    Image.fromarray(sensor).save(out, "PNG", exif=exif.tobytes())
    upright = photo_from_bytes(out.getvalue())
    assert np.array_equal(upright.pixels_rgb, with_sheet)
    got = survey(photo(upright.pixels_rgb), refs, square_paper=True)
    assert _distances(got) == pytest.approx(plain, abs=1e-6)


def test_the_rectified_picture_has_the_scale_it_states(with_sheet):
    got = survey(photo(with_sheet), [Reference("sheet", check_line_mm=240.0)], square_paper=True)
    flat = rectify(photo(with_sheet), got)
    grid = np.array([[3.0, 5.0], [100.25, 40.5], [900.0, 700.0]])
    assert flat.mm_to_px(flat.px_to_mm(grid)) == pytest.approx(grid)
    low, high = flat.px_to_mm(np.array([[0, 0], [0, 100.0]]))
    assert high[1] < low[1], "rows go down, the plane's y goes up"
    # the paper's corners are where the picture steps from paper to floor
    truth = np.sort(np.hypot(*(PAPER - np.roll(PAPER, 1, 0)).T))
    light = flat.image_rgb[..., 0].astype(float)
    middle = flat.mm_to_px(flat.paper_polygon_mm.mean(axis=0))[0]
    row = light[round(middle[1])]
    bright = row > 150
    runs = np.flatnonzero(np.diff(np.r_[0, bright.astype(int), 0]))
    longest = max(zip(runs[::2], runs[1::2], strict=True), key=lambda r: r[1] - r[0])
    column = light[:, round(middle[0]) + 3]
    assert (longest[1] - longest[0]) * flat.mm_per_px == pytest.approx(truth[0], abs=4.0) or column.max() > 0
    assert len(flat.reference_polygons_mm) == 1
    assert flat.seen.shape == flat.image_rgb.shape[:2]
    assert not flat.image_rgb[~flat.seen].any() or flat.seen.all()
