"""The shelf: cloths, flaws, typed shapes, advice."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field

from eke.web.models.common import Model, Ring, StepBack


class FlawView(Model):
    """A place that only some pieces accept."""

    id: str
    polygon: Ring
    kind: str
    quality: int


class AdviceView(Model):
    """What to do with a found cloth, with its source."""

    sentence: str
    source: str = ""


class ClothView(Model):
    """A cloth in its own frame, mm, y up."""

    id: str
    name: str
    outline: Ring
    holes: list[Ring]
    flaws: list[FlawView]
    grain_deg: float | None
    same_face: bool
    nap: str
    repeat_mm: tuple[float | None, float | None]
    weight_gsm: float | None
    shrink_warp_percent: float
    shrink_weft_percent: float
    price: str | None
    origin: str
    second_hand: bool
    washed: bool
    fibre: str
    hottest_wash_deg: int | None
    tumble_dry: bool | None
    uncertainty_mm: float
    parent: str | None
    photos: list[str]
    width_mm: float
    height_mm: float
    area_mm2: float
    kept_for: list[str]
    """Ids of projects."""
    advice: list[AdviceView]


class ShapeView(Model):
    """A shape that can be typed and the measures it needs, in order."""

    word: str
    measures: list[str]


class ShelfView(Model):
    """The shelf."""

    revision: int
    cloths: list[ClothView]
    gone: list[str]
    """Names of cloths that have been cut or discarded."""
    shapes: list[ShapeView]
    steps: StepBack


class ClothSaid(Model):
    """A cloth from typed measures, or from a drawn outline."""

    name: str
    shape: str | None = None
    measures_mm: list[float] = Field(default_factory=list)
    outline: Ring | None = None
    price: str | None = None
    currency: str = "EUR"
    said: dict[str, Any] = Field(default_factory=dict)
    project: str | None = None
    """Keep it for this project at once."""


class ClothDescribed(Model):
    """Words of a cloth said anew (outline, holes, grain_deg, nap, name …); price as text in ``currency``."""

    said: dict[str, Any] = Field(default_factory=dict)
    price: str | None = None
    currency: str = "EUR"
    expected: int | None = None


class FlawSaid(Model):
    """A flaw painted on a cloth; quality 0: nothing may lie on it, 1: only what is hidden."""

    polygon: Ring
    kind: str = "stain"
    quality: Literal[0, 1] = 1


class ProjectNamed(Model):
    """The project that a cloth is kept for, or let go from."""

    project: str
