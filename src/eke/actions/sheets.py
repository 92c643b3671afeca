"""Sheets for the table: cutting list, order of work, ruler steps, ledger; and the journal of a project."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Final

from eke.actions.cutting_rows import cutting_rows, plans_of
from eke.actions.drawn import drawn_pieces
from eke.actions.fitting import ruler_steps_of
from eke.actions.laying import cut_by, why_stale
from eke.actions.money import DEFAULT_CURRENCY, ledger_report
from eke.actions.room import Room, find_garment, find_project
from eke.actions.straightened import shown_photo
from eke.cloth import Cloth
from eke.formats.faces import metrics
from eke.making import Caution, Need, WorkOrder, cautions_for, facts_from, notions_for, order_of_work
from eke.paper.drawn import DrawnPiece
from eke.paper.journal import Journal, JournalCloth, JournalPicture, journal_page
from eke.paper.page import Page
from eke.paper.ruler_steps import RulerChange, RulerStep, ruler_pages
from eke.paper.sizes import paper_named
from eke.paper.work_sheets import (
    CutLine,
    LedgerLine,
    Notion,
    WorkPart,
    WorkStep,
    cutting_sheet,
    ledger_sheet,
    order_sheet,
)
from eke.pattern.corners import called
from eke.pattern.model import Role
from eke.units import format_mm

HEADINGS: Final[Mapping[str, str]] = {
    "wash": "Before cutting",
    "press cloth": "Before cutting",
    "lay": "Cutting",
    "cut": "Cutting",
    "mark": "Cutting",
    "stay-stitch": "Before sewing",
    "interface": "Before sewing",
    "hem": "Finishing",
    "last press": "Finishing",
    "buttonholes": "Finishing",
    "buttons": "Finishing",
}
SEWING: Final = "Sewing"
TOLD: Final = ("fit.", "recipe.", "mockup.", "true.share", "true.join", "trace.again")
"""Kinds of change that the journal tells of; naming edges and the like would drown them."""
PICTURE_PX: Final = 900
"""Longest side of a picture in the journal."""
MOST_PICTURES: Final = 6
"""More do not find room on one page."""


@dataclass(frozen=True, slots=True)
class MakingUp:
    """How a garment is made up: order of work, notions, cautions."""

    order: WorkOrder
    needs: tuple[Need, ...]
    cautions: tuple[Caution, ...]


def making_up(room: Room, garment: str) -> MakingUp:
    """Return the order of work of a garment with its notions and the cautions that apply."""
    state = room.garment(garment)
    facts = facts_from(state.pattern.facts)
    derived = tuple(state.derivation.pieces.values())
    seams = state.derivation.seams
    cloths = _cloths_for(room, state.project.id, state.id)
    return MakingUp(
        order_of_work(state.pattern, derived, seams, facts=facts, cloths=cloths),
        notions_for(state.pattern, derived, seams, facts=facts, cloths=cloths),
        cautions_for(state.pattern, facts, cloths),
    )


def _cloths_for(room: Room, project: str, garment: str) -> tuple[Cloth, ...]:
    """The cloths kept for a project, and those that its garment was cut from."""
    shelf = room.shelf()
    kept = {r.cloth for r in shelf.reservations if r.project == project}
    cut = [c for one in shelf.cuts.values() if one.garment == garment for c in one.cloths]
    return (*cut, *(c for key, c in shelf.cloths.items() if key in kept and key not in {c.id for c in cut}))


def cutting_pages(room: Room, garment: str, paper: str = "a4") -> tuple[Page, ...]:
    """Return the cutting list with notions, grouped by the cloth that each piece is cut from."""
    lines = [CutLine(r.number, r.name, r.cut, r.cloth, r.notes) for r in cutting_rows(room, garment)]
    needs = [Notion(n.name, amount_words(n), n.sentence) for n in making_up(room, garment).needs]
    name = find_garment(room.shelf(), garment)[1].name
    return cutting_sheet(name, lines, needs, paper_named(paper), metrics())


def amount_words(need: Need) -> str:
    """Return how much of a notion is needed, with its unit."""
    if need.unit == "piece":  # counted by its name: "2 buttons" needs no unit
        return f"{need.amount:g}"
    return f"{need.amount:g} {need.unit}".strip()


def order_pages(room: Room, garment: str, paper: str = "a4") -> tuple[Page, ...]:
    """Return the order of work with tick boxes, cautions first."""
    made = making_up(room, garment)
    parts = [
        WorkPart(heading, tuple(WorkStep(task.sentence) for task in tasks))
        for heading, tasks in groupby(made.order.tasks, key=lambda t: HEADINGS.get(t.kind, SEWING))
    ]
    return order_sheet(
        find_garment(room.shelf(), garment)[1].name,
        parts,
        paper_named(paper),
        metrics(),
        cautions=[f"{c.sentence} ({c.source})" for c in made.cautions],
        notes=made.order.notes,
    )


def ruler_step_pages(
    room: Room, garment: str, change_id: str, paper: str = "a4", unit: str = "mm"
) -> tuple[Page, ...]:
    """Return one fit change as steps with a ruler on the paper pattern, with a small sketch of each piece."""
    drawn = ruler_steps_of(room, garment, change_id, unit)
    changes = []
    for step in drawn.steps:
        before, after = (
            drawn.before.piece(step.piece),
            drawn.after.pieces.get(drawn.before.piece(step.piece).id),
        )
        ids = {drawn.before.resolve(e) for e in drawn.edges}
        moved = [e for e in before.edges if e.id in ids] or [before.edges[0]]
        old = next((e for e in moved if called(before, e) == step.edge_name), moved[0])
        # where the paper is cut and spread the sketch shows the edge as it is: where it lies afterwards is no place on it
        later = () if drawn.cut or not after else after.edges
        new = next((e for e in later if e.id == old.id), old)
        rows = tuple(
            RulerStep(row.place or _place(row.along_mm, old.path.length_mm, step.start_name, step.end_name, unit),
                      row.along_mm, row.in_mm, row.at[0], row.at[1])
            for row in step.rows
        )  # fmt: skip
        changes.append(
            RulerChange(
                step.piece_name, step.edge_name, step.start_name,
                before.outline.flatten()[:-1], old.path.flatten(), new.path.flatten(), rows,
            )
        )  # fmt: skip
    return ruler_pages(
        drawn.title,
        drawn.reason,
        changes,
        paper_named(paper),
        metrics(),
        unit=unit,
        after=drawn.sentences,
        cut=drawn.cut,
    )


def _place(along: float, length: float, start: str, end: str, unit: str) -> str:
    if along < 1.0:
        return f"at {start}"
    if along > length - 1.0:
        return f"at {end}"
    return f"{format_mm(along, unit)} along"


def ledger_pages(room: Room, project: str, paper: str = "a4") -> tuple[Page, ...]:
    """Return a project's ledger: what was bought, what each garment used, what is left."""
    shelf = room.shelf()
    found = find_project(shelf, project)
    report = ledger_report(room, project, shelf.ledger.currency_of(found.id) or DEFAULT_CURRENCY)
    bought = [
        LedgerLine(p.what, " ".join(filter(None, [p.on or "", *(r.sentence for r in p.rates)])), str(p.paid))
        for p in shelf.ledger.purchases.values()
        if any(s.by == found.id for s in p.projects) or not p.projects
    ]
    bought.append(LedgerLine("Spent", "", str(report.account.spent)))
    used = [LedgerLine(g.name, "its share of the cloth that was cut", str(g.used)) for g in report.garments]
    used.append(LedgerLine("Still on the shelf", "worth of what was not used", str(report.left_on_shelf)))
    sections: list[tuple[str, Sequence[LedgerLine]]] = [("Bought", bought), ("Used and left", used)]
    if report.account.budget is not None:
        sections.append(
            (
                "Budget",
                [
                    LedgerLine("Budget", "", str(report.account.budget)),
                    LedgerLine("Left", "", str(report.account.left)),
                ],
            )
        )
    bought_as = {p.id: p.what for p in shelf.ledger.purchases.values()}
    notes = [
        f"Not counted, no rate was given: {bought_as.get(id_, id_)}" for id_ in report.account.without_rate
    ]
    return ledger_sheet(found.name, sections, paper_named(paper), metrics(), notes=notes)


def journal_of(room: Room, project: str, *, pictured: bool = True) -> tuple[Journal, dict[str, bytes]]:
    """Return the journal of a project and its pictures: what was traced, changed, cut and spent.

    Without ``pictured`` the pictures are named and not made, and no piece is drawn, which is quicker.
    """
    shelf = room.shelf()
    found = find_project(shelf, project)
    pictures: dict[str, bytes] = {}
    captions: list[JournalPicture] = []
    pieces: list[DrawnPiece] = []
    changes: list[str] = []
    costs: list[tuple[str, str]] = []
    left: list[str] = []
    cloths: dict[str, Cloth] = {}
    for garment in found.garments:
        state = room.garment(garment.id)
        if pictured:
            pieces += drawn_pieces(state)
        for tracing in state.pattern.tracings.values():
            _picture(room, tracing.photo, f"{garment.name}, traced", pictures, captions, pictured)
        changes += [
            f"{garment.name}: {step.sentence}{f' ({step.record.note})' if step.record.note else ''}"
            for step in state.replayed.steps
            if step.applied and step.kind.startswith(TOLD)
        ]
        for cloth in _cloths_for(room, found.id, garment.id):
            cloths.setdefault(cloth.id, cloth)
    used: list[JournalCloth] = []
    for cloth in cloths.values():
        for sha in cloth.photos:
            _picture(room, sha, cloth.name, pictures, captions, pictured)
        used.append(
            JournalCloth(
                cloth.name, cloth.origin or "", f"{cloth.area_mm2 / 1e6:.2f} m²", str(cloth.price or "")
            )
        )
    report = ledger_report(room, project, shelf.ledger.currency_of(found.id) or DEFAULT_CURRENCY)
    costs.append(("spent in all", str(report.account.spent)))
    costs += [(f"{g.name} used", str(g.used)) for g in report.garments]
    if report.account.left is not None:
        costs.append(("left of the budget", str(report.account.left)))
    for garment in found.garments:
        for plan in plans_of(room, garment.id):
            roles: tuple[Role, ...] | None = plan.roles or None  # type: ignore[assignment]
            if cut_by(shelf, plan) is None and why_stale(room, plan, roles):
                continue
            of = "" if not plan.roles or plan.roles == ("outer",) else f" ({', '.join(plan.roles)})"
            left.append(f"{garment.name}{of}: {plan.sentence}")
    names = " and ".join(g.name for g in found.garments)
    journal = Journal(
        found.name,
        names,
        tuple(captions[:MOST_PICTURES]),
        tuple(pieces),
        tuple(changes),
        tuple(used),
        tuple(costs),
        tuple(left),
    )
    return journal, pictures


def journal_pages(room: Room, project: str, paper: str = "a4") -> tuple[tuple[Page, ...], dict[str, bytes]]:
    """Return the journal's page and its pictures by key."""
    journal, pictures = journal_of(room, project)
    return (journal_page(journal, paper_named(paper), metrics()),), pictures


def _picture(
    room: Room,
    sha: str | None,
    caption: str,
    pictures: dict[str, bytes],
    captions: list[JournalPicture],
    pictured: bool,
) -> None:
    if sha is None or any(one.key == sha for one in captions):
        return
    if pictured and len(captions) < MOST_PICTURES:
        pictures[sha] = shown_photo(room, sha, PICTURE_PX)
    captions.append(JournalPicture(sha, caption))
