"""The quick look: calm at good pictures, and it sees what spoils one. Widths and slants against their own truth."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from scipy import ndimage

from capture.scene import Lens, Plane
from eke.capture.glance import Glance, glance
from eke.capture.glance_edges import edge_width
from eke.capture.glance_marks import read_marks
from eke.capture.glance_reference import look_for_reference
from eke.capture.glance_tilt import least_slant
from eke.capture.photo import Photo
from eke.capture.seeds import focals
from eke.capture.sheet import OWN_DICTIONARY, own_sheet
from eke.formats.images import photo_from_bytes
from helpers.pictures import demo_photograph

SHEET = "01-front-kraft-sheet.jpg"
A4 = "02-sides-taped-a4.jpg"
CARD = "04-pocket-strap-pins-card.jpg"
CLOTH = "07-curtain-cut-a4.jpg"


def photo(name: str) -> Photo:
    return photo_from_bytes(demo_photograph(name))


def codes(seen: Glance) -> list[str]:
    return [one.code for one in seen.findings]


def with_pixels(picture: Photo, pixels: np.ndarray) -> Photo:
    return replace(picture, pixels_rgb=np.ascontiguousarray(pixels))


# ---- good pictures


@pytest.mark.parametrize(
    ("name", "kind", "cloth"),
    [(SHEET, "sheet", False), (A4, "a4", False), (CARD, "card", False), (CLOTH, "a4", True)],
)
def test_a_good_picture_is_let_be(name: str, kind: str, cloth: bool) -> None:
    picture = photo(name)
    before = picture.pixels_rgb.copy()
    seen = glance(picture, cloth=cloth)
    assert seen.good
    assert codes(seen) == []
    assert (seen.reference, seen.reference_cut) == (kind, False)
    assert seen == glance(picture, cloth=cloth)
    assert np.array_equal(before, picture.pixels_rgb)


def test_a_picture_turned_or_made_smaller_is_as_good() -> None:
    picture = photo(A4)
    turned = glance(with_pixels(picture, np.rot90(picture.pixels_rgb)))
    half = cv2.resize(picture.pixels_rgb, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    assert picture.focal_px_prior is not None
    smaller = glance(replace(picture, pixels_rgb=half, focal_px_prior=picture.focal_px_prior / 2))
    for seen in (turned, smaller):
        assert codes(seen) == []
        assert seen.reference == "a4"


def test_a_scan_has_no_camera_to_be_put_right() -> None:
    grey = np.full((1200, 900, 3), 3, np.uint8)
    assert codes(glance(Photo(grey))) == ["dark"]
    assert glance(Photo(grey, scanned=True)).good


# ---- what spoils one


@pytest.mark.parametrize("name", [SHEET, A4, CARD])
def test_a_sixth_of_the_light_is_too_dark_and_nothing_else_is_asked(name: str) -> None:
    picture = photo(name)
    linear = np.where(
        picture.pixels_rgb <= 10,
        picture.pixels_rgb / 3294.6,
        ((picture.pixels_rgb / 255 + 0.055) / 1.055) ** 2.4,
    )
    dim = linear / 6.0
    code = np.where(dim <= 0.0031308, 12.92 * dim, 1.055 * dim ** (1 / 2.4) - 0.055)
    assert codes(glance(with_pixels(picture, np.rint(code * 255).astype(np.uint8)))) == ["dark"]


def test_a_flash_that_burns_the_paper_is_too_bright() -> None:
    picture = photo(A4)
    assert "bright" in codes(
        glance(with_pixels(picture, np.clip(picture.pixels_rgb * 1.6, 0, 255).astype(np.uint8)))
    )


@pytest.mark.parametrize("name", [SHEET, A4, CARD, CLOTH])
def test_blur_is_seen_on_paper_and_on_cloth(name: str) -> None:
    picture = photo(name)
    blurred = with_pixels(picture, cv2.GaussianBlur(picture.pixels_rgb, (0, 0), 3.0))
    assert codes(glance(blurred, cloth=name == CLOTH))[:1] == ["blurred"]


@pytest.mark.parametrize("name", [SHEET, A4])
def test_a_sheet_that_the_border_cuts_off_is_seen_and_shown(name: str) -> None:
    picture = photo(name)
    outline = look_for_reference(picture, focals(picture)).references[0].outline_px
    right = round(outline[:, 0].max() - 0.3 * np.ptp(outline[:, 0]))
    seen = glance(with_pixels(picture, picture.pixels_rgb[:, :right]))
    cut = next(one for one in seen.findings if one.code == "reference-cut")
    assert "on the right" in cut.sentence
    assert max(x for x, _ in cut.place_px) > 0.97 * right


def over_a_sheet(up_mm: float, back_mm: float) -> tuple[Photo, float]:
    """(picture, tilt) of Eke's sheet on the floor, seen from so high and so far back."""
    lens = Lens(above_mm=(150.0, -back_mm, up_mm), look_at_mm=(150.0, 105.0), focal=1500.0)
    plane = Plane((-700.0, -500.0), (1000.0, 1500.0), fine=2.0)
    plane.sheet(own_sheet("a4", 0), (0.0, 210.0), 5.0)
    return Photo(plane.photograph(lens), focal_px_prior=lens.focal), lens.tilt_deg


def test_a_slanted_camera_is_seen_and_a_level_one_is_not_blamed() -> None:
    slanted, tilt = over_a_sheet(450.0, 540.0)
    assert 54.0 < tilt < 57.0
    seen = glance(slanted)
    assert "slanted" in codes(seen)
    assert seen.tilt_deg == pytest.approx(tilt, abs=5.0)
    level, tilt = over_a_sheet(700.0, 385.0)
    assert 34.0 < tilt < 36.0
    seen = glance(level)
    assert "slanted" not in codes(seen)
    assert seen.tilt_deg == pytest.approx(tilt, abs=5.0)


# ---- the parts, against what is known


@pytest.mark.parametrize("sigma", [1.2, 2.0, 3.0, 4.5])
@pytest.mark.parametrize("turn_deg", [0.0, 12.0, 45.0])
def test_the_width_of_an_edge_is_that_of_its_blur(sigma: float, turn_deg: float) -> None:
    # of a Gaussian's integral the rise from 10 % to 90 % is 2.563 standard deviations (normal quantile 1.2816)
    y, x = np.mgrid[0:1200, 0:1600]
    a = np.radians(turn_deg)
    u, v = x * np.cos(a) + y * np.sin(a), y * np.cos(a) - x * np.sin(a)
    board = 60.0 + 140.0 * ((np.floor(u / 120) + np.floor(v / 120)) % 2)
    grey = np.rint(ndimage.gaussian_filter(board, sigma)).astype(np.uint8)
    assert edge_width(grey) == pytest.approx(2.563 * sigma, rel=0.15, abs=0.4)


def test_a_shaken_hand_is_seen_in_the_edges_across_its_way() -> None:
    y, x = np.mgrid[0:1200, 0:1600]
    board = 60.0 + 140.0 * ((x // 120 + y // 120) % 2)
    shaken = np.rint(ndimage.uniform_filter1d(board, 16, axis=1)).astype(np.uint8)
    width = edge_width(shaken)
    assert width is not None
    assert width > 10.0


def test_plain_paper_tells_no_width() -> None:
    assert edge_width(np.full((900, 1200), 230, np.uint8)) is None


@pytest.mark.parametrize("tilt", [0.0, 10.0, 25.0, 35.0, 50.0, 60.0])
@pytest.mark.parametrize("azimuth", [0.0, 70.0, 200.0])
def test_the_slant_is_found_from_rectangles_alone(tilt: float, azimuth: float) -> None:
    focal, size = 3000.0, (4000, 3000)
    t, a = np.radians(tilt), np.radians(azimuth)
    away = np.array([np.cos(a), np.sin(a)])
    along = np.array([np.cos(t) * away[0], np.cos(t) * away[1], np.sin(t)])
    across = np.array([-away[1], away[0], 0.0])
    quads: list[tuple[np.ndarray, float | None]] = []
    for middle, sides, turn in (
        ((-60, 20), (297, 210), 0.3),
        ((150, -90), (180, 260), 0.35),
        ((30, 180), (86, 54), 1.2),
    ):
        c, s = np.cos(turn), np.sin(turn)
        box = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * np.array(sides) / 2
        flat = box @ np.array([[c, s], [-s, c]]) + middle
        ray = np.array([0.0, 0.0, 900.0]) + flat[:, :1] * along + flat[:, 1:] * across
        quads.append((ray[:, :2] / ray[:, 2:] * focal + (np.array(size) - 1) / 2, None))
    slant = least_slant([(quads[0][0], 297 / 210), *quads[1:]], size, [focal])
    assert slant is not None
    assert slant.tilt_deg == pytest.approx(tilt, abs=6.0)


def test_marks_are_read_as_opencv_reads_them() -> None:
    picture = photo(SHEET)
    small = cv2.resize(picture.pixels_rgb, None, fx=0.35, fy=0.35, interpolation=cv2.INTER_AREA)
    grey = cv2.cvtColor(small, cv2.COLOR_RGB2GRAY)
    marks = read_marks(grey)
    assert marks is not None
    book = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000)
    corners, numbers, _ = cv2.aruco.ArucoDetector(book).detectMarkers(grey)
    theirs = {
        int(n): np.asarray(c).reshape(4, 2).mean(axis=0)
        for c, n in zip(corners, numbers.ravel(), strict=True)
    }
    assert marks.dictionary == OWN_DICTIONARY
    assert set(marks.numbers) >= set(theirs)
    assert set(marks.numbers) == {m.number for m in own_sheet().markers}
    for number, middle in zip(marks.numbers, marks.middles_px, strict=True):
        if number in theirs:
            assert np.hypot(*(middle - theirs[number])) < 1.5


def test_a_checked_cloth_is_no_sheet_of_marks() -> None:
    y, x = np.mgrid[0:1050, 0:1400]
    checks = 70 + 60 * (x // 14 % 2) + 60 * (y // 14 % 2)
    noise = np.random.default_rng(5).normal(0, 4, checks.shape)
    assert read_marks(np.clip(checks + noise, 0, 255).astype(np.uint8)) is None
