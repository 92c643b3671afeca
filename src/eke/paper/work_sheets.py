"""The plain sheets of making up: cutting list, notions, order of work with cautions, and the ledger."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from eke.paper.flow import BODY_MM, LEADING, Column, Flow
from eke.paper.page import Page, TextMetrics
from eke.paper.sizes import Paper


@dataclass(frozen=True, slots=True)
class CutLine:
    """One line of the cutting list."""

    number: str
    piece: str
    count: str
    cloth: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Notion:
    """Something needed besides cloth, how much of it, and whether it is already in the box."""

    name: str
    amount: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class WorkStep:
    """One step of the order of work, with quiet notes on pressing, clipping and the like."""

    sentence: str
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class WorkPart:
    """A part of the work under a heading of its own."""

    heading: str
    steps: tuple[WorkStep, ...]


@dataclass(frozen=True, slots=True)
class LedgerLine:
    """One line of the ledger; amounts are already written out in their currency."""

    what: str
    note: str
    amount: str


def cutting_sheet(
    title: str,
    lines: Sequence[CutLine],
    notions: Sequence[Notion],
    paper: Paper,
    metrics: TextMetrics,
    *,
    notes: Sequence[str] = (),
) -> tuple[Page, ...]:
    """Return the cutting list, grouped by cloth, each line with a box to tick, and the notions."""
    flow = Flow(paper, "Cutting list", metrics, under=title)
    for note in notes:
        flow.sentence(note)
    for cloth in dict.fromkeys(line.cloth for line in lines):
        flow.heading(cloth, keep_mm=4 * BODY_MM * LEADING)
        rows = [(ln.number, ln.piece, ln.count, ln.note) for ln in lines if ln.cloth == cloth]
        columns = (
            Column("", 0.6, role="strong"),
            Column("Piece", 2.4),
            Column("Cut", 1.8),
            Column("Note", 3.0),
        )
        flow.table(columns, rows, ticks=True)
    if notions:
        flow.heading("Notions", keep_mm=4 * BODY_MM * LEADING)
        flow.table(
            (Column("What", 2.6), Column("How much", 1.8), Column("Note", 3.0)),
            [(n.name, n.amount, n.note) for n in notions],
            ticks=True,
        )
    return flow.pages(foot=f"Cutting list · {title}")


def order_sheet(
    title: str,
    parts: Sequence[WorkPart],
    paper: Paper,
    metrics: TextMetrics,
    *,
    cautions: Sequence[str] = (),
    notes: Sequence[str] = (),
) -> tuple[Page, ...]:
    """Return the order of work: cautions first, then every step with its number and a box to tick."""
    flow = Flow(paper, "Order of work", metrics, under=title)
    for note in notes:
        flow.sentence(note)
    if cautions:
        flow.heading("Take care")
        for caution in cautions:
            flow.caution(caution)
    number = 0
    for part in parts:
        if part.heading:
            flow.heading(part.heading, keep_mm=4 * BODY_MM * LEADING)
        for step in part.steps:
            number += 1
            flow.tick(str(number), step.sentence, step.notes)
    return flow.pages(foot=f"Order of work · {title}")


def ledger_sheet(
    title: str,
    sections: Sequence[tuple[str, Sequence[LedgerLine]]],
    paper: Paper,
    metrics: TextMetrics,
    *,
    notes: Sequence[str] = (),
) -> tuple[Page, ...]:
    """Return the ledger: a table under each heading; the last line of each is its sum."""
    flow = Flow(paper, "Ledger", metrics, under=title)
    for note in notes:
        flow.sentence(note)
    for heading, lines in sections:
        flow.heading(heading, keep_mm=4 * BODY_MM * LEADING)
        flow.table(
            (Column("What", 3.0), Column("Note", 3.4), Column("Amount", 1.8, "right")),
            [(ln.what, ln.note, ln.amount) for ln in lines],
            total_last=len(lines) > 1,
        )
    return flow.pages(foot=f"Ledger · {title}")
