"""Where the cloth lies: colour and texture of cloth and floor learned from the picture, then each place asked.

Cloth and floor are each a mixture of a few normal distributions over colour (logarithm of red, green, blue)
and fineness of texture. What lies at the border of the picture and around the reference is floor to begin
with, touches say more; the mixtures are learned again from what they found, a few times. Neighbours pull on
each other less where the picture has an edge between them.

References
----------
C. Rother, V. Kolmogorov and A. Blake, "GrabCut", ACM Trans. Graphics 23 (2004): learning in turns.
P. Krähenbühl and V. Koltun, "Efficient inference in fully connected CRFs", NIPS 2011: mean field; here over
the eight neighbours only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.lines import View

__all__ = ["Mixture", "Regions", "cloth_regions", "colour_features"]

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

PARTS = 5  # normal distributions in each mixture
LEARN_FROM = 6000  # samples
ROUNDS = 4
BORDER_MM = 18.0  # the rim of the picture shows floor, as a rule
TOUCH_MM = 12.0  # a touch speaks for this much around it
FINE_SIGMA_MM = 0.5  # texture finer than this ...
COARSE_SIGMA_MM = 2.0  # ... and between both
ENERGY_SIGMA_MM = 3.0
SHADE_SIGMA = 0.10  # of log colour: light and shadow move all three channels alike
NOISE_SIGMA = 0.02
PULL = 1.1
PULL_ROUNDS = 12
BAY_MM = 9.0  # bays narrower than twice this may be squares of a pattern that has the floor's colour
DOUBTFUL_ODDS = 3.0
HOLE_ODDS = 2.3
TEXTURE_APART = 0.3  # of log roughness: cloth and floor that differ by less are not told apart by it
EDGE_ALLOWANCE = 4.0  # a place is no surer than this (natural logarithm of the odds)


@dataclass(frozen=True, slots=True, eq=False)
class Mixture:
    """A mixture of normal distributions.

    Parameters
    ----------
    weight, mean, inverse, log_norm
        (k,), (k, d), (k, d, d), (k,): share, middle, inverse covariance and log of the normalising factor.
    """

    weight: Floats
    mean: Floats
    inverse: Floats
    log_norm: Floats

    def log_density(self, x: NDArray[np.floating]) -> Floats:
        """Logarithm of the density at (n, d) places."""
        x = np.asarray(x, dtype=np.float64)
        out = np.full(len(x), -np.inf)
        for w, m, inv, norm in zip(self.weight, self.mean, self.inverse, self.log_norm, strict=True):
            if w <= 0:
                continue
            d = x - m
            out = np.logaddexp(out, np.log(w) + norm - 0.5 * ((d @ inv) * d).sum(axis=1))
        return out


@dataclass(frozen=True, slots=True, eq=False)
class Regions:
    """What is cloth in a small view.

    Parameters
    ----------
    view
        The view.
    cloth
        bool (height, width).
    inside, outside
        Mixtures over log colour alone (three values), for use at finer scale.
    sure
        Mean certainty over the decision near the border of the cloth, 0 to 1.
    """

    view: View
    cloth: Mask
    inside: Mixture
    outside: Mixture
    sure: float


def colour_features(rgb: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Log colour, (…, 3)."""
    table = np.log((np.arange(256, dtype=np.float32) + 5.0) / 260.0)
    return np.asarray(table[rgb], dtype=np.float32)


def learn(samples: Floats, floor: Floats, seed: int = 1) -> Mixture:
    """Fit a mixture by expectation-maximisation from a fixed start; ``floor`` is the least covariance."""
    rng = np.random.default_rng(seed)
    x = np.asarray(samples, dtype=np.float64)
    if len(x) > LEARN_FROM:
        x = x[rng.choice(len(x), LEARN_FROM, replace=False)]
    k = min(PARTS, max(1, len(x) // 40))
    criteria = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 20, 1e-3)
    cv2.setRNGSeed(seed)
    _, label, _ = cv2.kmeans(x.astype(np.float32), k, None, criteria, 2, cv2.KMEANS_PP_CENTERS)
    share = np.zeros((len(x), k))
    share[np.arange(len(x)), np.asarray(label).ravel()] = 1.0
    mixture = _from_shares(x, share, floor)
    for _ in range(6):
        logs = np.column_stack(
            [
                np.log(max(w, 1e-12)) + norm - 0.5 * np.einsum("ni,ij,nj->n", x - m, inv, x - m)
                for w, m, inv, norm in zip(
                    mixture.weight, mixture.mean, mixture.inverse, mixture.log_norm, strict=True
                )
            ]
        )
        logs -= logs.max(axis=1, keepdims=True)
        share = np.exp(logs)
        share /= share.sum(axis=1, keepdims=True)
        mixture = _from_shares(x, share, floor)
    return mixture


def _from_shares(x: Floats, share: Floats, floor: Floats) -> Mixture:
    total = np.maximum(share.sum(axis=0), 1e-9)
    mean = (share.T @ x) / total[:, None]
    k, d = mean.shape
    inverse, norm = np.empty((k, d, d)), np.empty(k)
    for j in range(k):
        off = x - mean[j]
        cov = (share[:, j, None] * off).T @ off / total[j] + floor
        inverse[j] = np.linalg.inv(cov)
        norm[j] = -0.5 * (d * np.log(2 * np.pi) + np.linalg.slogdet(cov)[1])
    return Mixture(total / len(x), mean, inverse, norm)


def colour_floor() -> Floats:
    """Least covariance of log colour: noise, and light and shade along grey."""
    return np.asarray(np.eye(3) * NOISE_SIGMA**2 + np.ones((3, 3)) * SHADE_SIGMA**2 / 3)


def _fine_energy(view: View, fine: View) -> NDArray[np.float32]:
    """Mean roughness of each place of the view, not smoothed beyond its own size."""
    grey = colour_features(fine.rgb).mean(axis=2)
    rough = np.abs(grey - cv2.GaussianBlur(grey, (0, 0), max(0.7, FINE_SIGMA_MM / fine.mm_per_px)))
    height, width = view.shape
    return np.asarray(cv2.resize(rough, (width, height), interpolation=cv2.INTER_AREA), dtype=np.float32)


def _smooth_as_floor(places: Mask, cloth: Mask, floor: Mask, energy: NDArray[np.float32]) -> Mask:
    """Of places that have the floor's colour, those whose texture is not plainly that of the cloth.

    A hole shows floor; a stain may have the floor's colour, but the weave goes on in it.
    """
    if not cloth.any() or not floor.any():
        return places
    of_cloth, of_floor = (float(np.log(np.median(energy[m]) + 1e-4)) for m in (cloth, floor))
    if abs(of_cloth - of_floor) < TEXTURE_APART:
        return places
    count, label = cv2.connectedComponents(places.astype(np.uint8), connectivity=4)
    label = np.asarray(label)
    core = _shrunk(places, 1.0)
    out = np.zeros_like(places)
    for k in range(1, count):
        part = label == k
        inside = part & core
        own = float(np.log(np.median(energy[inside if inside.any() else part]) + 1e-4))
        if abs(own - of_cloth) >= abs(own - of_floor):
            out |= part
    return out


def _texture(view: View, rgb_full: NDArray[np.uint8], mm_per_px_full: float) -> NDArray[np.float32]:
    """Log energy of fine and of coarser texture, at the size of the view: (height, width, 2)."""
    grey = colour_features(rgb_full).mean(axis=2)
    bands = []
    smooth = cv2.GaussianBlur(grey, (0, 0), max(0.7, FINE_SIGMA_MM / mm_per_px_full))
    coarse = cv2.GaussianBlur(grey, (0, 0), max(1.4, COARSE_SIGMA_MM / mm_per_px_full))
    height, width = view.shape
    for band in (grey - smooth, smooth - coarse):
        # the magnitude and not the square: one seam between floor boards must not drown the rest
        energy = cv2.resize(np.abs(band), (width, height), interpolation=cv2.INTER_AREA)
        energy = cv2.GaussianBlur(energy, (0, 0), ENERGY_SIGMA_MM / view.mm_per_px)
        bands.append(np.log(np.maximum(energy, 1e-4)))
    return np.stack(bands, axis=2).astype(np.float32)


def cloth_regions(
    view: View,
    fine: View,
    seen: Mask,
    references: Mask,
    inside_px: Sequence[tuple[float, float]],
    outside_px: Sequence[tuple[float, float]],
) -> Regions:
    """Find the cloth in a small view.

    Parameters
    ----------
    view
        About 2 mm a pixel.
    fine
        The same picture finer, for its texture.
    seen
        What the photograph shows.
    references
        What references cover: neither cloth nor floor.
    inside_px, outside_px
        Touches, (column, row) in ``view``.
    """
    height, width = view.shape
    colour = colour_features(np.asarray(cv2.medianBlur(view.rgb, 3), dtype=np.uint8))
    features = np.concatenate([colour, _texture(view, fine.rgb, fine.mm_per_px)], axis=2).astype(np.float64)
    floor5 = np.zeros((5, 5))
    floor5[:3, :3] = colour_floor()
    floor5[3:, 3:] = np.eye(2) * 0.15**2
    usable = seen & ~references
    must_in = _touch_mask(inside_px, view) & usable
    must_out = _touch_mask(outside_px, view) & usable
    rim = usable & ~_shrunk(seen, BORDER_MM / view.mm_per_px)
    rim |= usable & _grown(references, 14.0 / view.mm_per_px) & ~_grown(references, 4.0 / view.mm_per_px)
    rim &= ~must_in
    flat = features.reshape(-1, 5)
    outside = learn(flat[((rim | must_out) & usable).ravel()], floor5)
    far = outside.log_density(flat).reshape(height, width)
    if must_in.any():
        start = learn(flat[must_in.ravel()], floor5 * 2.0)
        cloth = (start.log_density(flat).reshape(height, width) > far - 1.0) & usable
        cloth |= must_in
    else:
        typical = float(np.quantile(far[rim], 0.04)) if rim.any() else -5.0
        cloth = (far < typical) & usable
        cloth = _largest(_opened(cloth, 6.0 / view.mm_per_px))
    weights = _neighbour_weights(features[:, :, :3])
    odds = np.zeros((height, width))
    for _ in range(ROUNDS):
        core = _shrunk(cloth, 4.0 / view.mm_per_px) & usable
        if core.sum() < 60:
            core = cloth & usable
        if core.sum() < 60:
            break
        away = usable & ~_grown(cloth, 4.0 / view.mm_per_px) | rim & ~cloth
        if away.sum() < 60:
            break
        within, outside = learn(flat[core.ravel()], floor5), learn(flat[away.ravel()], floor5)
        odds = (within.log_density(flat) - outside.log_density(flat)).reshape(height, width)
        odds = np.clip(odds, -EDGE_ALLOWANCE, EDGE_ALLOWANCE)
        odds[rim] -= 1.0
        odds[~usable] = -2 * EDGE_ALLOWANCE
        odds[must_in], odds[must_out] = 4 * EDGE_ALLOWANCE, -4 * EDGE_ALLOWANCE
        cloth = _settled(odds, weights) & usable
        if not must_in.any():
            cloth = _largest(_opened(cloth, 3.0 / view.mm_per_px)) & cloth
    colours = colour.reshape(-1, 3).astype(np.float64)
    inner = _shrunk(cloth, 3.0 / view.mm_per_px)
    outer = usable & ~_grown(cloth, 3.0 / view.mm_per_px)
    if inner.sum() < 40 or outer.sum() < 40:
        inner, outer = (cloth if cloth.any() else usable), usable
    inside3 = learn(colours[inner.ravel()], colour_floor())
    outside3 = learn(colours[outer.ravel()], colour_floor())
    by_colour = (inside3.log_density(colours) - outside3.log_density(colours)).reshape(height, width)
    by_colour = np.clip(by_colour, -EDGE_ALLOWANCE, EDGE_ALLOWANCE)
    cloth = _doubtful_bays_closed(cloth, by_colour, usable & ~must_out, view.mm_per_px)
    # texture is read over several mm and blind to small holes: what has the floor's colour plainly is floor
    floor_seen = _grown(_shrunk(cloth & ~must_in & (by_colour < -HOLE_ODDS), 1.0), 1.0)
    cloth = cloth & ~_smooth_as_floor(floor_seen, inner, outer, _fine_energy(view, fine))
    near = _grown(cloth, 6.0 / view.mm_per_px) & ~_shrunk(cloth, 6.0 / view.mm_per_px) & usable
    sure = float(np.mean(np.abs(odds[near]) > 1.5)) if near.any() else 0.0
    return Regions(view, cloth, inside3, outside3, sure)


def _doubtful_bays_closed(cloth: Mask, odds: Floats, usable: Mask, mm_per_px: float) -> Mask:
    """Close small bays and holes whose colour does not clearly speak for floor: checks of a pattern."""
    closed = ~_opened(~cloth, BAY_MM / mm_per_px) & usable
    count, label = cv2.connectedComponents((closed & ~cloth).astype(np.uint8), connectivity=4)
    label = np.asarray(label)
    if count < 2:
        return cloth
    size = np.maximum(np.bincount(label.ravel(), minlength=count), 1)
    mean = np.bincount(label.ravel(), weights=odds.ravel(), minlength=count) / size
    doubtful = mean > -DOUBTFUL_ODDS
    doubtful[0] = False
    return np.asarray(cloth | doubtful[label])


def _touch_mask(points: Sequence[tuple[float, float]], view: View) -> Mask:
    out = np.zeros(view.shape, dtype=np.uint8)
    for x, y in points:
        cv2.circle(out, (round(x), round(y)), max(1, round(TOUCH_MM / view.mm_per_px)), 1, -1)
    return out > 0


def _disc(radius: float) -> NDArray[np.uint8]:
    size = 2 * max(1, round(radius)) + 1
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size)), dtype=np.uint8)


def _grown(mask: Mask, radius: float) -> Mask:
    return np.asarray(cv2.dilate(mask.astype(np.uint8), _disc(radius))) > 0


def _shrunk(mask: Mask, radius: float) -> Mask:
    eroded = cv2.erode(mask.astype(np.uint8), _disc(radius), borderType=cv2.BORDER_CONSTANT, borderValue=0)
    return np.asarray(eroded) > 0


def _opened(mask: Mask, radius: float) -> Mask:
    return _grown(_shrunk(mask, radius), radius)


def _largest(mask: Mask) -> Mask:
    count, label, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=4)
    if count < 2:
        return mask
    return np.asarray(label == 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA])), dtype=np.bool_)


_SHIFTS = ((0, 1), (1, 0), (1, 1), (1, -1))


def _neighbour_weights(colour: Floats) -> list[Floats]:
    """How much neighbours pull, for each of four directions: less across an edge of the picture."""
    out = []
    for dr, dc in _SHIFTS:
        d2 = ((colour - np.roll(colour, (-dr, -dc), axis=(0, 1))) ** 2).sum(axis=2)
        out.append(PULL * np.exp(-d2 / max(2.0 * float(d2.mean()), 1e-9)) / (1.0 if dr * dc == 0 else 1.414))
    return out


def _settled(odds: Floats, weights: list[Floats]) -> Mask:
    """Mean-field pull of the eight neighbours on the odds of each place."""
    spin = np.tanh(odds / 2)
    for _ in range(PULL_ROUNDS):
        field = odds.copy()
        for (dr, dc), w in zip(_SHIFTS, weights, strict=True):
            field += w * np.roll(spin, (-dr, -dc), axis=(0, 1))
            field += np.roll(w * spin, (dr, dc), axis=(0, 1))
        spin = np.tanh(field / 2)
    return spin > 0
