"""The one door for changes of the workroom that have no action of their own: ids and names are put in here."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from eke.actions.naming import require_short
from eke.actions.room import Done, Room, new_id
from eke.cloth import Shelf
from eke.errors import BadInput

MAKES: Final[Mapping[str, tuple[str, ...]]] = {
    "cloth.add": ("cloth", "id"),
    "cloth.mark_flaw": ("flaw", "id"),
    "notion.add": ("id",),
    "purchase.record": ("id",),
}
"""Kinds that make something under an id of its own, and where the params hold it."""
DONE_ELSEWHERE: Final[Mapping[str, str]] = {
    "project.start": "Begin a project on the table.",
    "garment.enter": "Enter a garment into its project: its pattern gets a history of its own there.",
    "cut.confirm": "A cut is confirmed at its lay, where it is checked first.",
}
"""Kinds that need more than a line in the history."""
NAMED: Final = ("project", "garment", "cloth", "notion", "purchase", "cut")
"""Params that hold an id of something with a name."""


def change(
    room: Room, kind: str, params: Mapping[str, Any], note: str = "", *, expected: int | None = None
) -> Done:
    """Make one change of any kind in the workroom's history.

    The answer's id is that of what was made (a cloth, a notion, a purchase, a flaw), or else of the change.

    Raises
    ------
    BadInput
        For a kind that is more than a line in the history: a project, a garment, a cut.
    ChangedMeanwhile
        When the workroom has another revision than the expected one.
    """
    if kind in DONE_ELSEWHERE:
        raise BadInput(f"{DONE_ELSEWHERE[kind]} Nothing was changed.", kind=kind)
    for named in (params, params.get("cloth"), params.get("said")):
        if isinstance(named, Mapping):
            require_short(named.get("name"))
    require_short(params.get("what"))
    with room.store.write() as tx:
        told, made = _filled(room.shelf(tx), kind, params)
        done = room.change_workroom_in(tx, kind, told, note=note, expected=expected)
    return Done(made or done.id, done.sentence, done.revision, done.unsettled)


def _filled(shelf: Shelf, kind: str, params: Mapping[str, Any]) -> tuple[dict[str, Any], str | None]:
    told = dict(params)
    made: str | None = None
    if kind in MAKES:
        *way, last = MAKES[kind]
        inner = told
        for key in way:
            if not isinstance(inner.get(key), Mapping):
                return told, None  # what is missing the change itself says
            inner[key] = dict(inner[key])
            inner = inner[key]
        if not inner.get(last):
            inner[last] = new_id()
        made = str(inner[last])
    if "names" not in told:
        told["names"] = {
            id_: name
            for key in NAMED
            for id_ in (told.get(key),)
            if isinstance(id_, str)
            for name in (_name(shelf, id_),)
            if name
        }
    return told, made


def _name(shelf: Shelf, id_: str) -> str | None:
    things: list[Mapping[str, Any]] = [shelf.projects, shelf.cloths, shelf.notions]
    for those in things:
        if id_ in those:
            return str(those[id_].name)
    if id_ in shelf.ledger.purchases:
        return shelf.ledger.purchases[id_].what
    garments = {g.id: g.name for p in shelf.projects.values() for g in p.garments}
    if id_ in shelf.cuts:
        return f"of {garments.get(shelf.cuts[id_].garment, 'a garment')}"
    return garments.get(id_)
