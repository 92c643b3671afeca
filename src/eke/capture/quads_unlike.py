"""Four-sided things that are small in a picture and unlike what lies around them: a bank card on any floor.

A card has several colours, of which one may be as light as the floor, and joints between tiles run into it; but its
colours are rare. So things are first sought by how seldom their colour is in the whole picture, then each is looked at
closely by how seldom its colour, and its smoothness, are in the ground around it, whatever that consists of.

References
----------
M. J. Swain and D. H. Ballard, "Color indexing", Int. J. Computer Vision 7 (1991): histograms of colour carried back to
the pixels.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import partial

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.quads import Cut, Quad, quads_in, ways_to_cut
from eke.capture.shrink import shrunk

__all__ = ["RAREST", "RareColours", "find_small_quads", "rare_colours", "rare_shares"]

FloatImage = NDArray[np.float32]
Mask = NDArray[np.uint8]
Box = tuple[int, int, int, int]
"""Left, top, width and height in pixels."""

WHOLE_SIDE_PX, CLOSE_SIDE_PX = 1000, 480  # longer sides of the copies that are searched
WHOLE_BLUR_PX, CLOSE_BLUR_PX = 2.5, 2.0  # the grain of a carpet melts, a card's border stays
RARE_SHARES = (0.01, 0.02, 0.04, 0.08)  # of the picture: so much of it, the rarest, is looked at
SMALL_SHARES = (0.0008, 0.04)  # of the picture: a card in a picture of a whole floor, and one close by
SMALL_LONGEST = 4.0
SMALL_FILLS = 0.3  # of its box
SAME_BOX = 0.6
MOST_SMALL = 10
RAREST = 3  # so many are looked at in every way
MARGIN, GROUND_FROM = 0.9, 0.4  # of a thing's longer side: what is looked at, and where its ground begins
LEAST_GROUND_PX = 500
UNLIKE = (0.3, 0.1, 0.03, 0.01)  # times as common as the usual ground
CLOSE_PX = 9  # white digits are filled
WHOLE_OPEN_PX, OPEN_PX = 9, 21  # joints between tiles and boards are cut off
LEAST_SIDE_PX = 40  # a smaller thing shows no sides
LEAST_SHARE = 0.04  # of what is looked at closely
TEXTURE_PX = 9
LIGHT_BIN, COLOUR_BIN, COLOUR_BINS = 4.0, 3.0, 56  # CIE L*a*b*: coarser in lightness, which shade changes
LIGHT_BINS, TEXTURE_BINS = 26, 24


@dataclass(frozen=True, slots=True, eq=False)
class RareColours:
    """How common in a picture what each pixel of its small copy shows is: ``common`` (height, width); and boxes of what is small
    there and rare, the rarest first, with what was ``seen`` in them, by their number."""

    pixels_rgb: NDArray[np.uint8]
    common: FloatImage
    boxes: Sequence[Box]
    seen: dict[int, list[Quad]] = field(default_factory=dict)

    @property
    def scale(self) -> float:
        """Pixels of the picture to one of its copy."""
        return float(max(self.pixels_rgb.shape[:2]) / max(self.common.shape))


def rare_colours(pixels_rgb: NDArray[np.uint8]) -> RareColours:
    """What is rare in a picture and what common."""
    small = shrunk(pixels_rgb, WHOLE_SIDE_PX)
    everywhere = np.ones(small.shape[:2], bool)
    common = _commonness(_colours(small, WHOLE_BLUR_PX), everywhere)
    return RareColours(pixels_rgb, common, _rare_things(common)[:MOST_SMALL])


def find_small_quads(rare: RareColours, most: int = MOST_SMALL) -> tuple[Quad, ...]:
    """Quadrangles that are small in the picture, each looked at closely; what is the least like the picture first.

    ``most``: of places that are looked at.
    """
    looked = range(min(most, len(rare.boxes)))
    for k in looked:
        if k not in rare.seen:
            part = _Part(rare, rare.boxes[k])
            rare.seen[k] = part.unlike()
            if not rare.seen[k] and k < RAREST:
                # of the ground's own colour and smoothness: only its edges show it
                rare.seen[k] = part.within_edges()
    if not any(rare.seen[k] for k in looked):
        rare.seen.update({k: _Part(rare, rare.boxes[k]).within_edges() for k in looked if k >= RAREST})
    return tuple(quad for k in looked for quad in rare.seen[k])


class _Part:
    """A part of a picture, in and around a box of its small copy."""

    def __init__(self, rare: RareColours, box: Box) -> None:
        margin = MARGIN * max(box[2:])
        self.left, self.top = (max(0, int((v - margin) * rare.scale)) for v in box[:2])
        right, bottom = (int((box[k] + box[2 + k] + margin) * rare.scale) for k in (0, 1))
        self.pixels_rgb = rare.pixels_rgb[self.top : bottom, self.left : right]
        self.small = shrunk(self.pixels_rgb, CLOSE_SIDE_PX)
        inner = np.array([box[0], box[1], box[0] + box[2], box[1] + box[3]]) * rare.scale
        inner -= [self.left, self.top, self.left, self.top]
        self.box = inner * (max(self.small.shape[:2]) / max(self.pixels_rgb.shape[:2]))

    def unlike(self) -> list[Quad]:
        """Quadrangles by what is unlike the ground around."""
        if min(self.pixels_rgb.shape[:2]) < LEAST_SIDE_PX:
            return []
        return self._quads([partial(_unlike, self.small, self.box)])

    def within_edges(self) -> list[Quad]:
        """Quadrangles by any other way of cutting things out."""
        if min(self.pixels_rgb.shape[:2]) < LEAST_SIDE_PX:
            return []
        return self._quads(ways_to_cut(self.small))

    def _quads(self, cuts: Sequence[Cut]) -> list[Quad]:
        near = quads_in(self.pixels_rgb, self.small, cuts, LEAST_SHARE)
        corner = np.array([self.left, self.top])
        return [replace(q, corners_px=q.corners_px + corner) for q in near if q.whole]


def rare_shares(rare: RareColours, quads: Sequence[Quad]) -> list[float]:
    """Of each quadrangle the share of its inside whose colour is rare in the picture: most of a card, little of a tile or of
    a column of print."""
    seldom = (rare.common <= np.quantile(rare.common, RARE_SHARES[-1])).astype(np.uint8)
    out = []
    for quad in quads:
        corners = np.round((quad.corners_px + 0.5) / rare.scale - 0.5).astype(np.int32)
        left, top = corners.min(axis=0).clip(0)
        part = seldom[top : corners[:, 1].max() + 1, left : corners[:, 0].max() + 1]
        inside = np.zeros(part.shape, np.uint8)
        if part.size:
            cv2.fillPoly(inside, [corners - [left, top]], (1,))
        out.append(float(part[inside > 0].mean()) if inside.any() else 0.0)
    return out


def _rare_things(common: FloatImage) -> list[Box]:
    """Boxes of what is small in a picture and of rare colours, the rarest first."""
    levels = np.quantile(common, RARE_SHARES)
    boxes: list[Box] = []
    for level in levels:
        mask = _joined((common <= level).astype(np.uint8), WHOLE_OPEN_PX)
        for contour in cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0]:
            left, top, width, height = cv2.boundingRect(contour)
            area = cv2.contourArea(contour)
            if (
                SMALL_SHARES[0] * mask.size < area < SMALL_SHARES[1] * mask.size
                and max(width, height) < SMALL_LONGEST * min(width, height)
                and area > SMALL_FILLS * width * height
                and not any(_same_box((left, top, width, height), other) for other in boxes)
            ):
                boxes.append((left, top, width, height))
    return boxes


def _same_box(a: Sequence[int], b: Sequence[int]) -> bool:
    across = min(a[0] + a[2], b[0] + b[2]) - max(a[0], b[0])
    down = min(a[1] + a[3], b[1] + b[3]) - max(a[1], b[1])
    shared = max(0, across) * max(0, down)
    return shared > SAME_BOX * max(a[2] * a[3], b[2] * b[3])


def _unlike(small: NDArray[np.uint8], box: NDArray[np.float64]) -> list[Mask]:
    """What is unlike the ground around a box (left, top, right, bottom) by colour, by smoothness, and by both."""
    reach = GROUND_FROM * float(max(box[2] - box[0], box[3] - box[1]))
    ground = np.ones(small.shape[:2], bool)
    left, top, right, bottom = np.r_[box[:2] - reach, box[2:] + reach].astype(int).clip(0)
    ground[top:bottom, left:right] = False
    if np.count_nonzero(ground) < LEAST_GROUND_PX:
        return []
    out = []
    by_colour, by_texture = (
        common / max(float(np.median(common[ground])), 1e-12)
        for common in (
            _commonness(_colours(small, CLOSE_BLUR_PX), ground),
            _commonness(_textures(small), ground),
        )
    )
    for common in (by_colour, by_texture, np.minimum(by_colour, by_texture)):
        out += [_joined((common < level).astype(np.uint8), OPEN_PX) for level in UNLIKE]
    return out


def _joined(mask: Mask, open_px: int) -> Mask:
    """Without the gaps of print and what is as thin as a joint."""
    closed = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((CLOSE_PX, CLOSE_PX), np.uint8))
    return np.asarray(cv2.morphologyEx(closed, cv2.MORPH_OPEN, np.ones((open_px, open_px), np.uint8)))


def _lab(small: NDArray[np.uint8]) -> FloatImage:
    return np.asarray(cv2.cvtColor(small.astype(np.float32) / 255.0, cv2.COLOR_RGB2LAB), np.float32)


def _colours(small: NDArray[np.uint8], blur_px: float) -> FloatImage:
    """Bins (height, width, 3) of lightness and colour."""
    lab = cv2.GaussianBlur(_lab(small), (0, 0), blur_px)
    bins = np.clip(lab / [LIGHT_BIN, COLOUR_BIN, COLOUR_BIN] + [0, COLOUR_BINS / 2, COLOUR_BINS / 2], 0, None)
    return np.asarray(np.minimum(bins, [LIGHT_BINS - 1, COLOUR_BINS - 1, COLOUR_BINS - 1]), np.float32)


def _textures(small: NDArray[np.uint8]) -> FloatImage:
    """Bins (height, width, 2) of lightness and of how much it varies close by, in thirds of a power of two."""
    light = _lab(small)[:, :, 0]
    size = (TEXTURE_PX, TEXTURE_PX)
    varies = np.sqrt(np.maximum(cv2.blur(light * light, size) - cv2.blur(light, size) ** 2, 0.0))
    soft = cv2.GaussianBlur(light, (0, 0), CLOSE_BLUR_PX)
    bins = np.stack([soft / LIGHT_BIN, 3.0 * np.log2(1.0 + 2.0 * varies)], axis=-1)
    return np.asarray(np.clip(bins, 0, [LIGHT_BINS - 1, TEXTURE_BINS - 1]), np.float32)


def _commonness(bins: FloatImage, ground: NDArray[np.bool_]) -> FloatImage:
    """How often what each pixel shows is found in the ground (height, width); a smoothed histogram carried back."""
    from scipy.ndimage import gaussian_filter  # a fifth of a second to load; only cards ask for it

    index = bins.astype(np.intp)
    shape = (LIGHT_BINS, *([COLOUR_BINS] * 2 if bins.shape[2] == 3 else [TEXTURE_BINS]))
    flat = np.ravel_multi_index(tuple(np.moveaxis(index, 2, 0)), shape)
    counts = np.bincount(flat[ground], minlength=int(np.prod(shape))).reshape(shape)
    smooth = gaussian_filter(counts.astype(np.float32), 1.0, truncate=2.5)
    return np.asarray(smooth.ravel()[flat] / max(1, np.count_nonzero(ground)), np.float32)
