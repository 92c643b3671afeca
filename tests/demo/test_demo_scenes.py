"""The scene renderer: its camera against OpenCV's, its pictures against its truth."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from demo.garments import piece
from demo.scenes.board import cover, stripe
from demo.scenes.camera import Lens, aim, interpolate_grid, pixel_grid
from demo.scenes.noise import wobble
from demo.scenes.random_scenes import random_scene
from demo.scenes.references import Reference, sheet_geometry
from demo.scenes.render import Sensor, exif_bytes
from demo.scenes.scene import Paper, Pose, Scene, phone_lens, photograph
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from scipy.spatial.transform import Rotation
from shapely.geometry import Polygon

from eke.capture.sheet import own_sheet

SMALL = (1008, 756)
LENS = Lens(4032, 3024, 3050.0, 2021.0, 1505.0, 0.05, -0.03, 0.0006, -0.0004, 0.008)


def some_camera(tilt_deg: float = 18.0, portrait: bool = False, lens: Lens = LENS):
    corners = np.array([[0, 0], [700, 0], [700, 500], [0, 500]], dtype=float)
    return aim(lens, corners, tilt_deg=tilt_deg, azimuth_deg=35, roll_deg=3, portrait=portrait), corners


@given(st.floats(0, 35), st.booleans())
def test_projection_agrees_with_opencv(tilt_deg: float, portrait: bool):
    camera, _ = some_camera(tilt_deg, portrait)
    rng = np.random.default_rng(4)
    points = np.c_[rng.uniform(0, 700, 60), rng.uniform(0, 500, 60), rng.uniform(0, 3, 60)]
    rvec = Rotation.from_matrix(camera.R).as_rotvec()  # cv2.Rodrigues loses digits near half a turn
    expected, _ = cv2.projectPoints(points, rvec, camera.t, camera.lens.matrix, camera.lens.distortion)
    np.testing.assert_allclose(camera.project(points), expected.reshape(-1, 2), atol=1e-6)


@pytest.mark.parametrize("portrait", [False, True])
def test_a_pixel_sees_the_point_that_falls_on_it(portrait: bool):
    camera, _ = some_camera(25, portrait)
    points = np.random.default_rng(1).uniform(0, 500, (50, 2))
    np.testing.assert_allclose(camera.seen(camera.project(points)), points, atol=1e-7)
    high = np.c_[points, np.full(50, 0.76)]
    np.testing.assert_allclose(camera.seen(camera.project(high), 0.76), points, atol=1e-7)


@given(st.floats(0, 35), st.floats(0, 360), st.booleans())
def test_what_must_show_is_in_the_picture(tilt_deg: float, azimuth_deg: float, portrait: bool):
    pts = np.array([[0, 0], [700, 20], [690, 500], [-30, 500]], dtype=float)
    camera = aim(
        LENS, pts, tilt_deg=tilt_deg, azimuth_deg=azimuth_deg, portrait=portrait, shift=(0.02, -0.02)
    )
    px = camera.project(pts)
    assert (px > 0).all()
    assert (px < [LENS.width_px, LENS.height_px]).all()
    assert camera.tilt_deg == pytest.approx(tilt_deg, abs=1e-5)
    assert camera.centre_mm[2] > 100


def test_portrait_pictures_stand_upright_with_up_above():
    """In the upright picture, what lies further up in the scene is higher (seen without tilt)."""
    for portrait in (False, True):
        camera, _ = some_camera(0.0, portrait)
        low, high, right = camera.project_upright(np.array([[350.0, 100], [350, 400], [500, 100]]))
        assert high[1] < low[1] - 100
        assert right[0] > low[0] + 100


def test_the_coarse_grid_is_as_good_as_every_pixel():
    camera, _ = some_camera(30)
    xs, ys = pixel_grid(camera.lens)
    gx, gy = np.meshgrid(xs, ys)
    grid = camera.seen(np.c_[gx.ravel(), gy.ravel()]).reshape(*gx.shape, 2)
    at_x, at_y = np.array([7.3, 1500.25, 4031.4]), np.array([3.1, 1777.7, 3023.2])
    rows = interpolate_grid(grid.reshape(len(ys), -1), ys, at_y).reshape(3, len(xs), 2)
    both = interpolate_grid(rows.transpose(1, 0, 2).reshape(len(xs), -1), xs, at_x).reshape(3, 3, 2)
    exact = camera.seen(np.array([[x, y] for x in at_x for y in at_y])).reshape(3, 3, 2)
    np.testing.assert_allclose(both, exact, atol=1e-4)


def test_coverage_has_the_true_area():
    quad = np.array([[10.3, 8.1], [90.6, 14.2], [84.9, 71.7], [5.2, 60.4]])
    assert cover((80, 100), quad).sum() == pytest.approx(Polygon(quad).area, rel=2e-4)
    assert stripe(20, 3.25, 11.5).sum() == pytest.approx(8.25)


def test_a_hand_wanders_as_far_as_it_is_told():
    w = wobble(np.random.default_rng(0), 20000, 1.0, 40.0, 0.25)
    assert w.std() == pytest.approx(0.25, rel=0.15)
    assert np.abs(np.diff(w)).max() < 0.1


def sheet_scene(seed: int = 5, **more) -> Scene:
    lens = phone_lens(np.random.default_rng(seed), *SMALL, 26)
    sheet = Reference("sheet", (250, 20), 4, sheet_geometry(own_sheet()), 1.003)
    return Scene("sheet", seed, lens, 26, Pose(16, 40, 2), "lino", (sheet,), Paper("white", (230, 240)),
                 ((piece("pocket"), (40, 40), 0),), sensor=Sensor(blur_px=0.4, noise=0.002), **more)  # fmt: skip


def test_markers_are_where_the_truth_says():
    """OpenCV's own detector finds them; the middle of a marker does not move with tone or blur."""
    scene = sheet_scene()
    ph = photograph(scene)
    grey = cv2.cvtColor(ph.picture, cv2.COLOR_RGB2GRAY)
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000))
    found, ids, _ = detector.detectMarkers(grey)
    g = scene.references[0].geometry
    size = np.array(g["sheet_mm"])
    assert len(found) == len(g["markers"])
    off = []
    for corners, number in zip(found, ids.ravel(), strict=True):
        flat = np.array(next(m for m in g["markers"] if m["id"] == number)["corners_mm"])
        flat = (flat - size / 2) * 1.003 + size / 2
        true = ph.camera.project(scene.references[0].to_scene(np.c_[flat[:, 0], size[1] - flat[:, 1]]))
        off.append(corners[0].mean(axis=0) - true.mean(axis=0))
    assert np.abs(np.mean(off, axis=0)).max() < 0.25
    assert np.abs(off).max() < 0.8


def test_ink_lies_where_the_truth_says():
    """Walking across the drawn line in the picture, the darkest place is on the line of the truth."""
    ph = photograph(sheet_scene())
    grey = cv2.cvtColor(ph.picture, cv2.COLOR_RGB2GRAY).astype(np.float32)
    line = ph.drawn[0].outline
    n = np.roll(line, -1, axis=0) - np.roll(line, 1, axis=0)
    n = np.c_[-n[:, 1], n[:, 0]] / np.hypot(*n.T)[:, None]
    d = np.linspace(-1.5, 1.5, 61)
    off = []
    for p, v in zip(line[::7], n[::7], strict=True):
        px = ph.camera.project(p + d[:, None] * v).astype(np.float32)
        dark = 255 - cv2.remap(grey, px[:, :1], px[:, 1:], cv2.INTER_CUBIC).ravel()
        dark -= np.percentile(dark, 30)
        if dark.max() > 25:
            weight = np.clip(dark, 0, None)
            off.append(float((d * weight).sum() / weight.sum()))
    assert len(off) > 20  # the line is there at most places
    assert abs(np.median(off)) < 0.06
    assert np.percentile(np.abs(off), 80) < 0.25


def test_the_same_seed_gives_the_same_picture():
    a, b, c = (photograph(sheet_scene(s)).picture for s in (5, 5, 6))
    np.testing.assert_array_equal(a, b)
    assert (a != c).mean() > 0.1


def test_exif_says_how_to_turn_the_picture_and_how_wide_it_sees():
    camera, _ = some_camera(10, True)
    exif = Image.Exif()
    exif.load(exif_bytes(camera, 26.0))
    assert exif[0x0112] == 6
    assert exif.get_ifd(0x8769)[0xA405] == 26
    exif.load(exif_bytes(camera, None))
    assert 0xA405 not in exif.get_ifd(0x8769)


def test_random_scenes_are_possible_scenes():
    """Sixty seeds: outlines simple and on the paper, references beside it, a maker's words for each."""
    kinds = set()
    for seed in range(60):
        r = random_scene(seed)
        s = r.scene
        kinds.add(r.told["shows"])
        assert len(r.told["references"]) == len(s.references) >= 1
        if s.paper is None:
            ground = Polygon(s.cloth.outline)
            assert ground.is_valid
            assert all(ground.contains(Polygon(b)) for b in (*s.cloth.burns, *s.cloth.stains))
        else:
            w, h = s.paper.size_mm
            ground = Polygon([(0, 0), (w, 0), (w, h), (0, h)])
            rings = []
            for p, at, turn in s.pieces:
                a = np.radians(turn)
                R = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
                from demo.garments import outline_points

                rings.append(Polygon(outline_points(p, 2.0) @ R.T + at))
            assert all(
                ring.is_valid and ring.exterior.is_ccw and ground.buffer(-8).contains(ring) for ring in rings
            )
            assert all(not a.intersects(b) for i, a in enumerate(rings) for b in rings[:i])
        if s.paper is not None or s.cloth_corners is None:
            for ref in s.references:
                assert Polygon(ref.corners_mm).intersection(ground).area < 1.0
    assert kinds == {"tracing", "cloth"}


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(0, 24, 4))
def test_random_scenes_render(seed: int):
    ph = photograph(random_scene(seed, picture_px=SMALL).scene)
    assert ph.picture.shape == (SMALL[1], SMALL[0], 3)
    assert 30 < ph.picture.mean() < 235
    for ref in ph.truth["references"]:
        w, h = ph.truth["image"]["upright_px"]
        px = np.array(ref["corners_upright_px"])
        assert (px > 0).all()
        assert (px < [w, h]).all()
