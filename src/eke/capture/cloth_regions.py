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

from eke.capture.cloth_mixture import Mixture, learn, lift
from eke.capture.cloth_texture import Roughness, colour_features
from eke.capture.lines import View

__all__ = ["Regions", "cloth_regions", "colour_floor"]

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

ROUNDS = 4
BORDER_MM = 18.0  # the rim of the picture shows floor, as a rule
TOUCH_MM = 12.0  # a touch speaks for this much around it
ENERGY_SIGMA_MM = 3.0
SHADE_SIGMA = 0.10  # of log colour: light and shadow move all three channels alike
NOISE_SIGMA = 0.02
PULL = 1.1
PULL_ROUNDS = 12
PULL_ROUNDS_BEFORE = 6  # ... while there are rounds to come
BAY_MM = 9.0  # bays narrower than twice this may be squares of a pattern that has the floor's colour
DOUBTFUL_ODDS = 3.0
MANY_PATCHES = 12  # a cloth that had so many holes of one size would be lace
LEAST_PATCH_PX = 4
PATCH_TIMES = 3.0  # larger than so many times the usual patch: a hole after all
HOLE_ODDS = 2.3
TEXTURE_APART = 0.3  # of log roughness: cloth and floor that differ by less are not told apart by it
EDGE_ALLOWANCE = 4.0  # a place is no surer than this (natural logarithm of the odds)


@dataclass(frozen=True, slots=True, eq=False)
class Regions:
    """What is cloth in a small view.

    Parameters
    ----------
    view
        The view.
    cloth
        bool (height, width).
    odds
        Cloth against floor at each place by its colour alone, natural logarithm.
    inside, outside
        Mixtures over log colour alone (three values), for use at finer scale.
    """

    view: View
    cloth: Mask
    odds: NDArray[np.float32]
    inside: Mixture
    outside: Mixture


def colour_floor() -> Floats:
    """Least covariance of log colour: noise, and light and shade along grey."""
    return np.asarray(np.eye(3) * NOISE_SIGMA**2 + np.ones((3, 3)) * SHADE_SIGMA**2 / 3)


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


def cloth_regions(
    view: View,
    rough: Roughness,
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
    rough
        Texture of the same picture.
    seen
        What the photograph shows.
    references
        What references cover: neither cloth nor floor.
    inside_px, outside_px
        Touches, (column, row) in ``view``.
    """
    height, width = view.shape
    colour = colour_features(np.asarray(cv2.medianBlur(view.rgb, 3), dtype=np.uint8))
    features = np.concatenate([colour, rough.at(view.shape, ENERGY_SIGMA_MM / view.mm_per_px)], axis=2)
    floor5 = np.zeros((5, 5))
    floor5[:3, :3] = colour_floor()
    floor5[3:, 3:] = np.eye(2) * 0.15**2
    usable = seen & ~references
    must_in = _touch_mask(inside_px, view) & usable
    must_out = _touch_mask(outside_px, view) & usable
    rim = usable & ~_shrunk(seen, BORDER_MM / view.mm_per_px)
    rim |= usable & _grown(references, 14.0 / view.mm_per_px) & ~_grown(references, 4.0 / view.mm_per_px)
    rim &= ~must_in
    lifted = lift(features.reshape(-1, 5))

    def density(mixture: Mixture) -> NDArray[np.float32]:
        return mixture.log_density_at(lifted).reshape(height, width)

    far = density(learn(features[(rim | must_out) & usable], floor5))
    typical = float(np.quantile(far[rim], 0.04)) if rim.any() else -5.0
    cloth = (far < typical) & usable & ~must_out
    cloth = _largest(_opened(cloth, 6.0 / view.mm_per_px))
    if must_in.any() and (must_in & ~cloth).any():
        # what was touched and not found is cloth of another look, or another cloth: more of its kind is sought
        like = (density(learn(features[must_in & ~cloth], floor5 * 2.0)) > far - 1.0) & usable
        cloth = (cloth | like | must_in) & ~must_out
    weights = _neighbour_weights(colour)
    odds = np.zeros((height, width), dtype=np.float32)
    for turn in range(ROUNDS):
        core = (_shrunk(cloth, 4.0 / view.mm_per_px) | must_in) & usable
        if core.sum() < 60:
            core = cloth & usable
        if core.sum() < 60:
            break
        away = usable & ~_grown(cloth, 4.0 / view.mm_per_px) | rim & ~cloth | must_out
        if away.sum() < 60:
            break
        odds = density(learn(features[core], floor5)) - density(learn(features[away], floor5))
        np.clip(odds, -EDGE_ALLOWANCE, EDGE_ALLOWANCE, out=odds)
        odds[rim] -= 1.0
        odds[~usable] = -2 * EDGE_ALLOWANCE
        odds[must_in], odds[must_out] = 4 * EDGE_ALLOWANCE, -4 * EDGE_ALLOWANCE
        last = turn == ROUNDS - 1
        cloth = _settled(odds, weights, PULL_ROUNDS if last else PULL_ROUNDS_BEFORE) & usable
        if not must_in.any():
            cloth = _largest(_opened(cloth, 3.0 / view.mm_per_px)) & cloth
    cloth = _pattern_filled(cloth, usable & ~must_out)
    inner = _shrunk(cloth, 3.0 / view.mm_per_px)
    outer = usable & ~_grown(cloth, 3.0 / view.mm_per_px)
    if inner.sum() < 40 or outer.sum() < 40:
        inner, outer = (cloth if cloth.any() else usable), usable
    inside3 = learn(colour[inner], colour_floor())
    outside3 = learn(colour[outer], colour_floor())
    colours = lift(colour.reshape(-1, 3))
    by_colour = (inside3.log_density_at(colours) - outside3.log_density_at(colours)).reshape(height, width)
    by_colour = np.clip(by_colour, -EDGE_ALLOWANCE, EDGE_ALLOWANCE)
    cloth = _doubtful_bays_closed(cloth, by_colour, usable & ~must_out, view.mm_per_px)
    # texture is read over several mm and blind to small holes: what has the floor's colour plainly is floor
    floor_seen = _grown(_shrunk(cloth & ~must_in & (by_colour < -HOLE_ODDS), 1.0), 1.0)
    energy = np.asarray(cv2.resize(rough.fine, (width, height), interpolation=cv2.INTER_AREA))
    cloth = cloth & ~_smooth_as_floor(floor_seen, inner, outer, energy)
    return Regions(view, cloth, by_colour, inside3, outside3)


def _pattern_filled(cloth: Mask, usable: Mask) -> Mask:
    """Fill holes that are many and of one size: a pattern that has the floor's colour in it, and its bays at the edge."""
    _, label, stats, _ = cv2.connectedComponentsWithStats((~cloth).astype(np.uint8), connectivity=4)
    height, width = cloth.shape
    left, top, wide, high, area = (stats[:, k] for k in range(5))
    inside = (left > 0) & (top > 0) & (left + wide < width) & (top + high < height) & (area >= LEAST_PATCH_PX)
    inside[0] = False
    if inside.sum() < MANY_PATCHES:
        return cloth
    usual = float(np.median(area[inside]))
    even = inside & (area < PATCH_TIMES * usual)
    if even.sum() < MANY_PATCHES:
        return cloth
    patches = even[np.asarray(label)] & usable
    filled = cloth | patches
    far_in = cv2.distanceTransform(patches.astype(np.uint8), cv2.DIST_L2, 3)
    radius = 1.5 * float(np.quantile(np.asarray(far_in)[patches], 0.98)) + 1.0
    return np.asarray(filled | (~_opened(~filled, radius) & usable & _grown(filled, radius)))


def _doubtful_bays_closed(cloth: Mask, odds: NDArray[np.float32], usable: Mask, mm_per_px: float) -> Mask:
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


def _neighbour_weights(colour: NDArray[np.float32]) -> list[NDArray[np.float32]]:
    """How much neighbours pull, for each of four directions: less across an edge of the picture."""
    out = []
    for dr, dc in _SHIFTS:
        one, other = _pair(colour, dr, dc)
        d2 = np.square(one - other).sum(axis=2)
        pull = PULL * np.exp(-d2 / max(2.0 * float(d2.mean()), 1e-9)) / (1.0 if dr * dc == 0 else 1.414)
        out.append(np.asarray(pull, dtype=np.float32))
    return out


def _pair(values: NDArray[np.float32], dr: int, dc: int) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """All places that have a neighbour ``dr`` rows down and ``dc`` columns right, and those neighbours."""
    height, width = values.shape[:2]
    left, right = max(0, -dc), width - max(0, dc)
    return values[: height - dr, left:right], values[dr:, left + dc : right + dc]


def _settled(odds: NDArray[np.float32], weights: list[NDArray[np.float32]], rounds: int) -> Mask:
    """Mean-field pull of the eight neighbours on the odds of each place."""
    half = odds * np.float32(0.5)
    spin = np.tanh(half)
    halves = [w * np.float32(0.5) for w in weights]
    room = [np.empty_like(w) for w in weights]
    field = np.empty_like(half)
    for _ in range(rounds):
        np.copyto(field, half)
        for (dr, dc), w, product in zip(_SHIFTS, halves, room, strict=True):
            here, there = _pair(spin, dr, dc)
            to_here, to_there = _pair(field, dr, dc)
            to_here += np.multiply(w, there, out=product)
            to_there += np.multiply(w, here, out=product)
        np.tanh(field, out=spin)
    return np.asarray(spin > 0)
