"""All garments of the bench, in two halves: one to improve by, one that is held out and only looked at in the end."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from . import bottoms, dresses, things, tops
from .drafting import Garment

Draft = Callable[[], Garment]

IMPROVED_BY: Final[tuple[Draft, ...]] = (
    tops.blouse,
    tops.t_shirt,
    tops.hooded_top,
    bottoms.gored_skirt,
    bottoms.straight_skirt,
    bottoms.trousers,
    dresses.princess_dress,
    things.apron,
    things.box_bag,
)
HELD_OUT: Final[tuple[Draft, ...]] = (
    tops.shirt,
    tops.raglan,
    tops.waistcoat,
    tops.jacket,
    bottoms.circle_skirt,
    bottoms.pyjamas,
    dresses.pinafore,
    dresses.puff_sleeve_dress,
    things.hood,
)
ALL: Final = IMPROVED_BY + HELD_OUT
