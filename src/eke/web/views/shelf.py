"""The shelf and its cloths, as the app shows them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from eke.actions.cloths import SHAPES
from eke.actions.history import Back
from eke.actions.shelf import gone_from, kept_for
from eke.cloth import Cloth, Shelf, advice_for
from eke.web.models.cloth import AdviceView, ClothView, FlawView, ShapeView, ShelfView
from eke.web.models.common import Ring, StepBack


def ring_view(ring: Iterable[Sequence[float]]) -> Ring:
    """Return an outline to a thousandth of a millimetre: finer than any thread, and half as much to send."""
    return [(round(x, 3), round(y, 3)) for x, y in ring]


def cloth_view(cloth: Cloth, shelf: Shelf) -> ClothView:
    """Return a cloth in its own frame."""
    width_mm, height_mm = _extent(cloth)
    return ClothView(
        id=cloth.id,
        name=cloth.name,
        outline=ring_view(cloth.outline),
        holes=[ring_view(hole) for hole in cloth.holes],
        flaws=[
            FlawView(id=f.id, polygon=ring_view(f.polygon), kind=f.kind, quality=f.quality)
            for f in cloth.flaws
        ],
        grain_deg=cloth.grain_deg,
        same_face=cloth.same_face,
        nap=cloth.nap,
        repeat_mm=cloth.repeat_mm,
        weight_gsm=cloth.weight_gsm,
        shrink_warp_percent=cloth.shrink_warp_percent,
        shrink_weft_percent=cloth.shrink_weft_percent,
        price=None if cloth.price is None else str(cloth.price),
        origin=cloth.origin,
        second_hand=cloth.second_hand,
        washed=cloth.washed,
        fibre=cloth.fibre,
        hottest_wash_deg=cloth.hottest_wash_deg,
        tumble_dry=cloth.tumble_dry,
        uncertainty_mm=cloth.uncertainty_mm,
        parent=cloth.parent,
        photos=list(cloth.photos),
        width_mm=width_mm,
        height_mm=height_mm,
        area_mm2=cloth.area_mm2,
        kept_for=list(kept_for(shelf, cloth.id)),
        advice=[AdviceView(sentence=a.sentence, source=a.source) for a in advice_for(cloth)],
    )


def _extent(cloth: Cloth) -> tuple[float, float]:
    xs, ys = zip(*cloth.outline, strict=True)
    return max(xs) - min(xs), max(ys) - min(ys)


def shelf_view(shelf: Shelf, revision: int, back: Back) -> ShelfView:
    """Return the shelf."""
    return ShelfView(
        revision=revision,
        cloths=[cloth_view(c, shelf) for c in shelf.cloths.values()],
        gone=list(gone_from(shelf)),
        shapes=[ShapeView(word=word, measures=list(names)) for word, (_, names) in SHAPES.items()],
        steps=StepBack(undo=back.undo, redo=back.redo),
    )
