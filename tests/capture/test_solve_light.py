"""Edges to a fraction of a pixel on pictures whose edge is known exactly (area coverage, then blur, then sRGB)."""

import numpy as np
import pytest
from scipy import ndimage

from eke.capture.follow import follow_edge
from eke.capture.light import light_of, linear_luma


def picture(bow_px=0.0, slant=0.05, inside=0.7, outside=0.1, noise=0.0, shadow=0.0):
    """(uint8 picture, function x -> true y of the edge); the bright side lies above the edge."""
    height, width, fine = 160, 400, 8

    def edge(x):
        return 80.0 + slant * (x - 200.0) + bow_px * (((x - 200.0) / 200.0) ** 2 - 1.0)

    y, x = np.mgrid[0 : height * fine, 0:width]
    y = (y + 0.5) / fine - 0.5
    below = y - edge(x)
    light = np.where(below < 0, inside, outside * (1.0 - shadow * np.exp(-below / 6.0)))
    light = light.reshape(height, fine, width).mean(axis=1)
    light = ndimage.gaussian_filter(light, 0.9)
    light = np.clip(light + np.random.default_rng(5).normal(0, noise, light.shape), 0, 1)
    code = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.repeat(np.rint(code * 255).astype(np.uint8)[:, :, None], 3, axis=2), edge


def looked_for(offset_px, slant=0.05):
    x = np.linspace(20, 380, 60)
    path = np.column_stack([x, 80.0 + slant * (x - 200.0) + offset_px])
    normal = np.tile(np.array([-slant, 1.0]) / np.hypot(slant, 1.0), (60, 1))  # outside is below
    return path, normal


@pytest.mark.parametrize("offset_px", [-12.0, 0.0, 9.0])
@pytest.mark.parametrize("bow_px", [0.0, 4.0])
def test_an_edge_is_found_to_a_twentieth_of_a_pixel(offset_px, bow_px):
    rgb, edge = picture(bow_px, noise=0.004)
    got = follow_edge(light_of(rgb), *looked_for(offset_px), reach_px=18.0, polarity=1)
    assert got.support > 0.9
    error = got.points_px[:, 1] - edge(got.points_px[:, 0])
    assert abs(np.mean(error)) < 0.05
    assert np.sqrt(np.mean(error**2)) < 0.12


def test_a_shadow_beside_the_edge_does_not_move_it():
    plain, edge = picture()
    shaded, _ = picture(outside=0.5, shadow=0.6)
    for rgb in (plain, shaded):
        got = follow_edge(light_of(rgb), *looked_for(0.0), reach_px=5.0)
        assert abs(np.mean(got.points_px[:, 1] - edge(got.points_px[:, 0]))) < 0.08


def test_the_wrong_polarity_is_not_found():
    rgb, _ = picture()
    assert follow_edge(light_of(rgb), *looked_for(0.0), reach_px=8.0, polarity=-1).support < 0.1


def test_an_edge_between_two_colours_of_one_lightness_is_found_in_colour():
    """A grey card on light wood: luminance is the same on both sides, blue is not."""
    edge = picture(inside=0.3, outside=0.3)[1]
    weights = np.array([0.2126, 0.7152, 0.0722])  # ITU-R BT.709
    warm = np.array([0.42, 0.29, 0.06])
    warm *= 0.3 / float(warm @ weights)
    rgb = np.stack(
        [picture(inside=0.3, outside=float(c), noise=0.006)[0][:, :, k] for k, c in enumerate(warm)], axis=2
    )
    got = follow_edge(light_of(rgb), *looked_for(4.0), reach_px=8.0, in_colour=True)
    assert got.support > 0.9
    error = got.points_px[:, 1] - edge(got.points_px[:, 0])
    assert abs(np.mean(error)) < 0.08
    assert np.sqrt(np.mean(error**2)) < 0.25
    assert follow_edge(light_of(rgb), *looked_for(4.0), reach_px=8.0).support < 0.5, "luminance shows little"


def test_no_edge_no_points():
    rgb = np.full((160, 400, 3), 120, np.uint8)
    assert follow_edge(light_of(rgb), *looked_for(0.0), reach_px=18.0).support == 0.0


def test_linear_light_is_that_of_the_standard():
    # IEC 61966-2-1: code 188 of 255 is half the light, to the precision of a code
    rgb = np.full((4, 4, 3), 188, np.uint8)
    assert linear_luma(rgb)[0, 0] == pytest.approx(0.503, abs=0.001)
    red = np.zeros((2, 2, 3), np.uint8)
    red[..., 0] = 255
    assert linear_luma(red)[0, 0] == pytest.approx(0.0731, abs=0.001)  # 0.299 of ITU-R BT.601, decoded
