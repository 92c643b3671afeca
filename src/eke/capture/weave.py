"""Thread direction and pattern repeat of a cloth, from the spectrum of its picture.

Threads lie side by side at an even pitch, so the power spectrum of a patch has peaks on the two axes across
the threads; yarns that are thicker here and there add rays on the same axes. The two axes are square to each
other, which no other texture of a picture is. One thread direction is told, never which of them is the warp.

References
----------
B. Xu, "Identifying fabric structures with fast Fourier transform techniques", Textile Research Journal 66
(1996). For the sub-bin peak: parabola through the logarithm of three neighbours.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.lines import darkness
from eke.capture.rectify import Rectified

__all__ = ["Weave", "read_repeat", "read_weave"]

Floats = NDArray[np.float64]
Points = NDArray[np.float64]

PATCH_PX = 320
MOST_PATCHES = 24
FINEST_PX = 2.2  # pixels a thread at the least that the camera can resolve
COARSEST_MM = 3.6  # threads are not further apart than this; what is coarser is pattern
CLEAR_RATIO = 1.45  # the weaker of both axes, over the usual at other directions; diagonals are not square
AXIS_STEP_DEG = 0.1
BINS = round(180 / AXIS_STEP_DEG)
SMOOTH_DEG = 0.3
SQUARE_DEG = 3.0  # warp and weft of a flat cloth are square to within this


@dataclass(frozen=True, slots=True)
class Weave:
    """Direction of the threads.

    Parameters
    ----------
    thread_deg
        One of the two thread directions, 0 ≤ … < 180, in the plane (y up).
    sigma_deg
        Spread of the readings of single patches, of the mean.
    clear
        Strength along the weaker of both axes over the usual elsewhere.
    """

    thread_deg: float
    sigma_deg: float
    clear: float


def _patches(rectified: Rectified, inside: NDArray[np.bool_], scale: float) -> list[Floats]:
    """Square grey patches of the full picture that lie wholly on cloth, spread over it."""
    height, width = rectified.image_rgb.shape[:2]
    half = PATCH_PX // 2
    side = max(1, round(PATCH_PX / scale))
    room = cv2.erode(
        inside.astype(np.uint8),
        np.ones((side + 2, side + 2), np.uint8),
        borderType=cv2.BORDER_CONSTANT,
        borderValue=0,
    )
    rows, cols = np.nonzero(np.asarray(room))
    if len(rows) == 0:
        return []
    # even spread: walk a grid of cells and take the middle of what each offers
    cell = max(1.0, math.sqrt(len(rows) / MOST_PATCHES))
    keys = (rows // cell).astype(int) * 100003 + (cols // cell).astype(int)
    _, first = np.unique(keys, return_index=True)
    if len(first) > MOST_PATCHES:
        first = first[np.linspace(0, len(first) - 1, MOST_PATCHES).astype(int)]
    out = []
    for k in first:
        y = min(max(round((rows[k] + 0.5) * scale - 0.5), half), height - half)
        x = min(max(round((cols[k] + 0.5) * scale - 0.5), half), width - half)
        patch = rectified.image_rgb[y - half : y + half, x - half : x + half]
        if patch.shape[:2] == (PATCH_PX, PATCH_PX):
            out.append(darkness(patch).astype(np.float64))
    return out


def _power(patch: Floats) -> Floats:
    """Power spectrum, from frequency 0 upwards to the right, with the slow changes of light taken out."""
    smooth = cv2.GaussianBlur(patch, (0, 0), 12.0)
    window = np.hanning(len(patch))
    spectrum = np.fft.rfft2((patch - smooth) * window[:, None] * window[None, :])
    return np.asarray(spectrum.real**2 + spectrum.imag**2, dtype=np.float64)


def read_weave(rectified: Rectified, inside: NDArray[np.bool_], scale: float) -> Weave | None:
    """Thread direction of a cloth, or None where the picture does not show it.

    Parameters
    ----------
    rectified
        The picture.
    inside
        bool, a small copy of the picture: what is surely cloth.
    scale
        Pixels of the picture to one of ``inside``.
    """
    patches = _patches(rectified, inside, scale)
    if not patches:
        return None
    mm = rectified.mm_per_px
    # cycles per patch: from the coarsest thread to the finest that is resolved
    low, high = PATCH_PX * mm / COARSEST_MM, PATCH_PX / FINEST_PX
    if high < 1.5 * low:
        return None
    rays = _rays(low, high)
    total = np.zeros(BINS)
    single = []
    for patch in patches:
        profile = _by_angle(_power(patch), rays)
        total += profile / max(float(np.median(profile)), 1e-12)
        single.append(profile)
    found = _axes(total)
    if found is None:
        return None
    across, clear = found
    if clear < CLEAR_RATIO:
        return None
    readings = []
    for profile in single:
        own = _axes(profile, near=across)
        if own is not None:
            readings.append((own[0] - across + 45.0) % 90.0 - 45.0)
    if len(readings) >= 4:
        middle = float(np.median(readings))
        spread = 1.4826 * float(np.median(np.abs(np.array(readings) - middle)))
        sigma = spread / math.sqrt(len(readings)) + 0.03
    else:
        sigma = 0.3
    if sigma > 0.6:
        return None
    return Weave(across % 180.0, sigma, clear)


@dataclass(frozen=True, slots=True, eq=False)
class _Rays:
    """Places of a spectrum by direction.

    Parameters
    ----------
    place
        Index of each place in the flattened spectrum, within the frequencies looked at.
    ring, count
        Each place's whole frequency, and how many places share each.
    bin, weight, below
        Each place's direction and weight, and the sum of the weights in each direction.
    """

    place: NDArray[np.int64]
    ring: NDArray[np.int64]
    count: Floats
    bin: NDArray[np.int64]
    weight: Floats
    below: Floats


def _rays(low: float, high: float) -> _Rays:
    down = np.fft.fftfreq(PATCH_PX, 1.0 / PATCH_PX)
    fx, fy = np.meshgrid(np.arange(PATCH_PX // 2 + 1, dtype=np.float64), down)
    radius = np.hypot(fx, fy)
    # the other half of the spectrum is the same; of the column that is its own mirror image one half stands for both
    place = np.flatnonzero((radius >= low) & (radius <= high) & ((fx > 0) | (fy > 0)))
    radius, fx, fy = (v.ravel()[place] for v in (radius, fx, fy))
    ring = np.clip(radius.astype(int), 0, PATCH_PX)
    # rows go down: turn to y up
    angle = np.degrees(np.arctan2(-fy, fx)) % 180.0
    bins = np.round(angle / 180.0 * BINS).astype(int) % BINS
    count = np.maximum(np.bincount(ring, minlength=PATCH_PX + 1), 1).astype(np.float64)
    # the places of a spectrum are sparse near its axes: smooth both sums before dividing, or gaps pull
    below = _smoothed(np.bincount(bins, weights=radius, minlength=BINS).astype(np.float64))
    return _Rays(place, ring, count, bins, radius, np.maximum(below, 1e-9))


def _by_angle(power: Floats, rays: _Rays) -> Floats:
    """Power by direction, each ring of frequency counting for what stands out of it."""
    p = power.ravel()[rays.place]
    usual = np.bincount(rays.ring, weights=p, minlength=PATCH_PX + 1) / rays.count
    # a strong peak lifts its own ring's mean by itself; the square root keeps it telling without ruling
    relative = np.sqrt(p / np.maximum(usual[rays.ring], 1e-12))
    above = np.bincount(rays.bin, weights=relative * rays.weight, minlength=BINS).astype(np.float64)
    return np.asarray(_smoothed(above) / rays.below)


def _axes(profile: Floats, near: float | None = None) -> tuple[float, float] | None:
    """The pair of square axes with most power: one direction in degrees (0-180), weaker over the usual."""
    bins = len(profile)
    usual = float(np.median(profile))
    if usual <= 0:
        return None
    smooth = profile / usual
    folded = smooth[: bins // 2] * 0.5 + smooth[bins // 2 :] * 0.5
    # one axis alone (a stripe, boards of the floor seen through) is no weave: ask some of both
    weaker = np.minimum(smooth[: bins // 2], smooth[bins // 2 :])
    score = 0.5 * folded + 0.5 * weaker
    if near is not None:
        at = np.arange(len(score)) * AXIS_STEP_DEG
        away = np.abs((at - near + 45.0) % 90.0 - 45.0)
        score = np.where(away < 2.0 * SQUARE_DEG, score, 0.0)
    k = int(score.argmax())
    n = len(score)
    a, b, c = score[(k - 1) % n], score[k], score[(k + 1) % n]
    bend = a - 2 * b + c
    shift = 0.5 * (a - c) / bend if bend < 0 else 0.0
    direction = (k + float(np.clip(shift, -1, 1))) * AXIS_STEP_DEG
    # which of the two: the stronger axis; threads run square to the frequency that they make
    if smooth[(k + n) % bins] > smooth[k]:
        direction += 90.0
    return (direction + 90.0) % 180.0, float(weaker[k])


def _smoothed(profile: Floats) -> Floats:
    sigma = SMOOTH_DEG / AXIS_STEP_DEG
    reach = int(4 * sigma) + 1
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    kernel /= kernel.sum()
    padded = np.concatenate([profile[-reach:], profile, profile[:reach]])
    return np.convolve(padded, kernel, mode="valid")


LEAST_REPEAT_MM = 4.0
REPEAT_SEEN = 0.35  # share of the colour's variance that the repeat explains
REPEATS_NEEDED = 3.5
COMES_AGAIN = 0.55  # correlation with the next repeat and the one after


def read_repeat(
    rgb: NDArray[np.uint8], inside: NDArray[np.bool_], mm_per_px: float, along_deg: float
) -> tuple[float | None, float | None]:
    """Repeat of the pattern along a direction and across it, in mm.

    Parameters
    ----------
    rgb, inside
        A copy of the picture (1 mm a pixel or finer) and what is cloth in it.
    mm_per_px
        Its scale.
    along_deg
        Direction, y up.
    """
    rows, cols = np.nonzero(inside)
    if len(rows) < 400:
        return None, None
    colour = rgb[rows, cols].astype(np.float64)
    colour -= colour.mean(axis=0)
    # the colour axis in which the pattern shows most
    values, vectors = np.linalg.eigh(np.cov(colour[:: max(1, len(colour) // 20000)].T))
    value = colour @ vectors[:, int(np.argmax(values))]
    out: list[float | None] = []
    for turn in (0.0, 90.0):
        angle = math.radians(along_deg + turn)
        place = (cols * math.cos(angle) - rows * math.sin(angle)) * mm_per_px
        out.append(_period(place, value, mm_per_px))
    return out[0], out[1]


def _period(place: Floats, value: Floats, step: float) -> float | None:
    """Period of the mean value by place, or None."""
    low = float(place.min())
    index = ((place - low) / step).astype(int)
    count = np.bincount(index)
    mean = np.bincount(index, weights=value) / np.maximum(count, 1)
    enough = count > 0.25 * np.median(count[count > 0])
    first, last = int(np.argmax(enough)), len(enough) - int(np.argmax(enough[::-1]))
    line = mean[first:last]
    weight = np.minimum(count[first:last], np.median(count)).astype(np.float64)
    length = len(line) * step
    if length < REPEATS_NEEDED * LEAST_REPEAT_MM:
        return None
    slow = cv2.GaussianBlur(line.reshape(1, -1), (0, 0), max(3.0, 0.12 * len(line))).ravel()
    line = (line - slow) * np.sqrt(weight / weight.max())
    spread = float(line.var())
    total = float(value.var())
    if spread <= 0.02 * total or spread <= 0:
        return None
    window = np.hanning(len(line))
    size = 1 << (int(math.log2(len(line))) + 4)
    spectrum = np.abs(np.fft.rfft(line * window, size)) ** 2
    frequency = np.fft.rfftfreq(size, step)
    allowed = (frequency > REPEATS_NEEDED / length) & (frequency < 1.0 / LEAST_REPEAT_MM)
    if not allowed.any():
        return None
    # the repeat is the lowest frequency of which the others are multiples
    harmonic = spectrum.copy()
    for k in (2, 3):
        reach = (len(spectrum) - 1) // k
        harmonic[: reach + 1] += spectrum[: (reach + 1) * k : k][: reach + 1]
    harmonic = np.where(allowed & (spectrum > 0.05 * spectrum[allowed].max()), harmonic, 0.0)
    k = int(harmonic.argmax())
    f0 = float(frequency[k])
    best = _fitted_period(line, window, step, f0, length)
    if _explained(line, step, best) < REPEAT_SEEN:
        return None
    # unevenness may look like a wave for once; a pattern comes again and again
    lags = [round(k / best / step) for k in (1, 2)]
    again = [_likeness(line, lag) for lag in lags if lag < 0.75 * len(line)]
    return 1.0 / best if len(again) == 2 and min(again) > COMES_AGAIN else None


def _likeness(line: Floats, lag: int) -> float:
    """Correlation of a line with itself a lag further on; the best of three neighbouring lags."""
    out = [
        float(np.corrcoef(line[:-k], line[k:])[0, 1])
        for k in (lag - 1, lag, lag + 1)
        if 2 < k < len(line) - 2
    ]
    return max(out, default=0.0)


def _fitted_period(line: Floats, window: Floats, step: float, f0: float, length: float) -> float:
    """Fundamental frequency that explains most with three harmonics, near f0."""
    x = np.arange(len(line)) * step
    span = 0.5 / length
    best = f0
    for _ in range(3):
        tries = np.linspace(best - span, best + span, 21)
        power = [
            sum(abs(np.sum(line * window * np.exp(-2j * math.pi * m * f * x))) ** 2 for m in (1, 2, 3))
            for f in tries
        ]
        best = float(tries[int(np.argmax(power))])
        span /= 8.0
    return best


def _explained(line: Floats, step: float, f: float) -> float:
    x = np.arange(len(line)) * step
    basis = [np.ones_like(x)]
    for m in (1, 2, 3, 4, 5):
        basis += [np.cos(2 * math.pi * m * f * x), np.sin(2 * math.pi * m * f * x)]
    a = np.column_stack(basis)
    fit = a @ np.linalg.lstsq(a, line, rcond=None)[0]
    return 1.0 - float(((line - fit) ** 2).sum() / max(((line - line.mean()) ** 2).sum(), 1e-12))
