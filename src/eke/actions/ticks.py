"""Ticks on the order of work: kept beside a garment's history, by what a step is and not by where it stands.

A tick holds while its step stays what it is. When the step goes (a seam is dropped, a piece is added to what has
to be cut) its tick stays in the document, unshown, and is there again when the step comes back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from eke.actions.room import Room, find_garment, now
from eke.actions.sheets import HEADINGS, SEWING, MakingUp, making_up
from eke.changes import digest
from eke.errors import BadInput, NotFound
from eke.making import Task
from eke.store import Reader

TICKS: Final = "ticks"
TICKS_FORMAT: Final = "eke-ticks-1"
OF_ALL_PIECES: Final = frozenset({"lay", "cut", "mark"})
"""Steps that are about every piece without naming them: with another piece they are not done yet."""


@dataclass(frozen=True, slots=True)
class Step:
    """A step of the order of work with its tick. ``id`` stays while the step stays what it is."""

    id: str
    heading: str
    sentence: str
    pieces: tuple[str, ...]
    seams: tuple[str, ...]
    done: bool


def steps_of(room: Room, garment: str, made: MakingUp | None = None) -> tuple[Step, ...]:
    """Return the order of work of a garment with its ticks. ``made``: as computed already."""
    made = made or making_up(room, garment)
    ticked = ticks_of(room, garment)
    ids = task_ids(made.order.tasks, _every_piece(room, garment))
    return tuple(
        Step(
            ids[task.id],
            HEADINGS.get(task.kind, SEWING),
            task.sentence,
            task.pieces,
            task.seams,
            ids[task.id] in ticked,
        )
        for task in made.order.tasks
    )


def task_ids(tasks: Sequence[Task], every_piece: Sequence[str]) -> dict[str, str]:
    """Return a word for what each step is, by the ids that the order gave them.

    A step is its kind, and the pieces and seams that it is about; pressing and trimming are about the seams that
    were sewn. Words in it (a piece's new name) do not matter, nor where in the order it stands. ``every_piece``
    are the ids of all pieces, for steps that are about all of them.
    """
    sewn = {task.id.partition(":")[2]: task.seams for task in tasks if task.kind == "sew"}
    found: dict[str, str] = {}
    for task in tasks:
        about = every_piece if task.kind in OF_ALL_PIECES else task.pieces
        after = task.id.partition(":")[2]
        seams = task.seams or sewn.get(after, ())
        # cloths to wash are told apart by their names only; darts by their own ids, hems by their layer
        words = task.sentence if task.kind == "wash" else "" if after in sewn else after
        word = digest([task.kind, sorted(about), sorted(seams), words])
        found[task.id] = f"{task.kind.replace(' ', '-')}-{word[:12]}"
    return found


def ticks_of(room: Room, garment: str) -> frozenset[str]:
    """Return the ids of the steps that are ticked, those that are gone included."""
    with room.store.read() as reader:
        return frozenset(_content(reader, find_garment(room.shelf(reader), garment)[1].id))


def tick(room: Room, garment: str, step: str, done: bool) -> tuple[Step, ...]:
    """Tick a step, or take the tick away; return the order of work.

    Raises
    ------
    NotFound
        When the garment has no such step (any more).
    """
    steps = steps_of(room, garment)
    if step not in {one.id for one in steps}:
        raise NotFound(
            "This step is not in the order of work any more. Look at the order as it is now.", step=step
        )
    with room.store.write() as tx:
        found = find_garment(room.shelf(tx), garment)[1]
        content = _content(tx, found.id)
        if done:
            content.setdefault(step, now())
        else:
            content.pop(step, None)
        tx.put_document(
            TICKS, found.id, {"format": TICKS_FORMAT, "done": content}, subject=found.id, at=now()
        )
    return steps_of(room, garment)


def _content(reader: Reader, garment_id: str) -> dict[str, str]:
    document = reader.document(TICKS, garment_id)
    if document is None:
        return {}
    content: Any = document.content
    if content.get("format") != TICKS_FORMAT:
        raise BadInput(
            "The ticks of this garment were kept by a newer Eke than this one. Use the newer program."
        )
    return dict(content["done"])


def _every_piece(room: Room, garment: str) -> tuple[str, ...]:
    state = room.garment(garment)
    return tuple(sorted([*state.pattern.pieces, *state.derivation.pieces]))
