"""Cloths on floors: outline, holes, stains, colour; cloths drawn here in mm."""

import cv2
import numpy as np
import pytest
from shapely.geometry import Polygon
from tests.capture.outline_drawings import both_ways, cubic, line

from eke.capture.cloth_edge import find_cloths
from eke.capture.rectify import Rectified
from eke.errors import NotTrustworthy, Stopped

MM = 0.33


def ragged():
    """An offcut with straight cuts and a scooped side, in mm, counter-clockwise."""
    parts = [
        line((60, 60), (330, 70)),
        line((330, 70), (322, 250)),
        cubic((322, 250), (250, 190), (190, 230), (170, 300)),
        line((170, 300), (66, 292)),
        line((66, 292), (60, 60)),
    ]
    return np.concatenate(parts)


def scene(
    cloth_rgb,
    floor_rgb,
    *,
    seed=1,
    check=None,
    fringe=True,
    shadow=True,
    size=(400, 360),
    noise=3.0,
    weave=0.06,
):
    """A picture of the offcut on a mottled floor: Rectified, with hole and stain as asked."""
    rng = np.random.default_rng(seed)
    w, h = int(size[0] / MM), int(size[1] / MM)

    def px(p):
        p = np.asarray(p, float)
        return np.round(np.column_stack([p[:, 0] / MM - 0.5, (size[1] - p[:, 1]) / MM - 0.5]) * 16).astype(
            np.int32
        )

    def mottled(sigma, amount):
        field = cv2.GaussianBlur(rng.normal(size=(h, w)), (0, 0), sigma)
        return amount * field / field.std()

    floor = np.array(floor_rgb, float) * np.exp(mottled(25, 0.05) + mottled(2.0, 0.02))[:, :, None]
    y, x = np.mgrid[0:h, 0:w] * MM
    thread = weave * (np.sin(2 * np.pi * x / 1.1) * np.sin(2 * np.pi * y / 1.2))
    cloth = np.array(cloth_rgb, float) * np.exp(thread + mottled(40, 0.04))[:, :, None]
    if check is not None:
        cell = ((x % check) < check / 2).astype(float) + ((y % check) < check / 2).astype(float)
        cloth = cloth * (1 - 0.5 * cell / 2)[:, :, None] * np.array([1.0, 0.8, 0.8])
    mask = np.zeros((h, w), np.uint8)
    outline = ragged()
    cv2.fillPoly(mask, [px(outline)], 255, cv2.LINE_AA, 4)
    t = np.linspace(0, 2 * np.pi, 80, endpoint=False)
    hole = np.column_stack([140 + 11 * np.cos(t), 150 + 8 * np.sin(t)])
    cv2.fillPoly(mask, [px(hole)], 0, cv2.LINE_AA, 4)
    stain = np.column_stack([250 + 22 * np.cos(t), 130 + 15 * np.sin(t)])
    spot = np.zeros((h, w), np.uint8)
    cv2.fillPoly(spot, [px(stain)], 255, cv2.LINE_AA, 4)
    cloth = cloth * (1 - 0.35 * spot[:, :, None] / 255.0)
    if shadow:
        dark = np.roll(mask, (int(1.5 / MM), int(1.0 / MM)), (0, 1)).astype(float) / 255
        floor = floor * (1 - 0.3 * cv2.GaussianBlur(dark, (0, 0), 1.0 / MM))[:, :, None]
    a = mask[:, :, None] / 255.0
    image = floor * (1 - a) + cloth * a
    if fringe:
        for k in rng.integers(0, len(outline), 40):
            p = outline[k] + rng.normal(0, 2.5, 2)
            cv2.polylines(
                image, [px([outline[k], p])], False, tuple(float(v) for v in cloth_rgb), 1, cv2.LINE_AA, 4
            )
    image = np.clip(image + rng.normal(0, noise, image.shape), 0, 255).astype(np.uint8)
    rect = Rectified(
        image,
        MM,
        (0.5 * MM, size[1] - 0.5 * MM),
        None,
        0.2,
        lambda p: np.full(len(p), 0.2),  # type: ignore[arg-type]
    )
    return rect, outline, hole, stain


@pytest.mark.parametrize(
    ("cloth", "floor"),
    [((60, 120, 90), (170, 130, 90)), ((45, 50, 70), (160, 150, 130)), ((215, 210, 205), (120, 110, 100))],
)
def test_outline_hole_and_stain(cloth, floor):
    rect, outline, hole, stain = scene(cloth, floor)
    (found,) = find_cloths(rect)
    p95, _ = both_ways(found.outline_mm, outline)
    assert p95 < 1.0
    assert p95 < 1.25 * 1.96 * found.sigma_mm
    (seen_hole,) = found.holes_mm
    assert Polygon(seen_hole).area == pytest.approx(Polygon(hole).area, rel=0.08)
    (flaw,) = found.flaws_mm
    both = Polygon(flaw).buffer(0)
    true = Polygon(stain)
    assert both.intersection(true).area / both.union(true).area > 0.7
    assert Polygon(found.outline_mm).exterior.is_ccw
    assert np.abs(np.array(found.mean_rgb) - cloth).max() < 25


def test_a_check_with_the_floor_s_colour_in_it():
    rect, outline, _, _ = scene((230, 220, 214), (150, 140, 128), check=24.0, seed=3)
    (found,) = find_cloths(rect, touches=[(100.0, 100.0, "+"), (200.0, 250.0, "+"), (20.0, 340.0, "-")])
    assert both_ways(found.outline_mm, outline)[0] < 1.5


def test_cloth_nearly_of_its_floor_s_colour_with_touches_or_said():
    rect, outline, _, _ = scene((150, 140, 128), (160, 150, 138), seed=5, weave=0.10)
    touches = [
        (100.0, 100.0, "+"),
        (290.0, 200.0, "+"),
        (110.0, 280.0, "+"),
        (20.0, 20.0, "-"),
        (360.0, 330.0, "-"),
    ]
    try:
        (found,) = find_cloths(rect, touches=touches)
    except NotTrustworthy:
        return
    p95, _ = both_ways(found.outline_mm, outline)
    assert p95 < 1.5 or p95 < 1.96 * found.sigma_mm or found.warnings


def test_bare_floor_is_no_cloth():
    rect, _, _, _ = scene((60, 120, 90), (170, 130, 90))
    bare = rect.image_rgb[:, : int(45 / MM)].copy()
    empty = Rectified(bare, MM, rect.origin_mm, None, 0.2, rect.uncertainty_mm)  # type: ignore[arg-type]
    with pytest.raises(NotTrustworthy, match=r"[Tt]ouch|another colour"):
        find_cloths(empty)


def test_stop():
    rect, _, _, _ = scene((60, 120, 90), (170, 130, 90))
    with pytest.raises(Stopped):
        find_cloths(rect, stop=lambda: True)
