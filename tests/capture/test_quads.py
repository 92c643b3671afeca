"""Quadrangles found on a floor: small ones with round corners, and sides that are as light as the floor."""

import cv2
import numpy as np
import pytest

from eke.capture.quads import drawn_on, find_quads, quad_from_corners, tone_apart


def floor(seed=4):
    rng = np.random.default_rng(seed)
    grain = cv2.GaussianBlur(rng.normal(0, 1, (750, 1000)).astype(np.float32), (0, 0), sigmaX=9, sigmaY=1.5)
    out = np.array([226.0, 190.0, 134.0]) * (1 + 0.12 * grain / grain.std() * 0.3)[..., None]
    return np.clip(out + rng.normal(0, 2, (750, 1000, 1)), 0, 255)


def lay(picture, middle, size, turn_deg, radius, colours):
    """A rounded rectangle whose upper and lower halves have two colours; its corners (4, 2)."""
    a = np.radians(turn_deg)
    u, v = np.array([np.cos(a), np.sin(a)]), np.array([-np.sin(a), np.cos(a)])
    y, x = np.mgrid[:750, :1000]
    p = np.stack([x - middle[0], y - middle[1]], axis=-1)
    s, t = p @ u, p @ v
    q = np.abs(np.stack([s, t])) - np.array(size)[:, None, None] / 2 + radius
    far = np.hypot(*np.maximum(q, 0)) + np.minimum(q.max(axis=0), 0) - radius
    cover = np.clip(0.5 - far, 0, 1)[..., None]
    face = np.where((t > 0)[..., None], colours[0], colours[1])
    picture[:] = picture * (1 - cover) + face * cover
    return np.array(
        [
            middle + sx * size[0] / 2 * u + sy * size[1] / 2 * v
            for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1))
        ]
    )


@pytest.mark.parametrize("turn_deg", [0.0, -12.0, 31.0])
def test_a_small_card_is_found_by_its_colour_and_with_its_corners(turn_deg):
    picture = floor()
    # the lower half is as light as the floor and differs in colour alone
    true = lay(
        picture, (620.0, 410.0), (72.0, 45.4), turn_deg, 2.7, ((176.0, 196.0, 214.0), (60.0, 76.0, 90.0))
    )
    quads = find_quads(picture.astype(np.uint8))
    off = [
        min(
            np.hypot(*(np.roll(q.corners_px, k, axis=0) - other).T).max()
            for k in range(4)
            for other in (true, true[::-1])
        )
        for q in quads
    ]
    assert off
    assert min(off) < 3.0
    assert quads[int(np.argmin(off))].support > 0.8


PAPER = np.array([[200.0, 620.0], [800.0, 600.0], [780.0, 160.0], [230.0, 150.0]])


def paper(line_px: float, light: float) -> np.ndarray:
    """White paper on the floor with a line round its middle, in a picture of 2000 x 1500."""
    picture = cv2.resize(floor(), (2000, 1500)).astype(np.float32)
    cv2.fillPoly(picture, [np.round(PAPER * 2).astype(np.int32)], (236, 234, 230))
    if line_px:
        ring = ((PAPER - PAPER.mean(axis=0)) * 0.5 + PAPER.mean(axis=0)) * 2
        cv2.polylines(
            picture, [np.round(ring).astype(np.int32)], True, (light,) * 3, round(line_px), cv2.LINE_AA
        )
    rng = np.random.default_rng(3)
    return np.clip(picture + rng.normal(0, 2.5, (1500, 2000, 1)), 0, 255).astype(np.uint8)


@pytest.mark.parametrize(
    ("line_px", "light", "drawn"), [(2.0, 60.0, True), (3.0, 150.0, True), (0.0, 0.0, False)]
)
def test_a_drawn_line_tells_the_tracing_from_blank_paper(line_px, light, drawn):
    assert drawn_on(paper(line_px, light), quad_from_corners(PAPER * 2)) is drawn


def test_a_tile_has_its_like_beyond_the_joint_and_paper_has_not():
    picture = paper(0.0, 0.0)
    assert tone_apart(picture, quad_from_corners(PAPER * 2)) == 1.0
    tile = np.array([[300.0, 1300.0], [1700.0, 1300.0], [1700.0, 200.0], [300.0, 200.0]])
    tiles = np.full((1500, 2000, 3), (200, 190, 170), np.uint8)
    cv2.polylines(tiles, [np.round(tile).astype(np.int32)], True, (120, 115, 110), 12)
    assert tone_apart(tiles, quad_from_corners(tile)) < 0.3
