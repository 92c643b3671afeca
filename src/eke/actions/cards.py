"""What the first screen shows of each garment: how many pieces, how much asks for attention, a small picture.

Replaying a hundred patterns takes longer than anybody waits for a table to appear, so a card is kept beside the
garment's history and worked out again when that has moved on.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from eke import __version__
from eke.actions.money import ledger_report
from eke.actions.placed import placed_findings
from eke.actions.room import Room, now
from eke.actions.sketches import Sketch, SketchLine, pieces_sketch
from eke.cloth import Garment, Project
from eke.errors import StoreTrouble
from eke.store import Document, LogHead
from eke.units import Money

CARD: Final = "card"
"""Kind of the document; nothing but what can be worked out again."""
CARD_FORMAT: Final = "eke-card-1"


@dataclass(frozen=True, slots=True, eq=False)
class Card:
    """A garment on the table."""

    id: str
    name: str
    pieces: int
    attention: int
    picture: Sketch | None


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """A project on the table, with what is left to spend."""

    id: str
    name: str
    budget: Money | None
    left: Money | None
    garments: tuple[Card, ...]


def tables(room: Room) -> tuple[Table, ...]:
    """Return all projects with a card for each garment, in the order in which they were begun."""
    shelf = room.shelf()
    with room.store.read() as reader:
        heads = {head.id: head for head in reader.heads()}
        kept = {d.key: d for d in reader.documents(CARD)}
    fresh: dict[str, Any] = {}
    made = tuple(_table(room, project, heads, kept, fresh) for project in shelf.projects.values())
    if fresh:
        _keep(room, fresh)
    return made


def _table(
    room: Room,
    project: Project,
    heads: dict[str, LogHead],
    kept: dict[str, Document],
    fresh: dict[str, Any],
) -> Table:
    currency = room.shelf().ledger.currency_of(project.id)
    account = None if currency is None else ledger_report(room, project.id, currency).account
    cards = tuple(
        _card(room, garment, heads[garment.id], kept.get(garment.id), fresh) for garment in project.garments
    )
    if account is None:  # no budget and nothing bought yet
        return Table(project.id, project.name, None, None, cards)
    return Table(project.id, project.name, account.budget, account.left, cards)


def _card(room: Room, garment: Garment, head: LogHead, kept: Document | None, fresh: dict[str, Any]) -> Card:
    of = [__version__, head.revision, head.head or ""]
    if kept is not None and kept.content.get("format") == CARD_FORMAT and kept.content.get("of") == of:
        content = kept.content
    else:
        content = fresh[garment.id] = {"format": CARD_FORMAT, "of": of, **_worked_out(room, garment)}
    rows, (width, height) = content["lines"], content["size"]
    lines = tuple(SketchLine(np.array(points, dtype=np.float64), True, ink) for ink, points in rows)
    picture = Sketch(width, height, lines) if lines else None
    return Card(garment.id, garment.name, content["pieces"], content["attention"], picture)


def _worked_out(room: Room, garment: Garment) -> dict[str, Any]:
    state = room.garment(garment.id)
    sketch = pieces_sketch(state.pattern.pieces.values())
    return {
        "pieces": len(state.pattern.pieces),
        "attention": sum(one.finding.severity != "note" for one in placed_findings(state)),
        "size": [round(sketch.width, 1), round(sketch.height, 1)],
        "lines": [[line.ink, np.round(line.points, 1).tolist()] for line in sketch.lines],
    }


def _keep(room: Room, fresh: dict[str, Any]) -> None:
    try:
        with room.store.write() as tx:
            for garment, content in fresh.items():
                tx.put_document(CARD, garment, content, subject=garment, at=now())
    except StoreTrouble:
        return  # a full disk takes no card; the next look works it out again
