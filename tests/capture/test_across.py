"""A small thing's edge beside its own shadow, and between colours as picture files keep them."""

import io

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from scipy import ndimage

from eke.capture.follow import follow_edge
from eke.capture.groundless import groundless
from eke.capture.light import encoded, encoding_slope, light_of

HEIGHT, WIDTH, FINE, EDGE = 160, 400, 8, 80.3
GROUND = np.array([0.5, 0.46, 0.4])
rgb = st.tuples(*[st.floats(0.05, 0.9)] * 3).map(np.array)


def picture(card, ground=GROUND, shadow=0.0, deep_px=5.0, quality=None):
    """The card lies above y = EDGE; its shadow, darkest beside it, fades with ``deep_px``. Kept as JPEG with colour for every
    fourth pixel where a ``quality`` is named."""
    y = (np.arange(HEIGHT * FINE) + 0.5) / FINE - 0.5
    below = np.maximum(y - EDGE, 0.0)
    shade = 1.0 - shadow * np.exp(-((below / deep_px) ** 2))
    light = np.where((y < EDGE)[:, None], card, ground * shade[:, None])
    light = light.reshape(HEIGHT, FINE, 3).mean(axis=1)
    light = np.tile(ndimage.gaussian_filter1d(light, 0.8, axis=0)[:, None], (1, WIDTH, 1))
    light = light + np.random.default_rng(5).normal(0.0, 0.004, light.shape)
    pixels = np.rint(encoded(light) * 255.0).astype(np.uint8)
    if quality is None:
        return light_of(pixels)
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, "JPEG", quality=quality, subsampling="4:2:0")
    return light_of(np.array(Image.open(file)))


def off_px(light, *, begin_px=0.0, reach_px=7.0, in_colour=True):
    """(mean and scatter of how far too far out the edge is found, share of the places where it is)."""
    x = np.linspace(20.0, 380.0, 60)
    path = np.column_stack([x, np.full(60, EDGE + begin_px)])
    got = follow_edge(light, path, np.tile([0.0, 1.0], (60, 1)), reach_px=reach_px, in_colour=in_colour)
    if not got.kept.any():
        return np.nan, np.nan, 0.0
    error = got.points_px[:, 1] - EDGE
    return float(np.mean(error)), float(np.std(error)), got.support


@pytest.mark.parametrize(("quality", "near_px"), [(None, 0.1), (84, 0.6)])
@pytest.mark.parametrize("begin_px", [0.0, 4.0])
def test_a_card_as_dark_as_its_shadow_is_found_and_not_the_shadows_rim(quality, near_px, begin_px):
    blue = np.array([0.16, 0.25, 0.42])
    light = picture(blue, shadow=0.45, quality=quality)
    mean, _, support = off_px(light, begin_px=begin_px)
    assert abs(mean) < near_px
    assert support > 0.8
    rim, _, _ = off_px(light, begin_px=begin_px, in_colour=False)
    assert not abs(rim) < 1.5, "in luma the rim is the edge, else this shows nothing"


@pytest.mark.parametrize("card", [(0.45, 0.06, 0.1), (0.05, 0.2, 0.45), (0.75, 0.72, 0.1), (0.1, 0.1, 0.1)])
def test_colours_are_measured_in_the_luma_that_files_keep_for_every_pixel(card):
    mean, scatter, support = off_px(picture(np.array(card), quality=84))
    plain, _, _ = off_px(picture(np.array(card)))
    assert support > 0.9
    assert abs(mean) < 0.1
    assert abs(mean - plain) < 0.08, "a file's sampling of colours moves nothing"
    assert scatter < 0.15


def test_a_grey_card_on_a_grey_ground_has_no_colour_to_be_found_by():
    mean, _, support = off_px(picture(np.full(3, 0.1), ground=np.full(3, 0.5), shadow=0.3))
    assert support > 0.9
    assert abs(mean) < 0.16, "a shadow that fades along a bow is levelled out along a line"


@pytest.mark.parametrize("floor", [(0.35, 0.15, 0.08), (0.2, 0.3, 0.12), (0.05, 0.08, 0.2), (0.6, 0.3, 0.3)])
@pytest.mark.parametrize("quality", [None, 84])
def test_a_white_sheet_on_a_coloured_floor_is_measured_where_it_ends(floor, quality):
    """In luminance reckoned from a file's coarse colours it lay up to 0.03 px off."""
    mean, scatter, support = off_px(
        picture(np.array([0.85, 0.84, 0.82]), ground=np.array(floor), quality=quality), in_colour=False
    )
    assert support > 0.95
    assert abs(mean) < (0.015 if quality is None else 0.045)
    assert scatter < 0.03


@given(ground=rgb, card=rgb, shades=st.tuples(st.floats(0.3, 1.0), st.floats(0.3, 1.0)))
def test_the_mix_is_nothing_for_the_ground_in_any_shade(ground, card, shades):
    inside = np.tile(card, (12, 5, 1))
    outside = np.tile(ground, (12, 5, 1)) * np.linspace(*shades, 5)[None, :, None]
    mix = groundless(inside, outside)
    like = card @ ground / np.linalg.norm(card) / np.linalg.norm(ground)
    if mix is None:
        assert like > 0.98 or np.ptp(shades) == 0.0 or np.abs(card - ground).max() < 0.2
        return
    assert np.abs(outside @ mix).max() < 1e-9
    assert abs(np.linalg.norm(mix) - 1.0) < 1e-9


@given(st.floats(0.004, 0.999))
def test_the_slope_of_the_encoding(light):
    step = 1e-6
    slope = (encoded(np.array(light + step)) - encoded(np.array(light - step))) / (2.0 * step)
    assert encoding_slope(np.array(light)) == pytest.approx(slope, rel=1e-4)
