"""The joints of a floor beside a bank card: boards and tiles lie alongside one another, and that shows the tilt."""

import numpy as np
import pytest

import eke.capture.survey as survey_module
from eke.capture.evidence import CARD_MM
from eke.capture.floor_ends import ends_of_boards
from eke.capture.floor_joints import floor_joints, look_at_floor
from eke.capture.photo import Photo
from eke.capture.plane_copy import PlaneCopy
from eke.capture.references import Reference
from eke.capture.survey import survey

from .scene import Lens, Plane, rectangle, rigid_errors

LENS = Lens(distortion=(0.03, 0.0, 0.0, 0.0, 0.0), above_mm=(330.0, 20.0, 1000.0), look_at_mm=(340.0, 210.0))
CROOKED = np.array([[60.0, 40.0], [540.0, 62.0], [558.0, 378.0], [46.0, 362.0]])  # no right angle in it
PIECE = np.array([[x, y] for x in np.linspace(90, 500, 6) for y in np.linspace(90, 330, 5)], float)
LOW, HIGH = np.array([-260.0, -240.0]), np.array([960.0, 700.0])


def tiles(turn_deg, spacing_mm=120.0, wander_deg=0.0, seed=4):
    """Joints (2, 2) each, in two directions at a right angle, each wandering by so much."""
    rng = np.random.default_rng(seed)
    out = []
    for way in (turn_deg, turn_deg + 90.0):
        for at in np.arange(-900.0, 900.0, spacing_mm):
            a = np.radians(way + wander_deg * rng.uniform(-1, 1))
            along, across = np.array([np.cos(a), np.sin(a)]), np.array([-np.sin(a), np.cos(a)])
            middle = (LOW + HIGH) / 2 + at * across
            out.append(np.array([middle - 1500 * along, middle + 1500 * along]))
    return out


def boards(turn_deg, width_mm=90.0, long_mm=420.0, seed=6):
    """Long joints, and ends of boards between them, each row beginning elsewhere."""
    rng = np.random.default_rng(seed)
    a = np.radians(turn_deg)
    along, across = np.array([np.cos(a), np.sin(a)]), np.array([-np.sin(a), np.cos(a)])
    middle, out = (LOW + HIGH) / 2, []
    for at in np.arange(-900.0, 900.0, width_mm):
        first = middle + at * across
        out.append(np.array([first - 1500 * along, first + 1500 * along]))
        ends = np.arange(-1200.0 + rng.uniform(0, long_mm), 1200.0, long_mm)
        out += [np.array([first + x * along, first + x * along + width_mm * across]) for x in ends]
    return out


def photograph(joints, light=0.05):
    plane = Plane(tuple(LOW), tuple(HIGH), fine=4.0)
    for joint in joints:
        plane.line(joint, 3.0, light)
    plane.fill(CROOKED, 0.75)
    plane.line(rectangle((90, 90), (410, 240)), 0.9, 0.05)
    plane.fill(rectangle((640.0, 180.0), CARD_MM), 0.55)
    return Photo(plane.photograph(LENS), focal_px_prior=LENS.focal)


def measured(photo):
    return survey(photo, [Reference("card")], straight_paper=True)


def without_floor(photo, monkeypatch):
    with monkeypatch.context() as patch:
        patch.setattr(survey_module, "by_floor_joints", lambda photo, lens, state, *rest: state)
        return measured(photo)


def percents(got):
    """(error of the piece's size, what is stated of it), in per cent."""
    outline = got.camera.to_plane(LENS.project(PIECE))
    return 100.0 * abs(rigid_errors(outline, PIECE)[1] - 1.0), got.length_percent(outline)


@pytest.mark.parametrize(("turn_deg", "light"), [(8.0, 0.05), (33.0, 0.05), (8.0, 0.35)])
def test_tiles_show_the_tilt(turn_deg, light, monkeypatch):
    photo = photograph(tiles(turn_deg), light)
    off, stated = percents(measured(photo))
    _, stated_before = percents(without_floor(photo, monkeypatch))
    assert off < stated < 0.7 * stated_before


@pytest.mark.parametrize("turn_deg", [12.0, 78.0])
def test_boards_show_the_tilt_by_their_ends_too(turn_deg, monkeypatch):
    photo = photograph(boards(turn_deg))
    off, stated = percents(measured(photo))
    _, stated_before = percents(without_floor(photo, monkeypatch))
    with monkeypatch.context() as patch:
        patch.setattr("eke.capture.floor_joints.ends_of_boards", lambda *_: [])
        _, stated_long = percents(measured(photo))
    assert off < stated < 0.95 * stated_long
    assert stated_long < 0.95 * stated_before


@pytest.mark.parametrize("wander_deg", [1.5, 4.0])
def test_lines_that_do_not_agree_are_left_alone(wander_deg, monkeypatch):
    photo = photograph(tiles(20.0, wander_deg=wander_deg))
    got, before = measured(photo), without_floor(photo, monkeypatch)
    assert np.array_equal(got.camera.rotation_rad, before.camera.rotation_rad)
    assert got.warnings == before.warnings


def test_a_plain_floor_has_no_joints(monkeypatch):
    photo = photograph([])
    got, before = measured(photo), without_floor(photo, monkeypatch)
    assert np.array_equal(got.camera.rotation_rad, before.camera.rotation_rad)


@pytest.mark.parametrize(("width", "height"), [(100, 75), (97, 42), (1000, 801)])
def test_a_copy_knows_which_pixels_of_the_photograph_it_shows(width, height):
    """Reckoned at every few of its pixels, to the last row and column."""
    camera = measured(photograph([])).camera
    copied = PlaneCopy(np.zeros((height, width, 3), np.uint8), camera, (-200.0, 600.0), 1000.0 / width)
    y, x = np.mgrid[0:height, 0:width]
    true = copied.to_px(np.column_stack([x.ravel(), y.ravel()]).astype(float)).reshape(height, width, 2)
    assert copied.where().shape == true.shape
    assert np.abs(copied.where() - true).max() < 0.3 * (100.0 / width)


@pytest.mark.parametrize("mm_per_px", [0.02, 0.1, 0.2, 1.0])
def test_a_short_joint_is_asked_from_any_distance(mm_per_px):
    """From very near the stretch that is looked at has too few places for a direction; that is no reason to stop."""
    photo = photograph(boards(0.0))
    camera = measured(photo).camera
    copied = PlaneCopy(np.zeros((120, 120, 3), np.uint8), camera, (640.0, 160.0), mm_per_px)
    ridge = np.zeros((120, 120), np.float32)
    ridge[:, 60] = 5.0
    found = ends_of_boards(photo, copied, ridge, np.ones_like(ridge), np.pi / 2, 1.0, 1.0)
    assert all(np.isfinite(ends).all() and 0.0 < sigma < 1.0 for ends, sigma in found)
    assert mm_per_px > 0.3 or not found


def test_joints_are_where_they_were_drawn():
    photo = photograph(tiles(33.0))
    camera = measured(photo).camera
    floor = look_at_floor(photo, camera, [CROOKED, rectangle((640.0, 180.0), CARD_MM)])
    joints, turn = floor_joints(floor, 1.0)
    assert len(joints) >= 8
    assert any(j.across for j in joints)
    assert not all(j.across for j in joints)
    for joint in joints:
        d = joint.ends_mm[1] - joint.ends_mm[0]
        way = np.degrees(np.arctan2(d[1], d[0])) - np.degrees(turn) - 90.0 * joint.across
        assert abs((way + 90.0) % 180.0 - 90.0) < 1.0


def test_another_direction_is_tried_only_where_the_first_shows_few_joints():
    photo = photograph(tiles(33.0))
    floor = look_at_floor(photo, measured(photo).camera, [CROOKED, rectangle((640.0, 180.0), CARD_MM)])
    right = next(turn for turn in list(floor.turns) if floor_joints_at(floor, turn))
    wrong = right + np.radians(20.0)
    assert not floor_joints_at(floor, wrong)
    floor.turns = [wrong, right]
    joints, turn = floor_joints(floor, 1.0)
    assert turn == right
    looked = set(floor.known)
    floor.turns, floor.known = [right, wrong], {}
    again, turn = floor_joints(floor, 1.0)
    assert turn == right
    assert len(again) == len(joints)
    assert set(floor.known) < looked


def floor_joints_at(floor, turn):
    floor.turns = [turn]
    return floor_joints(floor, 1.0)[0]
