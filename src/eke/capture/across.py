"""What is seen across an edge: light on both sides, and the level that it has where the edge runs.

An edge is measured in *luma*, which picture files keep for every pixel (:mod:`eke.capture.light`): luminance reckoned from
their coarse colours is blurred and shifted by some tenths of a pixel between two colours. Luma is not linear in light: the
level half-way between both sides is found from the light of each colour there. Besides, an edge can be looked for in
*colours of which the ground has none* (:mod:`eke.capture.groundless`), which tell a small thing from its own shadow.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from eke.capture.groundless import groundless
from eke.capture.light import (
    LUMA_WEIGHTS,
    MIN_STEP,
    Light,
    all_profiles,
    colour_profiles,
    decoded,
    encoded,
    encoding_slope,
)

__all__ = ["Across", "in_colour", "in_luma"]

Array = NDArray[np.float64]

BLUR_PX = 2.0  # the blur of a phone lens has died out this far from an edge
MIN_SLOPE_SPAN_PX = 2.0  # a shorter stretch of one side shows noise rather than a slope
HALF_WAY = 0.2, 0.8  # where the half of light may lie between both levels of luma
FAINTEST_SHARE = 0.3  # of the usual step: what shows less of the mix is not seen by it
LEAST_APART = 1e-3  # of luma: below, half-way is in the middle
LEAST_MIXED = 0.01  # of linear light: below, what a mixed step spreads is not reckoned with


@dataclass(frozen=True, slots=True, eq=False)
class Across:
    """Profiles ``values`` (n, s) at ``offsets`` (s,) px from a path, positive outwards.

    ``level`` (n,) is their value on the edge itself, ``seen`` (n,) by how much light they fall from inside to outside,
    and ``step`` (n,) the step of light in proportion to which bright things spread there.
    """

    offsets: Array
    values: Array
    level: Array
    seen: Array
    step: Array

    def crossing(self, step_px: float, polarity: int) -> Array:
        """Sub-pixel offset (n,) of the edge nearest to the path, NaN where there is none."""
        sign = np.sign(self.seen) if polarity == 0 else np.full(len(self.seen), float(polarity))
        down = (self.values - self.level[:, None]) * sign[:, None]  # from positive inside to negative outside
        crosses = (down[:, :-1] > 0.0) & (down[:, 1:] <= 0.0)
        drop = np.where(crosses, down[:, :-1] - down[:, 1:], np.nan)
        with np.errstate(invalid="ignore", divide="ignore"):
            at = self.offsets[None, :-1] + step_px * down[:, :-1] / drop
        distance = np.where(crosses, np.abs(at), np.inf)
        best = np.argmin(distance, axis=1)
        rows = np.arange(len(at))
        found = np.isfinite(distance[rows, best]) & (sign * self.seen > MIN_STEP)
        return np.where(found, at[rows, best], np.nan)


def in_colour(light: Light, points_px: Array, normals_px: Array, plateau_px: float) -> Across | None:
    """What is seen across an edge in light of which the ground outside has none; None where that does not show it."""
    offsets, rgb = colour_profiles(light, points_px, normals_px, plateau_px)
    blur = _blur_px(plateau_px)
    mix = groundless(rgb[:, offsets <= -blur], rgb[:, offsets >= blur])
    if mix is None:
        return None
    values = rgb @ mix
    # no slopes here: there is no shadow in it, and colours that a file keeps coarsely only seem to fade
    inside = np.median(values[:, offsets <= -blur], axis=1)
    outside = np.median(values[:, offsets >= blur], axis=1)
    got = _between(offsets, values, inside, outside)
    # a black stripe has as little of the mix as the ground
    faint = np.abs(got.seen) < FAINTEST_SHARE * float(np.nanmedian(np.abs(got.seen)))
    return replace(got, seen=np.where(faint, 0.0, got.seen))


def in_luma(light: Light, points_px: Array, normals_px: Array, plateau_px: float) -> Across:
    """Luma across an edge, decoded; its level is what half of each colour's light comes to.

    Where bright things spread, each colour's edge is shifted in proportion to its own step, and in luma it counts by its
    share of the step there.
    """
    offsets, values, rgb = all_profiles(light, points_px, normals_px, plateau_px)
    each = np.stack([values, rgb[..., 0], rgb[..., 1], rgb[..., 2]])
    on_both = (_levels(outward, each, plateau_px) for outward in (-offsets, offsets))
    (high, *inner), (low, *outer) = on_both
    inside, outside = np.stack(inner, axis=1), np.stack(outer, axis=1)
    half, steps, weights = 0.5 * (inside + outside), inside - outside, np.array(LUMA_WEIGHTS)
    # where half of the light lies between both levels of luma; the levels themselves are those that luma has here
    within, beyond, middle = (decoded(encoded(side) @ weights) for side in (inside, outside, half))
    apart = np.where(np.abs(within - beyond) < LEAST_APART, np.nan, within - beyond)
    share = np.nan_to_num(np.clip((middle - beyond) / apart, *HALF_WAY), nan=0.5)
    counts = weights * encoding_slope(half)
    whole = np.sum(counts * steps, axis=1)
    whole = np.where(np.abs(whole) < LEAST_MIXED, np.copysign(LEAST_MIXED, whole), whole)
    most = np.abs(steps).max(axis=1)
    spreading = np.clip(np.sum(counts * steps**2, axis=1) / whole, -most, most)
    return Across(offsets, values, low + share * (high - low), high - low, spreading)


def _between(offsets: Array, values: Array, inside: Array, outside: Array) -> Across:
    """Profiles whose level on the edge is half-way between what they have on both sides."""
    step = inside - outside
    return Across(offsets, values, 0.5 * (inside + outside), step, step)


def _blur_px(plateau_px: float) -> float:
    return min(BLUR_PX, 0.5 * plateau_px)  # narrow bars leave no room for a full plateau


def _levels(outward: Array, values: Array, plateau_px: float) -> Array:
    """Light (c, n) of one side of profiles (c, n, s), carried to the edge itself.

    A shadow that fades away from the edge would otherwise pull the half-way level, so the common slope of all
    profiles is taken out where the side is wide enough to show one.
    """
    side = outward >= _blur_px(plateau_px)
    beside, at = values[..., side], outward[side]
    level = np.median(beside, axis=-1)
    if np.ptp(at) < MIN_SLOPE_SPAN_PX:
        return np.asarray(level)
    centred = at - at.mean()
    slopes = np.median(beside @ centred, axis=-1) / float(centred @ centred)
    return np.asarray(level - slopes[:, None] * at.mean())
