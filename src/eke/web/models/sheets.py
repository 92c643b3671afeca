"""Paper, making up, ledger, journal."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from eke.web.models.common import Model


class PageView(Model):
    """One page as it will print."""

    title: str
    width_mm: float
    height_mm: float
    svg: str
    """A whole SVG element, sizes in mm."""


class PagesView(Model):
    """Pages and where to fetch them as a file."""

    pages: list[PageView]
    pdf: str
    """Address of the PDF."""
    notes: list[str] = Field(default_factory=list)


class PaperKind(Model):
    """Something that can be printed now, or why not yet."""

    word: str
    name: str
    ready: bool
    sentence: str = ""


class CutLineView(Model):
    """A line of the cutting list."""

    id: str
    number: str
    piece: str
    name: str
    cut: str
    cloth: str
    notes: str = ""


class NeedView(Model):
    """A notion that is needed."""

    name: str
    amount: str
    sentence: str


class CautionView(Model):
    """A caution with its source."""

    sentence: str
    source: str
    weight: Literal["note", "warning"] = "note"


class TaskView(Model):
    """A step of the order of work. Its id stays while the step stays what it is."""

    id: str
    heading: str
    sentence: str
    pieces: list[str] = Field(default_factory=list)
    seams: list[str] = Field(default_factory=list)
    done: bool = False


class MakingView(Model):
    """How a garment is made up."""

    cutting: list[CutLineView]
    needs: list[NeedView]
    cautions: list[CautionView]
    tasks: list[TaskView]
    notes: list[str]


class TickSaid(Model):
    """Tick a step, or take the tick away."""

    done: bool


class PurchaseView(Model):
    """Something bought."""

    id: str
    what: str
    paid: str
    on: str | None
    shared: str = ""


class NotionView(Model):
    """A notion on the shelf."""

    id: str
    name: str
    amount: str
    unit: str
    price: str | None


class GarmentCostView(Model):
    """What went into one garment."""

    garment: str
    name: str
    used: str


class LedgerView(Model):
    """A project's money."""

    project: str
    name: str
    currency: str
    budget: str | None
    spent: str
    left: str | None
    over: bool
    share_spent: float | None
    """Spent over budget, for the picture."""
    purchases: list[PurchaseView]
    garments: list[GarmentCostView]
    left_on_shelf: str
    notions: list[NotionView]
    without_rate: list[str]


class PurchaseSaid(Model):
    """Something bought: amounts as typed ("2.40"), shares by weight."""

    what: str
    amount: str
    currency: str = "EUR"
    on: str | None = None
    projects: dict[str, str] = Field(default_factory=dict)
    """Project ids and weights; none: this project alone."""
    cloths: dict[str, str] = Field(default_factory=dict)
    rate: str | None = None
    """How much of the project's currency one unit of the paid currency is."""


class BudgetSaid(Model):
    """What a project may cost in all."""

    amount: str
    currency: str = "EUR"


class NotionSaid(Model):
    """A notion for the shelf."""

    name: str
    amount: str
    unit: str = "pieces"
    price: str | None = None
    currency: str = "EUR"


class NotionUsed(Model):
    """How much of a notion a garment used."""

    amount: str
    garment: str


class JournalPictureView(Model):
    """A picture of the journal."""

    photo: str
    caption: str


class JournalView(Model):
    """The story of a project: what was traced, changed, cut and spent."""

    title: str
    subtitle: str
    pictures: list[JournalPictureView]
    changes: list[str]
    cloths: list[str]
    costs: list[tuple[str, str]]
    left: list[str]
