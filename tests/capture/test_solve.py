"""The least squares on simulated evidence: true points through a lens with a term the solver does not have."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eke.capture import problem
from eke.capture.camera import Camera
from eke.capture.evidence import (
    BodyPose,
    DistanceEvidence,
    EdgeEvidence,
    LensPrior,
    PointEvidence,
    paper_body,
    rectangle_body,
    sheet_body,
)
from eke.capture.measure import camera_from_points
from eke.capture.sheet import own_sheet
from eke.capture.solve import solve

from .scene import Lens, rigid_errors

PIECE = np.array([[x, y] for x in np.linspace(0, 450, 7) for y in np.linspace(0, 600, 9)], float)
LENS = Lens(
    width=4032,
    height=3024,
    focal=3050.0,
    centre=(2025.0, 1505.0),
    distortion=(0.03, -0.03, 0.0002, -0.0001, 0.003),
    above_mm=(420.0, 150.0, 900.0),
    look_at_mm=(400.0, 300.0),
)


def evidence(lens, body, number, pose, rng, noise=0.1, scale=1.0, spread=0.0, steps=None, bright_px=0.0):
    """Points along every edge of a body, seen through OpenCV's full model, with noise across the edge.

    ``steps`` gives the step of light at body points (n, 2); what is brighter spreads by ``bright_px`` for a step of 1.
    """
    out = []
    for k, edge in enumerate(body.edges):
        count = 12 if body.kind == "sheet" else 70
        t = np.linspace(0.08, 0.92, count)[:, None]
        at = np.array(edge.start_mm) + t * np.subtract(edge.end_mm, edge.start_mm) + edge.normal * spread
        p = replace(pose, scale=scale)
        px = lens.project(p.place(at), body.height_mm)
        ahead = lens.project(p.place(at + 0.1 * edge.direction), body.height_mm) - px
        beyond = lens.project(p.place(at + 0.1 * edge.normal), body.height_mm) - px
        n = np.column_stack([-ahead[:, 1], ahead[:, 0]])
        n *= np.sign(np.sum(n * beyond, axis=1))[:, None]
        n /= np.hypot(*n.T)[:, None]
        shared = rng.normal(0, 0.05)
        step = np.zeros(count) if steps is None else steps(at)
        off = shared + rng.normal(0, noise, (count, 1)) + bright_px * step[:, None]
        out.append(EdgeEvidence(number, k, px + n * off, n, step, step))
    return out


def solved(lens, placed, seed=1, prior=None, scales=None):
    rng = np.random.default_rng(seed)
    bodies = [b for b, _ in placed]
    scales = scales or [1.0] * len(placed)
    edges = []
    for i, (body, pose) in enumerate(placed):
        edges += evidence(lens, body, i, pose, rng, scale=scales[i])
    first = placed[0][1]
    start = camera_from_points(
        (lens.width, lens.height),
        (prior or LensPrior(3028.0, 0.02)).focal_px or 3000.0,
        bodies[0].outline_mm,
        lens.project(first.place(bodies[0].outline_mm), bodies[0].height_mm),
        bodies[0].height_mm,
    )
    turn = first.turn_rad
    c, s = np.cos(-turn), np.sin(-turn)
    poses = []
    for _, pose in placed:
        d = np.subtract(pose.middle_mm, first.middle_mm)
        poses.append(BodyPose((c * d[0] - s * d[1], s * d[0] + c * d[1]), pose.turn_rad - turn, 1.0))
    return solve(
        (lens.width, lens.height),
        prior or LensPrior(3028.0, 0.02),
        bodies,
        edges,
        camera=start[0],
        poses=poses,
    )


SHEET = (sheet_body(own_sheet("a4", 0), 240.0), BodyPose((640.0, 250.0), np.radians(87.0), 1.0))
SECOND = (sheet_body(own_sheet("a4", 1), 240.0), BodyPose((-180.0, 330.0), np.radians(3.0), 1.0))
A4 = (rectangle_body("a4"), BodyPose((590.0, 250.0), np.radians(4.0), 1.0))
CARD = (rectangle_body("card"), BodyPose((430.0, 200.0), np.radians(4.0), 1.0))
PAPER = (paper_body(470.0, 620.0), BodyPose((225.0, 300.0), 0.0, 1.0))

# what is to be reached on flat tracings of about 600 mm: scale in per cent, and largest error in mm
CASES = {
    "two sheets": ([SHEET, SECOND], 0.10, 1.0),
    "one sheet and the paper's edges": ([SHEET, PAPER], 0.10, 1.0),
    "one sheet beside": ([SHEET], 0.25, 1.5),
    "a4 and the paper's edges": ([A4, PAPER], 0.15, 1.2),
    "card and the paper's edges": ([CARD, PAPER], 0.20, 1.5),
}


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_scale_and_shape_in_spite_of_a_term_that_the_model_lacks(name, seed):
    placed, percent, largest_mm = CASES[name]
    got = solved(LENS, placed, seed)
    seen = got.camera.to_plane(LENS.project(PIECE))
    errors, scale = rigid_errors(seen, PIECE)
    assert abs(scale - 1.0) * 100.0 < percent
    assert errors.max() < largest_mm
    # what is stated covers what happened
    certainty = got.certainty
    assert abs(scale - 1.0) * 100.0 < certainty.length_percent(seen)
    assert np.mean(errors <= certainty.local_mm(seen)) > 0.9


@pytest.mark.parametrize("placed", [[A4, PAPER], [SHEET, SECOND]], ids=["a4 and paper", "two sheets"])
def test_glass_that_is_not_centred_is_solved_for(placed, monkeypatch):
    """Left out of the camera it passes for a tilt."""
    lens = replace(
        LENS, distortion=(0.03, -0.03, 0.0009, -0.0007, 0.0), above_mm=(300.0, -330.0, 760.0), look_at_mm=(300.0, 250.0)
    )  # fmt: skip

    def largest_mm():
        got = [solved(lens, placed, seed).camera.to_plane(lens.project(PIECE)) for seed in range(6)]
        return float(np.mean([rigid_errors(seen, PIECE)[0].max() for seen in got]))

    with_it = largest_mm()
    monkeypatch.setattr(problem, "TANGENTIAL_SIGMA", 1e-9)
    assert with_it < 0.85 * largest_mm()


def test_a_card_with_a_dark_and_a_pale_end_shows_how_much_bright_things_spread():
    """Else a bright end that looks larger and a dark one that looks smaller pass for a tilt of the camera."""
    lens = replace(
        LENS, above_mm=(420.0, 150.0, 500.0), look_at_mm=(420.0, 200.0), focal=3028.0, distortion=(0.0,) * 5,
        centre=((LENS.width - 1) / 2, (LENS.height - 1) / 2),
    )  # fmt: skip
    body, pose = CARD
    piece = PIECE[(abs(PIECE[:, 0] - 420) < 200) & (abs(PIECE[:, 1] - 200) < 150)]

    def steps(at_mm):
        return np.where(at_mm[:, 1] > 0.0, 0.45, -0.2)

    wrong, right, spread = [], [], []
    for seed in range(16):
        rng = np.random.default_rng(seed)
        edges = evidence(lens, body, 0, pose, rng, noise=0.05, steps=steps, bright_px=0.4)
        start = camera_from_points(
            (lens.width, lens.height), 3028.0, body.outline_mm, lens.project(pose.place(body.outline_mm), 0.76), 0.76
        )[0]  # fmt: skip
        for known, errors in ((True, right), (False, wrong)):
            seen = (
                edges
                if known
                else [replace(e, step=np.zeros(len(e.step)), seen=np.zeros(len(e.seen))) for e in edges]
            )
            got = solve(
                (lens.width, lens.height), LensPrior(3028.0, 0.02), [body], seen, camera=start,
                poses=[BodyPose((0.0, 0.0), 0.0, 1.0)],
            )  # fmt: skip
            errors.append(rigid_errors(got.camera.to_plane(lens.project(piece)), piece)[1] - 1.0)
            if known:
                spread.append(got.bright_spread_px)
    assert 0.3 < np.mean(spread) < 0.38, "usual is 0.25; a single card tells about half of the rest"
    # every picture's noise is larger than what spreads: that is what all of them have in common
    assert np.mean(wrong) > 8e-4
    assert abs(np.mean(right)) < 0.4 * np.mean(wrong)


def test_derivatives_are_those_of_the_residuals():
    """Against central differences. An edge is measured along the normal of a path that was only nearly right: what slides
    along the edge as it is drawn counts there, and was up to two per cent of a derivative. The solution crept."""
    rng = np.random.default_rng(4)
    bodies = [CARD[0], PAPER[0]]
    edges = []
    for i, (body, pose) in enumerate((CARD, PAPER)):
        for e in evidence(LENS, body, i, pose, rng):
            c, s = np.cos(0.05), np.sin(0.05)
            edges.append(replace(e, normals_px=e.normals_px @ np.array([[c, s], [-s, c]])))
    places = np.array([[-60.0, 20.0], [80.0, -40.0], [10.0, 90.0]])
    points = [
        PointEvidence(1, places, LENS.project(PAPER[1].place(places)) + rng.normal(0, 0.3, (3, 2)), 0.3)
    ]
    ticks = LENS.project(np.array([[120.0, 40.0], [320.0, 55.0]]), 2.0)
    distances = [DistanceEvidence(tuple(ticks[0]), tuple(ticks[1]), 200.0, 2.0, 0.4)]
    asked = problem.Problem(
        (LENS.width, LENS.height), LensPrior(3028.0, 0.02), bodies, edges, points, distances
    )
    outline = CARD[1].place(CARD[0].outline_mm)
    start = camera_from_points(
        (LENS.width, LENS.height), 3028.0, CARD[0].outline_mm, LENS.project(outline, 0.76), 0.76
    )[0]
    turn = CARD[1].turn_rad
    c, s = np.cos(-turn), np.sin(-turn)
    d = np.subtract(PAPER[1].middle_mm, CARD[1].middle_mm)
    poses = [
        BodyPose((0.0, 0.0), 0.0, 1.0),
        BodyPose((c * d[0] - s * d[1], s * d[0] + c * d[1]), PAPER[1].turn_rad - turn, 1.0),
    ]
    x = asked.start(start, poses)
    free = np.flatnonzero(asked.free)
    got = asked.jacobian(x, free)
    # beside some hundred edge points, the points, the distance and the priors hardly weigh: they are looked at alone, too
    others = slice(-len(asked.other_residuals(x)), None)
    for k, column in enumerate(free):
        size = np.linalg.norm(got[:, k])
        more, less = x.copy(), x.copy()
        more[column] += 1e-4 / size
        less[column] -= 1e-4 / size
        true = (asked.residuals(more) - asked.residuals(less)) / (2e-4 / size)
        assert np.linalg.norm(got[:, k] - true) < 3e-3 * np.linalg.norm(true), f"unknown {column}"
        off, own = np.linalg.norm((got[:, k] - true)[others]), np.linalg.norm(true[others])
        assert off < 3e-3 * own + 1e-6 * size, f"unknown {column}"


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_card_alone_ends_in_one_place_wherever_it_began(seed):
    """Tilt, focal length and distance hang together along a bent valley; a descent that zigzags in it stops anywhere."""
    rng = np.random.default_rng(seed)
    edges = evidence(LENS, CARD[0], 0, CARD[1], rng)
    size, lens = (LENS.width, LENS.height), LensPrior(None, 0.0)
    seen = LENS.project(CARD[1].place(CARD[0].outline_mm), CARD[0].height_mm)
    ends = []
    for focal in (0.8, 1.0, 1.25):
        begun = camera_from_points(size, focal * LENS.focal, CARD[0].outline_mm, seen, CARD[0].height_mm)[0]
        got = solve(size, lens, [CARD[0]], edges, camera=begun, poses=[BodyPose((0.0, 0.0), 0.0, 1.0)])
        ends.append((got.misfit, got.camera.focal_px, got.camera.tilt_deg))
    misfit, focal, tilt = np.array(ends).T
    assert np.ptp(misfit) < 0.02
    assert np.ptp(focal) < 0.01 * focal.mean()
    assert np.ptp(tilt) < 0.1


@pytest.mark.parametrize("things", [[CARD], [CARD, PAPER]], ids=["card", "card and paper"])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_rough_answer_tells_where_to_look_again(things, seed):
    """It draws what was measured within the next reach, far closer than a pixel, so that the same edges are found."""
    rng = np.random.default_rng(seed)
    edges = [e for k, (body, pose) in enumerate(things) for e in evidence(LENS, body, k, pose, rng)]
    size, lens = (LENS.width, LENS.height), LensPrior(None, 0.0)
    seen = LENS.project(CARD[1].place(CARD[0].outline_mm), CARD[0].height_mm)
    begun = camera_from_points(size, 1.25 * LENS.focal, CARD[0].outline_mm, seen, CARD[0].height_mm)[0]
    poses = [BodyPose((0.0, 0.0), 0.0, 1.0), *(pose for _, pose in things[1:])]
    bodies = [body for body, _ in things]
    close, rough = (
        solve(size, lens, bodies, edges, camera=begun, poses=poses, **how)
        for how in ({}, {"passes": 1, "rough": True})
    )
    for body, at, other in zip(bodies, close.poses, rough.poses, strict=True):
        there, near = (
            got.camera.project(pose.place(body.outline_mm), body.height_mm)
            for got, pose in ((close, at), (rough, other))
        )
        assert np.hypot(*(there - near).T).max() < 1.0


def test_what_is_stated_beside_a_card_is_about_what_happens():
    """An edge is shifted as a whole by more than its points scatter. With a share of that in every point, its turn was
    trusted too little and 1.2 % was stated here."""
    lens = replace(LENS, above_mm=(420.0, 150.0, 700.0), look_at_mm=(420.0, 220.0))
    piece = PIECE[(abs(PIECE[:, 0] - 350) < 200) & (abs(PIECE[:, 1] - 250) < 200)]
    off, stated = [], []
    for seed in range(12):
        got = solved(lens, [CARD], seed)
        seen = got.camera.to_plane(lens.project(piece))
        off.append(100.0 * abs(rigid_errors(seen, piece)[1] - 1.0))
        stated.append(got.certainty.length_percent(seen))
    assert np.mean(np.array(off) < stated) >= 0.9
    assert np.mean(stated) < 1.0


def test_without_exif_the_edges_of_the_paper_find_the_lens():
    got = solved(LENS, [A4, PAPER], prior=LensPrior(None, 0.0))
    seen = got.camera.to_plane(LENS.project(PIECE))
    errors, scale = rigid_errors(seen, PIECE)
    assert abs(scale - 1.0) < 0.0015
    assert errors.max() < 1.2


def test_a_sheet_printed_too_small_is_known_by_its_check_line():
    body = sheet_body(own_sheet("a4", 0), 240.0 * 0.97)
    got = solved(LENS, [(body, SHEET[1])], scales=[0.97])
    scale = rigid_errors(got.camera.to_plane(LENS.project(PIECE)), PIECE)[1]
    assert abs(scale - 1.0) < 0.0025
    unread = solved(LENS, [(sheet_body(own_sheet("a4", 0), None), SHEET[1])], scales=[0.97])
    wrong = rigid_errors(unread.camera.to_plane(LENS.project(PIECE)), PIECE)[1]
    stated = unread.certainty.length_percent(PIECE)
    assert abs(wrong - 1.0) > 0.02
    assert stated > abs(wrong - 1.0) * 100.0 * 0.9, "a print that nobody measured is not promised"


def test_the_card_is_seen_above_the_plane():
    lens = replace(LENS, above_mm=(420.0, 150.0, 350.0), look_at_mm=(420.0, 200.0))
    piece = PIECE[(abs(PIECE[:, 0] - 420) < 120) & (abs(PIECE[:, 1] - 200) < 120)]
    body, pose = CARD
    got = solved(lens, [(body, pose)])
    true_scale = rigid_errors(got.camera.to_plane(lens.project(piece)), piece)[1]
    flat = solved(lens, [(replace(body, height_mm=0.0), pose)])
    # evidence() also uses the body's height, so measure the flat body's answer on the lifted card's picture
    wrong_scale = rigid_errors(flat.camera.to_plane(lens.project(piece, 0.76)), piece)[1]
    assert abs(true_scale - 1.0) < 0.005
    assert wrong_scale == pytest.approx(1.0, abs=0.005)
    # 0.76 mm of 350 mm is 0.22 % of scale: the two planes differ by it
    lifted = rigid_errors(got.camera.to_plane(lens.project(piece, 0.76)), piece)[1]
    assert true_scale / lifted - 1.0 == pytest.approx(0.76 / 350.0, rel=0.3)


def test_a_second_sheet_never_makes_it_less_certain():
    one = solved(LENS, [SHEET])
    two = solved(LENS, [SHEET, SECOND])
    a = one.certainty
    b = two.certainty
    seen_one = one.camera.to_plane(LENS.project(PIECE))
    seen_two = two.camera.to_plane(LENS.project(PIECE))
    assert b.length_percent(seen_two) <= a.length_percent(seen_one)
    assert np.all(b.local_mm(seen_two) <= a.local_mm(seen_one) * 1.02)


def test_the_standards_tolerance_is_part_of_what_is_stated():
    got = solved(LENS, [A4, PAPER])
    stated = got.certainty.length_percent(PIECE)
    # ISO 216 allows 2 mm on both sides of 210 and 297 mm: no picture of an A4 sheet is surer than 0.5 %
    assert stated > 0.5


@settings(max_examples=12)
@given(
    turn=st.floats(-180, 180),
    tilt=st.floats(0, 35),
    side=st.floats(0, 360),
    roll=st.floats(-180, 180),
)
def test_never_mirrored_whichever_way_the_camera_is_held(turn, tilt, side, roll):
    away = 850.0 * np.tan(np.radians(tilt))
    look = (400.0, 300.0)
    a = np.radians(side)
    lens = replace(
        LENS,
        roll_deg=roll,
        look_at_mm=look,
        above_mm=(look[0] + away * np.cos(a) + 1e-3, look[1] + away * np.sin(a) - 1e-3, 850.0),
    )
    got = solved(lens, [(A4[0], BodyPose((420.0, 280.0), np.radians(turn), 1.0))])
    seen = got.camera.to_plane(lens.project(PIECE))
    spin = np.linalg.det(np.linalg.lstsq(PIECE - PIECE.mean(0), seen - seen.mean(0), rcond=None)[0])
    assert spin > 0.0
    assert abs(np.sqrt(spin) - 1.0) < 0.02
    assert got.camera.tilt_deg == pytest.approx(tilt, abs=1.5)


def test_camera_agrees_with_opencv_and_with_itself():
    lens = replace(LENS, distortion=(0.04, -0.03, 0.0009, -0.0006, 0.0))
    rot, t = lens.pose()
    turn = cv2.Rodrigues(rot)[0].ravel()
    camera = Camera((4032, 3024), lens.focal, lens.centre, 0.04, -0.03, turn, t, 0.0009, -0.0006)
    assert camera.project(PIECE) == pytest.approx(lens.project(PIECE), abs=1e-6)
    assert camera.project(PIECE, 0.76) == pytest.approx(lens.project(PIECE, 0.76), abs=1e-6)
    assert camera.to_plane(camera.project(PIECE)) == pytest.approx(PIECE, abs=1e-6)
    assert camera.to_plane(camera.project(PIECE, 5.0), 5.0) == pytest.approx(PIECE, abs=1e-6)
    assert camera.position_mm() == pytest.approx(np.array(lens.above_mm), abs=1e-6)
    level = replace(lens, above_mm=(400.0, 0.0, 800.0), look_at_mm=(400.0, 5000.0), roll_deg=0.0)
    rot, t = level.pose()
    far = replace(camera, rotation_rad=cv2.Rodrigues(rot)[0].ravel(), translation_mm=t)
    seen = far.to_plane(np.array([[2000.0, 5.0], [2000.0, 3000.0]]))
    assert np.isnan(seen[0]).all(), "above the horizon there is no plane"
    assert np.isfinite(seen[1]).all()
