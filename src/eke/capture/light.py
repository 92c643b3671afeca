"""Light as the sensor saw it: linear luminance, and edges measured on it to a fraction of a pixel.

An edge of paper is where the light, averaged over a pixel, is half-way between both sides. That holds for
linear light only: on the gamma-encoded values of a file the half-way point is shifted towards the dark side by
up to a third of the blur. So everything is measured on linear values.

References
----------
IEC 61966-2-1 (sRGB) for the decoding curve; ITU-R BT.709 for the weights of luminance.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["EdgeSamples", "Light", "follow_edge", "light_of", "linear_luminance", "profiles"]

Array = NDArray[np.float64]

LUMINANCE_WEIGHTS = (0.2126, 0.7152, 0.0722)
STRIP_ROWS = 512  # bounds the memory of decoding a large picture
STEP_PX = 0.5  # spacing of samples across an edge: half a pixel loses nothing of a band-limited picture
TANGENT_SAMPLES = 5  # a sample along an edge is the mean over this many pixels of its length
TRIALS = 300  # of three random steps each; a true triple is among them even in clutter
BLUR_PX = 2.0  # the blur of a phone lens has died out this far from an edge
MIN_SLOPE_SPAN_PX = 2.0  # a shorter stretch of one side shows noise rather than a slope
COLOUR_GAIN, COLOUR_LEAST = 2.5, 0.5  # how many times better a channel must show an edge, and than how little
LUMINANCE_ENOUGH = 9.0  # times the roughness of both sides: then luminance is right to a tenth of a pixel
LEAST_COLOUR_SAMPLES = 6
MOST_COLOUR_PX = 600_000
MIN_STEP = (
    0.012  # smallest step of linear light (of 1) that counts as an edge: some four grey levels in white
)


@dataclass(frozen=True, slots=True, eq=False)
class Light:
    """A picture as light: linear luminance (height, width) as float32, and the pixels that it came from."""

    luminance: NDArray[np.float32]
    pixels_rgb: NDArray[np.uint8]

    @property
    def shape(self) -> tuple[int, int]:
        """(height, width)."""
        return self.luminance.shape[0], self.luminance.shape[1]

    def near(
        self, x: NDArray[np.float32], y: NDArray[np.float32], channel: int | None
    ) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        """Light of one channel (None: luminance) around places, and where that part of the picture begins."""
        if channel is None:
            return self.luminance, np.zeros(2, np.float32)
        height, width = self.shape
        lowest, highest = np.array([x.min(), y.min()]), np.array([x.max(), y.max()])
        low = np.clip(np.floor(lowest) - 1, 0, [width - 2, height - 2]).astype(int)
        high = np.clip(np.ceil(highest) + 2, low + 2, [width, height]).astype(int)
        part = np.ascontiguousarray(self.pixels_rgb[low[1] : high[1], low[0] : high[0], channel])
        return np.asarray(cv2.LUT(part, _linear_code().astype(np.float32))), low.astype(np.float32)


def light_of(pixels_rgb: NDArray[np.uint8]) -> Light:
    """The light of sRGB pixels."""
    return Light(linear_luminance(pixels_rgb), pixels_rgb)


def _linear_code() -> Array:
    """Linear light (256,) of each value of sRGB."""
    code = np.arange(256) / 255.0
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)


def linear_luminance(pixels_rgb: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Linear luminance 0-1 as float32 (height, width) of sRGB pixels."""
    linear = _linear_code()
    table = (linear[:, None] * np.array(LUMINANCE_WEIGHTS)).astype(np.float32).reshape(1, 256, 3)
    height, width = pixels_rgb.shape[:2]
    out = np.empty((height, width), np.float32)
    ones = np.ones((1, 3), np.float32)
    for top in range(0, height, STRIP_ROWS):
        strip = np.ascontiguousarray(pixels_rgb[top : top + STRIP_ROWS])
        out[top : top + STRIP_ROWS] = cv2.transform(cv2.LUT(strip, table), ones)
    return out


def profiles(
    light: Light, points_px: Array, normals_px: Array, reach_px: float, channel: int | None = None
) -> tuple[Array, Array]:
    """Light along normals: (offsets (s,) in px, values (n, s)); NaN outside the picture. Of luminance, or of the red, green
    or blue ``channel`` (0, 1, 2).

    Each value is the mean of a few pixels along the edge, which halves the noise and the grain of a floor.
    """
    count = round(reach_px / STEP_PX)
    offsets: Array = np.arange(-count, count + 1, dtype=np.float64) * STEP_PX
    shift = np.arange(TANGENT_SAMPLES) - (TANGENT_SAMPLES - 1) / 2.0
    # (n, place along the edge, offset); a tangent is its normal turned by a right angle
    nx, ny = normals_px[:, 0, None, None], normals_px[:, 1, None, None]
    along = shift[:, None]
    x = ((points_px[:, 0, None, None] + nx * offsets) + -ny * along).astype(np.float32)
    y = ((points_px[:, 1, None, None] + ny * offsets) + nx * along).astype(np.float32)
    height, width = light.shape
    image, low = light.near(x, y, channel)
    rows = len(points_px), -1
    values = cv2.remap(
        image,
        (x - low[0]).reshape(rows),
        (y - low[1]).reshape(rows),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    ).reshape(x.shape)
    outside = (x < 0) | (x > width - 1) | (y < 0) | (y > height - 1)
    if outside.any():
        values[outside] = np.nan
    mean = sum(np.moveaxis(values, 1, 0)) / np.float32(TANGENT_SAMPLES)
    return offsets, np.asarray(mean, dtype=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class EdgeSamples:
    """Where an edge really runs, at some of the places where it was looked for.

    ``points_px`` (n, 2) and ``normals_px`` (n, 2) of the samples that were kept, ``kept`` (m,) which of the
    asked places they are, ``step`` (n,) how much the light changes from inside to outside (positive: inside is
    brighter).
    """

    points_px: Array
    normals_px: Array
    kept: NDArray[np.bool_]
    step: Array

    @property
    def support(self) -> float:
        """Share of the asked places where the edge was seen."""
        return float(self.kept.mean()) if len(self.kept) else 0.0


def _channel(
    light: Light, path_px: Array, normals_px: Array, inner_px: float, plateau_px: float
) -> int | None:
    """The colour channel in which an edge near a path is seen far better than in luminance; None where luminance does.

    Each channel has its own place behind a lens, by a few tenths of a pixel: luminance is the middle of them.
    """
    if np.prod(np.ptp(path_px, axis=0) + 2.0 * inner_px) > MOST_COLOUR_PX:
        return None
    seen = []
    for channel in (None, 0, 1, 2):
        offsets, values = profiles(light, path_px, normals_px, inner_px + plateau_px, channel)
        values = values[np.isfinite(values).all(axis=1)]  # not beyond the picture
        if len(values) < LEAST_COLOUR_SAMPLES:
            return None
        inside, outside = values[:, offsets <= -inner_px], values[:, offsets >= inner_px]
        step = np.median(inside, axis=1) - np.median(outside, axis=1)
        rough = 0.5 * (inside.std(axis=1) + outside.std(axis=1))
        # of a thing in several colours the weakest stretch counts
        seen.append(float(np.quantile(np.abs(step), 0.2) / (np.median(rough) + MIN_STEP / 4.0)))
    best = int(np.argmax(seen))
    weak = seen[0] < LUMINANCE_ENOUGH and seen[best] > COLOUR_GAIN * max(seen[0], COLOUR_LEAST)
    return best - 1 if best and weak else None


def _peaks(offsets: Array, values: Array, polarity: int) -> list[tuple[Array, Array]]:
    """For every profile the offsets and strengths of its steps, strongest six."""
    smooth = cv2.GaussianBlur(values.astype(np.float32), (0, 0), sigmaX=1.2 / STEP_PX, sigmaY=0.01)
    # falling light outward is a positive strength: the inside is brighter
    slope = np.asarray(-np.gradient(smooth, STEP_PX, axis=1), dtype=np.float64)
    rate = slope if polarity > 0 else -slope if polarity < 0 else np.abs(slope)
    out = []
    for row in rate:
        inner = row[1:-1]
        top = np.flatnonzero((inner >= row[:-2]) & (inner > row[2:]) & (inner > MIN_STEP / 4.0)) + 1
        top = top[np.argsort(-row[top])][:6]
        out.append((offsets[top], row[top]))
    return out


def _best_curve(
    along: Array, peaks: list[tuple[Array, Array]], degree: int, tolerance_px: float
) -> Array | None:
    """Polynomial offset(along) that most steps agree with (RANSAC, fixed seed); None without agreement."""
    owner = np.concatenate([np.full(len(p[0]), i) for i, p in enumerate(peaks)]) if peaks else np.zeros(0)
    if len(owner) < degree + 3:
        return None
    offset = np.concatenate([p[0] for p in peaks])
    strength = np.sqrt(np.concatenate([p[1] for p in peaks]))
    where = along[owner.astype(int)]
    rng = np.random.default_rng(7)
    span = np.ptp(along)
    design = np.vander(where, degree + 1)
    weight = strength / strength.max()
    pick = rng.choice(len(where), (TRIALS, degree + 1), p=weight / weight.sum())
    at = np.sort(where[pick], axis=1)
    apart = (np.ptp(at, axis=1) > 0.35 * span) & (np.diff(at, axis=1).min(axis=1) > 0.05 * span)
    pick = pick[apart]
    if not len(pick):
        return None
    trial = np.linalg.solve(design[pick], offset[pick][..., None])[..., 0]
    near_all = np.abs(trial @ design.T - offset) < tolerance_px
    score = near_all @ weight
    coefficients_best = trial[int(np.argmax(score))]
    for _ in range(3):
        near = np.abs(design @ coefficients_best - offset) < tolerance_px
        if near.sum() < degree + 3:
            return None
        coefficients_best = np.linalg.lstsq(design[near] * weight[near, None], offset[near] * weight[near])[0]
    return np.asarray(coefficients_best)


def _level_at_edge(outward: Array, values: Array, blur_px: float) -> Array:
    """Light (n,) of one side, carried to the edge itself.

    A shadow that fades away from the edge would otherwise pull the half-way level, so the common slope of all
    profiles is taken out where the side is wide enough to show one.
    """
    side = outward >= blur_px
    level = np.median(values[:, side], axis=1)
    at = outward[side]
    if np.ptp(at) < MIN_SLOPE_SPAN_PX:
        return np.asarray(level)
    centred = at - at.mean()
    slope = float(np.median(values[:, side] @ centred)) / float(centred @ centred)
    return np.asarray(level - slope * at.mean())


def _half_way(offsets: Array, values: Array, polarity: int, blur_px: float) -> tuple[Array, Array]:
    """Sub-pixel offset (n,) of the half-way crossing in profiles centred on an edge, NaN where there is none;
    and the step (n,) from outside to inside."""
    inside = _level_at_edge(-offsets, values, blur_px)
    outside = _level_at_edge(offsets, values, blur_px)
    step = inside - outside
    sign = np.sign(step) if polarity == 0 else np.full(len(step), float(polarity))
    level = values - (0.5 * (inside + outside))[:, None]
    down = level * sign[:, None]  # from positive inside to negative outside
    crossing = (down[:, :-1] > 0.0) & (down[:, 1:] <= 0.0)
    drop = np.where(crossing, down[:, :-1] - down[:, 1:], np.nan)
    with np.errstate(invalid="ignore", divide="ignore"):
        at = offsets[None, :-1] + STEP_PX * down[:, :-1] / drop
    distance = np.where(crossing, np.abs(at), np.inf)
    best = np.argmin(distance, axis=1)
    rows = np.arange(len(values))
    found = np.isfinite(distance[rows, best]) & (sign * step > MIN_STEP)
    return np.where(found, at[rows, best], np.nan), step


def follow_edge(
    light: Light,
    path_px: Array,
    normals_px: Array,
    *,
    reach_px: float,
    polarity: int = 0,
    plateau_px: float = 5.0,
    degree: int = 2,
    in_colour: bool = False,
) -> EdgeSamples:
    """The edge near a path, measured to a fraction of a pixel.

    Parameters
    ----------
    light
        Linear luminance.
    path_px, normals_px
        (m, 2) places along the expected edge and unit vectors pointing out of the thing it bounds.
    reach_px
        How far on both sides it may lie.
    polarity
        1 when the inside is brighter, -1 when it is darker, 0 when either may be.
    plateau_px
        How far the light on both sides is taken into account for the half-way level.
    degree
        Of the smooth curve by which the edge may differ from the path: 2 for a straight edge through a lens
        not yet known, 1 afterwards.
    in_colour
        Use a colour channel where it shows the edge far better than luminance does.
    """
    count = len(path_px)
    nothing = EdgeSamples(np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(count, bool), np.zeros(0))
    if count < degree + 3:
        return nothing
    along = np.r_[0.0, np.cumsum(np.hypot(*np.diff(path_px, axis=0).T))]
    along = along / max(along[-1], 1e-9) - 0.5
    centre: Array = np.zeros(count)
    blur = min(BLUR_PX, 0.5 * plateau_px)  # narrow bars leave no room for a full plateau
    channel = None
    if reach_px > plateau_px:
        channel = _channel(light, path_px, normals_px, reach_px, plateau_px) if in_colour else None
        offsets, values = profiles(light, path_px, normals_px, reach_px, channel)
        usable = np.atleast_1d(np.isfinite(values).all(axis=1))
        found = _peaks(offsets, np.nan_to_num(values), polarity)
        found = [p if u else (p[0][:0], p[1][:0]) for p, u in zip(found, usable, strict=True)]
        curve = _best_curve(along, found, degree, tolerance_px=1.5)
        if curve is None:
            return nothing
        centre = np.asarray(np.polyval(curve, along), dtype=np.float64)
        if np.max(np.abs(centre)) > 1.5 * reach_px:
            return nothing
    keep = np.ones(count, bool)
    step = np.zeros(count)
    if in_colour:
        there = path_px + normals_px * centre[:, None]
        channel = _channel(light, there, normals_px, blur, plateau_px - blur)
    for _ in range(2):
        there = path_px + normals_px * centre[:, None]
        offsets, values = profiles(light, there, normals_px, plateau_px, channel)
        delta, step = _half_way(offsets, values, polarity, blur)
        good = np.isfinite(delta) & (np.abs(delta) < 2.5)
        if good.sum() < degree + 3:
            return nothing
        measured = centre + np.where(good, delta, 0.0)
        # samples apart from a smooth curve through the others sit on a stain, a leg of a table, a shadow
        model = np.polyfit(along[good], measured[good], degree)
        rest = np.abs(np.polyval(model, along) - measured)
        spread = 1.4826 * float(np.median(rest[good])) + 0.05
        keep = good & (rest < 4.0 * spread)
        if keep.sum() < degree + 3:
            return nothing
        model = np.polyfit(along[keep], measured[keep], degree)
        centre = np.where(keep, measured, np.polyval(model, along))
    return EdgeSamples(
        points_px=(path_px + normals_px * centre[:, None])[keep],
        normals_px=normals_px[keep],
        kept=keep,
        step=step[keep],
    )
