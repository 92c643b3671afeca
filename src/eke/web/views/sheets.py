"""Paper, making up, ledger and journal, as the app shows them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from eke.actions.cutting_rows import CuttingRow
from eke.actions.money import LedgerReport
from eke.actions.printing import Printable, Printed
from eke.actions.sheets import MakingUp, amount_words
from eke.actions.ticks import Step
from eke.cloth import Shelf
from eke.ledger import Purchase
from eke.paper.journal import Journal
from eke.sentences import in_a_row
from eke.stint import Stint
from eke.web.models.sheets import (
    CautionView,
    CutLineView,
    GarmentCostView,
    JournalPictureView,
    JournalView,
    LedgerView,
    MakingView,
    NeedView,
    NotionView,
    PagesView,
    PageView,
    PaperKind,
    PurchaseView,
    TaskView,
)

WARNINGS: Final = (
    "cords",
    "cord at the back",
    "this garment has a cord",
    "small parts",
    "nightwear",
)
"""Cautions whose topic begins so are about a child's life and limb; the others are good practice."""


def pages_view(printed: Printed, pdf: str, prefix: str) -> PagesView:
    """Return pages as they will print."""
    drawings = printed.drawings(prefix)
    return PagesView(
        pages=[
            PageView(
                title=page.name or printed.title, width_mm=page.width_mm, height_mm=page.height_mm, svg=svg
            )
            for page, svg in zip(printed.pages, drawings, strict=True)
        ],
        pdf=pdf,
        notes=list(printed.notes),
    )


def paper_kind(one: Printable) -> PaperKind:
    """Return something that can be printed."""
    return PaperKind(word=one.word, name=one.name, ready=one.ready, sentence=one.sentence)


def making_view(
    made: MakingUp, rows: Sequence[CuttingRow], steps: Sequence[Step], given_up: Sequence[Stint]
) -> MakingView:
    """Return how a garment is made up."""
    return MakingView(
        cutting=[
            CutLineView(
                id=r.id, number=r.number, piece=r.piece, name=r.name, cut=r.cut, cloth=r.cloth, notes=r.notes
            )
            for r in rows
        ],
        needs=[NeedView(name=n.name, amount=amount_words(n), sentence=n.sentence) for n in made.needs],
        cautions=[
            CautionView(
                sentence=c.sentence,
                source=c.source,
                weight="warning" if c.topic.startswith(WARNINGS) else "note",
            )
            for c in made.cautions
        ],
        tasks=[
            TaskView(
                id=s.id, heading=s.heading, sentence=s.sentence, pieces=list(s.pieces), seams=list(s.seams), done=s.done
            )
            for s in steps
        ],
        notes=[*made.order.notes, *(one.sentence for one in given_up)],
    )  # fmt: skip


def ledger_view(report: LedgerReport, project: str, shelf: Shelf) -> LedgerView:
    """Return a project's money."""
    account = report.account
    budget, spent = account.budget, account.spent
    share = None
    if budget is not None and budget.minor > 0:
        share = spent.minor / budget.minor
    bought_as = {p.id: p.what for p in shelf.ledger.purchases.values()}
    return LedgerView(
        project=project,
        name=report.project,
        currency=spent.currency,
        budget=None if budget is None else str(budget),
        spent=str(spent),
        left=None if account.left is None else str(account.left),
        over=account.left is not None and account.left.minor < 0,
        share_spent=share,
        purchases=[
            purchase_view(p, project, shelf)
            for p in shelf.ledger.purchases.values()
            if not p.projects or any(s.by == project for s in p.projects)
        ],
        garments=[GarmentCostView(garment=g.garment, name=g.name, used=str(g.used)) for g in report.garments],
        left_on_shelf=str(report.left_on_shelf),
        notions=[
            NotionView(
                id=n.id,
                name=n.name,
                amount=f"{float(n.amount):g}",
                unit=n.unit,
                price=_worth(shelf, n.id),
            )
            for n in shelf.notions.values()
        ],
        without_rate=[bought_as.get(id_, id_) for id_ in account.without_rate],
    )


def _worth(shelf: Shelf, item: str) -> str | None:
    found = shelf.ledger.items.get(item)
    return None if found is None or found.worth is None else str(found.worth)


def purchase_view(purchase: Purchase, project: str, shelf: Shelf) -> PurchaseView:
    """Return one purchase; ``shared`` says with whom, and at which rate it counts."""
    words = []
    if not purchase.projects:
        words.append("for the whole workroom")
    others = [s.by for s in purchase.projects if s.by != project]
    if others:
        words.append("shared with " + in_a_row(f"“{shelf.project_name(by)}”" for by in others))
    words += [rate.sentence for rate in purchase.rates]
    return PurchaseView(
        id=purchase.id, what=purchase.what, paid=str(purchase.paid), on=purchase.on, shared="; ".join(words)
    )


def journal_view(journal: Journal) -> JournalView:
    """Return the story of a project."""
    return JournalView(
        title=journal.title,
        subtitle=journal.under,
        pictures=[JournalPictureView(photo=p.key, caption=p.caption) for p in journal.pictures],
        changes=list(journal.changes),
        cloths=[", ".join(t for t in (c.name, c.origin, c.used, c.cost) if t) for c in journal.cloths],
        costs=list(journal.costs),
        left=list(journal.left_over),
    )
