"""The edge of a cloth to a fraction of a millimetre: the best place to part cloth from floor, all along."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, median_filter

from eke.capture.cloth_regions import Regions, colour_floor
from eke.capture.cloth_texture import Roughness, colour_features
from eke.capture.corners import resample_closed
from eke.capture.lines_centre import normals
from eke.capture.rectify import Rectified

__all__ = ["Border", "refine_border"]

Points = NDArray[np.float64]
Floats = NDArray[np.float64]

STEP_MM = 1.5
REACH_MM = 7.0
SIDE_FROM_MM = 3.5  # what lies beyond this, on each side, is surely floor or cloth: learn from there
ALONG_SIGMA_MM = 2.0  # threads of a frayed edge are narrower than this and average away
LEARN_ALONG_MM = 22.0  # light and pattern are taken from so much of the edge
ODDS_CAP = 3.0
PATCH_SIGMA_MM = 1.0
BELIEF_ALONG_MM = 60.0
WRONG_ODDS = 0.4
WRONG_SHARE = 0.25  # where so much of what is known is called wrongly by its colour, colour tells little
LEAST_BELIEVED = 0.3
STAY_MM = 4.0  # the rough ring is right to about this; see _best_path
SHADOW_DEPTH = 0.3  # of log colour: how much darker the floor may be beside a cloth that lies a little off it
TEXTURE_NOISE = 0.12
TEXTURE_CAP = 1.3
MIX_MM = 1.2  # the edge is blurred by less than this to each side
LEAST_CONTRAST = 0.15  # of log colour over all channels
NORMAL_SIGMA_MM = 5.0
LEAD_MM = 300.0
STIFFNESS = 3.0  # cost of a step of one offset between neighbours along the edge, per mm


@dataclass(frozen=True, slots=True, eq=False)
class Border:
    """A refined closed edge.

    Parameters
    ----------
    points_mm
        (n, 2), about ``STEP_MM`` apart.
    clear
        (n,) how clearly cloth and floor part there: mean odds won per mm, 0 is a guess.
    """

    points_mm: Points
    clear: Floats


def refine_border(
    regions: Regions, rough: Roughness, texture: NDArray[np.float32], ring_mm: Points, rounds: int = 3
) -> Border:
    """Move a rough closed ring to the edge of the cloth.

    Parameters
    ----------
    regions
        Where cloth and floor lie, and their colours.
    rough, texture
        How rough the picture is, and the logarithm of that, spread a little.
    ring_mm
        Counter-clockwise about the cloth (clockwise about a hole).
    rounds
        How often profiles are taken anew.
    """
    rectified = rough.view.rectified
    ring = resample_closed(ring_mm, STEP_MM)
    clear = np.zeros(len(ring))
    for turn in range(rounds):
        reach = REACH_MM if turn == 0 else 0.6 * REACH_MM
        smooth = np.asarray(
            gaussian_filter1d(ring, (2.5 if turn == 0 else 1.2) / STEP_MM, axis=0, mode="wrap")
        )
        # to the left of the way, which is inside; from a smoother ring, or neighbours' profiles would cross
        normal = normals(
            np.asarray(gaussian_filter1d(ring, NORMAL_SIGMA_MM / STEP_MM, axis=0, mode="wrap")), True
        )
        grain = max(rectified.mm_per_px, 0.15)
        half = round(reach / grain)
        offsets = np.arange(-half, half + 1, dtype=np.float64) * grain
        colour = _profiles(rectified, smooth, normal, offsets)
        odds = _odds(regions, colour, offsets, reach)
        odds = np.clip(odds, -ODDS_CAP, ODDS_CAP)
        odds = _believed(odds, offsets, reach)
        odds += _texture_odds(rough, texture, smooth, normal, offsets, reach)
        odds = np.asarray(gaussian_filter1d(odds, ALONG_SIGMA_MM / STEP_MM, axis=0, mode="wrap"))
        place, clear = _best_path(odds, offsets)
        if turn == rounds - 1:
            place = place + _half_way(colour, offsets, place)
        ring = smooth + normal * place[:, None]
        ring = resample_closed(ring, STEP_MM)
        clear = np.interp(np.linspace(0, 1, len(ring)), np.linspace(0, 1, len(clear)), clear)
    return Border(ring, clear)


def _profiles(rectified: Rectified, ring: Points, normal: Points, offsets: Floats) -> Floats:
    at = ring[:, None, :] + normal[:, None, :] * offsets[None, :, None]
    px = rectified.mm_to_px(at.reshape(-1, 2)).astype(np.float32).reshape(len(ring), len(offsets), 2)
    rows = []
    for k in range(0, len(ring), 8192):
        part = px[k : k + 8192]
        rgb = cv2.remap(
            rectified.image_rgb,
            np.ascontiguousarray(part[:, :, 0]),
            np.ascontiguousarray(part[:, :, 1]),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        rows.append(colour_features(np.asarray(rgb, dtype=np.uint8)))
    return np.concatenate(rows).astype(np.float64)


def _odds(regions: Regions, colour: Floats, offsets: Floats, reach: float) -> Floats:
    """Log odds of cloth against floor at each place, from the picture as a whole and from nearby."""
    n, k, _ = colour.shape
    flat = colour.reshape(-1, 3)
    side = min(SIDE_FROM_MM, 0.55 * reach)
    inner, outer = offsets > side, offsets < -side
    # a cloth of several colours is known as a whole; floor changes slowly and is best known from beside
    within = np.maximum(_local(colour, inner), regions.inside.log_density(flat).reshape(n, k))
    without = _local(colour, outer, shadow=True)
    whole = regions.outside.log_density(flat).reshape(n, k)
    return np.asarray(within - 0.7 * without - 0.3 * whole)


def _believed(odds: Floats, offsets: Floats, reach: float) -> Floats:
    """Odds by colour, less where colour is seen to mislead.

    Further from the ring than ``SIDE_FROM_MM`` it is known what is cloth and what is floor. Where patches of the cloth
    look like floor there (squares of a check), what looks like floor nearby is no sign of it; and the other way about.
    Single places that do so are noise, which averages out.
    """
    step = float(offsets[1] - offsets[0])
    patches = gaussian_filter1d(odds, ALONG_SIGMA_MM / STEP_MM, axis=0, mode="wrap")
    patches = gaussian_filter1d(patches, PATCH_SIGMA_MM / step, axis=1, mode="nearest")
    side = min(SIDE_FROM_MM, 0.55 * reach)
    sigma = BELIEF_ALONG_MM / STEP_MM
    weight = []
    for wrong in (patches[:, offsets > side] < -WRONG_ODDS, patches[:, offsets < -side] > WRONG_ODDS):
        share = gaussian_filter1d(wrong.mean(axis=1), sigma, mode="wrap")
        weight.append(np.clip(1.0 - share / WRONG_SHARE, LEAST_BELIEVED, 1.0)[:, None])
    return np.asarray(odds * np.where(odds < 0.0, weight[0], weight[1]))


def _texture_odds(
    rough: Roughness,
    texture: NDArray[np.float32],
    ring: Points,
    normal: Points,
    offsets: Floats,
    reach: float,
) -> Floats:
    """Log odds by roughness, learned from both sides nearby; small beside those by colour."""
    at = ring[:, None, :] + normal[:, None, :] * offsets[None, :, None]
    px = rough.to_fine_px(at.reshape(-1, 2)).astype(np.float32).reshape(len(ring), len(offsets), 2)
    rows = [
        cv2.remap(
            texture,
            np.ascontiguousarray(px[k : k + 8192, :, 0]),
            np.ascontiguousarray(px[k : k + 8192, :, 1]),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        for k in range(0, len(ring), 8192)
    ]
    value = np.concatenate(rows).astype(np.float64)
    side = min(SIDE_FROM_MM, 0.55 * reach)
    sigma = LEARN_ALONG_MM / STEP_MM
    logs = []
    for where in (offsets > side, offsets < -side):
        mean = np.asarray(gaussian_filter1d(value[:, where].mean(axis=1), sigma, mode="wrap"))
        square = np.asarray(gaussian_filter1d((value[:, where] ** 2).mean(axis=1), sigma, mode="wrap"))
        variance = np.maximum(square - mean**2, 0.0) + TEXTURE_NOISE**2
        logs.append(-0.5 * np.log(variance)[:, None] - 0.5 * (value - mean[:, None]) ** 2 / variance[:, None])
    return np.asarray(np.clip(logs[0] - logs[1], -TEXTURE_CAP, TEXTURE_CAP), dtype=np.float64)


def _local(colour: Floats, where: NDArray[np.bool_], shadow: bool = False) -> Floats:
    """Log density under the normal distribution of the places chosen, over a stretch of the edge.

    With ``shadow``, places may be darker than that in all channels alike: the cloth's own shadow on the
    floor.
    """
    part = colour[:, where]
    sigma = LEARN_ALONG_MM / STEP_MM
    mean = part.mean(axis=1)
    second = np.einsum("nki,nkj->nij", part, part) / part.shape[1]
    mean = np.asarray(gaussian_filter1d(mean, sigma, axis=0, mode="wrap"))
    second = np.asarray(gaussian_filter1d(second, sigma, axis=0, mode="wrap"))
    cov = second - mean[:, :, None] * mean[:, None, :] + colour_floor()
    inverse = np.linalg.inv(cov)
    norm = -0.5 * (np.linalg.slogdet(cov)[1] + 3.0 * np.log(2.0 * np.pi))
    d = colour - mean[:, None, :]
    if shadow:
        lift = np.clip(-d.mean(axis=2), 0.0, SHADOW_DEPTH)
        d = d + lift[:, :, None]
        norm = norm[:, None] - 0.5 * (lift / (0.6 * SHADOW_DEPTH)) ** 2
    else:
        norm = norm[:, None]
    return np.asarray(norm - 0.5 * np.einsum("nki,nij,nkj->nk", d, inverse, d))


def _best_path(odds: Floats, offsets: Floats) -> tuple[Floats, Floats]:
    """Where to part cloth (larger offsets) from floor on each profile, smoothly along the ring."""
    n = len(odds)
    step = float(offsets[1] - offsets[0])
    # gain of a cut before place j: odds of all that is called cloth, minus odds of all called floor
    total = np.concatenate([np.zeros((n, 1)), np.cumsum(odds, axis=1)], axis=1)
    gain = (total[:, -1:] - 2 * total) * step
    cuts = np.concatenate([[offsets[0] - step / 2], offsets + step / 2])
    gain -= (cuts / STAY_MM) ** 2
    window = min(len(cuts) - 1, max(1, round(1.2 / step)))
    cost = STIFFNESS * (np.arange(-window, window + 1) * step) ** 2
    # a stretch more at both ends, so that start and end have forgotten where they began
    lead = min(n, round(LEAD_MM / STEP_MM))
    order = np.arange(-lead, n + lead) % n
    came = np.zeros((len(order), len(cuts)), dtype=np.int64)
    padded = np.full(len(cuts) + 2 * window, -np.inf)
    best = padded[window : window + len(cuts)]
    best[:] = gain[order[0]]
    before = np.lib.stride_tricks.sliding_window_view(padded, 2 * window + 1)
    stacked = np.empty(before.shape)
    first = np.arange(len(cuts)) * before.shape[1]
    for row, i in enumerate(order[1:], start=1):
        np.subtract(before, cost, out=stacked)
        choice = np.argmax(stacked, axis=1, out=came[row])
        np.add(stacked.ravel().take(first + choice), gain[i], out=best)
    came += np.arange(len(cuts)) - window
    path = np.empty(len(order), dtype=np.int64)
    path[-1] = int(best.argmax())
    for row in range(len(order) - 1, 0, -1):
        path[row - 1] = came[row, path[row]]
    cut = path[lead : lead + n]
    return _between(gain, cut, cuts, step), _clearness(odds, cut, step)


def _between(gain: Floats, cut: NDArray[np.int64], cuts: Floats, step: float) -> Floats:
    """The top of the parabola through the best cut and its neighbours."""
    rows = np.arange(len(cut))
    mid = np.clip(cut, 1, len(cuts) - 2)
    a, b, c = gain[rows, mid - 1], gain[rows, mid], gain[rows, mid + 1]
    bend = a - 2 * b + c
    shift = np.where(bend < -1e-9, 0.5 * (a - c) / np.minimum(bend, -1e-9), 0.0)
    return np.asarray(cuts[mid] + np.clip(shift, -0.5, 0.5) * step)


def _half_way(colour: Floats, offsets: Floats, place: Floats) -> Floats:
    """How far the place is from where the colour is half way between cloth and floor; 0 where unclear.

    The pixels on the edge are a mixture of both; being like neither they go to the side of more colours.
    """
    smooth = np.asarray(gaussian_filter1d(colour, ALONG_SIGMA_MM / STEP_MM, axis=0, mode="wrap"))
    relative = offsets[None, :] - place[:, None]
    inside = (relative > MIX_MM) & (relative < MIX_MM + 2.0)
    outside = (relative < -MIX_MM) & (relative > -MIX_MM - 1.2)
    count_in, count_out = np.maximum(inside.sum(axis=1), 1), np.maximum(outside.sum(axis=1), 1)
    within = (smooth * inside[:, :, None]).sum(axis=1) / count_in[:, None]
    without = (smooth * outside[:, :, None]).sum(axis=1) / count_out[:, None]
    axis = within - without
    size = np.maximum((axis**2).sum(axis=1), 1e-9)
    share = np.einsum("nki,ni->nk", smooth - without[:, None, :], axis) / size[:, None]
    step = float(offsets[1] - offsets[0])
    near = np.abs(relative) <= MIX_MM + step
    # the length of floor in the window is where the edge would stand if there were no mixture
    floor = ((1.0 - np.clip(share, 0.0, 1.0)) * near).sum(axis=1) * step
    start = np.where(near, relative, np.inf).min(axis=1) - step / 2
    shift = np.where(np.sqrt(size) > LEAST_CONTRAST, start + floor, 0.0)
    return np.clip(median_filter(shift, size=9, mode="wrap"), -MIX_MM, MIX_MM)


def _clearness(odds: Floats, cut: NDArray[np.int64], step: float) -> Floats:
    """Mean difference of the odds over 2.5 mm on both sides of the cut."""
    reach = max(1, round(2.5 / step))
    n, k = odds.shape
    total = np.concatenate([np.zeros((n, 1)), np.cumsum(odds, axis=1)], axis=1)
    rows = np.arange(n)
    low, high = np.clip(cut - reach, 0, k), np.clip(cut + reach, 0, k)
    mid = np.clip(cut, 0, k)
    inner = (total[rows, high] - total[rows, mid]) / np.maximum(high - mid, 1)
    outer = (total[rows, mid] - total[rows, low]) / np.maximum(mid - low, 1)
    return np.asarray(inner - outer)
