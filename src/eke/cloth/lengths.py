"""Lengths and weights of cloth: shrinkage, repeats, widths, grams.

References
----------
Shrinkage as in ISO 5077: change = (before − after) / before, in per cent. Weight of a piece is area times
grams per square metre. The widths table that :func:`length_at_width` is tested against is the one widely
reprinted by extension services.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

from shapely import affinity
from shapely.geometry import Polygon

from eke.cloth.cloth import Cloth, Flaw, ring_of
from eke.errors import BadInput
from eke.units import GSM_PER_OZ_YD2

WEIGHT_DIFFERS_PERCENT: Final = 8.0
"""Kitchen scales, damp and a tape measure together are worth about this much (common practice)."""

TYPICAL_SHRINK_PERCENT: Final[dict[str, tuple[float, float]]] = {
    "plain cotton": (6.0, 2.5),
    "mercerised cotton": (3.5, 3.0),
    "cotton twill": (4.0, 3.0),
    "worsted": (4.0, 3.5),
    "linen": (4.0, 4.0),
    "viscose": (10.0, 10.0),
    "knitted cotton": (3.0, 3.0),
}
"""Warp and weft shrinkage of untreated cloth (loose figures of mills and schools): a measured value wins."""


def shrink_percent(before_mm: float, after_mm: float) -> float:
    """Shrinkage in per cent from a length before and after a wash. Raises :class:`BadInput`."""
    if not before_mm > 0 or not after_mm > 0:
        raise BadInput("Both lengths must be above 0 mm: measure a square before and after the wash.")
    return (before_mm - after_mm) / before_mm * 100.0


def length_before_wash(finished_mm: float, percent: float) -> float:
    """Length to have before the wash so that ``finished_mm`` are left after shrinking by ``percent``."""
    if not percent < 100:
        raise BadInput(f"Nothing is left of a cloth that shrinks by {percent:g} %.")
    return finished_mm / (1.0 - percent / 100.0)


def washed(cloth: Cloth) -> Cloth:
    """Return the cloth as it lies after its first wash: shrunk along warp and weft, and washed.

    The pattern is cut from this one. A cloth that was washed already comes back as it is. Its weight per
    square metre rises as it draws together; what it weighs in all stays.

    Raises
    ------
    BadInput
        When warp and weft shrink differently and nobody knows which way the warp runs.
    """
    if cloth.washed:
        return cloth
    warp, weft = 1 - cloth.shrink_warp_percent / 100, 1 - cloth.shrink_weft_percent / 100
    if warp == weft == 1.0:
        return replace(cloth, washed=True)
    if cloth.grain_deg is None and warp != weft:
        raise BadInput(
            f"“{cloth.name}” shrinks by {cloth.shrink_warp_percent:g} % along the warp and "
            f"{cloth.shrink_weft_percent:g} % across it. Say which way the warp runs (along the selvedge)."
        )
    grain_deg = cloth.grain_deg or 0.0
    turn = math.radians(grain_deg)
    c, s = math.cos(turn), math.sin(turn)
    # R diag(warp, weft) R^T: shrink along and across the grain about the frame's origin
    matrix = (warp * c * c + weft * s * s, (warp - weft) * c * s, (warp - weft) * c * s,
              warp * s * s + weft * c * c, 0.0, 0.0)  # fmt: skip
    shape = affinity.affine_transform(cloth.polygon, matrix)
    flaws = tuple(
        Flaw(
            f.id,
            ring_of(affinity.affine_transform(Polygon(f.polygon), matrix).exterior.coords),
            f.kind,
            f.quality,
        )
        for f in cloth.flaws
    )
    along, across = cloth.repeat_mm
    return replace(
        cloth,
        outline=ring_of(shape.exterior.coords),
        holes=tuple(ring_of(ring.coords) for ring in shape.interiors),
        flaws=flaws,
        repeat_mm=(None if along is None else along * warp, None if across is None else across * weft),
        weight_gsm=None if cloth.weight_gsm is None else cloth.weight_gsm / (warp * weft),
        washed=True,
    )


def weight_g(area_mm2: float, weight_gsm: float) -> float:
    """Weight in grams of so much cloth."""
    return area_mm2 * 1e-6 * weight_gsm


def gsm_of(weighed_g: float, area_mm2: float) -> float:
    """Grams per square metre from a piece that was weighed and measured."""
    if not weighed_g > 0 or not area_mm2 > 0:
        raise BadInput("Weight and area must both be above 0.")
    return weighed_g / (area_mm2 * 1e-6)


def weight_words(weight_gsm: float) -> str:
    """The number with its class: light below 150 g/m², heavy above 350, as most tables have it.

    Textbooks draw the limits differently, so the number is always said too.
    """
    kind = "light" if weight_gsm < 150 else "medium" if weight_gsm <= 350 else "heavy"
    return f"{weight_gsm:.0f} g/m² ({weight_gsm / GSM_PER_OZ_YD2:.1f} oz/yd²), {kind}"


@dataclass(frozen=True, slots=True)
class WeightCheck:
    """A cloth on the scales: what its area says it should weigh, and by how much that is off."""

    expected_g: float
    weighed_g: float
    off_percent: float
    agrees: bool
    sentence: str


def check_by_weight(cloth: Cloth, weighed_g: float) -> WeightCheck:
    """Compare the area of a cloth with its weight on the scales.

    Raises
    ------
    BadInput
        When the weight per square metre is not known.
    """
    if cloth.weight_gsm is None:
        raise BadInput(f"Say first how many grams a square metre of “{cloth.name}” weighs.")
    if not weighed_g > 0:
        raise BadInput(f"“{cloth.name}” cannot weigh {weighed_g:g} g. Weigh it again.")
    expected = weight_g(cloth.area_mm2, cloth.weight_gsm)
    off = (weighed_g - expected) / expected * 100
    agrees = abs(off) <= WEIGHT_DIFFERS_PERCENT
    if agrees:
        sentence = f"“{cloth.name}” weighs {weighed_g:.0f} g; its shape says {expected:.0f} g. They agree."
    else:
        sentence = (
            f"“{cloth.name}” weighs {weighed_g:.0f} g, but its shape says {expected:.0f} g ({off:+.0f} %). Check the "
            "scale of the photograph or the measures, and whether it is damp or lined."
        )
    return WeightCheck(expected, weighed_g, off, agrees, sentence)


def length_at_width(length_mm: float, width_mm: float, other_width_mm: float) -> float:
    """Length needed of another width, by equal area; add a quarter of a yard for a large change or nap."""
    if not min(length_mm, width_mm, other_width_mm) > 0:
        raise BadInput("Length and both widths must be above 0 mm.")
    return length_mm * width_mm / other_width_mm


def extra_for_repeat_mm(repeat_mm: float, stacked_pieces: int) -> float:
    """Extra length for matching a repeat: one repeat for each main piece stacked above another."""
    return repeat_mm * stacked_pieces


def drop_mm(length_mm: float, repeat_mm: float) -> float:
    """Length of one drop so that the next starts at the same place in the repeat."""
    if not repeat_mm > 0:
        raise BadInput("A repeat must be above 0 mm.")
    return math.ceil(length_mm / repeat_mm - 1e-9) * repeat_mm
